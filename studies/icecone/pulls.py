"""Days of pulls from Python: planned, compared with the model, learnt from, on the same ground as the command line."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from icecone.cases import CaseError, key_of

if TYPE_CHECKING:
    from icecone.studies.field.compare import Comparison
    from icecone.studies.field.learn import Learnt
    from icecone.studies.field.plan import Plan
    from icecone.studies.field.rig import Rig


def compare(
    table: str | Path,
    *,
    against: str = "peak",
    fit: Sequence[str] = (),
    draws: int = 100,
    seed: int = 1,
    out: str | Path | None = None,
    jobs: int = 0,
    **keywords: Any,
) -> tuple[Comparison, Learnt | None]:
    """Measured beside predicted pulls, as `icecone compare` says them; with `fit` what they teach of these keys.

    table : a CSV, XLSX or Parquet file, or the name of a table that comes with icecone: "invented_day", "trade_facts".
    keywords : of `Case`, for all rows.  out : folder for tables, pictures and pulls, which are taken from there again;
    none is left without it.  jobs : processes, which a script must guard as `icecone.many` says; 0: this one alone.
    Raises TableError with file and line, CaseError, OSError if a file cannot be written.

    >>> compare("invented_day", against="onset")
    Traceback (most recent call last):
    ...
    icecone.studies.case.toml.CaseError: against = onset: must be one of limit, peak, first_drop, early, turned, largest
    """
    from rich.console import Console

    from icecone.studies.field.predict import ALL
    from icecone.studies.field.run_compare import run_compare
    from icecone.studies.field.table import read_table, shipped_tables

    if against not in ALL:
        raise CaseError(f"against = {against}: must be one of {', '.join(ALL)}")
    how: dict[str, Any] = {"against": against, "fit": fit, "draws": draws, "seed": seed, "jobs": jobs}
    how["changed"] = {key_of(name): value for name, value in keywords.items()}
    path = shipped_tables().get(str(table), Path(table))
    with TemporaryDirectory() if out is None else nullcontext(str(out)) as folder:
        return run_compare(read_table(path), Path(folder), Console(stderr=True), **how)


def plan(
    table: str | Path,
    *,
    rig: str | Path | Rig | None = None,
    draws: int = 100,
    seed: int = 1,
    out: str | Path | None = None,
    jobs: int = 0,
    **keywords: Any,
) -> Plan:
    """The plan of a day of pulls, as `icecone plan` says it: `plan.pulls`, `plan.findings`.

    table : a CSV, XLSX or Parquet file, or a day that comes with icecone: "angle_day".  rig : a file of one, the usual
    one without it.  The rest as of `compare`.  Raises TableError with file and line, CaseError, OSError.

    >>> plan("no_such_day.csv")
    Traceback (most recent call last):
    ...
    icecone.studies.case.toml.CaseError: no_such_day.csv: cannot be read: No such file or directory
    """
    from rich.console import Console

    from icecone.studies.field.days import shipped_days
    from icecone.studies.field.rig import read_rig
    from icecone.studies.field.run_plan import run_plan
    from icecone.studies.field.table import read_table

    changed = {key_of(name): value for name, value in keywords.items()}
    read = read_table(shipped_days().get(str(table), Path(table)))
    used = read_rig(None if rig is None else Path(rig)) if rig is None or isinstance(rig, str | Path) else rig
    with TemporaryDirectory() if out is None else nullcontext(str(out)) as folder:
        return run_plan(read, used, Path(folder), Console(stderr=True), draws, seed, changed, jobs)[0]
