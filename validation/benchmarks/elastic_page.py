"""The page of `elastic_solve`: what was measured, as ratios side by side, with what they rest on."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from icecone.validation.benchmarks.elastic_case import FINER, GIGABYTE
from icecone.validation.benchmarks.elastic_codes import CODES

Row = dict[str, Any]
Job = tuple[str, str, int]  # code, size, threads
Value = Callable[[Row], str]
BASES = {  # ratios are over the first of them that came out
    "bonded": ("mkl", "cholmod", "multigrid"),
    "contact": ("contact-mkl", "contact-cholmod", "contact-multigrid"),
}
SCRIPTS = """# Benchmarks: ratios, measured side by side in one run

| script | measures |
| --- | --- |
| `elastic_solve.py` | our elastic solve beside other codes and solvers: the tables below |
| `family.py` | onsets that share work, in one session and one by one |
| `pull_speed.py` | one pull against another checkout |
| `tubepull.py` | tubes pulled at random: whether each comes to its end, and how long it takes |

    python validation/benchmarks/elastic_solve.py OUT
"""
CASE = """## The elastic solve

![Error of the compliance over time](error_over_time.png)

**Case.** The half model of an upright tube in ice, pulled along the surface; 27-node hexahedra. *Bonded*: tube and ice
are one body, a linear problem that every code solves on the same curved elements, with the same load and quadrature.
*Contact*: the project's own problem, in which gaps open. A size is named after its unknowns; the bonded body has fewer:
a pair of nodes is one node there.

**Reading.** A cell holds a value for each number of threads, or one where they agree; – was not measured. "over":
stopped at that cap. "not tried": a smaller size was stopped, or foretold that this one would be. Time is that of
assembly, setup (order of elimination and factor, or preconditioner) and solve of one load; mesh, imports and a first
small solve are not counted. One measurement each: read ratios of 0.9 to 1.1 as equal.
"""
NOTES = """
- "over icecone's": over MKL's, at the same size with as many threads; where that did not come out, over CHOLMOD's, or
  else multigrid's. Contact is over contact.
- Share of the dense rate: flops that a Cholesky factor in MKL's order needs, over the seconds of the setup, over the
  rate of a dense product (NumPy's BLAS) with as many threads. The setup holds order, copies and factor.
- Difference of answers: of the compliance, over that of the first code that came out.
- NGSolve, BDDC: conjugate gradients to 1e-8; the preconditioner's factor is part of the assembly there. NGSolve's wheel
  brings no MKL. scikit-fem, plain: its form, and SciPy's direct solver as it comes; one thread.
- PETSc: no wheel was found (petsc4py, fenics-dolfinx, dolfinx-solver-real: tried 2026-11-30 with Python 3.11).
"""


def write_page(rows: Sequence[Row], path: Path, machine: str) -> None:
    """Write the page of these rows.  machine : in words."""
    if not rows:
        return
    table = {(row["code"], row["size"], row["threads"]): row for row in rows}
    counts = sorted({row["threads"] for row in rows})
    parts = [SCRIPTS, CASE, _machine(rows, machine)]
    for title, value, threads, with_problems in (
        ("Wall time over icecone's", _over_base(table, "wall"), counts, True),
        ("Processor time over icecone's", _over_base(table, "cpu"), counts, False),
        ("Wall time, s", lambda row: _number(total(row)), counts, True),
        *(("Assembly + setup + solve, s", _stages, [count], False) for count in counts),
        ("Peak memory of the process, GB", lambda row: f"{row['peak']:.1f}", counts, True),
        ("Share of the dense rate in the setup, %", _share(table), counts, False),
        ("Steps of the iteration, or of the active set", lambda row: str(row["steps"] or "–"), counts, False),
        ("Difference of answers", _difference(table), counts, False),
    ):
        used = " / ".join(map(str, threads))
        parts.append(f"**{title}** (threads: {used})\n\n" + _table(table, value, threads, with_problems))
    whole = path.with_name(f".{path.name}")
    whole.write_text("\n".join([*parts, NOTES.lstrip("\n")]), encoding="utf-8")
    os.replace(whole, path)


def total(row: Row, kind: str = "wall") -> float:
    """Seconds of all stages of a row that came out, "wall" or "cpu"."""
    return float(sum(row[kind].values()))


def _machine(rows: Sequence[Row], machine: str) -> str:
    dates = sorted({row["date"] for row in rows})
    when = dates[0] if len(dates) == 1 else f"{dates[0]} to {dates[-1]}"
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / GIGABYTE
    rates: dict[int, list[float]] = {}
    for row in rows:
        if row["code"] == "dense" and not row["problem"]:
            rates.setdefault(row["threads"], []).append(row["rate"])
    dense = [f"{min(each):.0f} to {max(each):.0f} (threads: {count})" for count, each in sorted(rates.items())]
    counted = [row for row in rows if row["code"] == "flops" and not row["problem"]]
    flops = [f"{row['gigaflop']:,.0f} Gflop and {row['room']:.1f} GB at {row['size']}" for row in counted]
    packages = rows[-1]["stamp"].split(" ", 1)[1].rsplit(" ", 1)[0]
    sentences = [
        f"**Measured** {when}",
        f"{platform.machine()}, {os.cpu_count()} cores, {memory:.0f} GB{', ' * bool(machine)}{machine}",
        f"Caps: {_from_to(row['caps'][0] for row in rows)} GB, {_from_to(row['caps'][1] for row in rows)} s",
        f"Python {platform.python_version()}, {packages}",
        *([f"A dense product makes, in Gflop/s, {', '.join(dense)}"] if dense else []),
        *([f"By MKL's count a factor of the bonded body takes {', '.join(flops)}"] if flops else []),
    ]
    return ". ".join(sentences) + ".\n"


def _from_to(values: Iterable[float]) -> str:
    """The values' range, one number where they agree."""
    known = sorted(set(values))
    return " to ".join(f"{value:,.0f}" for value in {known[0]: None, known[-1]: None})


def _table(table: dict[Job, Row], value: Value, threads: Sequence[int], with_problems: bool) -> str:
    """Codes down, sizes of the family across; a cell holds the value on so many threads."""
    shown = {job: row for job, row in table.items() if CODES[job[0]].kind != "gauge" and job[1] in FINER}
    sizes = [size for size in FINER if any(size == at for _, at, _ in shown)]
    lines = ["| code | " + " | ".join(sizes) + " |", "| --- |" + " --- |" * len(sizes)]

    def word(row: Row | None) -> str:
        if row is None or row["problem"]:
            return str(row["problem"]).split(":")[0] if row and with_problems else "–"
        return value(row)

    for name, code in CODES.items():
        cells = []
        for size in sizes:
            words = [word(shown.get((name, size, count))) for count in threads]
            cells.append(words[0] if len(set(words)) == 1 else " / ".join(words))
        if any(cell.strip("– /") for cell in cells):
            lines.append(f"| {code.words} | " + " | ".join(cells) + " |")
        elif with_problems and not code.installed():
            lines.append(f"| {code.words} | not installed |" + " |" * (len(sizes) - 1))
    return "\n".join(lines) + "\n"


def _base(table: dict[Job, Row], row: Row) -> Row | None:
    """The row that this one's ratios are over."""
    bases = (table.get((code, row["size"], row["threads"])) for code in BASES[CODES[row["code"]].kind])
    return next((base for base in bases if base and not base["problem"]), None)


def _over_base(table: dict[Job, Row], kind: str) -> Value:
    def value(row: Row) -> str:
        base = _base(table, row)
        return "–" if base is None else f"{total(row, kind) / total(base, kind):.2g}"

    return value


def _share(table: dict[Job, Row]) -> Value:
    """Of direct solvers of the bonded body."""

    def value(row: Row) -> str:
        flops, rate = table.get(("flops", row["size"], 1)), table.get(("dense", row["size"], row["threads"]))
        known = flops and rate and not flops["problem"] and not rate["problem"]
        if not known or not CODES[row["code"]].direct or "setup" not in row["wall"]:
            return "–"
        return f"{100 * flops['gigaflop'] / row['wall']['setup'] / rate['rate']:.0f}"  # type: ignore[index]

    return value


def _difference(table: dict[Job, Row]) -> Value:
    def value(row: Row) -> str:
        kind = CODES[row["code"]].kind
        same = [r for (code, size, _), r in table.items() if CODES[code].kind == kind and size == row["size"]]
        first = next(r for r in same if not r["problem"])
        return "first" if row is first else f"{abs(row['compliance'] / first['compliance'] - 1):.0e}"

    return value


def _stages(row: Row) -> str:
    return " + ".join(_number(each) for each in row["wall"].values())


def _number(value: float) -> str:
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}" if value >= 0.095 else f"{value:.2f}"
