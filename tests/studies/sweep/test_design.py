"""Design searches: files with one line for whatever is wrong, the walk up the masses, the answer in files."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from pathlib import Path

import pytest
from click.testing import CliRunner
from rich.console import Console

from icecone.studies.case.file import CaseError, Settings
from icecone.studies.command.main import main
from icecone.studies.files.records import Record
from icecone.studies.sweep import lightest, run_design
from icecone.studies.sweep.demand import Candidate, Design, Place, read_design
from icecone.studies.sweep.lightest import Pulled, Search, Trial, find_lightest
from icecone.studies.sweep.study import is_design, shipped_studies
from icecone.studies.sweep.verdict import verdict_of
from icecone.studies.sweep.work import Answer, Task

HEAD = '[study]\ntitle = "invented"\nquestion = "which?"\n'
REQUIRE = "[require]\nlimit_kN = 8\nchance = 0.9\nmovement_mm = 50\n"
CHOOSE = (
    "[choose.tube]\nlength_mm = { low = 100, high = 190, step = 30 }\nwall_mm = { low = 1, high = 2.5, step = 0.5 }\n"
)
AXES = "[axes.pull]\ndirection_deg = [0, 90]\n"
RANDOM = (
    "[random]\ndraws = 20\nseed = 1\n[random.placement]\n"
    'angle_deg = { distribution = "normal", mean = 0, sd = 5, low = -15, high = 15 }\n'
)
WHOLE = HEAD + REQUIRE + CHOOSE + AXES + RANDOM


def read(folder: Path, text: str = WHOLE) -> Design:
    path = folder / "design.toml"
    path.write_text(text)
    return read_design(path)


def stand_in(case: Settings) -> Pulled:
    """Along the surface the wall bends, straight out the ice holds by the length; leaning takes from both."""
    lean = 1 - 0.01 * abs(float(case["placement.angle_deg"]))
    if case["pull.direction_deg"] == 0:
        own = ("tube bends", 5.5 * float(case["tube.wall_mm"]) * lean)
    else:
        own = ("cone", 0.062 * float(case["tube.length_mm"]) * lean)
    return Pulled(*min(own[::-1], (float(case["tube.hanger_kN"]), "hanger")))


class Asked:
    """A stand-in solver that counts."""

    def __init__(self, design: Design) -> None:
        self.design, self.pulls = design, 0

    def __call__(self, candidate: Candidate, places: Sequence[Place]) -> list[Pulled]:
        found = [stand_in(self.design.case(candidate, place)) for place in places]
        self.pulls += len(found)
        return found


def every_tube(design: Design) -> list[Trial]:
    """All tubes pulled in full, the lightest first."""
    found = []
    for places in product(*(range(len(each)) for each in design.choices.values())):
        trial, asked = Trial(design.candidate(places), design), Asked(design)
        all_places = list(product(range(len(design.situations)), range(design.number)))
        trial.pulled = dict(zip(all_places, asked(trial.candidate, all_places), strict=True))
        found.append(trial)
    return sorted(found, key=lambda trial: trial.candidate.mass_g)


def test_the_lightest_is_that_of_all_tubes_pulled_in_full_and_takes_few_pulls(tmp_path: Path) -> None:
    design = read(tmp_path)
    asked = Asked(design)
    search = find_lightest(design, asked)
    truth = [trial.candidate for trial in every_tube(design) if trial.met]
    assert [trial.candidate for trial in search.met] == truth[: lightest.ANSWERS] and len(truth) > lightest.ANSWERS
    assert asked.pulls < 0.3 * design.tubes * 40


def test_draws_are_common_to_all_tubes_and_a_movement_is_the_stop_of_every_pull(tmp_path: Path) -> None:
    design = read(tmp_path)
    one, other = design.candidate((0, 0)), design.candidate((3, 2))
    for draw in (0, 7):
        angles = {design.case(each, (at, draw))["placement.angle_deg"] for each in (one, other) for at in (0, 1)}
        assert len(angles) == 1
    assert design.case(one, (0, 0))["placement.angle_deg"] != design.case(one, (0, 7))["placement.angle_deg"]
    assert design.case(one, (0, 0))["pull.travel_mm"] == 50


def test_a_share_of_the_draws_may_miss_and_no_more(tmp_path: Path) -> None:
    """Of 20 draws at a chance of 0.9 two may miss: the third least load is what nine tenths hold."""
    design = read(tmp_path)
    trial = Trial(design.candidate((0, 0)), design)
    for misses, met in ((2, True), (3, False)):
        for situation, draw in product((0, 1), range(20)):
            trial.pulled[situation, draw] = Pulled(7.0 if situation and draw < misses else 9.0 + draw, "cone")
        assert trial.met is met
        verdict = verdict_of(trial)
        assert verdict.chance == pytest.approx(1 - misses / 20) and verdict.situation == 1
        assert verdict.reach_kN == (11.0 if met else 7.0)
    low, high = verdict.chance_ends
    assert low == pytest.approx(0.621, abs=1e-3) and high == pytest.approx(
        0.968, abs=1e-3
    )  # Clopper, Pearson: 17 of 20


def test_where_none_can_the_closest_of_all_is_found(tmp_path: Path) -> None:
    """The hanger's 10 kN are out of reach for none: at 12 kN each fails, the best is that of all pulled in full."""
    design = read(tmp_path, WHOLE.replace("limit_kN = 8", "limit_kN = 12"))
    search = find_lightest(design, Asked(design))
    best = search.closest()
    assert not search.met and best is not None and best.whole
    truth = max(every_tube(design), key=lambda trial: (trial.bound, -trial.candidate.mass_g))
    assert best.bound == truth.bound


def test_many_tubes_are_refined_from_a_coarse_grid(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Loads that grow with their key have their lightest where each is just enough: the refinement ends there too."""
    text = WHOLE.replace("step = 30", "step = 5").replace("step = 0.5", "step = 0.05")
    design = read(tmp_path, text)
    monkeypatch.setattr(lightest, "WHOLE", 30)
    search = find_lightest(design, Asked(design))
    assert not search.exact and len(search.trials) < 0.5 * design.tubes
    monkeypatch.setattr(lightest, "WHOLE", 20000)
    whole = find_lightest(design, Asked(design))
    assert search.met[0].candidate.mass_g == pytest.approx(whole.met[0].candidate.mass_g, rel=0.02)


def test_tubes_whose_values_do_not_go_together_are_left_out_with_the_reason(tmp_path: Path) -> None:
    design = read(tmp_path, WHOLE.replace("[choose.tube]\n", "[choose.tube]\nthread_length_mm = [60, 150]\n"))
    search = find_lightest(design, Asked(design))
    problems = [trial.problem for trial in search.trials.values() if trial.problem]
    assert problems and all("tube.thread_length_mm = 150" in problem for problem in problems)
    assert search.met


def stub_task(task: Task) -> Answer:
    name, settings, _ = task
    pulled = stand_in(dict(settings))
    return Record(name, {"limit_kN": pulled.limit_kN, "limit_mode": pulled.mode}, {}), ()


@pytest.mark.slow
@pytest.mark.parametrize("limit, code", [(8, 0), (12, 1)])
def test_the_command_answers_and_takes_up_what_is_solved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: int, code: int
) -> None:
    """Feasible and not: the same bytes from a second run, which solves nothing; kept tables carry the caution."""
    path, out = tmp_path / "design.toml", tmp_path / "out"
    path.write_text(WHOLE.replace("limit_kN = 8", f"limit_kN = {limit}"))
    solved: list[str] = []

    def task(of: Task) -> Answer:
        solved.append(of[0])
        return stub_task(of)

    monkeypatch.setattr(run_design, "solve_task", task)
    command = ["study", str(path), "--out", str(out), "--jobs", "1"]
    first = CliRunner().invoke(main, command)
    assert first.exit_code == code, first.output
    words = (out / "why.txt").read_text()
    assert ("The lightest tube that meets it" in words) is (code == 0) and "never trust a life" in words
    if code:
        assert "None can, because of" in words and "% short" in words
    else:
        assert "fresh draws" in words
    assert "ice.tensile_MPa" in words and "Keys that cannot move" in words
    kept = {name: (out / name).read_bytes() for name in ("table.csv", "why.txt", "design.png")}
    count = len(solved)
    assert CliRunner().invoke(main, command).exit_code == code and len(solved) == count
    assert {name: (out / name).read_bytes() for name in kept} == kept
    assert b"never trust a life" in kept["table.csv"]


WRONG = {
    "[choose] is missing": HEAD + REQUIRE,
    "[require] is missing": HEAD + CHOOSE,
    "[axis]: unknown table": WHOLE + "[axis.pull]\ndirection_deg = [0]\n",
    "require.limit_kN = missing: must be a number between 0 and 1000": WHOLE.replace("limit_kN = 8\n", ""),
    "require.limit_kN = -1": WHOLE.replace("limit_kN = 8", "limit_kN = -1"),
    "require.limit = 8: unknown key": WHOLE.replace("limit_kN", "limit"),
    "require.chance = 1: must be more than 0 and less than 1": WHOLE.replace("chance = 0.9", "chance = 1"),
    "require.chance = missing": WHOLE.replace("chance = 0.9\n", ""),
    "must be left out where nothing is drawn": WHOLE.replace(RANDOM, ""),
    "require.movement_mm = 1: must be a number between 5 and 250": WHOLE.replace("movement_mm = 50", "movement_mm = 1"),
    "random.draws = 20: must be at least 100": WHOLE.replace("chance = 0.9", "chance = 0.99"),
    "choose.tube.length_mm.step = missing": WHOLE.replace(", step = 30", ""),
    "choose.tube.length_mm.step = 40: must go a whole number of times": WHOLE.replace("step = 30", "step = 40"),
    "choose.tube.length_mm.step = 0: ": WHOLE.replace("step = 30", "step = 0"),
    "choose.tube.length_mm.high = 400: must be a number between 60 and 300": WHOLE.replace("high = 190", "high = 400"),
    "choose.tube.length_mm.high = 50: ": WHOLE.replace("high = 190", "high = 50"),
    "choose.tube.metal = 'lead': must be one of": WHOLE.replace("[choose.tube]", '[choose.tube]\nmetal = ["lead"]'),
    "choose.tube.od_mm = 17: must be { low, high, step } or a list": WHOLE.replace(
        "[choose.tube]", "[choose.tube]\nod_mm = 17"
    ),
    "must give one key or more that moves the mass": WHOLE.replace(CHOOSE, "[choose.placement]\nembedment_mm = [80]\n"),
    "case.tube.wall_mm: must be left out where [choose] gives it": WHOLE + "[case.tube]\nwall_mm = 1\n",
    "axes.tube.od_mm: must be in [choose] or [case]": WHOLE + "[axes.tube]\nod_mm = [15, 17]\n",
    "random.placement.angle_deg: must be left out where [axes] gives it": WHOLE + "[axes.placement]\nangle_deg = [0]\n",
    "case.pull.travel_mm: must be left out where require.movement_mm is given": WHOLE + "[case.pull]\ntravel_mm = 90\n",
    "axes.placement.embedment_mm = 250": WHOLE + "[axes.placement]\nembedment_mm = [80, 250]\n",
    "study.question = missing": WHOLE.replace('question = "which?"\n', ""),
}


@pytest.mark.parametrize("part", WRONG)
def test_a_wrong_file_is_one_line_that_names_field_and_what_is_allowed(tmp_path: Path, part: str) -> None:
    with pytest.raises(CaseError) as caught:
        read(tmp_path, WRONG[part])
    text = str(caught.value)
    assert part in text and "\n" not in text and "design.toml" in text


def test_the_shipped_search_is_read_as_one() -> None:
    path = shipped_studies()["lightest_tube"]
    design = read_design(path)
    assert is_design(path) and design.number == 40 and "invented" in design.title


@pytest.mark.slow
def test_a_small_search_on_the_real_solver(tmp_path: Path) -> None:
    """By hand: of three walls, pulled along the surface without spread, the thinnest that holds is the lightest."""
    text = HEAD + "[require]\nlimit_kN = 7\n[choose.tube]\nwall_mm = [0.8, 1.2, 1.6]\n"
    design = read(tmp_path, text)
    with run_design.pulls_of(design, tmp_path, Console(quiet=True), 1, None) as pulls:
        search = Search(design, pulls)
        limits = [pulls(design.candidate((at,)), [(0, 0)])[0].limit_kN for at in range(3)]
        search.walk([(0,), (1,), (2,)])
    holding = [at for at, limit in enumerate(limits) if limit >= 7]
    assert limits == sorted(limits) and 0 < len(holding) < 3
    assert [trial.candidate.places for trial in search.met] == [(at,) for at in holding]
