"""What is read off a pull, under the names that it has in an outcome and in a record of a study."""

from __future__ import annotations

from math import degrees
from typing import Any

import numpy as np

from ...fem.tube.peak import Peak
from ...fem.tube.readings import Reading


def pull_read(found: Peak) -> dict[str, Any]:
    """Limit, loads [kN], their modes and movements [mm], why it ended, hinge and wrinkle, turn of the head [deg]."""
    pull = found.pull
    at = next(event.displacement for event in pull.events if event.name == "peak")
    bends = {"first_hinge": pull.first_hinge, "wrinkle": pull.wrinkle}
    return {
        "limit_kN": found.limit[1] / 1e3,
        "limit_mode": found.limit[0],
        **{f"{name}_{what}": value for name, each in pull.readings.items() for what, value in _read(each).items()},
        "ended_by": pull.ended,
        **{f"{name}_kN": None if load is None else load / 1e3 for name, load in bends.items()},
        "head_rotation_deg": degrees(float(np.interp(at, pull.displacement, pull.head_rotation))),
    }


def _read(reading: Reading) -> dict[str, float | str]:
    return {"kN": reading.load / 1e3, "mode": reading.mode, "at_mm": reading.displacement * 1e3}
