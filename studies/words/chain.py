"""Why the angle moves the peak: the answer, then push, first damage, ice in front, lever or hinge, what gives way."""

from __future__ import annotations

from collections.abc import Sequence

from ...fem.tube.modes import is_stated, mode_named
from ..outcome.data import Outcome, known

ANGLE = "placement.angle_deg"
ALONG = 45.0  # deg from the surface; steeper pulls do not push on the front
TOLD = 3  # angles at most
CLEAR = 1.1  # ratio of the ends of a band from which which chips come out matters


def explain_chain(outcomes: Sequence[Outcome], key: str) -> str:
    """The chain at the least angle, the one nearest to upright and the largest; "" for another key or one angle."""
    ordered = sorted(outcomes, key=lambda outcome: _angle(outcome) if key == ANGLE else 0.0)
    if key != ANGLE or _angle(ordered[0]) == _angle(ordered[-1]):
        return ""
    chosen = [ordered[0], min(ordered, key=lambda outcome: abs(_angle(outcome))), ordered[-1]]
    told = list({_angle(outcome): outcome for outcome in chosen}.values())
    return " ".join(filter(None, (_holds(told), _push(told), _damage(told), _ice(told), *map(_end, told))))


def chips_come_out(outcome: Outcome) -> bool | None:
    """Whether the peak is that of chips that come out, not of chips that stay; None where they make no difference."""
    goes, stays = (outcome.the_peak.band.get(end, {}).get("peak") for end in ("goes", "stays"))
    if goes is None or stays is None or max(goes, stays) < CLEAR * min(goes, stays):
        return None
    peak = known(outcome.peak_kN)
    return bool(abs(peak - goes) < abs(peak - stays))


def _angle(outcome: Outcome) -> float:
    return float(outcome.case[ANGLE])


def leaning(outcome: Outcome) -> str:
    """How it leans, in words."""
    angle = _angle(outcome)
    return "upright" if angle == 0 else f"leaning {abs(angle):g} deg {'toward' if angle > 0 else 'away from'} the pull"


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _holds(told: Sequence[Outcome]) -> str:
    """The answer, before its reasons: what tube and ice hold, and where hanger or sling hold less."""
    words = f"Tube and ice hold {_listed([f'{known(each.peak_kN):.1f} kN {leaning(each)}' for each in told])}."
    for name in dict.fromkeys(each.limit_mode for each in told if is_stated(each.limit_mode)):
        at = [each for each in told if each.limit_mode == name]
        words += (
            f" The {name} fails before, at its stated {known(at[0].limit_kN):.1f} kN, {_listed([*map(leaning, at)])}."
        )
    return words


def _push(told: Sequence[Outcome]) -> str:
    tension = _listed([f"{each.onset.mouth_tension_MPa_per_kN:.1f} MPa {leaning(each)}" for each in told])
    words = f"For each kN of pull the tension at the mouth is {tension}."
    if max(each.case["pull.direction_deg"] for each in told) > ALONG:
        return words
    away, toward = _angle(told[0]) < 0, _angle(told[-1]) > 0
    ways = ["leaning away from the pull, up and out of the ice in front"] * away
    ways += ["leaning toward it, down into the block"] * toward
    return f"The tube pushes square to its wall: {'; '.join(ways)}. {words}"


def _damage(told: Sequence[Outcome]) -> str:
    loads = [f"{each.onset_kN:.2f} kN ({each.onset.mode})" for each in told]
    return f"The first damage comes at {_listed(loads)}."


def _ice(told: Sequence[Outcome]) -> str:
    """Which chips come out, and what the peak would be otherwise."""
    said = []
    for come, words, other in ((True, "come out", "none did"), (False, "stay", "all came out")):
        at = [each for each in told if chips_come_out(each) is come]
        if at:
            end = "stays" if come else "goes"
            loads = [f"{known(each.peak_kN):.1f} kN, {each.the_peak.band[end]['peak']:.1f} if {other}" for each in at]
            said.append(f"{_listed([leaning(each) for each in at])} they {words} ({'; '.join(loads)})")
    if not said:
        return "Chips that cracks free in front of the tube make no difference to the peak."
    return f"Cracks then free chips in front of the tube: {'; '.join(said)}. Which of them come out is not settled."


def _end(outcome: Outcome) -> str:
    """Lever or hinge, and what gives way at what load."""
    lean = leaning(outcome).capitalize()
    gives = f"at {known(outcome.peak_kN):.1f} kN {mode_named(outcome.peak_mode).words or outcome.peak_mode}"
    if outcome.first_hinge_kN is None:
        turned = abs(known(outcome.head_rotation_deg))
        return f"{lean} the tube forms no hinge and turns as a lever, by {turned:.0f} deg up to the peak: {gives}."
    return f"{lean} the ice holds it until it forms a hinge, at {outcome.first_hinge_kN:.1f} kN, and {gives}."
