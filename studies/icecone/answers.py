"""Solve, vary and draw from Python, on the same ground as the command line."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from icecone.cases import Case, CaseError, key_of, read_case
from icecone.studies.outcome.cautions import all_cautions
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.models import MODELS, asked, load, solve_settings

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame
    from xarray import Dataset

    from icecone.studies.sweep.tables import Results

Say = Callable[[str], None]
FIRST = (
    *("limit_kN", "limit_mode", "peak_kN", "peak_mode", "peak_at_mm", "first_drop_kN", "early_kN", "turned_kN"),
    *("largest_kN", "ended_by", "first_hinge_kN", "wrinkle_kN", "onset_kN"),
)


def solve(case: Case | str | Path | None = None, /, *, say: Say = lambda text: None, **keywords: Any) -> Outcome:
    """The outcome of one case: a `Case`, a case file, or keywords of `Case` alone; keywords change the case.

    Loads in kN, lengths in mm, angles in deg. Laws of the ice that are kept are taken; others are computed first, for
    minutes, and `say` gets a line about each. Raises CaseError for what a case cannot be, ValueError for a placement
    that cannot be meshed, SolveError if a solve does not come out.

    >>> solve(angle_deg=-20, embedment_mm=70, level="quick").peak_mode
    'lever-out'
    """
    asked_for = _case(case, keywords)
    return solve_settings(dict(asked_for.settings), say, asked_for.own)[0]


def _case(case: Case | str | Path | None, keywords: Mapping[str, Any]) -> Case:
    if case is None:
        return Case(**keywords)
    if not isinstance(case, Case):
        return read_case(case, **keywords)
    return case.changed(**keywords) if keywords else case


@dataclass(frozen=True, slots=True, repr=False)
class Study:
    """Outcomes over values of some keywords. names : the keywords.  values : one tuple for each outcome.

    >>> study = Study(("angle_deg",), (), ())
    >>> len(study)
    0
    """

    names: tuple[str, ...]
    values: tuple[tuple[Any, ...], ...]
    outcomes: tuple[Outcome, ...]

    def table(self) -> list[dict[str, Any]]:
        """A row for each outcome: the values, then the answer; `pandas.DataFrame` takes it."""
        return [
            dict(zip(self.names, values, strict=True)) | {name: getattr(outcome, name) for name in FIRST}
            for values, outcome in zip(self.values, self.outcomes, strict=True)
        ]

    def results(self) -> Results:
        """The answers alone, over the keywords: `.to_xarray()`, `.to_pandas()`, with units, long names and cautions."""
        from icecone.studies.sweep.tables import Results

        return Results.of_outcomes([key_of(name) for name in self.names], self.values, self.outcomes)

    def to_pandas(self) -> DataFrame:
        """A row for each outcome; needs `icecone[tables]`."""
        return self.results().to_pandas()

    def to_xarray(self) -> Dataset:
        """A dataset whose dimensions are the keys; needs `icecone[tables]`."""
        return self.results().to_xarray()

    def plot(self, path: str | Path | None = None) -> Figure:
        """The picture of the study: over one keyword that of its model, over two or more lines (of peaks).

        path : of a PNG file to be written too. Raises ValueError for several keywords if peaks were not solved.
        """
        keys = [key_of(name) for name in self.names]
        title = f"{asked(self.outcomes).quantity.name} over {' and '.join(self.names)}"
        target = None if path is None else Path(path)
        if len(keys) == 1:
            drawn: Figure = load(asked(self.outcomes).study_picture)(self.outcomes, keys[0], title, target)
            return drawn
        if any(outcome.peak is None for outcome in self.outcomes):
            raise ValueError(f'model: must be "peak" if {len(keys)} keywords are drawn')
        from icecone.studies.figures.grid import lines_figure

        return lines_figure(self.outcomes, keys, title, target)

    def __len__(self) -> int:
        return len(self.outcomes)

    def __iter__(self) -> Iterator[Outcome]:
        return iter(self.outcomes)

    def __repr__(self) -> str:
        return f"Study of {len(self)} outcomes over {', '.join(self.names)}"

    def _repr_html_(self) -> str:
        rows = self.table()
        head = "".join(f"<th>{escape(name)}</th>" for name in (*self.names, *FIRST))
        body = "".join(
            f"<tr>{''.join(f'<td>{escape(_shown(value))}</td>' for value in row.values())}</tr>" for row in rows
        )
        return f"<table><tr>{head}</tr>{body}</table>{_cautions(self.outcomes)}"


def study(case: Case | str | Path | None = None, /, *, say: Say = lambda text: None, **keywords: Any) -> Study:
    """Outcomes for every combination of the keywords that are lists: `study(angle_deg=[-20, 0, 20], ice="firn")`.

    Arguments and errors of `solve`; a case that does not come out ends the study (the command line goes on, keeps what
    it has and draws more). Raises CaseError if no keyword is a list.

    >>> [round(outcome.onset_kN, 1) for outcome in study(angle_deg=[-20, 20], model="onset", level="quick")]
    [0.2, 0.5]
    """
    varied = {name: list(value) for name, value in keywords.items() if _is_list(value)}
    if not varied or not all(varied.values()):
        raise CaseError("study: one keyword at least must be a list of values, angle_deg=[-20, 0, 20]")
    base = _case(case, {name: value for name, value in keywords.items() if name not in varied})
    values = tuple(product(*varied.values()))
    cases = [base.changed(**dict(zip(varied, each, strict=True))) for each in values]  # refused before the first solve
    return Study(tuple(varied), values, tuple(solve(each, say=say) for each in cases))


def _is_list(value: Any) -> bool:
    """Whether it holds values to vary over: a list, a tuple, an array of numbers."""
    if isinstance(value, str | Mapping):
        return False
    return isinstance(value, Sequence) or getattr(value, "ndim", 0) == 1


def plot(outcome: Outcome, path: str | Path | None = None) -> Figure:
    """The first picture of an outcome: the pull against the movement of the load point, the cone, or the stress.

    path : of a PNG file to be written too. A picture of stress needs the fields, which an outcome does not hold: the
    case is solved once more for it.

    >>> plot(solve(angle_deg=20, level="quick")).axes[0].get_ylabel()
    'pull [kN]'
    """
    target = None if path is None else Path(path)
    pictures = [function for name, function in MODELS[outcome.model].pictures if name.endswith(".png")]
    if pictures:
        drawn: Figure = load(pictures[0])(outcome, target)
        return drawn
    from icecone.studies.figures.stress import stress_picture
    from icecone.studies.files.solution import write_fields

    with TemporaryDirectory() as folder:
        fields = Path(folder) / "fields.vtu"
        write_fields(solve_settings(dict(outcome.case))[1], fields)
        return stress_picture(outcome, fields, target)


def outcome_html(outcome: Outcome) -> str:
    """An outcome as a table for notebooks, its answer first, the cautions below."""
    rows = "".join(
        f"<tr><td>{name}</td><td>{escape(_shown(value))}</td></tr>"
        for name in FIRST
        if (value := getattr(outcome, name)) is not None
    )
    notes = "".join(f"<p>{escape(note)}</p>" for note in outcome.notes)
    return f"<table>{rows}</table>{notes}{_cautions([outcome])}"


def _cautions(outcomes: Sequence[Outcome]) -> str:
    return "".join(f"<p><em>{escape(words)}</em></p>" for words in all_cautions(outcomes))


def _shown(value: Any) -> str:
    return f"{value:.3g}" if isinstance(value, float) else "" if value is None else str(value)
