"""The paragraph under a study of peaks: how far they go apart, what gives way, when the tube bends."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from ...fem.tube.modes import is_stated
from ..case.file import CaseError, settings_from
from ..case.keys import KEYS
from ..case.words import short_words
from ..command.numbers import plural
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from .chain import ANGLE, CLEAR, TOLD
from .ice import factor

NO_CHANGE = 1.001
ENDS = ("goes", "stays")
TRIED = 3  # cases of a study, for keys that cannot move its peaks


def explain_peaks(outcomes: Sequence[Outcome], key: str) -> str:
    """What the peaks say over the varied key, and the caution."""
    return f"{tell_peaks(outcomes, key)} {own_caution(outcomes)}"


def tell_idle(outcomes: Sequence[Outcome], key: str) -> str:
    """The keys that cannot move the peak, tried at TRIED of the cases at most; "" where that is not known."""
    from ..outcome.idle import idle_words

    step = -(-len(outcomes) // TRIED)
    try:
        words = idle_words([settings_from(outcome.case) for outcome in outcomes[::step]])
    except CaseError:
        return ""
    return words if step == 1 or not words else f"{words} Tried at {len(outcomes[::step])} of {len(outcomes)} cases."


def tell_peaks(outcomes: Sequence[Outcome], key: str) -> str:
    """What the peaks say over the varied key; the onset comes last."""
    words = _reach(outcomes, key)
    hinged = [float(load) for outcome in outcomes if (load := outcome.first_hinge_kN) is not None]
    if hinged:
        words += (
            f" In {len(hinged)} of {len(outcomes)} the tube forms a hinge up to its peak, at {span(hinged, '.1f')} kN: "
            "from there on it stays bent and turns toward the pull."
        )
    ratios = [known(outcome.peak_kN) / outcome.onset_kN for outcome in outcomes]
    onsets = [outcome.onset_kN for outcome in outcomes]
    words += _limits(outcomes) + _notes(outcomes, key)
    return f"{words} The peak is {span(ratios, '.0f')} times the onset of damage, {span(onsets, '.3g')} kN."


def _reach(outcomes: Sequence[Outcome], key: str) -> str:
    """Least and most, and what gives way."""
    low, high = (pick(outcomes, key=lambda outcome: known(outcome.peak_kN)) for pick in (min, max))
    if len(outcomes) == 1:
        return f"The pull reaches {known(low.peak_kN):.1f} kN, {short_words(key, low.case[key])}: {low.peak_mode}."
    ratio = factor([known(outcome.peak_kN) for outcome in outcomes])
    if ratio < NO_CHANGE:
        words = (
            f"Over {plural(len(outcomes), 'value')} of {key} the pull reaches the same {known(high.peak_kN):.1f} kN: "
            "this key makes no difference to the peak."
        )
    else:
        words = (
            f"The pull reaches {known(low.peak_kN):.1f} kN at the least, {short_words(key, low.case[key])}, and "
            f"{known(high.peak_kN):.1f} kN at the most, {short_words(key, high.case[key])}, "
            f"{ratio:{_digits(ratio)}} times as much."
        )
    unit = f" {KEYS[key].unit}" if key in KEYS and KEYS[key].unit else ""
    runs = []
    for mode, group in groupby(outcomes, key=lambda outcome: str(outcome.peak_mode)):
        found = list(group)
        values = [plain_words(outcome, key) for outcome in found]
        numbers = not any(isinstance(outcome.case[key], str) for outcome in found)
        row = len(values) > 1 and numbers
        where = f"from {values[0]} to {values[-1]}" if row else f"at {', '.join(values)}"
        runs.append(f"{mode} {where}{unit if numbers else ''}")
    return f"{words} What gives way: {'; '.join(runs)}."


def _limits(outcomes: Sequence[Outcome]) -> str:
    """How often hanger or sling hold less than tube and ice."""
    stated = [outcome for outcome in outcomes if is_stated(outcome.limit_mode)]
    names = " or ".join(dict.fromkeys(str(outcome.limit_mode) for outcome in stated))
    if not stated:
        return ""
    loads = span([known(outcome.limit_kN) for outcome in stated], ".1f")
    return f" In {len(stated)} of {len(outcomes)} the {names} fails first, at its stated strength, {loads} kN."


def _notes(outcomes: Sequence[Outcome], key: str) -> str:
    """What each outcome says besides its numbers; of ice that goes or stays, and of wrinkles, once for all."""
    words = "" if key == ANGLE and len(outcomes) <= TOLD else _bands(outcomes, key)
    wrinkled = [load for outcome in outcomes if (load := outcome.wrinkle_kN) is not None]
    if wrinkled:
        words += (
            f" In {len(wrinkled)} of {len(outcomes)} the wall of the tube wrinkles up to the peak, at "
            f"{span(wrinkled, '.1f')} kN; that section bears less from there on."
        )
    said = ("which ice goes", "the wall of the tube wrinkles")
    notes = [(outcome, note) for outcome in outcomes for note in outcome.notes if not note.startswith(said)]
    return words + "".join(f" At {key} = {value_words(outcome, key)}: {note}." for outcome, note in notes)


def _bands(outcomes: Sequence[Outcome], key: str) -> str:
    """Both ends of each peak's band, where they differ."""
    wide = []
    for outcome in outcomes:
        goes, stays = (outcome.the_peak.band.get(end, {}).get("peak") for end in ENDS)
        if goes and stays and max(goes, stays) > CLEAR * min(goes, stays):
            wide.append((outcome, goes, stays))
    if not wide:
        return ""
    said = [f"{goes:.1f} or {stays:.1f} kN at {plain_words(outcome, key)}" for outcome, goes, stays in wide]
    both = "the peak if every chip comes out, or if none does"
    return f" Which ice goes is not settled by computation; {both}: {', '.join(said)}."


def value_words(outcome: Outcome, key: str) -> str:
    """The value of a key in an outcome's case."""
    value = outcome.case[key]
    return value if isinstance(value, str) else f"{value:g}"


def plain_words(outcome: Outcome, key: str) -> str:
    """The same in a sentence."""
    return value_words(outcome, key).replace("_", " ")


def _digits(ratio: float) -> str:
    """One digit after the point; two if one would say that nothing changes."""
    return ".2f" if ratio < 1.1 else ".1f"


def span(values: Sequence[float], digits: str) -> str:
    """Least to most; one number if they read the same."""
    least, most = f"{min(values):{digits}}", f"{max(values):{digits}}"
    return least if least == most else f"{least} to {most}"
