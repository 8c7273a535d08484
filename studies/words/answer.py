"""The answer of one case in a line, for screen and pictures: what limits first, then tube and ice, then the rest."""

from __future__ import annotations

from ...fem.tube.modes import is_stated
from ..case.words import short_name
from ..command.numbers import percent
from ..outcome.data import LOADS, Outcome, known
from ..outcome.results import DrawnRange


def limit_words(outcome: Outcome) -> str:
    """What gives way first, and at what load; the first damage if nothing more was solved."""
    if outcome.limit_kN is None:
        return damage_words(outcome)
    stated = ", at its stated strength" if is_stated(outcome.limit_mode) else ""
    return f"limit {outcome.limit_kN:.1f} kN{range_words(outcome)}: {outcome.limit_mode}{stated}"


def range_words(outcome: Outcome) -> str:
    """Between which loads nine of ten draws lie; empty if none were made."""
    if outcome.drawn is None:
        return ""
    low, high = (f"{end:.1f}" for end in _ends(outcome.drawn))
    return f" (nine of ten draws: {f'{low} to {high}' if low != high else 'the same'})"


def nine_of_ten(drawn: DrawnRange) -> str:
    """Where nine of ten draws of the uncertain inputs lie, to go on with "of ..."."""
    low, high = (f"{end:.1f}" for end in _ends(drawn))
    return f"limit {low if low == high else f'{low} to {high}'} kN as uncertain inputs vary: nine of ten"


def _ends(drawn: DrawnRange) -> tuple[float, float]:
    low, *_, high = drawn.loads_kN["limit"]
    return low, high


def drawn_words(outcome: Outcome) -> list[str]:
    """What the draws say: how often each mode, the other loads, what drives the limit."""
    drawn = outcome.drawn
    if drawn is None:
        return []
    modes = ", ".join(f"{mode} {percent(share, 0)}" for mode, share in drawn.modes.items())
    loads = "; ".join(
        f"{LOADS[name]} {of[2]:.1f} kN, {of[0]:.1f} to {of[-1]:.1f}"
        for name, of in drawn.loads_kN.items()
        if name != "limit"
    )
    driven = ", ".join(map(short_name, drawn.driven_by[:3])) or "no single input"
    low, high = _ends(drawn)
    moved = [_own_place(outcome, drawn), f"what moves the limit most: {driven}"] if high - low >= 0.05 else []
    found = [
        f"{drawn.draws} draws (seed {drawn.seed}) of {len(drawn.drawn)} uncertain inputs: {modes}",
        f"median and nine of ten draws: {loads}",
        *moved,
    ]
    return [*found, f"{drawn.unsolved} draws were not solved"] if drawn.unsolved else found


def _own_place(outcome: Outcome, drawn: DrawnRange) -> str:
    """Where the case's own limit lies among the draws, between the shares that are known."""
    own, loads = known(outcome.limit_kN), drawn.loads_kN["limit"]
    at = sum(load < own for load in loads)
    low, high = (percent(share, 0) for share in (drawn.share[max(at - 1, 0)], drawn.share[min(at, len(loads) - 1)]))
    share = f"less than {high}" if at == 0 else f"more than {low}" if at == len(loads) else f"{low} to {high}"
    return f"the case's own {own:.1f} kN among them: {share} of the draws hold less"


def damage_words(outcome: Outcome) -> str:
    """The first damage."""
    return f"first damage at {outcome.onset_kN:.2f} kN: {outcome.onset.mode} {outcome.onset.place}"


def peak_words(outcome: Outcome) -> str:
    """The limit, and the peak of tube and ice if that is another, or the stop at which it still rises."""
    words, peak, stop = limit_words(outcome), known(outcome.peak_kN), outcome.the_peak.stop
    own = f"still rising at the stop, {peak:.1f} kN: {stop}" if stop else f"peak {peak:.1f} kN: {outcome.peak_mode}"
    if outcome.limit_mode != outcome.peak_mode:
        words += f"; tube and ice alone: {own}"
    elif stop:
        words = own
    hinge = outcome.first_hinge_kN
    words += f"; first hinge at {hinge:.1f} kN" if hinge is not None else "; the tube forms no hinge"
    return f"{words}; the head turns by {abs(known(outcome.head_rotation_deg)):.0f}° by then"


def cone_words(outcome: Outcome) -> str:
    """The limit, and what the cone does: it comes, it does not open, or something else fails before it."""
    words, peak, cone = limit_words(outcome), outcome.peak_kN, outcome.the_cone
    where = f"from {cone.start}, {cone.depth_mm:.0f} mm deep"
    if peak is None:
        return f"{words}; no cone tried opens: {where}"
    if outcome.limit_mode != outcome.peak_mode:
        return f"{words}; the cone does not come (it needs {peak:.1f} kN): {where}"
    return f"{words}, {where}"
