"""The outcome of a case as typed, frozen data, plain to JSON and back; pictures, words and tables read nothing else.

Loads in kN, lengths in mm, angles in deg; names end in their units. None: not solved by this model, or there is none.
The JSON begins with the answer, from `limit_kN` to `onset_kN`; the results of onset and cone stand beside it under the
names of their models (`onset_mode`, `cone_start`), the rest of a cone and of a peak in tables of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

from .plain import WrongKind, from_plain, to_plain
from .results import ConeResult, DrawnRange, IceUsed, MetalUsed, OnsetResult, PeakResult

__all__ = ["ConeResult", "IceUsed", "MetalUsed", "OnsetResult", "Outcome", "PeakResult", "known"]

FORMAT = 7  # of the JSON; another one is refused
Kept = TypeVar("Kept")
LOADS = {
    "peak": "peak",
    "first_drop": "first drop",
    "early": "early load",
    "turned": "load up to 45° of turn",
    "largest": "largest load followed",
}  # of a pull, by the beginning of their names in the JSON
NAMED: dict[str, tuple[str, ...]] = {
    "onset": ("mode", "where_mm", "place", "crack", "length_mm"),
    "cone": ("start", "depth_mm", "angle_deg", "breakout_mm"),
}


@dataclass(frozen=True, slots=True, repr=False)
class Outcome:
    """What a case comes to: the answer first, then how it was found.

    limit : what gives way first of all, hanger and sling by their stated strength.  peak : of tube and ice alone, up to
    the stops `pull.travel_mm` and `pull.turn_deg`.  first_drop : load at the first fall by 5 %, that a load cell
    shows; the largest if there is none.  early : the largest within one tube diameter of movement.  turned : up to 45
    deg of turn of the head.  largest : that the model can follow, and ended_by : why the pull ends there.  at : the
    movement of the load point at it.  first_hinge, wrinkle : the loads at which they come, if up to the peak.
    drawn : the range of the answer (`sweep.drawn`), if it was asked for.  laws : digest of each law that it rests on.
    case : the settings.
    """

    limit_kN: float | None
    limit_mode: str | None
    peak_kN: float | None
    peak_mode: str | None
    peak_at_mm: float | None
    first_drop_kN: float | None
    first_drop_mode: str | None
    first_drop_at_mm: float | None
    early_kN: float | None
    early_mode: str | None
    early_at_mm: float | None
    turned_kN: float | None
    turned_mode: str | None
    turned_at_mm: float | None
    largest_kN: float | None
    largest_mode: str | None
    largest_at_mm: float | None
    ended_by: str | None
    first_hinge_kN: float | None
    wrinkle_kN: float | None
    onset_kN: float
    model: str
    next_mode: str | None
    next_kN: float | None
    margin: float | None
    head_rotation_deg: float | None
    notes: tuple[str, ...]
    onset: OnsetResult
    cone: ConeResult | None
    peak: PeakResult | None
    drawn: DrawnRange | None
    ice: IceUsed
    crust: IceUsed | None
    metal: MetalUsed
    laws: dict[str, str]
    versions: dict[str, str]
    caution: str
    case: dict[str, Any]

    def __repr__(self) -> str:
        return f"Outcome({'; '.join(self._said())})"

    def _said(self) -> list[str]:
        answer = (("limit", self.limit_kN, self.limit_mode), ("peak", self.peak_kN, self.peak_mode))
        said = [f"{name} {load:.3g} kN: {mode}" for name, load, mode in answer if load is not None]
        return [*said, f"onset {self.onset_kN:.3g} kN: {self.onset.mode}"]

    def to_dict(self) -> dict[str, Any]:
        """Plain data: what outcome.json holds."""
        found = to_plain(self)
        onset, cone = found.pop("onset"), found["cone"]
        for name, part in (("onset", onset), ("cone", cone)):
            if part is not None:
                found |= {f"{name}_{each}": part.pop(each) for each in NAMED[name]}
        if cone is not None:
            for part in (cone.pop("straight"), cone.pop("tilted")):
                cone |= part or {}
        answer = {name: found.pop(name) for name in list(found)[: list(found).index("model")]}
        return {**answer, "format": FORMAT, **found, **onset}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Outcome:
        """The outcome that `to_dict` wrote. Raises ValueError, one line, for another format or what is none."""
        if not isinstance(data, Mapping) or data.get("format") != FORMAT:
            other = data.get("format", "none") if isinstance(data, Mapping) else "none"
            raise ValueError(f"outcome: format = {other!r}: must be {FORMAT}; solve the case again")
        table = dict(data)
        table["onset"] = table | {each: table[key] for each in NAMED["onset"] if (key := f"onset_{each}") in table}
        if isinstance(cone := table.get("cone"), Mapping):
            named = {each: table[key] for each in NAMED["cone"] if (key := f"cone_{each}") in table}
            parts = {"straight": cone if "path_mm" in cone else None, "tilted": cone if "shapes" in cone else None}
            table["cone"] = {**cone, **named, **parts}
        found: Outcome = from_plain(cls, table)
        _check(found)
        return found

    def plot(self, path: str | Path | None = None) -> Any:
        """The first picture of the outcome as a matplotlib figure; path : of a PNG file to be written too."""
        return _asked("icecone.answers:plot")(self, path)

    def _repr_html_(self) -> str:
        html: str = _asked("icecone.answers:outcome_html")(self)
        return html

    def load(self, name: str) -> float | None:
        """One of LOADS [kN]; None if it was not solved."""
        found: float | None = getattr(self, f"{name}_kN")
        return found

    def at_mm(self, name: str) -> float | None:
        """The movement of the load point at one of LOADS [mm]; None if it was not solved."""
        found: float | None = getattr(self, f"{name}_at_mm")
        return found

    def mode(self, name: str) -> str:
        """What gives way at one of LOADS."""
        return str(getattr(self, f"{name}_mode"))

    def bent(self, name: str) -> bool:
        """Whether the tube has a hinge by one of LOADS."""
        if name == "peak" or self.peak is None:
            return self.first_hinge_kN is not None
        hinges = [event.displacement_mm for event in self.peak.events if event.name == "hinge"]
        return bool(hinges) and min(hinges) <= known(self.at_mm(name))

    @property
    def the_peak(self) -> PeakResult:
        """The pull to its end. Raises ValueError if the model was another."""
        return known(self.peak)

    @property
    def the_cone(self) -> ConeResult:
        """The cone of ice. Raises ValueError if the model was another."""
        return known(self.cone)


def _asked(name: str) -> Callable[..., Any]:
    """The function "module:function", so that no result rests on what draws it."""
    module, _, function = name.partition(":")
    found: Callable[..., Any] = getattr(import_module(module), function)
    return found


def known(value: Kept | None) -> Kept:
    """The value. Raises ValueError if there is none."""
    if value is None:
        raise ValueError("outcome: not solved by this model")
    return value


def _check(found: Outcome) -> None:
    """Raises WrongKind if parts do not go together."""
    if found.model in ("cone", "peak") and getattr(found, found.model) is None:
        raise WrongKind(f"{found.model}: missing")
    if found.peak is not None:
        _check_peak(found.peak)
        for name in LOADS:
            if found.load(name) is None or found.at_mm(name) is None:
                raise WrongKind(f"{name}_kN, {name}_at_mm: missing")
    lengths = {1} if found.cone is None else {len(row) for row in found.cone.surface_mm}
    if len(lengths) != 1 or 0 in lengths:
        raise WrongKind("cone.surface_mm: rows of different lengths")


def _check_peak(peak: PeakResult) -> None:
    if len({len(peak.displacement_mm), len(peak.load_kN), len(peak.head_rotation_deg)}) > 1 or not peak.load_kN:
        raise WrongKind("peak.load_kN: must be as long as peak.displacement_mm")
    if not any(event.name == "peak" for event in peak.events):
        raise WrongKind("peak.events: none is the peak")
    for event in peak.events:
        nodes = {len(each) for each in (event.x_mm, event.z_mm, event.s_mm, event.bearing_N_per_mm)}
        elements = {len(event.moment_Nm), len(event.plastic_strain)}
        if len(nodes) > 1 or elements != {max(nodes) - 1} or not 0 <= event.held_node < max(nodes):
            raise WrongKind("peak.events: lists of different lengths")
    _check_shapes(peak)


def _check_shapes(peak: PeakResult) -> None:
    shapes, nodes, states = peak.shapes, len(peak.shapes.s_mm), len(peak.load_kN)
    frames = {len(of) for of in (shapes.step, shapes.cone, shapes.held_node)}
    for of, length in (
        (shapes.x_mm, nodes),
        (shapes.z_mm, nodes),
        (shapes.bearing_N_per_mm, nodes),
        (shapes.gone_mm, nodes),
        (shapes.yielded, nodes - 1),
    ):
        if {len(of)} != frames or {len(each) for each in of} != {length}:
            raise WrongKind("peak.shapes: lists of different lengths")
    if not all(0 <= k < states for k in shapes.step) or not all(0 <= k < nodes for k in shapes.held_node):
        raise WrongKind("peak.shapes: step, held_node: beyond the pull")
