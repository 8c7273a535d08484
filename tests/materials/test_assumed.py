"""Assumptions: the file is whole, values lie in their ranges, what is out of range is told in one line."""

from __future__ import annotations

from dataclasses import fields, replace
from math import nan
from typing import Any

import pytest
from click.testing import CliRunner

from icecone.materials import Assumed, assumed_from, assumptions, default_assumed
from icecone.materials.assumed import FILE, check_tables
from icecone.materials.data_file import factor, read_tables
from icecone.studies.case.file import settings_from, settings_id, to_case
from icecone.studies.case.keys import KEYS
from icecone.studies.case.words import AXIS_WORDS, short_words
from icecone.studies.command.main import main

NAMES = tuple(assumptions())


def test_the_file_has_one_whole_table_for_each_field() -> None:
    """least <= low <= value <= high <= most, a range that is one, what it is in a line, how known, what it moves."""
    assert [each.field for each in assumptions().values()] == [field.name for field in fields(Assumed)]
    for name, each in assumptions().items():
        number = each.number
        assert each.least <= number.low <= number.value <= number.high <= each.most and number.low < number.high, name
        assert each.what and "\n" not in each.what and number.source and each.moves


def test_the_values_are_those_that_the_shipped_laws_and_pictures_rest_on() -> None:
    """SI, to the last digit: no outcome of the defaults may move."""
    expected = Assumed(1.0, 0.5, 0.5, 0.1, 1.3, 0.002, 0.0, 1.0, 1.0, 1.0, 1.0, 0.3, 2.1)
    assert default_assumed() == expected == to_case(settings_from({})).assumed


@pytest.mark.parametrize("name", NAMES)
def test_each_is_bounded_and_told_by_name_value_and_range(name: str) -> None:
    """The ends of the range of inputs are allowed, what lies beyond or is no number is one line."""
    each = assumptions()[name]
    for end, beyond in ((each.least, -0.01), (each.most, 0.01)):
        allowed = assumed_from({name: end})
        assert getattr(allowed, each.field) == end * factor(name)
        for bad in (end + beyond, nan):
            with pytest.raises(ValueError) as caught:
                replace(allowed, **{each.field: bad * factor(name)})
            assert str(caught.value) == f"{name} = {bad:g}: must lie between {each.least:g} and {each.most:g}"
    with pytest.raises(ValueError, match=rf"^{name}x: must be one of "):
        assumed_from({f"{name}x": 1.0})


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"value": 9.0}, "[crushing_share] crushing_share = 9: must lie between 0.4 and 1.6"),
        ({"low": 0.01}, "[crushing_share] least, most = 0.05, 5: must enclose low and high"),
        ({"how": "guessed"}, "[crushing_share] crushing_share.how = 'guessed': must be one of published"),
        ({"source": " "}, "[crushing_share] crushing_share.source: must not be empty"),
        ({"what": ""}, "[crushing_share] what: must not be empty"),
        ({"moves": ["weather"]}, "[crushing_share] moves = ['weather']: must be some of onset, cone, peak"),
        ({"moves": []}, "[crushing_share] moves = []: must be some of"),
        ({"most": None}, "[crushing_share] most: missing"),
    ],
)
def test_a_table_that_is_not_whole_is_told_in_one_line(change: dict[str, Any], message: str) -> None:
    tables = dict(read_tables(FILE))
    table = {key: value for key, value in (tables["crushing_share"] | change).items() if value is not None}
    with pytest.raises(ValueError) as caught:
        check_tables({**tables, "crushing_share": table})
    assert str(caught.value).startswith(f"{FILE}: {message}") and "\n" not in str(caught.value)


def test_a_table_too_few_or_too_many_is_told() -> None:
    tables = dict(read_tables(FILE))
    with pytest.raises(ValueError, match=r"^assumed\.toml: weather_share: no such assumption$"):
        check_tables({**tables, "weather_share": tables["thread_shear_share"]})
    del tables["chip_friction"]
    with pytest.raises(ValueError, match=r"^assumed\.toml: chip_friction: missing$"):
        check_tables(tables)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_a_key_of_the_case_that_reaches_it(name: str) -> None:
    """Default, bounds, axis and line of the key; another value is another case and stands in its settings."""
    key, each = KEYS[f"assumed.{name}"], assumptions()[name]
    assert (key.default, key.low, key.high) == (each.number.value, each.least, each.most)
    assert AXIS_WORDS[key.name].startswith(each.what)
    assert f"{each.number.low:g}".replace("-", "−") in short_words(key.name, each.number.low)
    given = settings_from({key.name: each.number.low})
    assert given[key.name] == each.number.low
    assert getattr(to_case(given).assumed, each.field) == each.number.low * factor(name)
    assert (settings_id(given) == settings_id(settings_from({}))) == (each.number.low == each.number.value)


def test_the_page_shows_value_range_how_source_and_what_each_moves() -> None:
    result = CliRunner().invoke(main, ["materials", "assumed"], env={"COLUMNS": "400"})
    assert result.exit_code == 0 and "Research and teaching only" in result.stdout
    for name, each in assumptions().items():
        number = each.number
        row = next(line for line in result.stdout.splitlines() if line.startswith(name))
        assert f" {number.value:g} " in row and f" {number.low:g} to {number.high:g} " in row
        assert f" {number.how} " in row and f" {', '.join(each.moves)} " in row
        assert f"{name}: {each.what}" in result.stdout and number.source in result.stdout
    picture = CliRunner().invoke(main, ["materials", "assumed", "--plot", "assumed.png"])
    assert picture.exit_code == 2 and "assumed has no picture" in picture.output
