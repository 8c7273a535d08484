"""A stiff pin pushed sideways through ice: what the law of the wall says of it, and what pushes settle of the law.

    goes     every chip comes out: the trench eats the wall, the push falls         `fem.tube.rigid_wall`, shift  pi
    stays    none does: min(crushing, start of a chip) bears on                     the same, shift -pi          [kN]
    none     no chip is seen at all: crushing alone,  share sigma_c N D L           `crushing_total`             [kN]

The pin is as wide as the tube of the law and does not bend; it bears over `bearing_length_mm` from the mouth down. Its
shaft bears nothing else. force_kN is what it still bears as the movement ends (the mean of the last tenth).

`assumed.crushing_share` is fitted to pushes whose ice stayed, each rate on its own; ice that came out bears next to
nothing and says nothing of it. Where the start of a chip bounds the push, a larger share changes nothing: the interval
is open above. `assumed.chip_border_shift_deg` is the border of what came out less that of the law (a = 0). Ice counts
at the case's loading time, whatever the rate: so a ratio of shares holds all that the rate does.

Limits: those of `fem.laws.trench` and `fem.laws.crushing`; one kind of ice; K_IC of the kind if not measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite, pi, radians
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...fem.laws.gather import TURNS, peak_laws
from ...fem.laws.ice_laws import IceLaws
from ...fem.laws.recipes import RECIPES
from ...fem.tube.rigid_wall import crushing_total, push_rigid_wall
from ..case.file import settings_from, to_case
from ..case.toml import CaseError, shown
from ..command.plain_text import one_line
from ..files.laws import kept_law
from .pin_fit import SHARES

Array = NDArray[np.float64]
Chips = Literal["came out", "stayed", "none"]
CHIPS: tuple[Chips, ...] = ("came out", "stayed", "none")
SETTLED = 1e-3  # m, after which ice that stays bears all that it bears
NUMBERS: dict[str, tuple[float, float, str]] = {
    "angle_deg": (-45.0, 45.0, "deg"),
    "pin_diameter_mm": (10.0, 30.0, "mm"),
    "bearing_length_mm": (5.0, 250.0, "mm"),
    "rate_mm_per_s": (1e-4, 1e4, "mm/s"),
    "temperature_C": (-40.0, 0.0, "deg C"),
    "movement_mm": (1.0, 100.0, "mm"),
    "force_kN": (1e-3, 1000.0, "kN"),
}
TOUGHNESS = ("K_IC_kPa_sqrt_m", (2.0, 500.0, "kPa m^0.5"))
COLUMNS = ("id", *NUMBERS, "chips", TOUGHNESS[0])


@dataclass(frozen=True, slots=True)
class Push:
    """One push; each field is a column, its unit the end of its name. angle_deg : positive, toward the push.

    chips : what the film shows.  K_IC_kPa_sqrt_m : None if it was not measured.
    """

    id: str
    angle_deg: float
    pin_diameter_mm: float
    bearing_length_mm: float
    rate_mm_per_s: float
    temperature_C: float
    movement_mm: float
    force_kN: float
    chips: Chips
    K_IC_kPa_sqrt_m: float | None = None


@dataclass(frozen=True, slots=True)
class PinForces:
    """What a pin bears as the movement ends [kN], if every chip comes out, if none does, if none starts.

    bearing_length_mm : over which it bears.
    """

    goes_kN: float
    stays_kN: float
    crushing_kN: float
    bearing_length_mm: float

    @property
    def per_length(self) -> tuple[float, float, float]:
        """The same per length of bearing [kN/m]."""
        loads = self.goes_kN, self.stays_kN, self.crushing_kN
        goes, stays, crushing = (1e3 * load / self.bearing_length_mm for load in loads)
        return goes, stays, crushing


def read_pushes(rows: Iterable[Mapping[str, str]]) -> tuple[Push, ...]:
    """Pushes of plain rows by COLUMNS; one without force and chips has not been made and is left out.

    Raises CaseError: row, column, value and what is allowed, in one line.
    """
    found: list[Push] = []
    for number, row in enumerate(rows, 1):
        cells = {name: one_line(row.get(name) or "") for name in COLUMNS}
        if not cells["force_kN"] and not cells["chips"]:
            continue
        name = cells.pop("id")
        if not name or name in {push.id for push in found}:
            raise CaseError(f"row {number}: id = {shown(name)}: must be given and must be unique")
        found.append(_push(name, cells))
    return tuple(found)


def _push(name: str, cells: Mapping[str, str]) -> Push:
    numbers = {column: _number(name, column, cells[column], *allowed) for column, allowed in NUMBERS.items()}
    if cells["chips"] not in CHIPS:
        words = ", ".join(f'"{word}"' for word in CHIPS)
        raise CaseError(f"push {name}: chips = {shown(cells['chips'])}: must be one of {words}")
    column, allowed = TOUGHNESS
    toughness = _number(name, column, cells[column], *allowed) if cells[column] else None
    chips = next(word for word in CHIPS if word == cells["chips"])
    return Push(name, chips=chips, K_IC_kPa_sqrt_m=toughness, **numbers)


def _number(name: str, column: str, cell: str, low: float, high: float, unit: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = float("nan")
    if not (isfinite(value) and low <= value <= high):
        allowed = f"must be a number between {low:g} and {high:g} {unit}"
        raise CaseError(f"push {name}: {column} = {shown(cell)}: {allowed}")
    return value


def pin_forces(push: Push, kind: str = "sound_glacier", share: float = 1.0) -> PinForces:
    """What the law says that a push bears as its movement ends [kN], at a share of crushing [-].

    kind : of the ice.  Raises SolveError if a law does not come out.
    """
    return _forces(_made_of(push, kind), push.movement_mm, share)


def bearing_by_share(push: Push, kind: str = "sound_glacier") -> Array:
    """What ice that does not come out bears of a push at each of SHARES [kN]: as it stays, or with no chip at all."""
    return _by_share(_made_of(push, kind), push.chips == "none")


def border_of_law_deg() -> float:
    """Tilt from which cracks in plane sections dive, a = 0, as the kept laws `path` have it [deg]."""
    rises = [kept_law("path", {"angle_deg": turn}, RECIPES["path"])["rise_deg"] for turn in TURNS]
    return float(np.interp(0.0, rises[::-1], TURNS[::-1]))


def alike(pushes: Sequence[Push], name: str) -> tuple[float, ...]:
    """The values of a column that occur, rising, in its own unit: rates, angles."""
    return tuple(sorted({getattr(push, name) for push in pushes}))


Made = tuple[str, float, float, float, float, float | None]  # what the laws of a push rest on


def _made_of(push: Push, kind: str) -> Made:
    sizes = push.angle_deg, push.pin_diameter_mm, push.bearing_length_mm
    return (kind, *sizes, push.temperature_C, push.K_IC_kPa_sqrt_m)


@lru_cache(maxsize=256)
def _laws_of(made: Made) -> IceLaws:
    """Laws of the ice as a tube as wide as the pin feels them."""
    kind, angle_deg, diameter_mm, reach_mm, temperature_C, toughness = made
    given: dict[str, float | str] = {
        "ice.kind": kind,
        "ice.temperature_C": temperature_C,
        "placement.angle_deg": angle_deg,
        "tube.od_mm": diameter_mm,
        "tube.length_mm": max(140.0, reach_mm + 10.0),
    }
    if toughness is not None:
        given["ice.K_IC_kPa_sqrt_m"] = toughness
    return peak_laws(to_case(settings_from(given)), kept_law)


@lru_cache(maxsize=1024)
def _forces(made: Made, movement_mm: float, share: float) -> PinForces:
    """`pin_forces`, once for pushes that are alike."""
    laws, angle, reach = _laws_of(made), radians(made[1]), 1e-3 * made[3]
    laws = replace(laws, crushing=share * laws.crushing)
    goes = push_rigid_wall(_shifted(laws, pi), angle, reach, 1e-3 * movement_mm).force[-1]
    stays, crushing = _staying(laws, angle, reach), crushing_total(laws, angle, reach)
    return PinForces(1e-3 * float(goes), 1e-3 * stays, 1e-3 * crushing, made[3])


@lru_cache(maxsize=1024)
def _by_share(made: Made, no_chip: bool) -> Array:
    """`bearing_by_share`, once for pushes that are alike."""
    laws, angle, reach = _laws_of(made), radians(made[1]), 1e-3 * made[3]
    if no_chip:
        return np.asarray(1e-3 * crushing_total(laws, angle, reach) * SHARES)
    scaled = (replace(laws, crushing=share * laws.crushing) for share in SHARES)
    return np.array([1e-3 * _staying(each, angle, reach) for each in scaled])


def _shifted(laws: IceLaws, shift: float) -> IceLaws:
    return laws if laws.chips is None else replace(laws, chips=replace(laws.chips, shift=shift))


def _staying(laws: IceLaws, angle: float, reach: float) -> float:
    """What ice bears of which no chip comes out [N]."""
    return float(push_rigid_wall(_shifted(laws, -pi), angle, reach, SETTLED).force[-1])
