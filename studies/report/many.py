"""The report of a study of thousands: an explorer over its axes, the spread and what drives it, tables of both.

With draws each place on the axes shows its middle, nine of ten draws and the chances of what gives way; without, its
loads. Axes that are rows of paired keys go by their numbers.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from itertools import product
from pathlib import Path
from typing import Any

from ...fem.tube.modes import in_order
from ..case.file import KEYS
from ..case.words import case_words, short_name, short_words
from ..command.numbers import fixed, percent, plural
from ..outcome.cautions import CAUTION, PULL_CAUTION
from ..sweep.spread import DRAW, Place, Spread, name_of, spread_of
from ..sweep.statistics import Drive
from ..sweep.tables import PROBLEM, Results, read_results
from .axes import axis_of, axis_of_rows, case_at, explorer
from .moments import Plain, placement
from .page import Block, Page, Table, Words, section
from .page import cells as texts
from .rows import settings_of
from .told import assumed_section, case_section, pictures

MOST_PLACES = 4000  # that an explorer holds
MOST_ROWS = 400  # of a table on the page
RARE = 0.005  # share of the draws below which a mode is left to the tables


def many_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a study of many cases. Raises CaseError if it has no records."""
    found = read_results(folder)
    spread = spread_of(found) if DRAW in found.dims else None
    given = json.loads(found.attributes["case"])
    cases = _drawn(found, spread, given) if spread else _stated(found, given)
    answer, shared = _answer(found, cases), settings_of(given)
    lost = sum(bool(row[PROBLEM]) for row in found.rows)
    lines = [f"{plural(lost, 'case')} of {len(found.rows)} have no answer."] if lost else []
    about = f"{found.attributes['title']}. All: {case_words(shared, but=('numerics.level', *found.keys))}"
    return Page(
        command="study",
        title=found.attributes["title"],
        question=found.attributes["question"] or "How do the loads spread?",
        answer=answer,
        about=about,
        limits=tuple(lines),
        cautions=(PULL_CAUTION, CAUTION),
        sections=(
            *section("explore", "Explore the study", _explorer(found, cases)),
            *section("pictures", "In pictures", *pictures(folder, files, " ".join(answer))),
            *section("spread", "The spread, place by place", _spread_table(spread), _modes_table(spread)),
            *section("numbers", "Numbers", _rows(found)),
            *assumed_section(shared),
            *case_section(shared),
        ),
        made=f"Rests on {found.attributes['rests_on']}.",
    )


def _axes(found: Results) -> list[str]:
    return [name for name in found.dims if name != DRAW]


def _explorer(found: Results, cases: Sequence[Plain]) -> Block | None:
    names = _axes(found)
    if len(cases) > MOST_PLACES:
        return Words((f"{len(cases)} places are more than this page shows one by one; table.csv has them all.",))
    axes = [
        axis_of(name, found.coordinates[name])
        if name in KEYS
        else axis_of_rows(name, [str(each) for each in found.coordinates[name]])
        for name in names
    ] or [axis_of_rows("All draws", ["all"])]
    return explorer(
        f"Sliders over the axes of the study. {'; '.join(case['words'] for case in cases[:12])}",
        axes,
        cases,
        place="Its place in the study",
        place_legend="Line: the limit, its median where inputs are drawn. Shaded: nine of ten draws. Red: shown.",
        is_map=len(axes) > 1,
    )


def _places(found: Results) -> list[tuple[int, ...]]:
    return list(product(*(range(found.dims[name]) for name in _axes(found)))) if _axes(found) else [(0,)]


def _drawn(found: Results, spread: Spread, given: Mapping[str, Any]) -> list[Plain]:
    """A case for each place with draws."""
    cases = []
    for at, place in zip(_places(found), spread.places, strict=True):
        if not place.percentiles:
            continue
        values = dict(zip(spread.axes, place.values, strict=True))
        low, _, middle, _, high = (each.value for each in next(iter(place.percentiles.values())))
        mode = next(iter(place.modes), "none")
        loads = {"limit": middle, "low": low, "high": high}
        words = f"{_where(values)}{fixed(middle)} kN ({fixed(low)} to {fixed(high)}), mostly {mode}"
        cases.append(case_at(at, words, _drawn_facts(place), placement(settings_of({**given, **values})), mode, loads))
    return cases


def _drawn_facts(place: Place) -> list[tuple[str, str]]:
    facts = [
        (f"{name_of(name)}, median (nine of ten)", f"{fixed(m.value)} kN ({fixed(low.value)} to {fixed(high.value)})")
        for name, (low, _, m, _, high) in place.percentiles.items()
    ]
    facts += [(f"chance: {mode}", percent(chance.value, 0)) for mode, chance in place.modes.items()]
    for name, drives in place.drives.items():
        facts.append((f"{name_of(name)} is driven by", _driven(drives)))
    return [*facts, ("draws", str(place.draws))]


def _stated(found: Results, given: Mapping[str, Any]) -> list[Plain]:
    """A case for each row, without draws."""
    cases = []
    columns = [column for column in found.columns if any(row.get(column.name) is not None for row in found.rows)]
    first = next((each.name for each in columns if each.name.endswith("_kN")), "")
    for at, row in zip(_places(found), found.rows, strict=True):
        if row[PROBLEM] or row.get(first) is None:
            continue
        values = {key: row[key] for key in found.keys}
        facts = [(each.words, _told(row[each.name], each.unit)) for each in columns if row.get(each.name) is not None]
        mode = str(row.get(first.replace("_kN", "_mode")) or "none")
        words = f"{_where(values)}{fixed(row[first])} kN, {mode}"
        cases.append(
            case_at(at, words, facts, placement(settings_of({**given, **values})), mode, {"limit": float(row[first])})
        )
    return cases


def _told(value: Any, unit: str) -> str:
    return texts([value])[0] + (f" {unit}" if unit and not isinstance(value, str) else "")


def _where(values: Mapping[str, Any]) -> str:
    words = ", ".join(short_words(key, value) for key, value in values.items() if key in KEYS)
    return f"{words}: " if words else ""


def _answer(found: Results, cases: Sequence[Plain]) -> tuple[str, ...]:
    """Least and most among the places, then how often what gives way."""
    if not cases:
        return ("No case was solved.",)
    low, high = (pick(cases, key=lambda case: case["limit"]) for pick in (min, max))
    first = f"Least is {low['words']}."
    if high is not low:
        first = f"{first[:-1]}; most is {high['words']}."
    modes = [str(row["limit_mode"]) for row in found.rows if row.get("limit_mode")]
    if not modes:
        return (first,)
    share = {mode: modes.count(mode) / len(modes) for mode in in_order(set(modes))}
    shares = ", ".join(f"{mode} {percent(of, 0)}" for mode, of in share.items() if of >= RARE)
    return first, f"Of all {plural(len(modes), 'pull')} what comes first is {shares}."


def _spread_table(spread: Spread | None) -> Table | None:
    if spread is None:
        return None
    head = (*spread.axes, "load", "5 %", "25 %", "50 %", "75 %", "95 % (kN)")
    rows = [
        texts([*place.values, name_of(name), *(fixed(each.value, 2) for each in of)])
        for place in spread.places
        for name, of in place.percentiles.items()
    ]
    return Table("Loads below which these shares of the draws lie", head, tuple(rows))


def _modes_table(spread: Spread | None) -> Table | None:
    """What gives way at each place, and what drives each load."""
    if spread is None:
        return None
    driven = list(dict.fromkeys(name for place in spread.places for name in place.drives))
    head = (*spread.axes, "what gives way", *(f"{name_of(name)} is driven by" for name in driven))
    rows = []
    for place in spread.places:
        modes = ", ".join(f"{mode} {percent(chance.value, 0)}" for mode, chance in place.modes.items())
        rows.append(texts([*place.values, modes, *(_driven(place.drives.get(name, ())) for name in driven)]))
    return Table("What gives way, and what drives the loads, with its share", head, tuple(rows))


def _driven(drives: Sequence[Drive]) -> str:
    """The first inputs that are clear."""
    clear = [f"{short_name(each.key)} {percent(each.share.value, 0)}" for each in drives if each.is_clear]
    return ", ".join(clear[:3]) or "nothing that so few draws show"


def _rows(found: Results) -> Table | Words:
    """The rows, if they are not too many for a page."""
    names = [name for name in found.names if any(row.get(name) not in (None, "") for row in found.rows)]
    if len(found.rows) > MOST_ROWS:
        return Words((f"{len(found.rows)} rows of {len(names)} columns are in table.csv beside this page.",))
    rows = tuple(texts([row.get(name) for name in names]) for row in found.rows)
    return Table(f"What was found in {plural(len(rows), 'case')}", tuple(names), rows, folded=len(rows) > 20)
