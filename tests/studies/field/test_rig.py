"""The hauling rig: hand numbers of a tackle and a spring, its file, its findings worst first."""

from __future__ import annotations

from dataclasses import replace
from math import inf, sqrt
from pathlib import Path

import pytest

from icecone.studies.case.toml import CaseError
from icecone.studies.field.rig import (
    RIG_KEYS,
    Link,
    Rig,
    cell_error_share,
    haul_force_kN,
    loose_speed_m_per_s,
    people_needed,
    reaction_demand_kN,
    read_rig,
    rig_example,
    seen_kN,
    stored_energy_J,
    strand_needed_mm,
    stretch_mm,
    time_to_peak_s,
)
from icecone.studies.field.rig_verdict import PullLoads, link_demands, rig_findings, worst_first

USUAL = read_rig()


def write(folder: Path, text: str) -> Path:
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_example_is_the_usual_rig(tmp_path: Path) -> None:
    """Every key stands in it, and reading it changes nothing."""
    text = rig_example()
    assert read_rig(write(tmp_path, text)) == USUAL
    assert all(f"\n{name.removeprefix('rig.')} = " in text for name in RIG_KEYS)


def test_an_ideal_tackle_of_three_by_hand() -> None:
    """6 kN on three strands without friction: 2 kN on the rope, 4 on a pulley, F (n + 1)/n = 8 on the anchor."""
    ideal = replace(USUAL, advantage=3.0, efficiency=1.0, person_kN=0.5)
    assert haul_force_kN(ideal, 6.0) == pytest.approx(2.0)
    assert people_needed(ideal, 6.0) == 4 and people_needed(ideal, 6.01) == 5 and people_needed(ideal, 0.0) == 0
    assert reaction_demand_kN(ideal, 6.0) == pytest.approx(8.0)
    seen = [seen_kN(ideal, sees, 6.0) for sees in ("load", "rope", "pulley", "reaction")]
    assert seen == pytest.approx([6.0, 2.0, 4.0, 8.0])


def test_friction_raises_the_pull_on_the_rope() -> None:
    """Half of the efficiency asks for twice the pull."""
    poor = replace(USUAL, efficiency=0.5 * USUAL.efficiency)
    assert haul_force_kN(poor, 5.0) == pytest.approx(2 * haul_force_kN(USUAL, 5.0))


def test_energy_is_the_work_of_the_stretch_and_gives_the_speed() -> None:
    """10 kN, 3 m, EA = 100 kN: 300 mm of stretch, W = F u / 2 = 1500 J, m v^2 / 2 = W."""
    assert stretch_mm(USUAL, 10.0) == pytest.approx(300.0)
    assert stored_energy_J(USUAL, 10.0) == pytest.approx(0.5 * 10e3 * 0.300)
    assert loose_speed_m_per_s(USUAL, 10.0) == pytest.approx(sqrt(2 * 1500.0 / 0.5))
    assert strand_needed_mm(USUAL, 10.0, 27.0) == pytest.approx(327.0)
    assert time_to_peak_s(USUAL, 10.0, 27.0) == pytest.approx(327.0 / 2.0)


def test_error_of_the_cell_is_of_its_full_scale() -> None:
    """1 % of 20 kN is 5 % of 4 kN."""
    assert cell_error_share(USUAL, 4.0) == pytest.approx(0.05)
    assert cell_error_share(USUAL, 0.0) == inf


def pull(name: str, middle: float, high: float, largest: float, movement: float = 27.0) -> PullLoads:
    return PullLoads(name, middle, high, largest, movement)


def test_the_cell_that_ends_is_told_first_with_the_pulls() -> None:
    rig = replace(USUAL, cell_kN=10.0, people=30, strand_mm=5000.0, reaction_kN=100.0, links=(Link("sling", 200.0),))
    found = rig_findings(rig, [pull("1", 3.9, 8.2, 9.0), pull("3", 10.2, 14.4, 16.0), pull("7", 9.0, 13.0, 14.0)])
    assert found[0].rank == "short" and found[0].share == pytest.approx(1.6)
    assert found[0].text == (
        "The cell ends at 10 kN; one pull in twenty reaches 14.4 kN: pulls 3, 7 would end at the cell."
    )
    assert [each.rank for each in found if each.rank == "short"] == ["short"]


def test_a_cell_that_only_the_largest_load_passes_is_short_too() -> None:
    rig = replace(USUAL, cell_kN=10.0)
    (first, *_) = [each for each in rig_findings(rig, [pull("a", 5, 8, 11)]) if each.text.startswith("The cell ends")]
    assert first.rank == "short" and "could end" in first.text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"people": 1}, "8 kN on the tube is 1.5 kN on the rope: 4 people to haul, 1 there (pull a)."),
        ({"strand_mm": 100.0}, "The strand ends after 100 mm; 267 mm are needed"),
        ({"reaction_kN": 11.0}, "Reaction anchor: bears 11.9 kN at the largest load, is said to hold 11 kN"),
        ({"links": (Link("old sling", 9.0),)}, "Old sling: bears 10 kN at the largest load, is stated at 9 kN"),
    ],
)
def test_what_is_short_is_found(change: dict[str, object], words: str) -> None:
    """With enough of everything nothing is short; with one thing too little that one is, and says its numbers."""
    enough = replace(USUAL, people=20, cell_kN=50.0, strand_mm=5000.0, reaction_kN=100.0, links=(Link("sling", 100.0),))
    pulls = [pull("a", 5, 8, 10)]
    assert "short" not in {each.rank for each in rig_findings(enough, pulls)}
    found = rig_findings(replace(enough, **change), pulls)  # type: ignore[arg-type]
    assert found[0].rank == "short" and found[0].text.startswith(words), found[0].text


def test_findings_come_worst_first_and_energy_warns() -> None:
    found = rig_findings(USUAL, [pull("a", 9, 13, 16)])
    places = [(("short", "mind", "enough").index(each.rank), -each.share) for each in found]
    assert places == sorted(places) and len({rank for rank, _ in places}) == 3
    assert worst_first(found[::-1])[0] == found[0]
    (energy,) = [each for each in found if "rope and slings hold" in each.text]
    assert energy.rank == "mind" and "3840 J" in energy.text and "Nobody in line" in energy.text


def test_links_are_ordered_by_use_with_their_margins() -> None:
    first, *rest = link_demands(USUAL, 10.0)
    assert first.share == max(each.share for each in (first, *rest))
    assert first.margin == pytest.approx(1 / first.share)
    assert {each.name for each in (first, *rest)} == {"reaction anchor", *(link.name for link in USUAL.links)}


def test_names_of_users_are_made_fit_for_print() -> None:
    rig = replace(USUAL, cell_kN=1.0)
    text = " ".join(each.text for each in rig_findings(rig, [pull("\x1b[31mred\nline", 5, 8, 11)]))
    assert "\x1b" not in text and "\n" not in text


@pytest.mark.parametrize("loads", [(5, 4, 6, 1), (-1, 4, 6, 1), (1, 4, inf, 1), (1, 4, 6, -1)])
def test_loads_that_do_not_rise_are_refused(loads: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        PullLoads("a", *loads)
    with pytest.raises(ValueError, match="one at least"):
        rig_findings(USUAL, [])


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[rig]\ncell_kN = -1\n", 2, "rig.cell_kN = -1: must be a number between 0.5 and 500 kN"),
        ("[rig]\ncell_kN = true\n", 2, "rig.cell_kN = true: must be a number"),
        ("[rig]\npeople = 2.5\n", 2, "rig.people = 2.5: must be a whole number"),
        ("[rig]\ncel_kN = 1\n", 2, "did you mean rig.cell_kN?"),
        ("[rog]\n", 1, "[rog]: unknown table: must be [rig]"),
        ("rig = 3\n", 1, "rig = 3: must be a table, written [rig]"),
        ('[[rig.links]]\nname = "a"\n', 1, "rig.links[1].strength_kN = None: must be a number"),
        ('[[rig.links]]\nname = ""\nstrength_kN = 2\n', 1, "rig.links[1].name = '': must be a text"),
        ('[[rig.links]]\nname = "a"\nstrength_kN = 2\nsees = "x"\n', 1, "rig.links[1].sees = 'x': must be one of"),
        ('[[rig.links]]\nname = "a"\nstrength = 2\n', 1, "did you mean strength_kN?"),
        ("[rig]\nlinks = []\n", 2, "rig.links = []: must be 1 to 30 tables"),
        ("[rig]\ncell_kN = inf\n", 2, "rig.cell_kN = inf: must be a number"),
        ("[rig]\ncell_kN = nan\n", 2, "rig.cell_kN = nan: must be a number"),
    ],
)
def test_bad_files_are_told_in_one_line(tmp_path: Path, text: str, line: int, words: str) -> None:
    """File, line, key, value, what is allowed."""
    path = write(tmp_path, text)
    with pytest.raises(CaseError) as told:
        read_rig(path)
    message = str(told.value)
    assert message.startswith(f"{path}:{line}: ") and words in message and "\n" not in message


def test_overrides_win_and_are_named(tmp_path: Path) -> None:
    path = write(tmp_path, "[rig]\ncell_kN = 30\npeople = 4\n")
    rig: Rig = read_rig(path, ["rig.people=6"])
    assert (rig.cell_kN, rig.people) == (30.0, 6)
    with pytest.raises(CaseError, match=r"--set rig.people = 0: must be a number between 1 and 50"):
        read_rig(path, ["rig.people=0"])
