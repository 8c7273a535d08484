"""The picture of `elastic_solve`: error of the compliance over the time of the solve, for sizes, levels and codes.

Errors are against the limit of the family of sizes, whose elements shrink as 1/n (n: `elastic_case.FINER`):

    C(n) = C - a n^-p       through the three finest sizes that came out (Richardson), p sought between RATES

Where these do not close in so (contact opens and shuts by whole pairs), the finest size stands for the limit.
Every code solves the same discrete problem, so at one size all have one error and differ in time alone.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator
from scipy.optimize import brentq

from icecone.validation.benchmarks.elastic_case import FINER
from icecone.validation.benchmarks.elastic_codes import CODES
from icecone.validation.benchmarks.elastic_page import Row, total

LOOK = "icecone.studies.figures.icecone"  # the style file of the project's pictures, by its place
WIDE, HIGH, DPI = 10.0, 5.2, 130  # in
RATES = (0.3, 8.0)
MANY = 3e3  # largest over smallest of an axis, from which on its ticks are fewer
OURS, THEIRS, PLAIN = "#1b5fa0", "#ee8a1d", "#6d1a36"
MARKS: dict[str, dict[str, Any]] = {
    "mkl": {"color": OURS, "marker": "o"},
    "cholmod": {"color": OURS, "marker": "s", "ls": "--", "mfc": "white"},
    "superlu": {"color": OURS, "marker": "D", "ls": "-.", "mfc": "white"},
    "multigrid": {"color": OURS, "marker": "^", "ls": ":"},
    "ngsolve": {"color": THEIRS, "marker": "o"},
    "ngsolve-condensed": {"color": THEIRS, "marker": "s", "ls": "--", "mfc": "white"},
    "ngsolve-bddc": {"color": THEIRS, "marker": "^", "ls": ":"},
    "scikit-fem": {"color": PLAIN, "marker": "D", "ls": "-."},
}
LEVELS = ("standard", "fine")  # of the project; "quick" is the family's 25k
BESIDE: dict[str, Any] = {  # of a word beside a mark
    "textcoords": "offset points",
    "fontsize": 9,
    "bbox": {"fc": "white", "ec": "none", "pad": 0.5, "alpha": 0.85},
}


@dataclass(frozen=True)
class Limit:
    """compliance : of infinitely small elements [m/N].  rate : p, 0 if there is none.  sizes : that it comes from."""

    compliance: float
    rate: float
    sizes: tuple[str, ...]


def find_limit(values: dict[str, float]) -> Limit | None:
    """The limit of compliances by size, from the three finest of the family; None for fewer."""
    sizes = [size for size in FINER if size in values][-3:]
    if len(sizes) < 3:
        return None
    n, C = [FINER[size] for size in sizes], [values[size] for size in sizes]
    finest = Limit(C[2], 0.0, (sizes[2],))
    if (C[1] - C[0]) * (C[2] - C[1]) <= 0:
        return finest
    share = (C[1] - C[0]) / (C[2] - C[1])

    def off(p: float) -> float:
        return (n[0] ** -p - n[1] ** -p) / (n[1] ** -p - n[2] ** -p) - share

    if off(RATES[0]) * off(RATES[1]) > 0:
        return finest
    p = float(brentq(off, *RATES))
    a = (C[2] - C[1]) / (n[1] ** -p - n[2] ** -p)
    return Limit(C[2] + a * n[2] ** -p, p, tuple(sizes))


def draw_error_over_time(rows: Sequence[Row], path: Path) -> None:
    """Draw bonded and contact beside each other on as many threads as most were; nothing if neither has a limit."""
    good = [row for row in rows if not row["problem"] and CODES[row["code"]].kind != "gauge"]
    counts = [row["threads"] for row in good]
    threads = max(sorted(set(counts)), key=counts.count, default=0)
    with matplotlib.style.context(LOOK):
        figure = Figure(figsize=(WIDE, HIGH), layout="constrained")
        panels = figure.subplots(1, 2)
        drawn = [
            _panel(axes, kind, [row for row in good if CODES[row["code"]].kind == kind], threads)
            for axes, kind in zip(panels, ("bonded", "contact"), strict=True)
        ]
        if not any(drawn):
            return
        figure.suptitle(f"What an error costs, {threads} thread{'s' * (threads > 1)}")
        handles = {line.get_label(): line for axes in panels for line in axes.get_lines()}
        figure.legend(handles=list(handles.values()), loc="outside lower center", ncols=4, handlelength=3.0)
        whole = path.with_name(f".{path.name}")
        figure.savefig(whole, dpi=DPI, format="png")
        os.replace(whole, path)


def _panel(axes: Axes, kind: str, rows: Sequence[Row], threads: int) -> bool:
    """One problem; whether there was a limit to draw against."""
    limit = find_limit({row["size"]: row["compliance"] for row in rows})
    if limit is None:
        axes.set_axis_off()
        return False
    shown = [row for row in rows if row["threads"] == (threads if threads in CODES[row["code"]].threads else 1)]
    shown = [row for row in shown if _error(row, limit) > 0]
    for name, code in CODES.items():
        own = {row["size"]: row for row in shown if row["code"] == name}
        line = [own[size] for size in FINER if size in own]
        style = MARKS[name.removeprefix("contact-")] if code.kind == kind else {}
        if line:
            label = code.words.replace(" contact", "") + (" (1 thread)" if line[0]["threads"] < threads else "")
            axes.plot([total(row) for row in line], [_error(row, limit) for row in line], label=label, ms=6, **style)
        stars = [(total(own[size]), _error(own[size], limit)) for size in LEVELS if size in own]
        if stars:
            face = style.get("mfc", OURS)
            axes.plot(
                *zip(*stars, strict=True), marker="*", ms=12, color=OURS, mfc=face, ls="", label="icecone's levels"
            )
    for size in (*FINER, *LEVELS):
        at = [row for row in shown if row["size"] == size]
        if at:
            first = min(at, key=total)
            place, down = (total(first), _error(first, limit)), -10 if size in LEVELS else -3
            axes.annotate(size, place, xytext=(-8, down), ha="right", **BESIDE)
    axes.set(xscale="log", yscale="log", xlabel="wall time of the solve, s")
    axes.set_ylabel("error of the compliance, %")
    axes.set_title(
        f"{'Tube and ice bonded' if kind == 'bonded' else 'Contact'}: limit {limit.compliance * 1e9:.3f} µm/kN "
        f"({f'rate {limit.rate:.1f}, from' if limit.rate else 'that of'} {', '.join(limit.sizes)})"
    )
    axes.margins(x=0.16, y=0.12)
    for axis in (axes.xaxis, axes.yaxis):
        low, high = axis.get_view_interval()
        axis.set_major_locator(LogLocator(subs=(1, 2, 5) if high < MANY * low else (1, 3)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_locator(NullLocator())
    axes.grid(True)
    return True


def _error(row: Row, limit: Limit) -> float:
    """Of the compliance [%]."""
    return 100 * abs(row["compliance"] / limit.compliance - 1)
