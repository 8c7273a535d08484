"""The report of a study of few cases: an explorer over its axes, the answer from least to most, why, a table, the file.

A key or a grid of keys are axes of their own; several series are one axis, their cases in a row.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ...fem.tube.modes import in_order, mode_named
from ..case.words import case_words, short_words, varying
from ..command.numbers import fixed, plural, short
from ..files.store import read_json
from ..outcome.cautions import all_cautions
from ..outcome.data import LOADS, Outcome
from ..outcome.models import asked
from ..outcome.table import columns
from .axes import axis_of, axis_of_rows, explorer
from .glossary import LIMIT_AND_PEAK
from .moments import Plain, curve, moments, placement, start_at
from .page import Block, Page, Table, Words, section
from .page import cells as texts
from .solve import STEPS, chip_band, steps
from .study_file import study_text
from .told import inputs, pictures

MOST_CHAINS = 12
LONG = 500  # characters of a paragraph
SAME = 1.005  # ratio of loads that read the same
_SENTENCE = re.compile(r"(?<=\.) (?=[A-Z])")


def study_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a study. Raises ValueError if outcomes.json is of another format or nothing was solved."""
    whole = read_json(folder / "outcomes.json")
    outcomes = [Outcome.from_dict(record) for record in whole["records"]]
    if not outcomes:
        raise ValueError("no case was solved")
    keys = list(whole["keys"]) if "keys" in whole else [whole["key"]]
    series = [record.get("series") for record in whole["records"]]
    in_series = any(series)
    answer = _answer(outcomes, keys)
    problems = [_problem(each) for each in whole["problems"]]
    return Page(
        command="study",
        title=whole["title"],
        question=whole["question"],
        answer=answer,
        about=f"{whole['title']}. All: {case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))}",
        limits=(*(LIMIT_AND_PEAK,) * any(outcome.peak for outcome in outcomes), _band_words(outcomes, keys), *problems),
        cautions=tuple(all_cautions(outcomes)),
        sections=(
            *section("explore", "Explore the study", _explorer(outcomes, keys, in_series, whole["problems"])),
            *section(
                "why", "Why", *_why(folder, whole), _chains(outcomes, keys), *pictures(folder, files, " ".join(answer))
            ),
            *section("numbers", "Numbers", _table(whole["records"], outcomes, keys)),
            *inputs(outcomes[0], varied=keys),
            *study_text(whole["title"], whole["question"], keys, outcomes, in_series),
        ),
        made="Made with " + ", ".join(f"{name} {number}" for name, number in outcomes[0].versions.items()) + ".",
    )


def load_of(outcome: Outcome) -> float | None:
    """The load that the study asks for: the limit, or that of its model [kN]."""
    return outcome.limit_kN if outcome.limit_kN is not None else asked([outcome]).quantity.load(outcome)


def mode_of(outcome: Outcome) -> str:
    """What gives way at it."""
    return str(outcome.limit_mode) if outcome.limit_kN is not None else asked([outcome]).quantity.mode(outcome)


def place_words(outcome: Outcome, keys: Sequence[str]) -> str:
    """The case by what is varied."""
    return ", ".join(short_words(key, outcome.case[key]) for key in keys)


def _answer(outcomes: Sequence[Outcome], keys: Sequence[str]) -> tuple[str, ...]:
    """Least and most with their cases; then what gives way, and how often."""
    known = [(load, outcome) for outcome in outcomes if (load := load_of(outcome)) is not None]
    if not known:
        return (f"None of {plural(len(outcomes), 'case')} comes to a load.",)
    name = "limit" if known[0][1].limit_kN is not None else asked(outcomes).quantity.name
    low, high = min(load for load, _ in known), max(load for load, _ in known)
    if high < SAME * low:
        first = f"The {name} is {fixed(low)} kN in all {plural(len(known), 'case')}."
    else:
        first = f"The {name} is {_end(known, keys, low, 'least')} and {_end(known, keys, high, 'most')}."
    modes = [mode_of(outcome) for _, outcome in known]
    counts = ", ".join(f"{mode_named(mode).words or mode} in {modes.count(mode)}" for mode in in_order(set(modes)))
    return first, f"Of {plural(len(known), 'case')}: {counts}."


def _end(known: Sequence[tuple[float, Outcome]], keys: Sequence[str], load: float, which: str) -> str:
    """An end of the loads, with the case that has it; of several, how many."""
    there = [outcome for each, outcome in known if load / SAME < each < load * SAME]
    where = place_words(there[0], keys) if len(there) == 1 else plural(len(there), "case")
    modes = " or ".join(in_order({mode_of(outcome) for outcome in there}))
    return f"{fixed(load)} kN at the {which} ({where}: {modes})"


def _band_words(outcomes: Sequence[Outcome], keys: Sequence[str]) -> str:
    """How far the assumption that decides most moves the limit: the case that it moves most, and in how many."""
    bands = [(band, outcome) for outcome in outcomes if (band := chip_band(outcome)) is not None]
    wide = [each for each in bands if each[0][1] > 1.1 * each[0][0]]
    if not wide:
        return "These are single numbers, without a range of draws."
    (low, high), outcome = max(wide, key=lambda each: each[0][1] / each[0][0])
    return (
        f"Which chips come out in front of the tube is assumed, and alone moves the limit in {len(wide)} of "
        f"{plural(len(bands), 'case')}: most at {place_words(outcome, keys)}, from {fixed(low)} kN if every chip comes "
        f"out to {fixed(high)} if none does. The other assumptions come on top."
    )


def _problem(found: dict[str, Any]) -> str:
    where = ", ".join(f"{key} = {value}" for key, value in found.items() if key != "problem")
    return f"Not solved: {where}: {found['problem']}."


def _why(folder: Path, whole: dict[str, Any]) -> tuple[Words, ...]:
    """The paragraphs of why.txt, without its title and question; a long one by its sentences."""
    path = folder / "why.txt"
    if not path.is_file():
        return ()
    parts = path.read_text(encoding="utf-8").split("\n\n")
    own = [part.strip() for part in parts[1:] if part.strip() and part.strip() != whole["caution"]]
    return tuple(
        Words(tuple(_SENTENCE.split(part)), points=True) if len(part) > LONG else Words((part,)) for part in own
    )


def _chains(outcomes: Sequence[Outcome], keys: Sequence[str]) -> Table | None:
    """The five steps of each case."""
    if len(outcomes) > MOST_CHAINS:
        return None
    rows = tuple((place_words(outcome, keys), *steps(outcome)) for outcome in outcomes)
    return Table("From the push to the end, in five steps", ("case", *STEPS), rows, sorts=False)


def _table(records: Sequence[dict[str, Any]], outcomes: Sequence[Outcome], keys: Sequence[str]) -> Table:
    """The columns of table.csv, from the records as they were read."""
    names = [name for name in columns(outcomes) if name != "level"]
    rows = tuple(texts([*(of["case"][key] for key in keys), *(of.get(name) for name in names)]) for of in records)
    return Table(f"What was found in {plural(len(outcomes), 'case')}", (*keys, *names), rows, folded=len(rows) > 20)


def _explorer(
    outcomes: Sequence[Outcome], keys: Sequence[str], in_series: bool, problems: Sequence[Any]
) -> Block | None:
    if in_series:
        axes = [axis_of_rows("Case", [place_words(outcome, keys) for outcome in outcomes])]
        at: list[tuple[int, ...]] = [(k,) for k in range(len(outcomes))]
    else:
        values = [_values(outcomes, key) for key in keys]
        axes = [axis_of(key, each, _middle(each)) for key, each in zip(keys, values, strict=True)]
        at = [tuple(of.index(o.case[key]) for key, of in zip(keys, values, strict=True)) for o in outcomes]
    cases = [_case(outcome, place, keys) for outcome, place in zip(outcomes, at, strict=True)]
    shows = "; ".join(f"{place_words(outcome, keys)}: {_words(outcome)}" for outcome in outcomes[:MOST_CHAINS])
    return explorer(
        f"Sliders over what the study varies. {shows}",
        axes,
        cases,
        place="Its place in the study",
        place_legend="Line: the limit. Shaded: from every chip out to none. Red: the case shown.",
        is_map=len(axes) > 1,
        problems=_missing(problems, keys, axes),
    )


def _missing(problems: Sequence[dict[str, Any]], keys: Sequence[str], axes: Sequence[Plain]) -> dict[str, str]:
    """Why a case is missing, by its place."""
    found = {}
    for each in problems:
        places = [
            axis["values"].index(each[k]) for k, axis in zip(keys, axes, strict=False) if each.get(k) in axis["values"]
        ]
        if len(places) == len(axes):
            found[",".join(map(str, places))] = f"Not solved: {each['problem']}."
    return found


def _case(outcome: Outcome, at: Sequence[int], keys: Sequence[str]) -> Plain:
    drawn, load = moments(outcome, named=True), load_of(outcome)
    band = chip_band(outcome)
    return {
        "at": list(at),
        "words": f"{place_words(outcome, keys)}: {_words(outcome)}",
        "facts": _facts(outcome),
        "limit": None if load is None else round(load, 3),
        "low": band and round(band[0], 3),
        "high": band and round(band[1], 3),
        "mode": mode_of(outcome),
        "placement": placement(outcome.case),
        "moments": drawn,
        "start": start_at(outcome, drawn),
        "curve": curve(outcome, 60),
    }


def _words(outcome: Outcome) -> str:
    load, band = load_of(outcome), chip_band(outcome)
    if load is None:
        return "no load is found"
    words = f"{fixed(load)} kN, {mode_of(outcome)}"
    if band is not None and fixed(band[0]) != fixed(band[1]):
        words += f" ({fixed(band[0])} if every chip comes out, {fixed(band[1])} if none does)"
    return words


def _facts(outcome: Outcome) -> list[tuple[str, str]]:
    found = [("limit", f"{outcome.limit_kN:.2f} kN: {outcome.limit_mode}")] if outcome.limit_kN is not None else []
    if outcome.peak is not None:
        for name, words in LOADS.items():
            found.append((words, f"{outcome.load(name):.2f} kN: {outcome.mode(name)}, {outcome.at_mm(name):.1f} mm"))
        hinge = outcome.first_hinge_kN
        found.append(("first hinge of the tube", "none" if hinge is None else f"{hinge:.2f} kN"))
        found.append(("turn of the head at the peak", f"{abs(outcome.head_rotation_deg or 0.0):.0f}°"))
    elif outcome.cone is not None:
        peak = "none opens" if outcome.peak_kN is None else f"{outcome.peak_kN:.2f} kN"
        found += [("peak of the cone", peak), ("depth of its start", f"{outcome.cone.depth_mm:.0f} mm")]
    found.append(("first damage", f"{short(outcome.onset_kN)} kN: {outcome.onset.mode} {outcome.onset.place}"))
    return found


def _values(outcomes: Sequence[Outcome], key: str) -> list[Any]:
    """Values of a key, numbers in order; words as they come."""
    found = list(dict.fromkeys(outcome.case[key] for outcome in outcomes))
    return sorted(found) if all(isinstance(value, int | float) for value in found) else found


def _middle(values: Sequence[Any]) -> int:
    if 0 in values:
        return values.index(0)
    return 0 if isinstance(values[0], str) else len(values) // 2
