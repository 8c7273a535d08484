"""Study files of many cases: what they vary and draw, and one line for whatever is wrong with one."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import kstest, spearmanr

from icecone.materials import assumptions, ice_named
from icecone.materials.draws import spreads_of
from icecone.studies.case.file import KEYS, CaseError
from icecone.studies.sweep.many import ManyStudy, read_many
from icecone.studies.sweep.study import is_design, is_many, shipped_studies

HEAD = '[study]\ntitle = "invented"\nquestion = "how wide?"\n'
RANDOM = HEAD + "[random]\ndraws = 300\nseed = 7\n"
ANGLE = '[random.placement]\nangle_deg = { distribution = "normal", mean = 0, sd = 5, low = -15, high = 15 }\n'
STRENGTHS = "".join(
    f'{name} = {{ spread = "table" }}\n' for name in ("tensile_MPa", "K_IC_kPa_sqrt_m", "compressive_MPa")
)
ROWS = HEAD + "[axes.rows]\n"


def read(folder: Path, text: str) -> ManyStudy:
    path = folder / "study.toml"
    path.write_text(text)
    return read_many(path)


def drawn(study: ManyStudy, key: str) -> np.ndarray:
    return np.array([case.varied[key] for case in study.cases])


def test_axes_are_every_combination_the_last_fastest(tmp_path: Path) -> None:
    text = HEAD + "[axes.placement]\nangle_deg = [-20, 0]\nembedment_mm = { from = 60, to = 100, number = 3 }\n"
    study = read(tmp_path, text)
    assert study.dims == {"placement.angle_deg": 2, "placement.embedment_mm": 3} and study.want == ("peak",)
    assert [tuple(case.varied.values()) for case in study.cases] == [(a, e) for a in (-20, 0) for e in (60, 80, 100)]
    assert [case.place for case in study.cases] == [(a, e) for a in range(2) for e in range(3)]
    assert study.settings(study.cases[-1])["placement.embedment_mm"] == 100


def test_rows_pair_their_keys_and_a_table_says_the_same(tmp_path: Path) -> None:
    text = ROWS + 'keys = ["tube.od_mm", "tube.metal"]\nvalues = [[16, "titanium_alloy"], [18, "chromoly_steel"]]\n'
    paired = read(tmp_path, text)
    (tmp_path / "tubes.csv").write_text("tube.od_mm,tube.metal\n16,titanium_alloy\n\n18.0,chromoly_steel\n")
    table = read(tmp_path, ROWS + 'csv = "tubes.csv"\n')
    assert paired.dims == table.dims == {"row": 2}
    assert [case.id for case in paired.cases] == [case.id for case in table.cases]
    assert paired.cases[0].varied == {"tube.od_mm": 16.0, "tube.metal": "titanium_alloy"}


@pytest.mark.parametrize("word, number", [("latin_hypercube", 20), ("sobol", 16)])
def test_a_design_has_a_point_in_each_slice_of_each_range(tmp_path: Path, word: str, number: int) -> None:
    """Latin hypercube and Sobol points of a power of two: one a slice of each range, whatever the seed."""
    if word == "latin_hypercube":
        ranges = "[axes.rows.between]\ntube.od_mm = [14, 20]\nplacement.angle_deg = [-20, 10]\n"
    else:
        ranges = '[axes.rows.between]\n"tube.od_mm" = [14, 20]\n"placement.angle_deg" = [-20, 10]\n'
    study = read(tmp_path, f"{ROWS}{word} = {number}\nseed = 3\n{ranges}")
    for key, low, high in (("tube.od_mm", 14, 20), ("placement.angle_deg", -20, 10)):
        slices = np.floor(number * (drawn(study, key) - low) / (high - low))
        assert sorted(slices) == list(range(number))
    again = read(tmp_path, f"{ROWS}{word} = {number}\nseed = 4\n{ranges}")
    assert [case.id for case in again.cases] != [case.id for case in study.cases]


def test_grid_and_one_vary_are_axes_where_something_is_wanted(tmp_path: Path) -> None:
    head = HEAD.replace("question", 'want = ["peak", "band"]\nquestion')
    vary = read(tmp_path, head + '[vary]\nkey = "placement.angle_deg"\nvalues = [-20, 0]\n')
    grid = read(tmp_path, head + "[grid.placement]\nangle_deg = [-20, 0]\n")
    assert vary.want == ("peak", "band") and [case.id for case in vary.cases] == [case.id for case in grid.cases]


def test_the_study_of_the_page_is_one(tmp_path: Path) -> None:
    """The file that the studies' page shows, with fewer draws."""
    page = (Path(__file__).resolve().parents[3] / "studies" / "README.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    study = read(tmp_path, text.replace("draws = 1000", "draws = 3"))
    assert study.dims == {"pull.direction_deg": 3, "draw": 3} and len(study.keys) == 5


def test_shipped_studies_are_read_as_before() -> None:
    """All but the one of many cases, which is sound too."""
    many = {name: path for name, path in shipped_studies().items() if is_many(path) and not is_design(path)}
    assert set(many) == {"spread"}
    study = read_many(many["spread"])
    assert study.want == ("peak",) and study.dims == {"placement.angle_deg": 7, "draw": 150}


def test_draws_have_the_distribution_that_the_file_says(tmp_path: Path) -> None:
    """Kolmogorov-Smirnov, at a level that one seed in a hundred would fail."""
    study = read(tmp_path, RANDOM + ANGLE + '[random.assumed]\nsteel_friction = { between = "table" }\n')
    number = assumptions()["steel_friction"].number
    even = (drawn(study, "assumed.steel_friction") - number.low) / (number.high - number.low)
    assert kstest(even, "uniform").pvalue > 0.01
    angle = drawn(study, "placement.angle_deg")
    assert np.abs(angle).max() < 15 and kstest(angle / 5, "norm").pvalue > 0.01


def test_strengths_have_the_materials_own_law_of_spread_about_the_ice_of_the_case(tmp_path: Path) -> None:
    """Warmer ice is weaker: the mean goes with the axis; correlations are those of the law."""
    text = RANDOM + "[axes.ice]\ntemperature_C = [-20, -2]\n[random.ice]\n" + STRENGTHS
    study = read(tmp_path, text)
    for at, temperature in ((0, -20.0), (1, -2.0)):
        law = spreads_of(ice_named("sound_glacier", temperature, 10.0))["tensile"]
        cases = [case for case in study.cases if case.place[0] == at]
        share = law.cdf(1e6 * np.array([case.varied["ice.tensile_MPa"] for case in cases]))
        assert kstest(share, "uniform").pvalue > 0.01
    assert spearmanr(drawn(study, "ice.tensile_MPa")[:300], drawn(study, "ice.K_IC_kPa_sqrt_m")[:300])[0] > 0.35


def test_the_stiffness_may_have_its_law_of_spread_too(tmp_path: Path) -> None:
    study = read(tmp_path, RANDOM + '[random.ice]\nE_GPa = { spread = "table" }\n')
    E = ice_named("sound_glacier", -5.0, 10.0).elastic.youngs_modulus / 1e9
    assert drawn(study, "ice.E_GPa").mean() == pytest.approx(E, rel=0.01)


@pytest.mark.parametrize("rank", [-0.6, 0.0, 0.8])
def test_keys_have_the_rank_correlation_that_is_asked_for(tmp_path: Path, rank: float) -> None:
    """Spearman's, whatever the distributions: within three standard errors of 300 draws."""
    text = RANDOM + f'correlation = [["placement.angle_deg", "assumed.crushing_share", {rank}]]\n' + ANGLE
    study = read(
        tmp_path, text + '[random.assumed]\ncrushing_share = { distribution = "lognormal", mean = 1, cov = 0.2 }\n'
    )
    found = spearmanr(drawn(study, "placement.angle_deg"), drawn(study, "assumed.crushing_share"))[0]
    assert found == pytest.approx(rank, abs=3 / np.sqrt(300))


def test_a_draw_is_the_same_however_many_there_are_and_whatever_else_is_drawn(tmp_path: Path) -> None:
    few = read(tmp_path, RANDOM.replace("300", "5") + ANGLE)
    more = read(
        tmp_path, RANDOM.replace("300", "9") + ANGLE + '[random.assumed]\nsteel_friction = { between = "table" }\n'
    )
    assert list(drawn(few, "placement.angle_deg")) == list(drawn(more, "placement.angle_deg")[:5])
    other = read(tmp_path, RANDOM.replace("300", "5").replace("seed = 7", "seed = 8") + ANGLE)
    assert not set(drawn(few, "placement.angle_deg")) & set(drawn(other, "placement.angle_deg"))


def test_every_combination_of_the_axes_gets_the_same_draws(tmp_path: Path) -> None:
    study = read(tmp_path, RANDOM.replace("300", "4") + ANGLE + "[axes.placement]\nembedment_mm = [60, 100]\n")
    assert study.dims == {"placement.embedment_mm": 2, "draw": 4}
    angles = drawn(study, "placement.angle_deg").reshape(2, 4)
    assert (angles[0] == angles[1]).all() and len({case.id for case in study.cases}) == 8


def test_a_length_that_is_drawn_need_not_go_with_the_default_of_another(tmp_path: Path) -> None:
    """An embedment of 200 mm is checked against the length that is drawn, not against the default of 140."""
    text = (
        RANDOM.replace("300", "5") + '[random.tube]\nlength_mm = { distribution = "uniform", low = 220, high = 260 }\n'
    )
    assert len(read(tmp_path, text + "[axes.placement]\nembedment_mm = [200]\n").cases) == 5


BETWEEN = "[axes.rows.between]\n"
AT_ODDS = """correlation = [
  ["ice.tensile_MPa", "ice.compressive_MPa", 1],
  ["ice.tensile_MPa", "ice.K_IC_kPa_sqrt_m", -1],
]
"""
WRONG = {
    "no title": ('[study]\nquestion = "x"\nwant = ["peak"]\n', "study.title = missing: must be a text"),
    "want a word": (HEAD + 'want = "peak"\n', ":4: study.want = 'peak': must be a list of some of peak, rivals"),
    "want unknown": (HEAD + 'want = ["onsets"]\n', "study.want = ['onsets']: must be a list of some of"),
    "want nothing": (HEAD + "want = []\n", "study.want = []: must be a list"),
    "key of the study": (HEAD + 'want = ["peak"]\nwhy = 1\n', ":5: study.why = 1: unknown key"),
    "study no table": ("study = 3\n[axes]\n", "study = 3: must be a table, written [study]"),
    "unknown table": (RANDOM + ANGLE + "[axis]\n", ":9: [axis]: unknown table"),
    "a strip": (RANDOM + ANGLE + "[strip]\nvalues = [1]\n", "[strip]: unknown table"),
    "nothing varied": (HEAD + 'want = ["peak"]\n', "must vary something"),
    "model given": (
        RANDOM + ANGLE + '[case.numerics]\nmodel = "peak"\n',
        "case.numerics.model = 'peak': must be left out",
    ),
    "model varied": (HEAD + '[axes.numerics]\nmodel = ["peak"]\n', "axes.numerics.model: must be left out"),
    "case out of range": (
        RANDOM + ANGLE + "[case.tube]\nod_mm = 99\n",
        ":10: tube.od_mm = 99: must be a number between",
    ),
    "key given and drawn": (
        RANDOM + ANGLE + "[case.placement]\nangle_deg = 3\n",
        "case.placement.angle_deg = 3: must be left",
    ),
    "key on an axis and drawn": (
        RANDOM + ANGLE + "[axes.placement]\nangle_deg = [3]\n",
        "must be left out where an axis",
    ),
    "key on two axes": (HEAD + "[axes.tube]\nod_mm = [16]\n[grid.tube]\nod_mm = [17]\n", "must not be given twice"),
    "axes no table": (HEAD + "axes = 3\n".replace("axes", "[axes]\ntube"), "axes.tube = 3: must be a table"),
    "axis no list": (HEAD + "[axes.tube]\nod_mm = 16\n", ":5: axes.tube.od_mm = 16: must be a list"),
    "axis empty": (HEAD + "[axes.tube]\nod_mm = []\n", "axes.tube.od_mm = []: must be a list"),
    "axis twice": (HEAD + "[axes.tube]\nod_mm = [16, 16.0]\n", "must not hold 16 twice"),
    "axis out of range": (
        HEAD + "[axes.tube]\nod_mm = [16, 99]\n",
        ":5: axes.tube.od_mm = 99: must be a number between 10",
    ),
    "axis unknown": (HEAD + "[axes.tube]\nodmm = [16]\n", "tube.odmm = [16]: unknown key"),
    "axis of words": (HEAD + "[axes.tube]\nmetal = { from = 1, to = 2, number = 3 }\n", "of a key that is a number"),
    "axis half": (HEAD + "[axes.tube]\nod_mm = { from = 1, to = 2 }\n", "od_mm.number = missing: must be one of from"),
    "axis odd": (
        HEAD + "[axes.tube]\nod_mm = { from = 1, to = 2, number = 3, by = 1 }\n",
        "od_mm.by = 1: must be one of",
    ),
    "axis of one": (
        HEAD + "[axes.tube]\nod_mm = { from = 1, to = 2, number = 1 }\n",
        "number = 1: must be a whole number",
    ),
    "several vary": (HEAD + 'want = ["peak"]\n[[vary]]\nkey = "a"\n', "must be one [vary], or [axes]"),
    "rows of two ways": (ROWS + 'csv = "x.csv"\nsobol = 4\n', "[axes.rows]: must give one of values, csv"),
    "rows of no way": (ROWS + "seed = 1\n", "[axes.rows]: must give one of values, csv"),
    "rows odd": (ROWS + 'csv = "x.csv"\nseed = 1\n', "axes.rows.seed = 1: must be one of csv"),
    "rows no keys": (ROWS + "values = [[1]]\n", "axes.rows.keys = None: must be a list of one key"),
    "rows unknown key": (
        ROWS + 'keys = ["tube.od"]\nvalues = [[1]]\n',
        "axes.rows.keys = 'tube.od': must be one of the keys",
    ),
    "rows short": (ROWS + 'keys = ["tube.od_mm"]\nvalues = [[16], []]\n', "row 2 = []: must be a list of 1 values"),
    "rows out of range": (
        ROWS + 'keys = ["tube.od_mm"]\nvalues = [[16], [99]]\n',
        "row 2: tube.od_mm = 99: must be a number",
    ),
    "no csv": (ROWS + 'csv = "none.csv"\n', "none.csv: cannot be read"),
    "csv unknown column": (ROWS + 'csv = "odd.csv"\n', "odd.csv:1: column = 'od': must be one of the keys"),
    "csv short row": (ROWS + 'csv = "short.csv"\n', "short.csv:3: 1 values: must be 2, one a column"),
    "csv out of range": (ROWS + 'csv = "range.csv"\n', "range.csv:3: tube.od_mm = 99: must be a number between"),
    "csv empty": (ROWS + 'csv = "empty.csv"\n', "empty.csv:1: column = '': must be one of the keys"),
    "csv no rows": (ROWS + 'csv = "head.csv"\n', "head.csv: no rows"),
    "sobol of seven": (
        ROWS + f"sobol = 7\nseed = 1\n{BETWEEN}tube.od_mm = [14, 20]\n",
        "sobol = 7: must be a power of two",
    ),
    "no seed": (
        ROWS + f"latin_hypercube = 7\n{BETWEEN}tube.od_mm = [14, 20]\n",
        "axes.rows.seed = None: must be a whole",
    ),
    "no ranges": (ROWS + "latin_hypercube = 7\nseed = 1\n", "axes.rows.between = None: must be a table"),
    "range turned": (
        ROWS + f"latin_hypercube = 7\nseed = 1\n{BETWEEN}tube.od_mm = [20, 14]\n",
        "must be [low, high], low below",
    ),
    "range of a word": (ROWS + f"latin_hypercube = 7\nseed = 1\n{BETWEEN}tube.metal = [20, 14]\n", "that is a number"),
    "no draws": (HEAD + "[random]\nseed = 1\n" + ANGLE, "random.draws = missing: must be a whole number between 1"),
    "draws none": (HEAD + "[random]\ndraws = 0\nseed = 1\n" + ANGLE, ":5: random.draws = 0: must be a whole number"),
    "draws a word": (HEAD + '[random]\ndraws = "many"\nseed = 1\n' + ANGLE, "random.draws = 'many': must be a whole"),
    "seed below": (
        HEAD + "[random]\ndraws = 1\nseed = -1\n" + ANGLE,
        "random.seed = -1: must be a whole number between 0",
    ),
    "nothing drawn": (RANDOM, "[random]: must give one key or more"),
    "odd word": (RANDOM + "number = 3\n" + ANGLE, "random.number = 3: must be one of draws, seed, correlation"),
    "drawn no key": (RANDOM + '[random.ice]\ntensile = { spread = "table" }\n', "ice.tensile = "),
    "drawn a word": (
        RANDOM + '[random.ice]\nkind = { between = "table" }\n',
        "ice.kind: must be a key that is a number",
    ),
    "drawn a number": (RANDOM + "[random.tube]\nod_mm = 3\n", "random.tube.od_mm = 3: must be { distribution"),
    "no such spread": (RANDOM + '[random.tube]\nod_mm = { spread = "table" }\n', "there is no table of it"),
    "no such range": (RANDOM + '[random.tube]\nod_mm = { between = "table" }\n', "there is no table of it"),
    "spread odd": (
        RANDOM + '[random.ice]\ntensile_MPa = { spread = "wide" }\n',
        'must be { spread = "table" }, and nothing',
    ),
    "distribution": (
        RANDOM + '[random.tube]\nod_mm = { distribution = "gamma" }\n',
        ":8: random.tube.od_mm.distribution = 'gamma'",
    ),
    "parameter": (
        RANDOM + '[random.tube]\nod_mm = { distribution = "normal", mean = 1 }\n',
        "random.tube.od_mm.sd = missing",
    ),
    "draw out of range": (
        RANDOM + '[random.placement]\nangle_deg = { distribution = "normal", mean = 0, sd = 40 }\n',
        "of random.placement.angle_deg = ",
    ),
    "correlation": (RANDOM + "correlation = 3\n" + ANGLE, "random.correlation = 3: must be a list"),
    "correlation of one": (RANDOM + 'correlation = [["a", 1]]\n' + ANGLE, "must be [key, key, rank correlation]"),
    "correlation of others": (
        RANDOM + 'correlation = [["a", "b", 1]]\n' + ANGLE,
        "must name two different keys of [random]",
    ),
    "correlation too large": (
        RANDOM + 'correlation = [["ice.tensile_MPa", "ice.compressive_MPa", 2]]\n[random.ice]\n' + STRENGTHS,
        "the rank correlation must lie between -1 and 1",
    ),
    "correlations at odds": (RANDOM + AT_ODDS + "[random.ice]\n" + STRENGTHS, "does not go with the others"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_file_is_told_in_one_line_with_its_place(tmp_path: Path, name: str) -> None:
    """File, line or table, field, value and what is allowed."""
    text, told = WRONG[name]
    for file, lines in {
        "odd": "od\n16\n",
        "short": "tube.od_mm,tube.wall_mm\n16,1\n17\n",
        "range": "tube.od_mm\n16\n99\n",
        "empty": "",
        "head": "tube.od_mm\n",
    }.items():
        (tmp_path / f"{file}.csv").write_text(lines)
    with pytest.raises(CaseError) as error:
        read(tmp_path, text)
    assert told in str(error.value)
    assert str(error.value).startswith(str(tmp_path)) and "\n" not in str(error.value)


def test_every_number_of_a_case_may_be_drawn(tmp_path: Path) -> None:
    """A distribution over part of its range; keys that depend on others are left at one end."""
    for key, of in KEYS.items():
        if of.low is None or key.startswith("crust.") or of.high is None:
            continue
        table, _, name = key.partition(".")
        middle = of.default if isinstance(of.default, float) else None
        if middle is None or middle <= 0:
            continue
        spec = f'{{ distribution = "triangular", low = {0.99 * middle}, mode = {middle}, high = {middle * 1.001} }}'
        if key.startswith(("placement.sling", "ice.crust", "assumed.headed")) and key != "placement.sling_kN":
            continue
        study = read(tmp_path, RANDOM.replace("300", "2") + f"[random.{table}]\n{name} = {spec}\n")
        assert len({case.id for case in study.cases}) == 2, key
