"""The paragraph under a study of peaks: how far they go apart, what gives way, when the tube bends."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

Record = dict[str, Any]


def explain_peaks(records: Sequence[Record], key: str) -> str:
    """What the peaks say over the varied key."""

    def value(record: Record) -> str:
        given = record["case"][key]
        return given if isinstance(given, str) else f"{given:g}"

    low, *_, high = ordered = sorted(records, key=lambda record: float(record["peak_kN"]))
    if len(ordered) == 1:
        return f"The pull reaches {low['peak_kN']:.1f} kN: {low['peak_mode']}."
    words = (
        f"The pull reaches {low['peak_kN']:.1f} kN at the least ({key} = {value(low)}) and {high['peak_kN']:.1f} kN "
        f"at the most ({key} = {value(high)}), {high['peak_kN'] / low['peak_kN']:.1f} times as much."
    )
    runs = []
    for mode, group in groupby(records, key=lambda record: str(record["peak_mode"])):
        values = [value(record) for record in group]
        runs.append(f"{mode} at {values[0]}" if len(values) == 1 else f"{mode} from {values[0]} to {values[-1]}")
    words += f" What gives way: {', '.join(runs)}."
    hinged = [record for record in records if record["first_hinge_kN"] is not None]
    if hinged:
        loads = [float(record["first_hinge_kN"]) for record in hinged]
        words += (
            f" In {len(hinged)} of {len(records)} the tube forms a hinge first, at {min(loads):.1f} to "
            f"{max(loads):.1f} kN: from there on it stays bent and turns toward the pull."
        )
    ratios = [float(record["peak_kN"]) / float(record["onset_kN"]) for record in records]
    words += f" The peak is {min(ratios):.0f} to {max(ratios):.0f} times the onset of damage."
    return f"{words} {records[0]['peak']['caution']}"
