"""Why the angle matters, part by part: loads at three angles with one thing switched off at a time.

    P(angle) / P(upright)    as it is, and with a part switched off    [-]

What brings the ratio nearer to 1 as it is switched off is what the angle acts through. Parts work together: what they
explain does not add up.

Limits: friction of the chips' faces is lowered to OTHER_FRICTION, not to nothing, for which no chips are computed; with
thrust as of the upright tube which ice goes stays as it is; metal without bound has the case's stiffness.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import pi
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ...fem.case import Case
from ...fem.errors import SolveError
from ...fem.laws.gather import peak_laws
from ...fem.laws.ice_laws import IceLaws
from ...fem.tube.modes import TUBE_BENDS, mode_named
from ...fem.tube.peak import case_without, pull_case
from ..case.file import Settings, settings_from, to_case
from ..files.laws import kept_law
from ..outcome.cautions import CAUTION, PULL_CAUTION
from ..outcome.data import LOADS
from ..outcome.models import STUDIES, load

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ANGLES = (-20.0, 0.0, 20.0)  # deg; the one in the middle is what the others are held against
LOADS_SHOWN = ("early", "first_drop")
OTHER_FRICTION = 0.3
Changed = tuple[Case, IceLaws]
Loads = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Switch:
    """A part and how it is switched off: by settings, or by what it makes of case and laws."""

    name: str
    settings: Settings = field(default_factory=dict)
    off: Callable[[Case, IceLaws], Changed] = lambda case, laws: (case, laws)


def _upright_thrust(case: Case, laws: IceLaws) -> Changed:
    if laws.chips is None:
        return case, laws
    at = int(np.abs(laws.chips.angles).argmin())
    return case, replace(laws, chips=replace(laws.chips, angles=np.zeros(1), force=laws.chips.force[at : at + 1]))


def _ice_stays(case: Case, laws: IceLaws) -> Changed:
    return case, replace(laws, chips=laws.chips and replace(laws.chips, shift=-pi))


def _ice_goes(case: Case, laws: IceLaws) -> Changed:
    return case, replace(laws, chips=laws.chips and replace(laws.chips, shift=pi))


def _upright_and_stays(case: Case, laws: IceLaws) -> Changed:
    return _ice_stays(*_upright_thrust(case, laws))


def _no_threads(case: Case, laws: IceLaws) -> Changed:
    return case, replace(laws, thread_limit=0.0)


def _no_hinge(case: Case, laws: IceLaws) -> Changed:
    return case_without(mode_named(TUBE_BENDS).name, case, laws) or (case, laws)


AS_IT_IS = "as it is"
SWITCHES = (
    Switch(AS_IT_IS),
    Switch(f"faces of chips: friction {OTHER_FRICTION:g}", {"assumed.chip_friction": OTHER_FRICTION}),
    Switch("thrust as of the upright tube", off=_upright_thrust),
    Switch("no ice lost", off=_ice_stays),
    Switch("upright thrust, no ice lost", off=_upright_and_stays),
    Switch("every chip lost, at every angle", off=_ice_goes),
    Switch("no hinge: metal without bound", off=_no_hinge),
    Switch("no threads", off=_no_threads),
    Switch("no friction of steel", {"assumed.steel_friction": 0.0}),
)


@dataclass(frozen=True, slots=True, repr=False)
class AngleParts:
    """Loads [kN] by switch, angle [deg] and name of LOADS_SHOWN; nan where a pull was not solved."""

    case: Settings
    angles: tuple[float, ...]
    loads: Mapping[str, Mapping[float, Loads]]

    def ratio(self, switch: str, angle: float, name: str) -> float:
        """A load over that of the upright tube, of the angle in the middle [-]."""
        upright = self.angles[len(self.angles) // 2]
        return self.loads[switch][angle][name] / self.loads[switch][upright][name]

    def table(self) -> str:
        """Markdown: each load at each angle, and its ratio to the upright tube's."""
        middle = self.angles[len(self.angles) // 2]
        others = [angle for angle in self.angles if angle != middle]
        heads = ["switched off"]
        for name in LOADS_SHOWN:
            heads += [f"{LOADS[name]} at {angle:g}°, kN" for angle in self.angles]
            heads += [f"{angle:g} / {middle:g}" for angle in others]
        lines = [heads, ["---"] * len(heads)]
        for switch, found in self.loads.items():
            row = ["nothing" if switch == AS_IT_IS else switch]
            for name in LOADS_SHOWN:
                row += [f"{found[angle][name]:.2f}" for angle in self.angles]
                row += [f"{self.ratio(switch, angle, name):.2f}" for angle in others]
            lines.append(row)
        return "\n".join(f"| {' | '.join(line)} |" for line in lines) + f"\n\n{PULL_CAUTION}\n{CAUTION}\n"

    def plot(self, path: str | Path | None = None) -> Figure:
        """The ratios as bars; path : of a PNG file to be written too."""
        drawn: Figure = load(f"{STUDIES}.figures.parts:parts_figure")(self, None if path is None else Path(path))
        return drawn

    def __repr__(self) -> str:
        return f"AngleParts of {len(self.loads)} switches at {', '.join(f'{angle:g}' for angle in self.angles)} deg"


def angle_parts(settings: Settings, angles: Sequence[float] = ANGLES) -> AngleParts:
    """Pull the case at each angle [deg] as it is and with each part of SWITCHES off.

    Raises CaseError for an angle out of range, SolveError if a law of the ice does not come out.
    """
    loads: dict[str, dict[float, Loads]] = {}
    for switch in SWITCHES:
        loads[switch.name] = {}
        for angle in angles:
            at = settings_from({**settings, "placement.angle_deg": angle, **switch.settings})
            loads[switch.name][angle] = read_loads(at, LOADS_SHOWN, switch.off)
    return AngleParts(dict(settings), tuple(angles), loads)


def read_loads(
    settings: Settings, names: Sequence[str], change: Callable[[Case, IceLaws], Changed] | None = None
) -> Loads:
    """Loads [kN] of a case's pull, by names of `outcome.data.LOADS`; nan if it is not solved.

    change : of case and laws, before the pull.
    """
    case = to_case(settings)
    laws = peak_laws(case, kept_law)
    if change is not None:
        case, laws = change(case, laws)
    try:
        readings = pull_case(case, laws).readings
    except SolveError:
        return dict.fromkeys(names, float("nan"))
    return {name: readings[name].load / 1e3 for name in names}
