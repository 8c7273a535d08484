"""What the ice does to the onset, in words: kinds against their strengths, temperature, a crust.

Outcomes hold the ice as it entered. An onset is held against the strength of the mode that comes first: tensile for
tension, compressive for shear and crushing.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from ..command.numbers import signed
from ..outcome.data import IceUsed, Outcome, known

STARTING_POINTS = (
    "Most strengths of these kinds are assumed, within ranges of a factor of two and more (icecone materials): "
    "neighbours in this order may well change places."
)
TOUGHNESS = "K_IC_kPa_sqrt_m"
FOLLOWS = 0.15  # to follow it, onset per strength differs by no more, nor by a quarter of what the onset differs by
ALIKE = 0.05  # properties and onsets that differ by less are taken as alike
BESIDE = {  # what may tell ices apart beside the strength
    "critical_distance_mm": ("critical distance", " mm"),
    "shear_distance_mm": ("critical distance of shear", " mm"),
    "K_IC_kPa_sqrt_m": ("toughness", " kPa m^0.5"),
    "E_GPa": ("modulus", " GPa"),
    "porosity": ("porosity", ""),
}
PROPERTIES = {"E_GPa": "modulus", "tensile_MPa": "tensile strength", "compressive_MPa": "compressive strength"}
PROPERTIES |= {"K_IC_kPa_sqrt_m": "toughness", "critical_distance_mm": "critical distance"}


def of_ice(outcomes: Sequence[Outcome], key: str) -> bool:
    """Whether properties of the ice explain this key; those of kind and temperature, of ice without crust."""
    if key == "ice.crust_mm":
        return all(r.crust for r in outcomes if r.case[key] > 0)
    return key in ("ice.kind", "ice.temperature_C") and not any(r.crust for r in outcomes)


def explain_ice(outcomes: Sequence[Outcome], key: str) -> str:
    """The paragraph of a series over kind, temperature or crust; `of_ice` holds, outcomes are ordered by `key`."""
    tell = {"ice.kind": _explain_kinds, "ice.temperature_C": _explain_temperature, "ice.crust_mm": _explain_crust}
    return tell[key](outcomes)


def _explain_kinds(outcomes: Sequence[Outcome]) -> str:
    ranked = sorted(outcomes, key=lambda r: -r.onset_kN)
    most, least = (_label(r, "ice.kind") for r in (ranked[0], ranked[-1]))
    listed = ", ".join(f"{_label(r, 'ice.kind')} {r.onset_kN:.2f}" for r in ranked)
    return (
        f"Of {len(outcomes)} kinds of ice {most} bears most before the first damage and {least} least, a factor of "
        f"{factor([r.onset_kN for r in outcomes]):.2f} (kN: {listed}). {_begins(outcomes, 'ice.kind')} "
        f"{_against_strength(outcomes, 'ice.kind')} {STARTING_POINTS}"
    ).strip()


def _explain_temperature(outcomes: Sequence[Outcome]) -> str:
    cold, warm = outcomes[0], outcomes[-1]
    low, high = (r.case["ice.temperature_C"] for r in (cold, warm))
    onsets = [r.onset_kN for r in outcomes]
    per_10K = 1000 * (onsets[-1] / onsets[0] - 1) / (high - low)
    change = {words: 100 * (_value(warm.ice, name) / _value(cold.ice, name) - 1) for name, words in PROPERTIES.items()}
    kept = [words for words, percent in change.items() if abs(percent) < 0.1]
    changed = [f"{words} {signed(percent)} %" for words, percent in change.items() if words not in kept]
    unchanged = f"; unchanged: {', '.join(kept)}" if changed and kept else ""
    return (
        f"From {low:g} to {high:g} deg C the onset {_trend(onsets)}, {onsets[0]:.3f} to {onsets[-1]:.3f} kN: "
        f"{signed(per_10K)} % per 10 K of warming. {_begins(outcomes, 'ice.temperature_C')} Over the same range: "
        f"{', '.join(changed) or 'no property of the ice changes'}{unchanged}. "
        f"{_against_strength(outcomes, 'ice.temperature_C')}"
    ).strip()


def _explain_crust(outcomes: Sequence[Outcome]) -> str:
    thin, thick = outcomes[0], outcomes[-1]
    onsets = [r.onset_kN for r in outcomes]
    listed = ", ".join(f"{r.case['ice.crust_mm']:g} mm {r.onset_kN:.2f}" for r in outcomes)
    text = f"As the crust thickens the onset {_trend(onsets)}, a factor of {factor(onsets):.2f} in all (kN: {listed})."
    settled = next(i for i in range(len(outcomes)) if all(abs(x / onsets[-1] - 1) < ALIKE for x in onsets[i:]))
    if settled < len(outcomes) - 1:
        mm = outcomes[settled].case["ice.crust_mm"]
        text += f" From {mm:g} mm on it stays within {100 * ALIKE:.0f} % of that under the thickest."
    places: dict[str, list[str]] = {}
    for r in outcomes[thin.case["ice.crust_mm"] == 0 :]:
        places.setdefault(_layer(r), []).append(f"{r.case['ice.crust_mm']:g}")
    text += " Damage begins " + "; ".join(f"{where} at {', '.join(mm)} mm" for where, mm in places.items()) + "."
    if thin.case["ice.crust_mm"] > 0:
        return text
    name = _governing(thick)
    strength, modulus = (_value(known(thick.crust), key) / _value(thick.ice, key) for key in (name, "E_GPa"))
    onset = onsets[-1] / onsets[0]
    text += (
        f" The crust has {strength:.2f} times the {PROPERTIES[name]} of the ice and {modulus:.2f} times its modulus;"
        f" at {thick.case['ice.crust_mm']:g} mm the onset is {onset:.2f} times that without"
    )
    if _layer(thick) != "in the crust" or _governing(thin) != name:
        return f"{text}."
    if abs(onset / strength - 1) < FOLLOWS:
        return f"{text}, as the {PROPERTIES[name]} (within {100 * FOLLOWS:.0f} %)."
    return f"{text}, {'more' if onset > strength else 'less'} than the {PROPERTIES[name]} alone would leave."


def _against_strength(outcomes: Sequence[Outcome], key: str) -> str:
    """Whether onset follows the strength of the mode that comes first, and if not what else differs."""
    told = []
    for name in ("tensile_MPa", "compressive_MPa"):
        group = sorted((r for r in outcomes if _governing(r) == name), key=lambda r: r.onset_kN)
        if len(group) < 2 or all(_alike([_value(r.ice, each) for r in group]) for each in (name, TOUGHNESS)):
            continue
        least, most = group[0], group[-1]
        strength, tough = (_value(most.ice, each) / _value(least.ice, each) for each in (name, TOUGHNESS))
        factors = (
            f"from {_label(least, key)} to {_label(most, key)} {strength:.2f} times in strength, {tough:.2f} times in "
            f"toughness, {most.onset_kN / least.onset_kN:.2f} times in onset"
        )
        per_MPa = [r.onset_kN / _value(r.ice, name) for r in group]
        spread, onset = factor(per_MPa) - 1, factor([r.onset_kN for r in group]) - 1
        per_toughness = factor([r.onset_kN / _value(r.ice, TOUGHNESS) for r in group]) - 1
        start = f"Where {' or '.join(sorted({r.onset.mode for r in group}))} comes first the onset"
        if per_toughness <= min(FOLLOWS, 0.25 * onset, spread):
            told.append(
                f"{start} follows the toughness, not the {PROPERTIES[name]}: {factors}; per unit of toughness it "
                f"differs by {100 * per_toughness:.0f} %: a crack must get its energy before it can start."
            )
            continue
        if spread <= min(FOLLOWS, 0.25 * onset):
            told.append(
                f"{start} follows the {PROPERTIES[name]}: {factors}; per MPa it differs by {100 * spread:.0f} %."
            )
            continue
        low, high = (group[per_MPa.index(pick(per_MPa))] for pick in (min, max))
        told.append(
            f"{start} does not follow the {PROPERTIES[name]} alone: {factors}. Per MPa of it {_label(high, key)} has "
            f"{1 + spread:.2f} times the onset of {_label(low, key)}; what else differs: "
            f"{_differences(high.ice, low.ice)}."
        )
    return " ".join(told)


def _differences(a: IceUsed, b: IceUsed) -> str:
    """What tells two ices apart beside their strengths, `a` against `b`."""
    found = [
        f"{words} {_value(a, name):.3g} against {_value(b, name):.3g}{unit}"
        for name, (words, unit) in BESIDE.items()
        if _unlike(_value(a, name), _value(b, name))
    ]
    found += [f"fabric {a.fabric} against {b.fabric}"] if a.fabric != b.fabric else []
    return ", ".join(found) or "nothing that is recorded"


def _value(ice: IceUsed, name: str) -> float:
    return float(getattr(ice, name))


def _governing(outcome: Outcome) -> str:
    """The strength that the mode of the first damage is held against."""
    return "tensile_MPa" if outcome.onset.mode == "tension" else "compressive_MPa"


def _layer(outcome: Outcome) -> str:
    """Where the first damage lies against the lower side of the crust."""
    below = -outcome.onset.where_mm[2] - outcome.case["ice.crust_mm"]
    return "on the lower side of the crust" if abs(below) < 0.05 else f"{'in' if below < 0 else 'below'} the crust"


def _label(outcome: Outcome, key: str) -> str:
    value = outcome.case[key]
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g} deg C"


def _begins(outcomes: Sequence[Outcome], key: str) -> str:
    """Mode and place of the first damage, as far as they are the same in all outcomes."""
    places = {r.onset.place for r in outcomes}
    where = f"{places.pop()} in all" if len(places) == 1 else "not in one place"
    modes: dict[str, list[str]] = {}
    for r in outcomes:
        modes.setdefault(r.onset.mode, []).append(_label(r, key))
    by = "; by ".join(f"{mode} ({', '.join(labels)})" if len(modes) > 1 else mode for mode, labels in modes.items())
    return f"It begins {where}, by {by}."


def _trend(values: Sequence[float]) -> str:
    """How a row of values goes."""
    if factor(values) < 1.005:
        return "hardly changes"
    for words, sign in (("rises", 1), ("falls", -1)):
        steps = [sign * (b / a - 1) for a, b in pairwise(values)]
        if min(steps) > 0:
            return f"{words} at every step"
        if min(steps) > -0.005:
            return f"{words} or stays at every step"
    return "does not change one way"


def _alike(values: Sequence[float]) -> bool:
    return factor(values) < 1.001


def _unlike(a: float, b: float, by: float = ALIKE) -> bool:
    return abs(a - b) > by * max(a, b)


def factor(values: Sequence[float]) -> float:
    """Largest over least."""
    return float(max(values) / min(values))
