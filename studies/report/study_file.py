"""A study's file, written back from its outcomes: what all cases share, and what is varied."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from ..case.keys import KEYS, TABLES
from ..outcome.data import Outcome
from .page import Copied, Section, section


def study_text(
    title: str, question: str, keys: Sequence[str], outcomes: Sequence[Outcome], in_series: bool
) -> tuple[Section, ...]:
    """The study's file to copy. in_series : whether each key varies alone, about a case that is the same for all."""
    cases = [outcome.case for outcome in outcomes]
    lines = ["[study]", f"title = {_toml(title)}", f"question = {_toml(question)}"]
    is_grid = len(keys) > 1 and not in_series
    lines += ['picture = "map"'] if is_grid else []
    shared = {key: cases[0][key] for key in KEYS if key in cases[0] and key not in keys}
    base = {key: _most_often([case[key] for case in cases]) for key in keys} if in_series else {}
    lines += _tables("case", {**shared, **base})
    if is_grid:
        lines += _tables("grid", {key: _values(cases, key) for key in keys})
    for key in [] if is_grid else keys:
        head = "[[vary]]" if in_series else "[vary]"
        lines += ["", head, f"key = {_toml(key)}", f"values = {_toml(_values(cases, key))}"]
    return section("case", "The study's file", Copied("study.toml", "\n".join(lines) + "\n"))


def _tables(of: str, values: dict[str, Any]) -> list[str]:
    lines = []
    for table in TABLES:
        own = [
            f"{key.partition('.')[2]} = {_toml(value)}" for key, value in values.items() if key.startswith(f"{table}.")
        ]
        lines += ["", f"[{of}.{table}]", *own] if own else []
    return lines


def _values(cases: Sequence[dict[str, Any]], key: str) -> list[Any]:
    return list(dict.fromkeys(case[key] for case in cases))


def _most_often(values: Sequence[Any]) -> Any:
    """The base value of a key: that of the cases in which another key is varied."""
    return max(dict.fromkeys(values), key=values.count)


def _toml(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(float(value))
