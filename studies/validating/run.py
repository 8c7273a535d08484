"""Runs the validation pack into a folder and says what agrees with what: resumable, a kill loses one check at most.

    OUT/checks/<name>.json    what a check found, with digest (`files.store`)
    OUT/validation.md         the whole table with sources, and the figures (`validating.page`, `validating.figures`)
    OUT/table.csv             the same table, a quantity a row
    OUT/errors.png, convergence.png, profiles.png

A check is taken from its file if code and libraries are the same as now. If only some are asked for, table and
figures hold what else the folder has of the present code, so that nothing known is lost, and the page says how many of
the pack's checks it holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from ...validation.check import Check, measured_from
from ...validation.pack import FAILED, PASSED, TOPICS, Result, chosen, missing, run_check
from ..files.answer import answer
from ..files.provenance import stamp
from ..files.store import Damaged, make_folder, read_record, write_csv, write_record, write_text
from ..sweep.runner import progress_bar, say

if TYPE_CHECKING:
    from rich.console import Console

HEADER = (
    "check",
    "group",
    "source",
    "how_known",
    "quantity",
    "unit",
    "reference",
    "ours_coarse_to_fine",
    "sizes_coarse_to_fine",
    "error_percent",
    "tolerance_percent",
    "least_error_percent",
    "observed_rate",
    "least_rate",
    "verdict",
    "problem",
)


def run_pack(names: Sequence[str], out: Path, console: Console) -> list[Result]:
    """Run the checks of these names or groups (all if there are none), write table, page and figures; what was run.

    Raises ValueError for an unknown name, OSError if a file cannot be written, files.lock.Busy if
    another run holds the folder.
    """
    checks = chosen(names)
    with answer(out, "validate", ("validation.md", "table.csv")) as stage:
        make_folder(out / "checks")
        results = _run_all(checks, out, console)
        _write(_with_those_before(results, out), stage)
    return results


def _with_those_before(results: Sequence[Result], out: Path) -> list[Result]:
    """The results and, in the pack's order, those of other checks that the folder holds for the present code."""
    found = {result.check.name: result for result in results}
    for check in chosen(()):
        with suppress(Damaged, OSError):
            if check.name not in found and (old := _measured_before(check, out)):
                found[check.name] = old
    return [found[check.name] for check in chosen(()) if check.name in found]


def _run_all(checks: Sequence[Check], out: Path, console: Console) -> list[Result]:
    results = []
    with progress_bar(console) as progress:
        task = progress.add_task("", total=len(checks))
        for check in checks:
            progress.update(task, description=check.name)
            try:
                old = _measured_before(check, out)
            except (Damaged, OSError) as damage:
                say(console, f"{damage}: not trusted, running {check.name} again")
                old = None
            result = old or run_check(check)
            if old is None and result.measured is not None:
                plain = {"seconds": result.seconds, "measured": result.measured.to_plain()}
                write_record(_path(check, out), plain, _stamp(check))
            results.append(result)
            progress.advance(task)
            if result.verdict == FAILED or not console.is_terminal:
                before = ", measured before" if old else f" ({result.seconds:.1f} s)"
                say(console, f"{len(results)} of {len(checks)}: {check.name}: {result.verdict}{before}")
            if result.problem:
                say(console, f"{check.name}: {result.problem}")
    return results


def _path(check: Check, out: Path) -> Path:
    return out / "checks" / f"{check.name}.json"


def _stamp(check: Check) -> str:
    return "; ".join([stamp(*TOPICS), *(f"{name} {_version(name)}" for name in check.needs)])


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:  # importable, but not installed as a distribution
        return "without metadata"


def _measured_before(check: Check, out: Path) -> Result | None:
    """What the folder holds of the check for the present code. Raises store.Damaged or OSError."""
    if missing(check):
        return None
    path = _path(check, out)
    record = read_record(path, _stamp(check))
    if record is None:
        return None
    try:
        return Result(check, measured_from(record["measured"]), float(record["seconds"]))
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise Damaged(f"{path}: not what a check found: {type(error).__name__}") from None


def _write(results: Sequence[Result], out: Path) -> None:
    from .figures import convergence_figure, errors_figure, profiles_figure
    from .page import page

    write_csv(out / "table.csv", HEADER, [row for result in results for row in _rows(result)])
    pictures = {
        "errors.png": errors_figure(results, out / "errors.png"),
        "convergence.png": convergence_figure(results, out / "convergence.png"),
        "profiles.png": profiles_figure(results, out / "profiles.png"),
    }
    shown = [name for name, drawn in pictures.items() if drawn]
    write_text(out / "validation.md", page(results, shown, len(chosen(()))))


def _rows(result: Result) -> list[tuple[object, ...]]:
    check = result.check
    first = (check.name, check.group, check.source, check.how)
    if not result.quantities:
        return [(*first, *(None,) * 10, result.verdict, result.problem)]
    return [
        (
            *first,
            quantity.name,
            quantity.unit,
            float(quantity.reference),
            " ".join(f"{value:.6g}" for value in quantity.ours),
            " ".join(f"{value:.4g}" for value in quantity.sizes),
            100 * quantity.errors[-1],
            100 * quantity.tolerance,
            None if quantity.least_error is None else 100 * quantity.least_error,
            quantity.rate,
            quantity.least_rate,
            PASSED if quantity.passed else FAILED,
            None,
        )
        for quantity in result.quantities
    ]
