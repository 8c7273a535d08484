"""The paragraph under a study of cones: peaks, and how they grow with the depth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ..outcome.cone import CONE_ALONE
from .peak import NO_CHANGE, span, value_words

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
    """What the peaks say over the varied key, and what they leave out."""
    return f"{tell_cones(records, key)} {CONE_ALONE}"


def tell_cones(records: Sequence[Record], key: str) -> str:
    """What the peaks say over the varied key."""
    opened = [record for record in records if record["peak_kN"] is not None]
    if not opened:
        return "No cone that was tried opens under any of these pulls."
    shut, records = len(records) - len(opened), opened
    words = _holds(records, key)
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
    words += f" Its sides rise by {span(angles, '.0f')} deg from the surface on the mean."
    starts = list(dict.fromkeys(record["cone_start"] for record in records))
    words += f" It starts at {starts[0]}." if len(starts) == 1 else f" It starts at {'; '.join(starts)}."
    if shut:
        words += f" In {shut} more {'case' if shut == 1 else 'cases'} no cone that was tried opens."
    return words


def _holds(records: Sequence[Record], key: str) -> str:
    """Least and most, of records that have a peak."""
    low, high = (pick(records, key=lambda record: float(record["peak_kN"])) for pick in (min, max))
    least, most = (f"{record['peak_kN']:.2f} kN ({key} = {value_words(record, key)})" for record in (low, high))
    if len(records) == 1:
        return f"The ice's cone holds {least}."
    if high["peak_kN"] < NO_CHANGE * low["peak_kN"]:
        same = f"Over {len(records)} values of {key} the ice's cone holds the same {low['peak_kN']:.2f} kN"
        return f"{same}: this key makes no difference to it."
    return f"The ice's cone holds from {least} to {most}."
