"""What an explorer needs: axes with their texts, cases with their place on them, drawn as `assets/explorer.js` has it.

A case is a table: at, its place on each axis; words, the answer in a sentence; facts, names and values; limit, low,
high, measured and bound [kN]; mode; placement, moments, start and curve as `moments` makes them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..case.words import AXIS_WORDS, short_words
from .moments import Plain, mode_looks
from .page import Moving

REST_LEGEND = "Grey: the tube, its thread as slants, before it is pulled. Green: the pull. True to scale."
NO_CURVE: Plain = {"mm": [], "kN": [], "turn": [], "events": []}


def axis_of(key: str, values: Sequence[Any], start: int = 0) -> Plain:
    """An axis over a key of the case: a slider for numbers, a choice for words."""
    slides = all(isinstance(value, int | float) for value in values)
    label, _, hint = AXIS_WORDS.get(key, key).partition("   (")
    return {
        "label": label.replace("[", "(").replace("]", ")"),
        "hint": hint.removesuffix(")"),
        "values": list(values),
        "texts": [short_words(key, value) for value in values],
        "ticks": [f"{value:g}".replace("-", "−") if slides else str(value).replace("_", " ") for value in values],
        "slides": slides and len(values) > 1,
        "start": start,
    }


def axis_of_rows(label: str, texts: Sequence[str]) -> Plain:
    """An axis over rows that have names."""
    found = {"label": label, "hint": "", "values": list(texts), "texts": list(texts), "ticks": list(texts)}
    return {**found, "slides": len(texts) > 1, "start": 0}


def case_at(
    at: Sequence[int],
    words: str,
    facts: Sequence[tuple[str, str]],
    placement: Plain,
    mode: str,
    loads: Mapping[str, float | None],
) -> Plain:
    """A case without a pull that is kept; loads : limit, low, high, measured, bound [kN], as far as they are known."""
    rounded = {name: None if load is None else round(float(load), 3) for name, load in loads.items()}
    drawn = {"placement": placement, "moments": [], "start": 0, "curve": NO_CURVE}
    return {"at": list(at), "words": words, "facts": [list(fact) for fact in facts], "mode": mode, **rounded, **drawn}


def in_numbers(axis: Plain) -> bool:
    """Whether an axis has numbers to draw a line along."""
    return all(isinstance(value, int | float) for value in axis["values"])


def explorer(
    shows: str,
    axes: Sequence[Plain],
    cases: Sequence[Plain],
    *,
    place: str,
    place_legend: str,
    is_map: bool = False,
    problems: Mapping[str, str] | None = None,
) -> Moving | None:
    """The explorer of these cases; None if there are none.

    place : heading of the curve or map.  problems : by place on the axes, why a case is missing.
    """
    if not cases:
        return None
    widest = max((case["placement"] for case in cases), key=lambda each: each["length"])
    data = {
        "axes": list(axes),
        "cases": list(cases),
        "map": is_map,
        "joined": in_numbers(axes[0]),
        "modes": mode_looks({case["mode"] for case in cases}),
        "widest": widest,
        "place": place,
        "placeLegend": place_legend,
        "restLegend": REST_LEGEND,
        "problems": dict(problems or {}),
    }
    return Moving("explorer", "explorer", shows, data)
