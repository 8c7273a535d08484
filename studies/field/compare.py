"""The predicted loads beside the field's peak, row by row of a field table.

A field's peak is the largest load that a pull carried, of tube and ice; which of the loads that a pull reads
(`outcome.data.LOADS`) a test has written down, it seldom says: all stand side by side, each with its ratio, predicted
over field. A hanger or sling that gives way before is not counted. Two summaries of each load: the median ratio with
the least and the largest, and the rank correlation, which asks whether placements that are said to hold more do hold
more, whatever the scale. Onset, the load of first damage, stands beside them: no field table holds it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any

from ...fem.tube.modes import TUBE_BENDS
from ..case.file import CaseError, Settings, settings_from
from ..case.toml import shown
from ..command.numbers import plural
from ..command.plain_text import markdown, one_line, shortened
from ..files.answer import answer
from ..files.store import write_csv, write_text
from ..outcome.cautions import CAUTION, COMPARED
from ..outcome.data import LOADS, Outcome, known
from ..sweep.runner import Done, Job, run_cases, stamp
from .table import FLAGS, Row, Table

if TYPE_CHECKING:
    from rich.console import Console

RATIO = "predicted_{}_over_field_peak"
FEWEST_FOR_RANKS, FACTOR = 4, 1.5
LONGEST_NAME = 32  # of a row, in the picture
KEY_OF = {
    "tube_length_mm": "tube.length_mm",
    "tube_od_mm": "tube.od_mm",
    "embedment_mm": "placement.embedment_mm",
    "angle_deg": "placement.angle_deg",
    "pull_direction_deg": "pull.direction_deg",
    "attachment": "placement.attachment",
    "ice": "ice.kind",
    "crust_mm": "ice.crust_mm",
    "temperature_C": "ice.temperature_C",
}
NEVER_GIVEN = "tube.wall_mm, tube.thread_length_mm, tube.eye_mm"  # no column: always the default
HEADER = (
    "id",
    "flag",
    "source",
    "field_peak_kN",
    "field_sd_kN",
    "field_n",
    "field_mode",
    *(name.format(load) for load in LOADS for name in ("predicted_{}_kN", "predicted_{}_mode", RATIO)),
    "predicted_first_hinge_kN",
    "predicted_onset_kN",
    "assumed",
    "not_modelled_because",
    "case_id",
    "caution",
)
MARKERS = dict(zip(FLAGS, ("s", "D", "^", "x"), strict=True))


@dataclass(frozen=True, slots=True)
class Pair:
    """A row of the table and what the model says of it.

    settings : None if the row cannot be modelled.  assumed : the settings that the row leaves open.
    problem : why there is no outcome.
    """

    row: Row
    settings: Settings | None
    assumed: tuple[str, ...] = ()
    outcome: Outcome | None = None
    problem: str = ""

    def load(self, name: str) -> float | None:
        """One of the predicted LOADS [kN]."""
        return self.outcome.load(name) if self.outcome else None

    def mode_at(self, name: str) -> str:
        """What gives way at one of the LOADS, and whether the tube is bent by then."""
        if self.outcome is None:
            return f"no prediction: {self.problem}"
        mode = self.outcome.mode(name)
        return f"{mode}{', tube bent' if self.outcome.bent(name) and mode != TUBE_BENDS else ''}"

    def over_field(self, name: str) -> float | None:
        """One of the predicted LOADS over the field's peak [-]."""
        load = self.load(name)
        return load / self.row.peak_kN if load is not None and self.row.peak_kN else None

    def with_ratio(self, name: str) -> str:
        """A load [kN] and, in brackets, its ratio; empty if it was not predicted."""
        load, ratio = self.load(name), self.over_field(name)
        return "" if load is None else f"{load:.3g}" + ("" if ratio is None else f" ({ratio:.2f})")

    @property
    def peak_kN(self) -> float | None:
        """The predicted peak [kN]."""
        return self.load("peak")

    @property
    def mode(self) -> str:
        """What gives way at the peak, and whether the tube is bent by then."""
        return self.mode_at("peak")

    @property
    def ratio(self) -> float | None:
        """Predicted over field peak [-]."""
        return self.over_field("peak")


@dataclass(frozen=True, slots=True)
class Comparison:
    """All pairs of a table, in its order. failed : rows whose solve did not come out."""

    name: str
    level: str
    pairs: tuple[Pair, ...]

    @property
    def failed(self) -> list[Pair]:
        """Rows that the model should take and whose solve did not come out."""
        return [pair for pair in self.pairs if pair.settings is not None and pair.outcome is None]


def pair_row(row: Row, level: str) -> Pair:
    """The settings of a row: what it leaves open takes the case file's default and is listed as assumed."""
    given: dict[str, Any] = {"numerics.level": level, "numerics.model": "peak"}
    given |= {key: getattr(row, column) for column, key in KEY_OF.items() if getattr(row, column) is not None}
    try:
        settings = settings_from(given)
    except CaseError as error:
        return Pair(row, None, problem=str(error))
    assumed = tuple(f"{key} = {shown(settings[key])}" for key in KEY_OF.values() if key not in given)
    return Pair(row, settings, assumed)


def compare_table(table: Table, level: str, out: Path, console: Console) -> Comparison:
    """Predict every row into a folder (resumable, `sweep.runner`); write comparison.csv, comparison.md and
    comparison.png.

    Raises OSError if a file cannot be written, files.lock.Busy if another run holds the folder.
    """
    pairs = [pair_row(row, level) for row in table.rows]
    with answer(out, "compare", ("comparison.csv", "comparison.md", "comparison.png")) as stage:
        jobs = [Job(pair.row.id, pair.settings) for pair in pairs if pair.settings is not None]
        done = iter(run_cases(jobs, out, console))
        comparison = Comparison(one_line(table.path.name), level, tuple(_joined(pair, done) for pair in pairs))
        _write(comparison, table, stage)
    return comparison


def _joined(pair: Pair, done: Any) -> Pair:
    if pair.settings is None:
        return pair
    found: Done = next(done)
    return replace(pair, outcome=found.outcome, problem=found.problem)


def rank_correlation(pairs: Sequence[Pair], name: str = "peak") -> tuple[float | None, int]:
    """Spearman's rank correlation of a predicted load and the field's peak, and the number of rows n that have both.

    None if n < 4, or if all predicted or all field peaks are equal.
    """
    both = [(load, p.row.peak_kN) for p in pairs if (load := p.load(name)) is not None and p.row.peak_kN is not None]
    predicted, field = [a for a, _ in both], [b for _, b in both]
    if len(both) < FEWEST_FOR_RANKS or len(set(predicted)) < 2 or len(set(field)) < 2:
        return None, len(both)
    from scipy.stats import spearmanr

    return float(spearmanr(predicted, field).statistic), len(both)


def summary(pairs: Sequence[Pair], name: str = "peak") -> str:
    """Ratios of a load and rank correlation in words; of another than the peak, only where there is one."""
    ratios = [ratio for pair in pairs if (ratio := pair.over_field(name)) is not None]
    ranks = rank_sentence(pairs, name) if name == "peak" or rank_correlation(pairs, name)[0] is not None else ""
    if not ratios:
        return f"No row has both a predicted {LOADS[name]} and a field peak. {ranks}".strip()
    spread = f"median {median(ratios):.2f}, from {min(ratios):.2f} to {max(ratios):.2f}"
    within = sum(1 / FACTOR <= ratio <= FACTOR for ratio in ratios)
    near = f"{within} of {len(ratios)} within a factor {FACTOR:g}"
    return f"Predicted {LOADS[name]} over field peak: {spread}; {near}. {ranks}".strip()


def rank_sentence(pairs: Sequence[Pair], name: str = "peak") -> str:
    """The rank correlation in words, with n and what it rests on."""
    rho, n = rank_correlation(pairs, name)
    if rho is None:
        why = f"fewer than {FEWEST_FOR_RANKS}" if n < FEWEST_FOR_RANKS else "all predicted or all field peaks are equal"
        both = f"{plural(n, 'row')} with both"
        return f"Rank correlation of predicted {LOADS[name]} and field peak: not given ({both}: {why})."
    flags = Counter(p.row.flag for p in pairs if p.peak_kN is not None and p.row.peak_kN is not None)
    basis = ", ".join(f"{count} {flag}" for flag, count in flags.items())
    warning = " Invented rows say nothing about ice." if flags["invented"] else ""
    return (
        f"Rank correlation (Spearman) of predicted {LOADS[name]} and field peak: {rho:.2f}, n = {n} ({basis}).{warning}"
    )


def _write(comparison: Comparison, table: Table, out: Path) -> None:
    rows = []
    for pair in comparison.pairs:
        row, found = pair.row, pair.outcome
        field = [row.id, row.flag, row.source, row.peak_kN, row.sd_kN, row.n, row.mode]
        model: list[object] = []
        for name in LOADS:
            model += [pair.load(name), pair.mode_at(name) if found else None, pair.over_field(name)]
        model += [found.first_hinge_kN, found.onset_kN] if found else [None, None]
        case_id = Job(row.id, pair.settings).id if pair.settings is not None else None
        rows.append([*field, *model, "; ".join(pair.assumed), pair.problem, case_id, CAUTION])
    write_csv(out / "comparison.csv", HEADER, rows)
    write_text(out / "comparison.md", _markdown(comparison, table, CAUTION))
    if any(pair.outcome for pair in comparison.pairs):
        _draw(comparison, out / "comparison.png")


def _cell(value: object) -> str:
    return "" if value is None else f"{value:.3g}" if isinstance(value, float) else markdown(str(value))


def _markdown(comparison: Comparison, table: Table, caution: str) -> str:
    lines = [
        f"# {markdown(comparison.name)}: predicted beside field peaks",
        "",
        f"**{COMPARED}**",
        "",
        f"> {caution}",
        "",
        f"Peaks at level {comparison.level}, icecone {stamp()}. Rate and mode of the rows do not enter the prediction. "
        f"No column gives {NEVER_GIVEN}: the defaults of the case file hold for all rows.",
        "",
        *(f"- {summary(comparison.pairs, name)}" for name in LOADS),
        "",
        "In brackets: over the field's peak.",
        "",
        f"| id | flag | field peak kN | {' | '.join(f'{words}, kN' for words in LOADS.values())} "
        "| field mode | mode at the peak | first hinge kN | onset kN | assumed |",
        "| " + " | ".join(["---"] * (8 + len(LOADS))) + " |",
    ]
    for pair in comparison.pairs:
        if found := pair.outcome:
            cells: list[object] = [pair.row.id, pair.row.flag, pair.row.peak_kN]
            cells += [pair.with_ratio(name) for name in LOADS] + [pair.row.mode]
            cells += [pair.mode, found.first_hinge_kN, found.onset_kN, "; ".join(pair.assumed)]
            lines.append(f"| {' | '.join(map(_cell, cells))} |")
    missing = [f"- {_cell(pair.row.id)}: {_cell(pair.problem)}" for pair in comparison.pairs if pair.outcome is None]
    lines += ["", "## Rows without a prediction", "", *(missing or ["none"])]
    left_out = [f"- {markdown(text)}" for text in table.problems]
    lines += ["", "## Rows left out of the table", "", *(left_out or ["none"])]
    return "\n".join(lines) + "\n"


def _draw(comparison: Comparison, path: Path) -> None:
    """Predicted loads and field peak of each row, and onset, on one log axis; a field peak's marker is its flag."""
    from matplotlib.figure import Figure

    from ..figures.style import FIELD, PREDICTED, READINGS, heading, save, small_print

    pairs = [pair for pair in comparison.pairs if pair.outcome]
    figure = Figure(figsize=(9, min(2.6 + 0.32 * len(pairs), 60)), layout="constrained")
    axes = figure.add_subplot()
    heights = range(len(pairs))
    onsets = [pair.outcome.onset_kN for pair in pairs if pair.outcome]
    largest = [known(pair.load("largest")) for pair in pairs]
    axes.hlines(heights, onsets, largest, color=PREDICTED, linewidth=1, alpha=0.4)
    axes.scatter(onsets, heights, marker="|", color=PREDICTED, label="predicted: onset (first damage)", zorder=3)
    for name, words in LOADS.items():
        loads = [known(pair.load(name)) for pair in pairs]
        style: dict[str, Any] = {"marker": READINGS[name], "s": 90 if name == "peak" else 40, "edgecolor": PREDICTED}
        style["facecolor"] = PREDICTED if name == "peak" else "none"
        axes.scatter(loads, heights, label=f"predicted: {words}", zorder=3, **style)
    for flag, marker in MARKERS.items():
        at = [(p.row.peak_kN, y, p.row.sd_kN or 0.0) for p, y in zip(pairs, heights, strict=True) if p.row.flag == flag]
        at = [(peak, y, sd) for peak, y, sd in at if peak]
        if at:
            peaks, ys, sds = zip(*at, strict=True)
            axes.scatter(peaks, ys, marker=marker, color=FIELD, label=f"field: peak ({flag})", zorder=3)
            axes.hlines(ys, [max(p - s, 0.02 * p) for p, s in zip(peaks, sds, strict=True)],
                        [p + s for p, s in zip(peaks, sds, strict=True)], color=FIELD, linewidth=1)  # fmt: skip
    axes.set_xscale("log")
    axes.set_yticks(heights, [shortened(pair.row.id, LONGEST_NAME) for pair in pairs])
    axes.set_ylim(len(pairs) - 0.5, -0.5)
    axes.grid(axis="x", which="both", alpha=0.3)
    axes.set_xlabel("load [kN], log axis (bars: one standard deviation, where given)")
    axes.xaxis.set_major_formatter(lambda load, _: f"{load:g}")
    heading(figure, f"{comparison.name}: predicted beside field peaks", 12)
    small_print(figure, COMPARED)
    axes.legend(loc="lower right", bbox_to_anchor=(1, 1), ncols=3, fontsize=8, frameon=False)
    save(figure, path, dpi=150)
