"""The paragraph under a study of cones: peaks, and how they grow with the depth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..command.numbers import plural
from ..outcome.cautions import CONE_ALONE
from ..outcome.data import Outcome, known
from .peak import NO_CHANGE, span, value_words

LEFM_POWER = 1.5


def fitted_power(outcomes: Sequence[Outcome], key: str) -> tuple[float, float] | None:
    """Power p and factor f of peak = f value^p [kN], by least squares of logarithms; None if nothing can be fitted.

    Only lengths are fitted, over at least three values that differ by a half.
    """
    x = [outcome.case[key] for outcome in outcomes]
    if any(outcome.peak_kN is None for outcome in outcomes):
        return None
    if not key.endswith("_mm") or len(x) < 3 or not all(isinstance(value, int | float) and value > 0 for value in x):
        return None
    if max(x) < 1.5 * min(x):
        return None
    power, factor = np.polyfit(np.log(x), np.log([known(outcome.peak_kN) for outcome in outcomes]), 1)
    return float(power), float(np.exp(factor))


def explain_cones(outcomes: Sequence[Outcome], key: str) -> str:
    """What the peaks say over the varied key, and what they leave out."""
    return f"{tell_cones(outcomes, key)} {CONE_ALONE}"


def tell_cones(outcomes: Sequence[Outcome], key: str) -> str:
    """What the peaks say over the varied key."""
    opened = [outcome for outcome in outcomes if outcome.peak_kN is not None]
    if not opened:
        return "No cone that was tried opens under any of these pulls."
    shut, outcomes = len(outcomes) - len(opened), opened
    words = _holds(outcomes, key)
    fit = fitted_power(outcomes, key)
    if fit is not None:
        words += f" Over the values tried the peak grows with the power {fit[0]:.2f} of {key}."
        if key == "placement.embedment_mm":
            words += (
                f" A cone from one bearing ring in brittle ice grows with the power {LEFM_POWER}, shapes alike: stress "
                "intensity goes with the load over the depth to that power (linear elastic fracture mechanics). What "
                "differs comes from the tube and its thread, which have one size at every depth."
            )
    angles = [outcome.the_cone.angle_deg for outcome in outcomes]
    words += f" Its sides rise by {span(angles, '.0f')} deg from the surface on the mean."
    starts = list(dict.fromkeys(outcome.the_cone.start for outcome in outcomes))
    words += f" It starts at {starts[0]}." if len(starts) == 1 else f" It starts at {'; '.join(starts)}."
    if shut:
        words += f" In {shut} more {'case' if shut == 1 else 'cases'} no cone that was tried opens."
    return words


def _holds(outcomes: Sequence[Outcome], key: str) -> str:
    """Least and most, of outcomes that have a peak."""
    low, high = (pick(outcomes, key=lambda outcome: known(outcome.peak_kN)) for pick in (min, max))
    least, most = (f"{known(outcome.peak_kN):.2f} kN ({key} = {value_words(outcome, key)})" for outcome in (low, high))
    if len(outcomes) == 1:
        return f"The ice's cone holds {least}."
    if known(high.peak_kN) < NO_CHANGE * known(low.peak_kN):
        values = f"Over {plural(len(outcomes), 'value')} of {key}"
        same = f"{values} the ice's cone holds the same {known(low.peak_kN):.2f} kN"
        return f"{same}: this key makes no difference to it."
    return f"The ice's cone holds from {least} to {most}."
