"""The paragraph under a study of peaks: how far they go apart, what gives way, when the tube bends."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from ...fem.tube.peak import STATED
from .ice import factor

Record = dict[str, Any]
NO_CHANGE = 1.001


def explain_peaks(records: Sequence[Record], key: str) -> str:
    """What the peaks say over the varied key, and the caution."""
    return f"{tell_peaks(records, key)} {records[0]['peak']['caution']}"


def tell_peaks(records: Sequence[Record], key: str) -> str:
    """What the peaks say over the varied key; the onset comes last."""
    words = _reach(records, key)
    hinged = [float(load) for record in records if (load := record["first_hinge_kN"]) is not None]
    if hinged:
        words += (
            f" In {len(hinged)} of {len(records)} the tube forms a hinge first, at {span(hinged, '.1f')} kN: from "
            "there on it stays bent and turns toward the pull."
        )
    ratios = [float(record["peak_kN"]) / float(record["onset_kN"]) for record in records]
    onsets = [float(record["onset_kN"]) for record in records]
    words += _limits(records) + _notes(records, key)
    return f"{words} The peak is {span(ratios, '.0f')} times the onset of damage, {span(onsets, '.3g')} kN."


def _reach(records: Sequence[Record], key: str) -> str:
    """Least and most, and what gives way."""
    low, high = (pick(records, key=lambda record: float(record["peak_kN"])) for pick in (min, max))
    if len(records) == 1:
        return f"The pull reaches {low['peak_kN']:.1f} kN ({key} = {value_words(low, key)}): {low['peak_mode']}."
    ratio = factor([float(record["peak_kN"]) for record in records])
    if ratio < NO_CHANGE:
        words = (
            f"Over {len(records)} values of {key} the pull reaches the same {high['peak_kN']:.1f} kN: this key makes "
            "no difference to the peak."
        )
    else:
        words = (
            f"The pull reaches {low['peak_kN']:.1f} kN at the least ({key} = {value_words(low, key)}) and "
            f"{high['peak_kN']:.1f} kN at the most ({key} = {value_words(high, key)}), "
            f"{ratio:{_digits(ratio)}} times as much."
        )
    runs = []
    for mode, group in groupby(records, key=lambda record: str(record["peak_mode"])):
        found = list(group)
        values = [value_words(record, key) for record in found]
        numbers = not any(isinstance(record["case"][key], str) for record in found)
        row = len(values) > 1 and numbers
        runs.append(f"{mode} from {values[0]} to {values[-1]}" if row else f"{mode} at {', '.join(values)}")
    return f"{words} What gives way: {'; '.join(runs)}."


def _limits(records: Sequence[Record]) -> str:
    """Where hanger or sling hold less than tube and ice."""
    stated = [record for record in records if record["limit_mode"] in STATED]
    names = " or ".join(dict.fromkeys(str(record["limit_mode"]) for record in stated))
    if not stated:
        return ""
    loads = span([float(record["limit_kN"]) for record in stated], ".1f")
    return f" In {len(stated)} of {len(records)} the {names} fails first, at the strength stated for it, {loads} kN."


def _notes(records: Sequence[Record], key: str) -> str:
    """What each outcome says besides its numbers."""
    told = [f" At {key} = {value_words(record, key)}: {note}." for record in records for note in record["notes"]]
    return "".join(told)


def value_words(record: Record, key: str) -> str:
    """The value of a key in a record's case."""
    value = record["case"][key]
    return value if isinstance(value, str) else f"{value:g}"


def _digits(ratio: float) -> str:
    """One digit after the point; two where one would say that nothing changes."""
    return ".2f" if ratio < 1.1 else ".1f"


def span(values: Sequence[float], digits: str) -> str:
    """Least to most; one number where they read the same."""
    least, most = f"{min(values):{digits}}", f"{max(values):{digits}}"
    return least if least == most else f"{least} to {most}"
