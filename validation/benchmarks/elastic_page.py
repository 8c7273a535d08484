"""The page of `elastic_solve`: what was measured, as ratios side by side, with what they rest on."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from icecone.validation.benchmarks.elastic_case import FINER, GIGABYTE
from icecone.validation.benchmarks.elastic_codes import CODES

Row = dict[str, Any]
Value = Callable[[Row], str]
BASES = {"bonded": ("mkl", "cholmod"), "contact": ("contact-mkl", "contact-cholmod")}  # ratios are over the first there
SCRIPTS = """# Benchmarks: ratios, measured side by side in one run

| script | measures |
| --- | --- |
| `elastic_solve.py` | our elastic solve beside other codes and solvers: the tables below |
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

**Reading.** A cell is "one thread / two threads"; – was not measured. "not tried": a smaller size was stopped at a cap,
or foretold that this one would be. Time is that of assembly, setup (order of elimination and factor, or preconditioner)
and solve of one load; mesh, imports and a first small solve are not counted. One measurement each: read ratios of 0.9
to 1.1 as equal.
"""
NOTES = """
- "over icecone": over the first code of the table that came out at that size with as many threads.
- Share of the dense rate: flops that a Cholesky factor in MKL's order needs, over the seconds of the setup, over the
  rate of a dense product (NumPy's BLAS) with as many threads. The setup holds order, copies and factor.
- Difference of answers: of the compliance, over that of the first code that came out.
- NGSolve, BDDC: conjugate gradients to 1e-8; the preconditioner's factor is part of the assembly there. NGSolve's wheel
  brings no MKL. scikit-fem, plain: its form, and SciPy's direct solver as it comes; one thread.
- PETSc: no wheel was found (petsc4py, fenics-dolfinx: tried 2026-11-30), so no code on it is here.
"""


def write_page(rows: Sequence[Row], path: Path, caps: tuple[float, float], machine: str) -> None:
    """Write the page of these rows.  caps : memory [GB] and time [s] of a measurement.  machine : in words."""
    if not rows:
        return
    table = {(row["code"], row["size"], row["threads"]): row for row in rows}
    parts = [SCRIPTS, CASE, _machine(rows, caps, machine)]
    counts = sorted({row["threads"] for row in rows})
    for title, value, threads in (
        ("Wall time over icecone's", _over_base(table, "wall"), counts),
        ("Processor time over icecone's", _over_base(table, "cpu"), counts),
        ("Wall time, s", lambda row: _number(total(row)), counts),
        *((f"Assembly + setup + solve on {count} thread(s), s", _stages, [count]) for count in counts),
        ("Peak memory of the process, GB", lambda row: f"{row['peak']:.1f}", counts),
        ("Share of the dense rate in the setup, %", _share(table), counts),
        ("Steps of the iteration, or of the active set", lambda row: str(row["steps"] or "–"), counts),
        ("Difference of answers", _difference(table), counts),
    ):
        parts.append(f"**{title}**\n\n" + _table(table, value, threads))
    whole = path.with_name(f".{path.name}")
    whole.write_text("\n".join([*parts, NOTES.lstrip("\n")]), encoding="utf-8")
    os.replace(whole, path)


def total(row: Row, kind: str = "wall") -> float:
    """Seconds of all stages of a row that came out, "wall" or "cpu"."""
    return float(sum(row[kind].values()))


def _machine(rows: Sequence[Row], caps: tuple[float, float], machine: str) -> str:
    dates = sorted({row["date"] for row in rows})
    when = dates[0] if len(dates) == 1 else f"{dates[0]} to {dates[-1]}"
    size = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / GIGABYTE
    rates = [f"{r['rate']:.0f} Gflop/s on {r['threads']}" for r in rows if r["code"] == "dense" and not r["problem"]]
    flops = [f"{r['gigaflop']:,.0f} Gflop at {r['size']}" for r in rows if r["code"] == "flops" and not r["problem"]]
    packages = rows[-1]["stamp"].split(" ", 1)[1].rsplit(" ", 1)[0]
    return (
        f"**Measured** {when}. {platform.machine()}, {os.cpu_count()} cores, {size:.0f} GB"
        f"{', ' + machine if machine else ''}. Caps: {caps[0]:g} GB, {caps[1]:.0f} s. "
        f"Python {platform.python_version()}, {packages}. A dense product makes {', '.join(rates) or 'nothing here'} thread(s). "
        f"A factor takes {', '.join(flops) or 'flops not counted'}.\n"
    )


def _table(table: dict[tuple[str, str, int], Row], value: Value, threads: Sequence[int]) -> str:
    """Codes down, sizes across; a cell holds the value on so many threads."""
    sizes = [size for size in (*FINER, "quick", "standard", "fine") if any(size == at for _, at, _ in table)]
    sizes = [size for size in sizes if any(at == size and CODES[code].kind != "gauge" for code, at, _ in table)]
    lines = ["| code | " + " | ".join(sizes) + " |", "| --- |" + " --- |" * len(sizes)]
    for name, code in CODES.items():
        if code.kind == "gauge":
            continue
        cells = [_cell([table.get((name, size, count)) for count in threads], value) for size in sizes]
        if any(cell != "–" for cell in cells):
            lines.append(f"| {code.words} | " + " | ".join(cells) + " |")
        elif not code.installed():
            lines.append(f"| {code.words} | not installed |" + " |" * (len(sizes) - 1))
    return "\n".join(lines) + "\n"


def _cell(rows: Sequence[Row | None], value: Value) -> str:
    words = ["–" if row is None else _problem(row) or value(row) for row in rows]
    return words[0] if len(set(words)) == 1 else " / ".join(words)


def _problem(row: Row) -> str:
    """The short form of what went wrong."""
    return str(row["problem"]).split(":")[0]


def _base(table: dict[tuple[str, str, int], Row], row: Row) -> Row | None:
    """The row that this one's ratios are over."""
    bases = (table.get((code, row["size"], row["threads"])) for code in BASES[CODES[row["code"]].kind])
    return next((base for base in bases if base and not base["problem"]), None)


def _over_base(table: dict[tuple[str, str, int], Row], kind: str) -> Value:
    def value(row: Row) -> str:
        base = _base(table, row)
        return "no base" if base is None else f"{total(row, kind) / total(base, kind):.2g}"

    return value


def _share(table: dict[tuple[str, str, int], Row]) -> Value:
    """Of direct solvers of the bonded body."""

    def value(row: Row) -> str:
        flops, rate = table.get(("flops", row["size"], 1)), table.get(("dense", "tiny", row["threads"]))
        known = flops and rate and not flops["problem"] and not rate["problem"]
        if not known or not CODES[row["code"]].direct:
            return "–"
        return f"{100 * flops['gigaflop'] / row['wall']['setup'] / rate['rate']:.0f}"  # type: ignore[index]

    return value


def _difference(table: dict[tuple[str, str, int], Row]) -> Value:
    def value(row: Row) -> str:
        kind = CODES[row["code"]].kind
        same = [r for (code, size, _), r in table.items() if CODES[code].kind == kind and size == row["size"]]
        first = next(r for r in same if not r["problem"])
        return f"{abs(row['compliance'] / first['compliance'] - 1):.0e}"

    return value


def _stages(row: Row) -> str:
    return " + ".join(_number(each) for each in row["wall"].values())


def _number(value: float) -> str:
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}" if value >= 0.095 else f"{value:.2f}"
