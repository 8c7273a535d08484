"""Modes of failure: one record each, which the solver, pictures, words and comparisons read.

A new mode stands here: its name (that of the JSON), words, colours, marker, and how the tube's pull bars it when the
next one in line is sought. `events.mode_at` says when it is the one that ends a pull.

Colours of modes that one picture may show differ by 15 or more in CIELAB for eyes with all cones, without the red and
without the green ones, and in lightness L* by 8 or more (pale ones by 4.5), for grey print. A mode without a record is
drawn and named all the same, as itself, in ink.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from ..case import Case
from ..laws.ice_laws import IceLaws

Barred = tuple[Case, IceLaws]
Bar = Callable[[Case, IceLaws], Barred]
BEAM, CRACKS, CONE_MODEL, ONSET, STATED = "beam on laws", "cracks in turn", "cone", "onset", "stated strength"
CONE, TUBE_BENDS, LEVER_OUT, THREADS, ROPE = "cone", "tube bends", "lever-out", "threads stripped", "rope"
SLING_SLIDES, UNENDED, HANGER, SLING = "sling slides", "not reached", "hanger", "sling"
INK, PALE = "#333333", "#dddddd"  # of modes that no picture tells apart by colour
STRONG = 1e3  # times as strong as it is: barred


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode. words : what happens.  pale : its colour where numbers are written on it.  marker : matplotlib's.

    routes : which of them know it.  bar : case and ice in which it cannot come; None where there is nothing to bar.
    """

    name: str
    words: str
    colour: str = INK
    pale: str = PALE
    marker: str = "X"
    routes: tuple[str, ...] = ()
    bar: Bar | None = None


def _no_cone(case: Case, laws: IceLaws) -> Barred:
    return case, replace(laws, cone_load=inf)


def _strong_threads(case: Case, laws: IceLaws) -> Barred:
    names = ("thread_limit", "thread_softening")  # a fall as steep as before
    return case, replace(laws, **{name: STRONG * getattr(laws, name) for name in names})


def _strong_wall(case: Case, laws: IceLaws) -> Barred:
    return case, replace(laws, crushing=STRONG * laws.crushing, chips=None)


def _strong_metal(case: Case, laws: IceLaws) -> Barred:
    strong = {name: STRONG * getattr(case.metal, name) for name in ("yield_strength", "ultimate_strength")}
    return replace(case, metal=replace(case.metal, strain_limit=STRONG, **strong)), laws


def _sling_holds(case: Case, laws: IceLaws) -> Barred:
    return replace(case, placement=replace(case.placement, sling_friction=inf)), laws


_BOTH = (BEAM, CRACKS)
_OF_PULLS = (
    Mode(CONE, "a cone of ice comes out with the tube", "#980f19", "#e9878a", "v", (*_BOTH, CONE_MODEL), _no_cone),
    Mode(TUBE_BENDS, "the tube bends toward the pull", "#837c61", "#c9c16a", "o", _BOTH, _strong_metal),
    Mode(LEVER_OUT, "the tube levers out of the ice unbent", "#2b65a4", "#73b5fc", "s", _BOTH, _strong_wall),
    Mode(THREADS, "the threads shear through the ice", "#ee9a4d", "#f7d7bd", "D", _BOTH, _strong_threads),
    Mode(ROPE, "the bent tube is drawn out along the pull", "#2f1d66", "#a98cb4", "P", (BEAM,), _strong_metal),
    Mode(SLING_SLIDES, "the sling slides along the shank", "#2ca6ae", "#77dbe8", "h", (BEAM,), _sling_holds),
    Mode(UNENDED, "the load still rises at a stop or at the end of the pull", "#131313", "#f6f6f6", "x", _BOTH),
)
_STATED = (
    Mode(HANGER, "the hanger fails at its stated strength", "#e9c72b", marker=">", routes=(STATED,)),
    Mode(SLING, "the sling fails at its stated strength", "#e9c72b", marker="<", routes=(STATED,)),
)
_OF_ONSET = (
    Mode("tension", "the ice opens", "#980f19", marker="o", routes=(ONSET,)),
    Mode("shear", "the ice slides on a slant", "#7b5cc4", marker="^", routes=(ONSET,)),
    Mode("crushing", "the ice is crushed", "#5aa9d6", marker="s", routes=(ONSET,)),
)
MODES: dict[str, Mode] = {mode.name: mode for mode in (*_OF_PULLS, *_STATED, *_OF_ONSET)}


def mode_named(name: str | None) -> Mode:
    """The record of a mode; of one without, a record that names it and draws it in ink."""
    return MODES.get(str(name)) or Mode(str(name), "")


def is_stated(name: str | None) -> bool:
    """Whether it is of a part whose strength is stated, not computed."""
    return STATED in mode_named(name).routes


def in_order(names: set[str]) -> list[str]:
    """These modes in the order of MODES, those without a record last."""
    return [*(name for name in MODES if name in names), *sorted(names - set(MODES))]
