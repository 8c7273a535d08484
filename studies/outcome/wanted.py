"""What a study asks of a case, and the flat record that answers it: what is not asked for is not solved.

    want      solves                                                        a case takes
    peak      one pull on the ice's laws: loads, modes, movements           hundredths of a second
    rivals    the pulls in which what gave way cannot: what comes next      tenths of a second
    band      two pulls: every chip comes out, and none does                a tenth of a second
    onset     mesh, contact, stress: first damage                           a second to half a minute
    cone      the cone of ice alone                                         up to some minutes

Names are those of `outcome.json`, but for the cone's load, which stands beside a peak here. A peak alone meshes
nothing: what only a mesh would refuse is pulled. Onsets that differ in strengths only share one elastic field; those
that differ in pull and attachment too, one factorisation.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from math import isfinite
from typing import TYPE_CHECKING, Any, get_type_hints

from ..files.provenance import stamp

if TYPE_CHECKING:
    from ...fem.case import Case
    from ..case.file import Settings
    from ..files.laws import UsedLaws

Say = Callable[[str], None]
KERNELS = ("mkl", "pypardiso")  # behind the solves of onset and cone, where they are installed
LAWS_APART = ("icecone.fem.laws.recipes",)  # a record names the laws that it used, each stamped on its own
_UNITS = {"_mm_per_kN": "mm/kN", "_kN": "kN", "_mm": "mm", "_deg": "deg"}


def _of(want: str, words: str) -> Any:
    return field(default=None, metadata={"want": want, "words": words})


@dataclass(frozen=True, slots=True)
class Found:
    """The answer to what was asked; None: not asked for, or there is none."""

    limit_kN: float | None = _of("peak", "what gives way first of all: tube and ice, hanger or sling")
    limit_mode: str | None = _of("peak", "what gives way first of all, in words")
    peak_kN: float | None = _of("peak", "largest load up to the stops")
    peak_mode: str | None = _of("peak", "what gives way at the peak")
    peak_at_mm: float | None = _of("peak", "movement of the load point at the peak")
    first_drop_kN: float | None = _of("peak", "load before the first fall by 5 %")
    first_drop_mode: str | None = _of("peak", "what gives way at the first drop")
    first_drop_at_mm: float | None = _of("peak", "movement of the load point at the first drop")
    early_kN: float | None = _of("peak", "largest load within one tube diameter of movement")
    early_mode: str | None = _of("peak", "what gives way at the early load")
    early_at_mm: float | None = _of("peak", "movement of the load point at the early load")
    turned_kN: float | None = _of("peak", "largest load up to 45 deg of turn of the head")
    turned_mode: str | None = _of("peak", "what gives way at the load up to 45 deg of turn")
    turned_at_mm: float | None = _of("peak", "movement of the load point at the load up to 45 deg of turn")
    largest_kN: float | None = _of("peak", "largest load that the model can follow")
    largest_mode: str | None = _of("peak", "what gives way at the largest load")
    largest_at_mm: float | None = _of("peak", "movement of the load point at the largest load")
    ended_by: str | None = _of("peak", "why the pull ends")
    first_hinge_kN: float | None = _of("peak", "load at the first hinge of the tube, if up to the peak")
    wrinkle_kN: float | None = _of("peak", "load at which the wall of the tube wrinkles, if up to the peak")
    head_rotation_deg: float | None = _of("peak", "turn of the head at the peak")
    next_mode: str | None = _of("rivals", "what would give way next")
    next_kN: float | None = _of("rivals", "load of what would give way next")
    margin: float | None = _of("rivals", "load of what would give way next over the limit")
    goes_peak_kN: float | None = _of("band", "peak if every chip comes out")
    goes_early_kN: float | None = _of("band", "early load if every chip comes out")
    stays_peak_kN: float | None = _of("band", "peak if no chip comes out")
    stays_early_kN: float | None = _of("band", "early load if no chip comes out")
    onset_kN: float | None = _of("onset", "load of the first damage; not the peak")
    onset_mode: str | None = _of("onset", "kind of the first damage")
    onset_place: str | None = _of("onset", "where the first damage is")
    onset_crack: str | None = _of("onset", "how the first crack lies")
    onset_length_mm: float | None = _of("onset", "length of the first crack")
    compliance_mm_per_kN: float | None = _of("onset", "movement of the load point over the load, up to the onset")
    share_front: float | None = _of("onset", "share of the load that the front of the tube carries")
    share_threads: float | None = _of("onset", "share of the load that the threads carry")
    share_back_or_toe: float | None = _of("onset", "share of the load that the back or the toe carries")
    cone_kN: float | None = _of("cone", "peak of the cone of ice alone")
    cone_start: str | None = _of("cone", "where the cone starts")
    cone_depth_mm: float | None = _of("cone", "depth of the cone's start")
    cone_angle_deg: float | None = _of("cone", "mean angle of the cone to the surface")
    cone_breakout_mm: float | None = _of("cone", "distance from the tube at which the cone comes out")


@dataclass(frozen=True, slots=True)
class Column:
    """A field of `Found`. words : what it is.  unit : "" for a pure number or a word."""

    name: str
    want: str
    words: str
    unit: str
    is_number: bool


@cache
def columns(wants: tuple[str, ...] = ()) -> tuple[Column, ...]:
    """The columns of these wants; of all if there are none."""
    kinds = get_type_hints(Found)
    found = []
    for each in fields(Found):
        unit = next((unit for end, unit in _UNITS.items() if each.name.endswith(end)), "")
        of = Column(each.name, each.metadata["want"], each.metadata["words"], unit, kinds[each.name] == float | None)
        if not wants or of.want in wants:
            found.append(of)
    return tuple(found)


def solve_wanted(
    settings: Settings, wants: Sequence[str], say: Say = lambda text: None
) -> tuple[Found, dict[str, str]]:
    """What is wanted of a case, and the digest of each law that was used.

    say : gets a line for each law that has to be computed first.
    Raises MeshError for a placement that cannot be built, fem.errors.SolveError if a solve does not come out.
    """
    from ...geometry.errors import MeshError
    from ..case.file import to_case
    from ..files.laws import UsedLaws

    case, laws = to_case(settings), UsedLaws(say)
    found: dict[str, Any] = {}
    try:
        for want, solve in _SOLVERS.items():
            if want in wants and not (want == "peak" and "rivals" in wants):
                found |= solve(case, laws)
    except ValueError as error:
        raise MeshError(str(error)) from None
    asked = {column.name for column in columns(tuple(wants))}
    return Found(**{name: value for name, value in found.items() if name in asked}), laws.digests


def shares_work(settings: Settings, wants: Sequence[str]) -> Hashable:
    """What is the same for cases that one process solves in less time together; None: the case stands alone."""
    from ...fem.onset.elastic import ElasticBody, shape_of
    from ..case.file import to_case

    if "onset" not in wants:
        return None
    try:
        return shape_of(ElasticBody.of(to_case(settings)))
    except ValueError:  # said when it is solved
        return None


def rests_on(wants: Sequence[str]) -> str:
    """Code, values and versions that decide what is wanted; a change of any voids a record."""
    roots = (f"{__name__}.{of}" for of in ("solve_wanted", *(_SOLVERS[want].__name__ for want in wants)))
    return "; ".join([stamp(*roots, apart=LAWS_APART), *(f"{name} {number}" for name, number in kernels().items())])


def kernels() -> dict[str, str]:
    """Versions of KERNELS, of those that are installed."""
    found = {}
    for name in KERNELS:
        with suppress(PackageNotFoundError):
            found[name] = version(name)
    return found


def _peak(case: Case, laws: UsedLaws) -> dict[str, Any]:
    from ...fem.laws.gather import peak_laws
    from ...fem.tube.peak import Peak, pull_case, stated_strength
    from .reading import pull_read

    ice = peak_laws(case, laws)
    return pull_read(Peak(pull_case(case, ice), stated_strength(case), (), ice))


def _rivals(case: Case, laws: UsedLaws) -> dict[str, Any]:
    from ...fem.laws.gather import peak_laws
    from ...fem.tube.peak import solve_peak
    from .reading import pull_read

    peak = solve_peak(case, peak_laws(case, laws))
    mode, load = peak.next or (None, None)
    margin = peak.margin if isfinite(peak.margin) else None
    return {**pull_read(peak), "next_mode": mode, "next_kN": load and load / 1e3, "margin": margin}


def _band(case: Case, laws: UsedLaws) -> dict[str, Any]:
    from ...fem.laws.gather import peak_laws
    from ...fem.tube.band import ends

    found = ends(case, peak_laws(case, laws)).items()
    return {f"{end}_{load}_kN": read[load].load / 1e3 for end, read in found for load in ("peak", "early")}


def _onset(case: Case, laws: UsedLaws) -> dict[str, Any]:
    from dataclasses import asdict

    from ...fem.onset.elastic import ElasticBody, kept_field
    from ...fem.onset.solve import onset_in
    from .onset import onset_result

    solution = onset_in(kept_field(ElasticBody.of(case)), case)
    found = asdict(onset_result(solution))
    named = {f"onset_{name}": found[name] for name in ("mode", "place", "crack", "length_mm")}
    return {**found, **named, "onset_kN": solution.onset_load / 1e3}


def _cone(case: Case, laws: UsedLaws) -> dict[str, Any]:
    from .cone import cone_found

    found = cone_found(case)
    cone = found["cone"]
    named = {f"cone_{name}": getattr(cone, name) for name in ("start", "depth_mm", "angle_deg", "breakout_mm")}
    return {**named, "cone_kN": found["peak_kN"]}


_SOLVERS: dict[str, Callable[[Case, UsedLaws], dict[str, Any]]] = {
    "peak": _peak,
    "rivals": _rivals,
    "band": _band,
    "onset": _onset,
    "cone": _cone,
}
WANTS = tuple(_SOLVERS)
