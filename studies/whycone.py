"""The paragraph under a study of cones: peaks, and how they grow with the depth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .conerecord import CONE_ALONE

Record = dict[str, Any]
LEFM_POWER = 1.5


def fitted_power(records: Sequence[Record], key: str) -> tuple[float, float] | None:
    """Power p and factor f of peak = f value^p [kN], by least squares of logarithms; None where nothing can be fitted.

    Only lengths are fitted, over at least three values that differ by a half.
    """
    x = [record["case"][key] for record in records]
    if any(record["peak_kN"] is None for record in records):
        return None
    if not key.endswith("_mm") or len(x) < 3 or not all(isinstance(value, int | float) and value > 0 for value in x):
        return None
    if max(x) < 1.5 * min(x):
        return None
    power, factor = np.polyfit(np.log(x), np.log([record["peak_kN"] for record in records]), 1)
    return float(power), float(np.exp(factor))


def explain_cones(records: Sequence[Record], key: str) -> str:
    """What the peaks say over the varied key."""
    opened = [record for record in records if record["peak_kN"] is not None]
    if not opened:
        return f"No cone that was tried opens under any of these pulls. {CONE_ALONE}"
    shut, records = len(records) - len(opened), opened
    loads = [record["peak_kN"] for record in records]
    low, high = (records[int(at)] for at in (np.argmin(loads), np.argmax(loads)))

    def value(record: Record) -> str:
        given = record["case"][key]
        return given if isinstance(given, str) else f"{given:g}"

    words = (
        f"The ice's cone holds from {low['peak_kN']:.2f} kN ({key} = {value(low)}) to {high['peak_kN']:.2f} kN "
        f"({key} = {value(high)})."
    )
    fit = fitted_power(records, key)
    if fit is not None:
        words += f" Over the values tried the peak grows with the power {fit[0]:.2f} of {key}."
        if key == "placement.embedment_mm":
            words += (
                f" A cone from one bearing ring in brittle ice grows with the power {LEFM_POWER}, shapes alike: stress "
                "intensity goes with the load over the depth to that power (linear elastic fracture mechanics). What "
                "differs comes from the tube and its thread, which have one size at every depth."
            )
    angles = [record["cone_angle_deg"] for record in records]
    words += f" Its sides rise by {min(angles):.0f} to {max(angles):.0f} deg from the surface on the mean."
    starts = list(dict.fromkeys(record["cone_start"] for record in records))
    words += f" It starts at {starts[0]}." if len(starts) == 1 else f" It starts at {'; '.join(starts)}."
    if shut:
        words += f" In {shut} more cases no cone that was tried opens."
    return f"{words} {CONE_ALONE}"
