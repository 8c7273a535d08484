"""`icecone materials`: every ice and metal with its sources, one value by value, a small picture, clear errors."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from icecone.materials import ice_named, ice_names, metal_names
from icecone.materials.data_file import Value, read_tables, read_values
from icecone.studies.cli import main
from icecone.studies.materialpages import LAWS, one, overview

PNG = b"\x89PNG\r\n"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["materials", *(str(argument) for argument in arguments)])


def test_the_list_shows_every_material_and_every_source() -> None:
    """Each number cites a source by number; each number cited is listed, with how it is known."""
    ices, metals, sources = overview(-5.0, 10.0)
    assert [row[0] for row in ices.rows] == ice_names() and [row[0] for row in metals.rows] == metal_names()
    cited = {
        part.rstrip("]") for page in (ices, metals) for row in page.rows for cell in row for part in cell.split("[")[1:]
    }
    assert cited == {number for number, _ in sources.rows}
    text = " ".join(text for _, text in sources.rows)
    for kind in ice_names():
        stated = read_values("ices.toml", kind)
        for name in ("tensile_MPa", "K_IC_kPa_sqrt_m", "compressive_MPa", "fabric", "porosity"):
            assert f"{stated[name].how}: {stated[name].source}" in text
    result = run()
    assert result.exit_code == 0 and "Research and teaching only" in result.stdout
    assert all(name[:12] in result.stdout for name in (*ice_names(), *metal_names()))


def test_one_ice_is_shown_value_by_value_in_its_state() -> None:
    """Stated value, range, how known, source, and what the laws make of it at this temperature and loading time."""
    page = one("bubbly_glacier", -20.0, 100.0)
    rows = {row[0]: row for row in page.rows}
    ice = ice_named("bubbly_glacier", -20.0, 100.0)
    for value in read_values("ices.toml", "bubbly_glacier").values():
        name = value.name.removesuffix("_MPa").removesuffix("_kPa_sqrt_m").removesuffix("_mm")
        assert rows[name][-2:] == (value.how, value.source)
        if isinstance(value, Value):
            assert rows[name][1].startswith(f"{value.value:.3g}") and f"{value.high:.3g}" in rows[name][2]
    assert rows["compressive"][3] == f"{ice.compressive_strength / 1e6:.3g}"
    assert rows["Young's modulus"][3] == f"{ice.elastic.youngs_modulus / 1e9:.3g} GPa"
    assert rows["critical distance"][3] == f"{ice.critical_distance * 1e3:.3g} mm"
    assert "Young's modulus along the columns" not in rows
    columnar = {row[0] for row in one("dense_waterfall", -20.0, 100.0).rows}
    assert {"Young's modulus along the columns", "Young's modulus across the columns"} <= columnar
    assert {len(row) for row in page.rows} == {len(page.columns)}


@pytest.mark.parametrize("name", ["titanium_alloy", *LAWS])
def test_metals_and_laws_are_shown_too(name: str) -> None:
    page = one(name, -5.0, 10.0)
    assert {len(row) for row in page.rows} == {len(page.columns)}
    tables = [name] if name not in LAWS else list(read_tables(LAWS[name]))
    file = LAWS.get(name, "metals.toml")
    assert len(page.rows) == sum(len(read_values(file, table)) for table in tables)
    assert run(name).exit_code == 0


@pytest.mark.parametrize("name", ["dense_waterfall", "chromoly_steel"])
def test_a_material_is_drawn(name: str, tmp_path: Path) -> None:
    picture = tmp_path / "picture.png"
    result = run(name, "--temperature-C", "-15", "--plot", picture)
    assert result.exit_code == 0 and picture.read_bytes().startswith(PNG) and str(picture) in result.stdout
    assert list(tmp_path.iterdir()) == [picture]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("slush",), "material = 'slush': must be one of sound_glacier"),
        (("sound_glaicer",), "did you mean sound_glacier?"),
        (("firn", "--temperature-C", "1"), "temperature_C = 1: must lie between -40 and 0 deg C"),
        (("firn", "--temperature-C", "nan"), "temperature_C = nan: must lie between -40 and 0 deg C"),
        (("--load-time-s", "0"), "load_time_s = 0: must lie between 0.01 and 3600 s"),
        (("--plot", "x.png"), "--plot = x.png: needs the NAME of one ice or metal"),
        (("laws", "--plot", "x.png"), "--plot = x.png: laws has no picture"),
        (("firn", "--plot", "x.jpg"), "--plot = x.jpg: must end in .png"),
        (
            ("firn", "--plot", "no/such/folder/x.png"),
            "--plot = no/such/folder/x.png: must be a file that can be written",
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
