"""What pushes of a pin settle, in words: which end of the band holds at each angle, border, crushing share, rate.

    r = force / what ice that stays bears,   r_goes: the same of ice that goes       nearer to 1: stays; to r_goes: goes

Film and force vote apart at each angle; MOST of the pushes must agree, and both votes, for an end to hold. A push whose
ends are alike (r_goes above CLOSE) has no vote: it is too short, or its ice is crushed before a chip starts. Ends are
those at the share of crushing that the pushes of that rate give, or at 1. `pin_fit` has the intervals, `pin_push` the
law.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from statistics import median

import numpy as np

from ...materials import assumptions
from ..command.numbers import fixed, plural, short, signed
from .pin_fit import FEWEST, BorderFit, Ratio, ShareFit, fit_border, fit_share, share_ratio
from .pin_push import Push, alike, bearing_by_share, border_of_law_deg, pin_forces

MOST, CLOSE = 0.75, 0.7


@dataclass(frozen=True, slots=True)
class Settled:
    """What pushes settle.  shares : by rate [mm/s], None where they are too few.  law_border_deg : of the law [deg].

    ratio : share at the fastest over that at the slowest rate, None if not told.  words : all of it, a sentence each.
    """

    border: BorderFit
    law_border_deg: float
    shares: Mapping[float, ShareFit | None]
    ratio: Ratio | None
    words: tuple[str, ...]


def settle_pushes(pushes: Sequence[Push], kind: str = "sound_glacier") -> Settled:
    """Fit border and shares to pushes in one kind of ice, and say what they settle.

    Raises ValueError if there is no push, SolveError if a law does not come out.
    """
    if not pushes:
        raise ValueError("pushes: must hold one at least")
    out = np.array([push.chips == "came out" for push in pushes])
    border = fit_border(np.array([push.angle_deg for push in pushes]), out)
    rates = alike(pushes, "rate_mm_per_s")
    shares = {rate: _share([push for push in pushes if push.rate_mm_per_s == rate], kind) for rate in rates}
    slow, fast = shares[rates[0]], shares[rates[-1]]
    ratio = share_ratio(slow, fast) if len(rates) > 1 and slow and fast else None
    law = border_of_law_deg()
    ends = [_at_angle(pushes, angle, shares, kind) for angle in alike(pushes, "angle_deg")]
    told = [_share_words(rate, fit) for rate, fit in shares.items()]
    return Settled(border, law, shares, ratio, (*ends, _border_words(border, law), *told, _rate_words(rates, ratio)))


def _share(pushes: Sequence[Push], kind: str) -> ShareFit | None:
    """The share of the pushes of one rate whose ice did not come out."""
    stayed = [push for push in pushes if push.chips != "came out"]
    if len(stayed) < FEWEST:
        return None
    model = np.array([bearing_by_share(push, kind) for push in stayed])
    return fit_share(np.array([push.force_kN for push in stayed]), model)


def _at_angle(pushes: Sequence[Push], angle: float, shares: Mapping[float, ShareFit | None], kind: str) -> str:
    """Which end of the band holds at an angle [deg]."""
    here = [push for push in pushes if push.angle_deg == angle]
    out = sum(push.chips == "came out" for push in here)
    borne, votes = [], []
    for push in here:
        fit = shares[push.rate_mm_per_s]
        ends = pin_forces(push, kind, fit.value if fit else 1.0)
        r, goes = push.force_kN / ends.stays_kN, ends.goes_kN / ends.stays_kN
        borne.append(r)
        votes += [r < 0.5 * (1.0 + goes)] if goes < CLOSE else []
    seen = f"{_lean(angle)}: {out} of {plural(len(here), 'push', 'pushes')} came out"
    force = f"the pin bears {fixed(median(borne), 2)} of what ice that stays would"
    return f"{seen}; {force}: {_verdict(out / len(here), votes)}."


def _verdict(film: float, votes: Sequence[bool]) -> str:
    """film : share that came out.  votes : whether each force is nearer to that of ice that goes."""
    if not votes:
        return "force does not tell the ends apart: the push is too short, or crushing comes before any chip"
    force = sum(votes) / len(votes)
    if min(film, force) >= MOST:
        return "goes holds"
    if max(film, force) <= 1 - MOST:
        return "stays holds"
    if abs(film - force) >= 0.5:
        return "film and force disagree, neither end holds"
    return "pushes differ, neither end holds"


def _lean(angle: float) -> str:
    return "Upright" if angle == 0 else f"{signed(angle, 0)}°".replace("-", "−")


def _border_words(fit: BorderFit, law: float) -> str:
    """The border in degrees, and the shift that it stands for."""
    key = "assumed.chip_border_shift_deg"
    if fit.kind == "too few":
        return f"Border: {plural(fit.rows, 'push', 'pushes')} are too few, {FEWEST} are needed."
    if fit.kind == "all stayed":
        below = f"{key} is at most {fixed(fit.high - law)}"
        return f"Border: no chip came out at any tilt; it lies below {fixed(fit.high)} deg, {below}."
    if fit.kind == "all came out":
        above = f"{key} is at least {fixed(fit.low - law)}"
        return f"Border: every chip came out; it lies above {fixed(fit.low)} deg, {above}."
    if fit.kind == "no order" or fit.border is None:
        return "Border: the tilt does not tell chips that come out from those that stay; neither end holds at any tilt."
    if fit.kind == "bracket":
        places = f"chips came out up to {fixed(fit.low)} deg and stayed from {fixed(fit.high)} deg on"
        shift = f"{key} lies between {fixed(fit.low - law)} and {fixed(fit.high - law)}"
        return f"Border: {places}; {shift}. It is a bracket, no interval: pushes between the two would narrow it."
    interval = f"{_end(fit.low)} to {_end(fit.high)}"
    shift = f"{fixed(fit.border - law)} ({_end(fit.low - law)} to {_end(fit.high - law)})"
    error = "" if fit.error is None else f", standard error {short(fit.error, 2)}"
    return f"Border: {fixed(fit.border)} deg ({interval}; 95 %{error}); {key} = {shift}."


def _end(value: float) -> str:
    return "open" if abs(value) == inf else fixed(value)


def _share_words(rate: float, fit: ShareFit | None) -> str:
    at = f"Crushing at {rate:g} mm/s"
    if fit is None:
        return f"{at}: fewer than {FEWEST} pushes whose ice stayed; the share is not told."
    low, high = short(fit.low, 2), short(fit.high, 2)
    n = plural(fit.rows, "push", "pushes")
    if fit.low == 0 and fit.high == inf:
        return f"{at}: the {n} do not bound the share; forces do not depend on it, or scatter too much."
    if fit.high == inf:
        return f"{at}: assumed.crushing_share is at least {low} ({n}); above, the start of chips bounds the push."
    if fit.low == 0:
        return f"{at}: assumed.crushing_share is at most {high} ({n})."
    error = f"standard error {short(100 * fit.error, 2)} %"
    known = assumptions()["crushing_share"].number
    inside = "inside" if known.low <= fit.low and fit.high <= known.high else "not wholly inside"
    where = f"{inside} the range taken so far, {known.low:g} to {known.high:g}"
    return f"{at}: assumed.crushing_share = {short(fit.value, 2)} ({low} to {high}; 95 %, {error}, {n}); {where}."


def _rate_words(rates: Sequence[float], ratio: Ratio | None) -> str:
    if len(rates) < 2:
        return "Rate: all pushes have one rate, so nothing is told of it."
    if ratio is None:
        return "Rate: a share is open or missing, so their ratio is not told."
    matters = (
        "the rate matters" if not ratio.low <= 1.0 <= ratio.high else "no effect of the rate is told apart from none"
    )
    times = f"{short(ratio.value, 2)} times ({short(ratio.low, 2)} to {short(ratio.high, 2)}; 95 %)"
    return f"Rate: at {rates[-1]:g} mm/s crushing takes {times} what it takes at {rates[0]:g} mm/s: {matters}."
