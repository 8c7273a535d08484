"""`icecone materials`: every ice and metal with its sources, one value by value, a small picture, clear errors."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from matplotlib.figure import Figure

from icecone.materials import crystal, ice_named, ice_names, metal_names, strength, weakest_link
from icecone.materials.data_file import Value, read_tables, read_values
from icecone.studies.command.main import main
from icecone.studies.command.screen import console
from icecone.studies.figures import material as materialfigure
from icecone.studies.words.materials import LAWS, Page, one, overview, pages

PNG = b"\x89PNG\r\n"
COLDEST_KNOWN_C = -20.0  # Jones 2007 measured the compressive strength from 0 to -20 deg C (laws.toml)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["materials", *(str(argument) for argument in arguments)])


def cited_in(pages: list[Page]) -> set[str]:
    """Numbers of sources, [n], in the tables and the lines below them."""
    cells = [cell for page in pages for row in (*page.rows, page.below) for cell in row]
    return {number for cell in cells for number in re.findall(r"\[\d+\]", cell)}


@pytest.mark.parametrize("wide", [True, False])
def test_the_list_shows_every_material_and_every_source(wide: bool) -> None:
    """Each number cites a source by number; each number cited is listed, with how it is known."""
    ices, metals, sources = overview(-5.0, 10.0, wide)
    assert [row[0] for row in ices.rows] == ice_names() and [row[0] for row in metals.rows] == metal_names()
    assert cited_in([ices, metals]) == {number for number, _ in sources.rows}
    text = " ".join(text for _, text in sources.rows)
    for kind in ice_names():
        stated = read_values("ices.toml", kind)
        for name in ("tensile_MPa", "K_IC_kPa_sqrt_m", "compressive_MPa", "fabric", "porosity"):
            assert f"{stated[name].how}: {stated[name].source}" in text
    for page, file in ((ices, "ices.toml"), (metals, "metals.toml")):
        for row in page.rows:
            title = read_tables(file)[row[0]]["title"]
            assert row[1] == title if wide else any(line.startswith(f"{row[0]}: {title}") for line in page.below)
    result = run()
    assert result.exit_code == 0 and "Research and teaching only" in result.stdout


@pytest.mark.parametrize("columns", [None, 80, 132, 200])
def test_names_do_not_break_and_nothing_is_wider_than_the_screen(
    columns: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Piped, the width is COLUMNS, or 132 without it, and at least 60: the longest line fills it."""
    monkeypatch.delenv("COLUMNS", raising=False)
    if columns:
        monkeypatch.setenv("COLUMNS", str(columns))
    for name in (None, "dense_waterfall", "chromoly_steel", *LAWS):
        lines = run(*([name] if name else [])).stdout.splitlines()
        longest = max(len(line) for line in lines)
        assert longest <= (columns or 132)
        firsts = {line.split()[0] for line in lines if line.strip()}
        for page in pages(name, -5.0, 10.0, columns or 132):
            assert {row[0].split()[0] for row in page.rows} <= firsts
    assert "what" in run().stdout.split() or columns == 80


@pytest.mark.parametrize(("columns", "width"), [("20", 60), ("99", 99), ("wide", 132), ("", 132), ("9" * 30, 132)])
def test_the_width_of_a_pipe(columns: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert console().width == width


def test_one_ice_is_shown_value_by_value_in_its_state() -> None:
    """Stated value, range, source by number, and what the laws make of it at this temperature and loading time."""
    page, sources = one("bubbly_glacier", -20.0, 100.0)
    rows, listed = {row[0]: row for row in page.rows}, dict(sources.rows)
    ice = ice_named("bubbly_glacier", -20.0, 100.0)
    for value in read_values("ices.toml", "bubbly_glacier").values():
        name = value.name.removesuffix("_MPa").removesuffix("_kPa_sqrt_m").removesuffix("_mm")
        assert listed[rows[name][-2]] == f"{value.how}: {value.source}" and rows[name][-1] == value.how
        if isinstance(value, Value):
            assert rows[name][1].startswith(f"{value.value:g}") and f"{value.high:g}" in rows[name][2]
    assert rows["compressive"][3] == f"{ice.compressive_strength / 1e6:.3g} MPa"
    assert rows["E, average"][3] == f"{ice.elastic.youngs_modulus / 1e9:.3g} GPa"
    assert rows["critical distance"][3] == f"{ice.critical_distance * 1e3:.3g} mm"
    assert "E along columns" not in rows and "45 deg" not in "".join(page.below)
    assert {len(row) for row in page.rows} == {len(page.columns)} and cited_in([page]) == set(listed)


def test_a_columnar_ice_says_why_its_average_is_below_both_directions() -> None:
    """E at 45 deg to the columns, by the compliance turned with its own formula, is below along and across."""
    ice = ice_named("dense_waterfall", -20.0, 10.0)
    c11, c12, c13, c33, c44 = (constant / 1e9 for constant in ice.elastic.constants)
    s = np.linalg.inv([[c11, c12, c13], [c12, c11, c13], [c13, c13, c33]])
    # 1/E = s11 sin^4 + s33 cos^4 + (s44 + 2 s13) sin^2 cos^2 (Nye 1957, hexagonal, from memory)
    between = 4 / (s[0, 0] + s[2, 2] + 1 / c44 + 2 * s[0, 2])
    page, _ = one("dense_waterfall", -20.0, 10.0)
    rows = {row[0]: row for row in page.rows}
    assert rows["E along columns"][3] == f"{1 / s[2, 2]:.3g} GPa"
    assert rows["E across columns"][3] == f"{1 / s[0, 0]:.3g} GPa"
    (line,) = [line for line in page.below if "45 deg" in line]
    assert f"{between:.3g} GPa; softer at 45 deg" in line
    assert between < ice.elastic.youngs_modulus / 1e9 < min(1 / s[0, 0], 1 / s[2, 2])


def test_metals_are_shown_too() -> None:
    page, sources = one("titanium_alloy", -5.0, 10.0)
    assert [row[0] for row in page.rows] == [
        "E",
        "nu",
        "yield",
        "ultimate",
        "density",
        "uniform_strain",
        "break_strain",
    ]
    assert cited_in([page]) == {number for number, _ in sources.rows} and run("titanium_alloy").exit_code == 0


@pytest.mark.parametrize("name", LAWS)
def test_laws_are_shown_a_page_a_table(name: str) -> None:
    """Constants by their full names, as stated to the last digit; the equation below is that of the module."""
    *tables, sources = one(name, -5.0, 10.0)
    assert cited_in(tables) == {number for number, _ in sources.rows}
    docs = re.sub(r"[\s,]", "", f"{strength.__doc__}{crystal.__doc__}{weakest_link.__doc__}")
    for page, table in zip(tables, read_tables(LAWS[name]), strict=True):
        values = read_values(LAWS[name], table)
        assert [row[0] for row in page.rows] == list(values) and page.title.endswith(f"[{table}]")
        for row, value in zip(page.rows, values.values(), strict=True):
            assert not isinstance(value, Value) or float(row[1].split()[0]) == value.value
        equations = [line for line in page.below if "^" in line or "c(T)" in line]
        assert len(equations) == (table in ("tension", "toughness", "compression", "crystal_cold", "size_effect"))
        assert all(re.sub(r"[\s,]", "", line.split(";")[0]) in docs for line in equations)
    units = {row[0]: row[1].partition(" ")[2] for page in tables for row in page.rows}
    if name == "laws":
        assert (units["nucleation_MPa"], units["nucleation_MPa_sqrt_m"]) == ("MPa", "MPa m^0.5")


@pytest.mark.parametrize("name", ["dense_waterfall", "chromoly_steel"])
def test_a_material_is_drawn(name: str, tmp_path: Path) -> None:
    picture = tmp_path / "picture.png"
    result = run(name, "--temperature-C", "-15", "--plot", picture)
    assert result.exit_code == 0 and picture.read_bytes().startswith(PNG) and str(picture) in result.stdout
    assert list(tmp_path.iterdir()) == [picture]


def test_the_picture_of_an_ice_tells_its_curves_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tension and toughness in two styles, extrapolated strength dashed, the kink explained, legends beside curves."""
    drawn: list[Figure] = []
    monkeypatch.setattr(materialfigure, "save", lambda figure, path: drawn.append(figure))
    for name in ("sound_glacier", "dense_waterfall", "chromoly_steel"):
        materialfigure.material_figure(name, -5.0, 10.0, Path("unused.png"))
    for figure in drawn[:2]:
        figure.draw_without_rendering()
        _, laws, surfaces, spread = figure.axes
        lines = {line.get_label(): line for line in laws.lines}
        tension, toughness = lines["tensile strength"], lines["toughness K_IC"]
        assert np.allclose(tension.get_ydata(), toughness.get_ydata())
        assert tension.get_linestyle() != toughness.get_linestyle() and tension.get_color() != toughness.get_color()
        beyond, known = lines["dashed: extrapolated"], lines["compressive strength"]
        assert beyond.get_linestyle() == "--" and known.get_linestyle() == "-"
        assert max(beyond.get_xdata()) == min(known.get_xdata()) == COLDEST_KNOWN_C
        (kink,) = surfaces.texts
        ice = ice_named(figure.get_suptitle().split()[0], -5.0, 10.0)
        p, q = (1e6 * each for each in kink.xy)
        assert "tension cut-off" in kink.get_text() and q == pytest.approx(3 * (p + ice.tensile_strength))
        assert q == pytest.approx(float(ice.surface.envelope(p + 1e5)), rel=0.06), "flatter beyond it"
        for axes in (laws, surfaces, spread):
            assert not axes.get_legend().get_window_extent().overlaps(axes.get_window_extent())
    metal = drawn[2]
    metal.draw_without_rendering()
    (axes,) = metal.axes
    labels = [text.get_window_extent() for text in axes.texts if text.get_text().strip() in metal_names()]
    ends = [axes.transData.transform(point) for line in axes.lines for point in line.get_xydata()]
    assert len(labels) == len(metal_names()) and max(x for x, _ in ends) <= min(label.x0 for label in labels)
    notes = [figure.get_supxlabel() for figure in drawn]
    assert all(note.endswith("Never trust a life to these numbers.") for note in notes)
    assert ["ice varies" in note for note in notes] == [True, True, False]


def test_matplotlib_says_nothing_about_a_home_that_cannot_be_written() -> None:
    """One line on stderr, the command's own."""
    code = "import sys; from icecone.studies.command.main import main; main(sys.argv[1:])"
    home = {**os.environ, "HOME": "/dev/null", "MPLCONFIGDIR": "/dev/null/none", "XDG_CONFIG_HOME": "/dev/null"}
    arguments = ["materials", "firn", "--plot", "no/such/folder/x.png"]
    found = subprocess.run([sys.executable, "-c", code, *arguments], env=home, capture_output=True, text=True)
    assert found.returncode == 2 and len(found.stderr.splitlines()) == 1 and "can be written" in found.stderr


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("slush",), "material = 'slush': must be one of sound_glacier"),
        (("sound_glaicer",), "did you mean sound_glacier?"),
        (("firn", "--temperature-C", "1"), "temperature_C = 1: must lie between -40 and 0 deg C"),
        (("firn", "--temperature-C", "nan"), "temperature_C = nan: must lie between -40 and 0 deg C"),
        (("--load-time-s", "0"), "load_time_s = 0: must lie between 0.01 and 3600 s"),
        (("chromoly_steel", "--temperature-C", "5"), "temperature_C = 5: must lie between -40 and 0 deg C"),
        (("titanium_alloy", "--load-time-s", "nan"), "load_time_s = nan: must lie between 0.01 and 3600 s"),
        (("--plot", "x.png"), "--plot = 'x.png': needs the NAME of one ice or metal"),
        (("laws", "--plot", "x.png"), "--plot = 'x.png': laws has no picture"),
        (("firn", "--plot", "x.jpg"), "--plot = 'x.jpg': must be the name of a .png file"),
        (("firn", "--plot", ""), "--plot = '': must be the name of a .png file"),
        (("firn", "--plot", "."), "--plot = '.': must be the name of a .png file"),
        (
            ("firn", "--plot", "no/such/folder/x.png"),
            "--plot = 'no/such/folder/x.png': must be a file that can be written",
        ),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(
    arguments: tuple[str, ...], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert result.exit_code == 2 and message in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1 and result.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_picture(tmp_path: Path) -> None:
    (tmp_path / "x.png").mkdir()
    result = run("firn", "--plot", tmp_path / "x.png")
    assert result.exit_code == 2 and "x.png': must be the name of a .png file" in result.stderr


def test_pages_show_the_ices_numbers():
    page = one("dense_waterfall", -20.0, 100.0)[0]
    now = {r[0]: r[3] for r in page.rows}
    ice = ice_named("dense_waterfall", -20.0, 100.0)
    assert now["tensile"] == f"{ice.tensile_strength / 1e6:.3g} MPa"
    assert now["K_IC"] == f"{ice.toughness / 1e3:.3g} kPa m^0.5"
    assert (
        now["deviator_cap"] == f"{ice.deviator_cap / 1e6:.3g} MPa"
        and now["peak_pressure"] == f"{ice.peak_pressure / 1e6:.3g} MPa"
    )
    assert (
        now["Poisson's ratio"] == f"{ice.elastic.poissons_ratio:.3g}" and now["density"] == "898.7 kg/m3"
    )  # 0.98 * 917
    assert now["G_c"] == f"{ice.fracture_energy:.3g} J/m2"
    c11, c12, c13, c33, _ = ice.elastic.constants
    along = c33 - 2 * c13**2 / (c11 + c12)
    assert now["E along columns"] == f"{along / 1e9:.3g} GPa" != now["E across columns"]
