"""The paragraph under a study: what the numbers say and why, written from the records alone.

Every sentence is chosen by the numbers; where they contradict the usual picture the words say so. Nothing is quoted
that the records do not hold. What the ice does is said by `words.ice`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from ..case.quantity import CONE, ONSET, PEAK, Quantity, asked
from ..outcome.cone import CONE_ALONE
from .cone import tell_cones
from .ice import explain_ice, factor, of_ice
from .peak import NO_CHANGE, tell_peaks, value_words

Record = dict[str, Any]
NOT_PEAK = (
    "A later onset is not a higher peak: in the field an upright tube and one leaning 10 to 20 deg toward a pull in "
    "shear hold about the same (common practice, no source)."
)
LATER = (
    "These loads start the damage; they are not the peak that a pull test reports, which comes later, after cracks "
    "have run and the front has crushed or chipped, as a rule at many times the onset (common practice)."
)
MESH_ERROR = {"quick": 0.13, "standard": 0.04}  # of the onset against level fine, as measured (README)
NEARLY_SHEAR_DEG = 20.0  # pulls closer to the surface than this are explained as shear


def explain(records: Sequence[Record], key: str) -> str:
    """A paragraph on how the onset varies with `key`; for the angle and the ice also why."""
    return " ".join(_told(records, key))


def explain_series(series: Sequence[tuple[str, Sequence[Record]]]) -> str:
    """A paragraph for each series (its key, its records), and one that ranks them by the factor in the load."""
    everything = [record for _, records in series for record in records]
    quantity = asked(everything)
    tell, last = {
        ONSET: (lambda records, key: _told(records, key)[0], f"{LATER} {NOT_PEAK}"),
        PEAK: (tell_peaks, (everything[0].get("peak") or {}).get("caution", "")),
        CONE: (tell_cones, CONE_ALONE),
    }[quantity]
    paragraphs = [f"{key}: {tell(records, key)}" for key, records in series]
    return "\n\n".join([*paragraphs, f"{_ranking(series, quantity)} {last}"])


def _ranking(series: Sequence[tuple[str, Sequence[Record]]], quantity: Quantity) -> str:
    loads = {key: found for key, records in series if len(found := quantity.loads(records)) > 1}
    factors = {key: factor(found) for key, found in loads.items()}
    ranked = sorted(factors, key=lambda key: -factors[key])
    if len(ranked) < 2:
        return f"Fewer than two series have the {quantity.name} of more than one case: they are not ranked."
    listed = ", ".join(f"{key} {factors[key]:.2f}" for key in ranked)
    return (
        f"Ranked by the factor between largest and least {quantity.name}: {listed}. The ranking holds for the values "
        "tried and this base case, one key at a time; other ranges, or another base case, may rank otherwise."
    )


def _told(records: Sequence[Record], key: str) -> tuple[str, str]:
    """The paragraph, and what to add about the peak."""
    ordered = sorted(records, key=lambda r: (isinstance(r["case"][key], str), r["case"][key]))
    if key == "placement.angle_deg" and _both_leans_in_shear(ordered):
        return _explain_angle(ordered), f"{LATER} {NOT_PEAK}"
    if len(records) > 1 and of_ice(records, key):
        return explain_ice(ordered, key), LATER
    return _explain_any(ordered, key), NOT_PEAK


def _both_leans_in_shear(records: Sequence[Record]) -> bool:
    """Whether the sweep leans both ways, has an upright tube, and pulls nearly along the surface."""
    angles = [r["case"]["placement.angle_deg"] for r in records]
    shear = all(r["case"]["pull.direction_deg"] <= NEARLY_SHEAR_DEG for r in records)
    return shear and min(angles) < 0 < max(angles) and 0 in angles


def _explain_any(records: Sequence[Record], key: str) -> str:
    least = min(records, key=lambda r: r["onset_kN"])
    most = max(records, key=lambda r: r["onset_kN"])
    ratio = factor([r["onset_kN"] for r in records])
    if len(records) > 1 and ratio < NO_CHANGE:
        words = f"Over {len(records)} values of {key} the first damage comes at the same {most['onset_kN']:.3g} kN"
        if asked(records) is not ONSET:
            return f"{words}."
        return f"{words}: here this key does not enter, or what it changes does not decide."
    ends = []
    for record in (least, most):
        where = f"{key} = {value_words(record, key)}, {record['onset_mode']} {record['onset_place']}"
        ends.append(f"{record['onset_kN']:.3g} kN ({where})")
    text = (
        f"Over {len(records)} values of {key} the first damage comes at {' to '.join(ends)}, a factor of {ratio:.3g}."
    )
    level = records[0]["case"].get("numerics.level", "")
    if len(records) > 1 and ratio - 1 < MESH_ERROR.get(level, 0.0):
        text += f" That is less than the error of a mesh of level {level} ({100 * MESH_ERROR[level]:.0f} %)."
    return text


def _explain_angle(records: Sequence[Record]) -> str:
    angles = [r["case"]["placement.angle_deg"] for r in records]
    onsets = [r["onset_kN"] for r in records]
    away, toward = records[0], records[-1]
    upright = next(r for r in records if r["case"]["placement.angle_deg"] == 0)
    trend = f"{'rises' if all(b > a for a, b in pairwise(onsets)) else 'does not rise'} at every step"
    sentences = [
        f"From {angles[0]:+g} deg (head away from the pull) to {angles[-1]:+g} deg (head toward it) the pull at the "
        f"first damage {trend}: {away['onset_kN']:.2f} kN, {upright['onset_kN']:.2f} kN "
        f"upright, {toward['onset_kN']:.2f} kN.",
        _where(away, toward),
        _mouth(away, upright, toward),
        _carried(away, upright, toward),
        _stiffness(away, upright, toward),
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _where(away: Record, toward: Record) -> str:
    first = f"{away['onset_mode']} {away['onset_place']}"
    last = f"{toward['onset_mode']} {toward['onset_place']}"
    text = f"Leaning away it begins by {first}; leaning toward, by {last}"
    if first == last:
        text = f"At both ends it begins by {first}"
    if {away["onset_mode"], toward["onset_mode"]} != {"tension"}:
        return (
            f"{text}. How the crack runs, leaning away: {away['onset_crack']}; leaning toward: {toward['onset_crack']}."
        )
    if away["onset_crack"] == toward["onset_crack"]:
        return f"{text}. The crack that this opens lies {away['onset_crack']}."
    return f"{text}. The crack that this opens lies {away['onset_crack']}, or {toward['onset_crack']}."


def _mouth(away: Record, upright: Record, toward: Record) -> str:
    """Tension and compression at the mouth against the perpendicular tube, and the wedge that explains them."""
    tension, squeeze = (
        [record[name] / upright[name] for record in (away, toward)]
        for name in ("mouth_tension_MPa_per_kN", "mouth_compression_MPa_per_kN")
    )
    text = (
        f"The tension at the mouth per kN is {tension[0]:.1f} times that of the perpendicular tube leaning away and "
        f"{tension[1]:.1f} times leaning toward; the compression is {squeeze[0]:.1f} and {squeeze[1]:.1f} times"
    )
    text += ", so it is not what tells them apart." if abs(squeeze[0] / squeeze[1] - 1) < 0.25 else "."
    if not tension[0] > 1 > tension[1]:
        return text
    if abs(away["share_front"] / toward["share_front"] - 1) < 0.35:
        text += (
            f" Nor does the front bear much more at one end ({100 * away['share_front']:.0f} % of the pull leaning "
            f"away, {100 * toward['share_front']:.0f} % leaning toward): what differs is where that push points."
        )
    lean = abs(away["case"]["placement.angle_deg"]), abs(toward["case"]["placement.angle_deg"])
    return (
        f"{text} Leaning away, the ice between surface and front wall is a wedge of {90 - lean[0]:g} deg, and the "
        "push, square to the tube, points up and out of it and spreads the thin edge apart; leaning toward, the wedge "
        f"has {90 + lean[1]:g} deg and the push points down into the block, which holds it."
    )


def _carried(away: Record, upright: Record, toward: Record) -> str:
    three = (away, upright, toward)

    def each(name: str) -> str:
        return "{}, {} and {}".format(*(f"{100 * record[name]:.0f} %" for record in three))

    text = f"Of the pull the front carries {each('share_front')} (leaning away, upright, toward)"
    if max(record["share_front"] for record in three) > 1:
        text += (
            f"; more than all of it where the back, by the lever, pushes with the pull ({each('share_back_or_toe')})"
        )
    text += f". The threads carry {each('share_threads')}"
    if all(abs(record["case"]["pull.direction_deg"]) < 1e-9 for record in three):
        text += (
            ", the square of the sine of the angle by statics alone: pushed in when the head leans away, pulled "
            "when it leans toward"
        )
    return text + "."


def _stiffness(away: Record, upright: Record, toward: Record) -> str:
    c = [1e3 * r["compliance_mm_per_kN"] for r in (away, upright, toward)]
    return f"The load point moves {c[0]:.0f}, {c[1]:.0f} and {c[2]:.0f} micrometres per kN."
