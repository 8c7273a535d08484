"""How far a prediction goes: a record for each model, from what it solves to how studies of it are told and drawn.

Functions stand as "module:function", so that naming the models loads no solver and no picture, and that only what
solves counts among the code behind a result (`files.provenance`):

    solve            (case, say, own) -> fields of the outcome beside those of the onset, which all models solve
    pictures         (outcome, path), files of one case beside outcome.json, fields.vtu and stress.png
    extra, moving    (outcome, path) -> why there is none, "": of a solved case where it can be drawn; if asked for
    study_picture    (outcomes, key, title, path)          strip       (outcomes, key, path)
    study_words      (outcomes, key) -> text               series      the same, of one series of several
    rows             (outcome) -> what the screen shows of one case
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from .cautions import CONE_ALONE, LATER, NOT_PEAK, PULL_CAUTION

if TYPE_CHECKING:
    from ...fem.onset.elastic import ElasticSession
    from ...fem.onset.solve import Solution
    from .data import Outcome
    from .own import Own

STUDIES = __name__.rpartition(".outcome.")[0]
ALWAYS = ("outcome.json", "fields.vtu", "stress.png")
SOLVE = f"{STUDIES}.outcome.solve:solve_case"
CUTAWAY = ("cutaway.png", f"{STUDIES}.figures.cutaway:cutaway_picture")
ANSWER = ("limit_kN", "limit_mode", "peak_kN", "peak_mode", "peak_at_mm")
READ = (
    *("first_drop_kN", "first_drop_mode", "first_drop_at_mm", "early_kN", "early_mode", "early_at_mm"),
    *("turned_kN", "turned_mode", "turned_at_mm", "largest_kN", "largest_mode", "largest_at_mm", "ended_by"),
)
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Quantity:
    """The load that a study asks for. name : in words.  legend : of a marker, {} is the mode."""

    name: str
    load_of: Callable[[Any], float | None]
    mode_of: Callable[[Any], str | None]
    legend: str

    def load(self, outcome: Outcome) -> float | None:
        """Its load [kN]; None where no cone that was tried opens."""
        return self.load_of(outcome)

    def loads(self, outcomes: Iterable[Outcome]) -> list[float]:
        """Of those that have one."""
        return [load for outcome in outcomes if (load := self.load(outcome)) is not None]

    def mode(self, outcome: Outcome) -> str:
        """What gives way at it."""
        return str(self.mode_of(outcome))


@dataclass(frozen=True, slots=True)
class Model:
    """One model. words : what it solves.  first : whether before the onset, which costs most.

    title : of the panel of loads in a study's picture.  caution : closes the words of several series.  columns : of
    table.csv, by the names of the JSON.  shown : columns of the screen's table, by the same names.  beside : further
    pictures of a study over a key.
    """

    name: str
    words: str
    quantity: Quantity
    title: str
    caution: str
    study_picture: str
    study_words: tuple[str, ...]
    series: str
    strip: tuple[str, str] | None = None
    solve: str = ""
    first: bool = False
    pictures: tuple[tuple[str, str], ...] = ()
    extra: tuple[tuple[str, str], ...] = ()
    moving: tuple[tuple[str, str], ...] = ()
    rows: str = ""
    columns: tuple[str, ...] = ()
    shown: Mapping[str, str] = field(default_factory=dict)
    beside: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)

    @property
    def files(self) -> tuple[str, ...]:
        """What a solved case is sure to leave."""
        return (*ALWAYS, *(name for name, _ in self.pictures))


_ONSET = Model(
    name="onset",
    words="first damage",
    quantity=Quantity("onset", attrgetter("onset_kN"), attrgetter("onset.mode"), "first damage by {}"),
    title="pull at the first damage (not the peak)",
    caution=f"{LATER} {NOT_PEAK}",
    study_picture=f"{STUDIES}.figures.stress:sweep_figure",
    study_words=(f"{STUDIES}.words.onset:explain",),
    series=f"{STUDIES}.words.onset:tell_onsets",
)
_CONE = Model(
    name="cone",
    words="cone of ice",
    quantity=Quantity("peak of the cone", attrgetter("peak_kN"), attrgetter("peak_mode"), "peak of the {}"),
    title="peak of the ice's cone",
    caution=CONE_ALONE,
    study_picture=f"{STUDIES}.figures.cone:peaks_figure",
    study_words=(f"{STUDIES}.words.cone:explain_cones",),
    series=f"{STUDIES}.words.cone:tell_cones",
    strip=("cone_strip.png", f"{STUDIES}.figures.cone:cones_strip"),
    solve=f"{STUDIES}.outcome.cone:cone_found",
    pictures=(
        ("cone.vtu", f"{STUDIES}.outcome.cone:write_surface"),
        ("cone.png", f"{STUDIES}.figures.cone:cone_picture"),
    ),
    extra=(CUTAWAY,),
    rows=f"{STUDIES}.command.rows:cone_rows",
    columns=(*ANSWER[:3], "cone_start", "cone_depth_mm", "cone_angle_deg", "cone_breakout_mm"),
    shown={
        "limit_kN": "limit (kN)",
        "limit_mode": "what limits",
        "peak_kN": "peak of the cone (kN)",
        "cone_angle_deg": "angle (deg)",
    },
)
_PEAK = Model(
    name="peak",
    words="largest pull of the whole system",
    quantity=Quantity("peak", attrgetter("peak_kN"), attrgetter("peak_mode"), "peak: {}"),
    title="largest pull, and what gives way",
    caution=PULL_CAUTION,
    study_picture=f"{STUDIES}.figures.peak:peaks_by_key",
    study_words=tuple(
        f"{STUDIES}.words.{words}" for words in ("chain:explain_chain", "peak:explain_peaks", "peak:tell_idle")
    ),
    series=f"{STUDIES}.words.peak:tell_peaks",
    strip=("tube_strip.png", f"{STUDIES}.figures.tube:tubes_strip"),
    solve=f"{STUDIES}.outcome.peak:peak_found",
    first=True,
    pictures=(
        ("load_displacement.png", f"{STUDIES}.figures.peak:load_displacement"),
        ("tube.png", f"{STUDIES}.figures.tube:deformed_tube"),
    ),
    extra=(CUTAWAY,),
    moving=(("moving_pull.gif", f"{STUDIES}.figures.moving_pull:moving_picture"),),
    rows=f"{STUDIES}.command.rows:peak_rows",
    columns=(*ANSWER, *READ, "next_mode", "next_kN", "margin", "first_hinge_kN", "wrinkle_kN", "head_rotation_deg"),
    shown={
        "limit_kN": "limit (kN)",
        "limit_mode": "what limits",
        "peak_kN": "peak (kN)",
        "peak_mode": "what gives way",
        "first_hinge_kN": "first hinge (kN)",
    },
    beside={
        "placement.angle_deg": (
            ("chain.png", f"{STUDIES}.figures.chain:chain_of_study"),
            ("chip_paths.png", f"{STUDIES}.figures.chip_paths:chips_by_angle"),
            ("law.png", f"{STUDIES}.figures.law:law_of_study"),
            ("band.png", f"{STUDIES}.figures.band:band_of_study"),
        )
    },
)
MODELS: dict[str, Model] = {model.name: model for model in (_ONSET, _CONE, _PEAK)}


def asked(outcomes: Iterable[Outcome]) -> Model:
    """The model of these outcomes; where they are of several, the onset, which all of them have."""
    found = {outcome.model for outcome in outcomes}
    return MODELS[found.pop()] if len(found) == 1 else _ONSET


def load(name: str) -> Callable[..., Any]:
    """The function "module:function"."""
    module, _, function = name.partition(":")
    found: Callable[..., Any] = getattr(import_module(module), function)
    return found


def solvers() -> tuple[str, ...]:
    """Modules that make results, of all models."""
    return tuple(dict.fromkeys(each.partition(":")[0] for each in (SOLVE, *(m.solve for m in MODELS.values())) if each))


def solve_settings(
    settings: dict[str, float | str],
    say: Say = lambda text: None,
    own: Own | None = None,
    session: ElasticSession | None = None,
) -> tuple[Outcome, Solution]:
    """Solve the case that the settings describe: the outcome, and the fields behind its onset.

    say : gets a line for each law of the ice that has to be computed first.  own : what a user hands in besides.
    session : shares the onset's work with cases before.
    Raises ValueError for a placement that cannot be meshed, fem.errors.SolveError if a check fails.
    """
    found: tuple[Outcome, Solution] = load(SOLVE)(settings, MODELS[str(settings["numerics.model"])], say, own, session)
    return found
