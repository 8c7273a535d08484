"""The paragraph under a study: what the numbers say and why, written from the outcomes alone.

The numbers choose every sentence; if they contradict the usual picture, the words say so. Nothing is quoted that the
outcomes do not hold. `words.ice` says what the ice does.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from ..command.numbers import percent, plural
from ..outcome.cautions import LATER, NOT_PEAK
from ..outcome.data import Outcome
from ..outcome.models import Quantity, asked, load
from .ice import explain_ice, factor, of_ice
from .peak import NO_CHANGE, value_words

MESH_ERROR = {"quick": 0.13, "standard": 0.04}  # of the onset against level fine, as measured (README)
NEARLY_SHEAR_DEG = 20.0  # pulls closer to the surface than this are explained as shear


def explain(outcomes: Sequence[Outcome], key: str) -> str:
    """A paragraph on how the onset varies with `key`; for the angle and the ice also why."""
    return " ".join(_told(outcomes, key))


def explain_series(series: Sequence[tuple[str, Sequence[Outcome]]]) -> str:
    """A paragraph for each series (its key, its outcomes), and one that ranks them by the factor in the load."""
    model = asked([outcome for _, outcomes in series for outcome in outcomes])
    tell = load(model.series)
    paragraphs = [f"{key}: {tell(outcomes, key)}" for key, outcomes in series]
    return "\n\n".join([*paragraphs, f"{_ranking(series, model.quantity)} {model.caution}"])


def tell_onsets(outcomes: Sequence[Outcome], key: str) -> str:
    """The paragraph, without what it says about the peak."""
    return _told(outcomes, key)[0]


def _ranking(series: Sequence[tuple[str, Sequence[Outcome]]], quantity: Quantity) -> str:
    loads = {key: found for key, outcomes in series if len(found := quantity.loads(outcomes)) > 1}
    factors = {key: factor(found) for key, found in loads.items()}
    ranked = sorted(factors, key=lambda key: -factors[key])
    if len(ranked) < 2:
        return f"Fewer than two series have the {quantity.name} of more than one case: they are not ranked."
    listed = ", ".join(f"{key} {factors[key]:.2f}" for key in ranked)
    return (
        f"Ranked by the factor between largest and least {quantity.name}: {listed}. The ranking holds for the values "
        "tried and this base case, one key at a time; other ranges, or another base case, may rank otherwise."
    )


def _told(outcomes: Sequence[Outcome], key: str) -> tuple[str, str]:
    """The paragraph, and what to add about the peak."""
    ordered = sorted(outcomes, key=lambda r: (isinstance(r.case[key], str), r.case[key]))
    if key == "placement.angle_deg" and _both_leans_in_shear(ordered):
        return _explain_angle(ordered), f"{LATER} {NOT_PEAK}"
    if len(outcomes) > 1 and of_ice(outcomes, key):
        return explain_ice(ordered, key), LATER
    return _explain_any(ordered, key), NOT_PEAK


def _both_leans_in_shear(outcomes: Sequence[Outcome]) -> bool:
    """Whether the sweep leans both ways, has an upright tube, and pulls nearly along the surface."""
    angles = [r.case["placement.angle_deg"] for r in outcomes]
    shear = all(r.case["pull.direction_deg"] <= NEARLY_SHEAR_DEG for r in outcomes)
    return shear and min(angles) < 0 < max(angles) and 0 in angles


def _explain_any(outcomes: Sequence[Outcome], key: str) -> str:
    least = min(outcomes, key=lambda r: r.onset_kN)
    most = max(outcomes, key=lambda r: r.onset_kN)
    ratio = factor([r.onset_kN for r in outcomes])
    values = f"Over {plural(len(outcomes), 'value')} of {key}"
    if len(outcomes) > 1 and ratio < NO_CHANGE:
        words = f"{values} the first damage comes at the same {most.onset_kN:.3g} kN"
        if asked(outcomes).name != "onset":
            return f"{words}."
        return f"{words}: this setting makes no difference here."
    ends = []
    for outcome in (least, most):
        where = f"{key} = {value_words(outcome, key)}, {outcome.onset.mode} {outcome.onset.place}"
        ends.append(f"{outcome.onset_kN:.3g} kN ({where})")
    text = f"{values} the first damage comes at {' to '.join(ends)}, a factor of {ratio:.3g}."
    level = outcomes[0].case.get("numerics.level", "")
    if len(outcomes) > 1 and ratio - 1 < MESH_ERROR.get(level, 0.0):
        text += f" That is less than the error of a mesh of level {level} ({100 * MESH_ERROR[level]:.0f} %)."
    return text


def _explain_angle(outcomes: Sequence[Outcome]) -> str:
    angles = [r.case["placement.angle_deg"] for r in outcomes]
    onsets = [r.onset_kN for r in outcomes]
    away, toward = outcomes[0], outcomes[-1]
    upright = next(r for r in outcomes if r.case["placement.angle_deg"] == 0)
    trend = f"{'rises' if all(b > a for a, b in pairwise(onsets)) else 'does not rise'} at every step"
    sentences = [
        f"From {angles[0]:+g} deg (head away from the pull) to {angles[-1]:+g} deg (head toward it) the pull at the "
        f"first damage {trend}: {away.onset_kN:.2f} kN, {upright.onset_kN:.2f} kN "
        f"upright, {toward.onset_kN:.2f} kN.",
        _where(away, toward),
        _mouth(away, upright, toward),
        _carried(away, upright, toward),
        _stiffness(away, upright, toward),
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _where(away: Outcome, toward: Outcome) -> str:
    first = f"{away.onset.mode} breaks the ice first {away.onset.place}"
    last = f"{toward.onset.mode} breaks the ice first {toward.onset.place}"
    text = f"Both ways, {first}" if first == last else f"Leaning away, {first}; leaning toward, {last}"
    if {away.onset.mode, toward.onset.mode} != {"tension"}:
        return f"{text}. How the crack runs, leaning away: {away.onset.crack}; leaning toward: {toward.onset.crack}."
    if away.onset.crack == toward.onset.crack:
        return f"{text}. The crack that this opens lies {away.onset.crack}."
    return f"{text}. The crack that this opens lies {away.onset.crack}, or {toward.onset.crack}."


def _mouth(away: Outcome, upright: Outcome, toward: Outcome) -> str:
    """Tension and compression at the mouth against the perpendicular tube, and the wedge that explains them."""
    ends, middle = (away.onset, toward.onset), upright.onset
    tension = [each.mouth_tension_MPa_per_kN / middle.mouth_tension_MPa_per_kN for each in ends]
    squeeze = [each.mouth_compression_MPa_per_kN / middle.mouth_compression_MPa_per_kN for each in ends]
    text = (
        f"The tension at the mouth per kN is {tension[0]:.1f} times that of the perpendicular tube leaning away and "
        f"{tension[1]:.1f} times leaning toward; the compression {_changed(squeeze)}"
    )
    text += ", so it cannot explain the difference." if abs(squeeze[0] / squeeze[1] - 1) < 0.25 else "."
    if not tension[0] > 1 > tension[1]:
        return text
    if abs(away.onset.share_front / toward.onset.share_front - 1) < 0.35:
        text += (
            f" Nor does the front bear much more at one end ({100 * away.onset.share_front:.0f} % of the pull leaning "
            f"away, {100 * toward.onset.share_front:.0f} % leaning toward): what differs is where that push points."
        )
    lean = abs(away.case["placement.angle_deg"]), abs(toward.case["placement.angle_deg"])
    return (
        f"{text} Leaning away, the ice between surface and front wall is a wedge of {90 - lean[0]:g} deg, and the "
        "push, square to the tube, points up and out of it and spreads the thin edge apart; leaning toward, the wedge "
        f"has {90 + lean[1]:g} deg and the push points down into the block, which holds it."
    )


def _changed(shares: Sequence[float]) -> str:
    """How a quantity that was 1 changes, leaning away and toward."""
    away, toward = (round(share, 1) for share in shares)
    if away == toward == 1:
        return "stays the same both ways"
    verb = "falls to" if max(away, toward) < 1 else "rises to" if min(away, toward) > 1 else "goes to"
    return f"{verb} {away:.1f} both ways" if away == toward else f"{verb} {away:.1f} and {toward:.1f} times"


def _carried(away: Outcome, upright: Outcome, toward: Outcome) -> str:
    three = (away, upright, toward)

    def each(name: str) -> str:
        return "{}, {} and {}".format(*(percent(getattr(outcome.onset, name), 0) for outcome in three))

    text = f"Of the pull the front carries {each('share_front')} (leaning away, upright, toward)"
    if max(outcome.onset.share_front for outcome in three) > 1:
        text += (
            f"; more than all of it where the back, by the lever, pushes with the pull ({each('share_back_or_toe')})"
        )
    text += f". The threads carry {each('share_threads')}"
    if all(abs(outcome.case["pull.direction_deg"]) < 1e-9 for outcome in three):
        text += (
            ", the square of the sine of the angle by statics alone: pushed in when the head leans away, pulled "
            "when it leans toward"
        )
    return text + "."


def _stiffness(away: Outcome, upright: Outcome, toward: Outcome) -> str:
    c = [1e3 * r.onset.compliance_mm_per_kN for r in (away, upright, toward)]
    return f"The load point moves {c[0]:.0f}, {c[1]:.0f} and {c[2]:.0f} micrometres per kN."
