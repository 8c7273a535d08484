"""Results in the field's own tools: dimensions, units, words and cautions survive each file; one line opens them."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from icecone.studies.case.file import CaseError
from icecone.studies.files.records import Kept, Record, Records
from icecone.studies.outcome.cautions import CAUTION, PULL_CAUTION
from icecone.studies.outcome.wanted import columns
from icecone.studies.sweep.tables import FILES, NAME, Results, data_dictionary, read_results, write_results

TOP = Path(__file__).resolve().parents[3]
ANGLE, METAL, TENSILE = "placement.angle_deg", "tube.metal", "ice.tensile_MPa"
ABOUT = {
    "title": "invented",
    "question": "how wide?",
    "want": ["peak"],
    "dims": {ANGLE: 2, METAL: 2, "draw": 3},
    "axes": {ANGLE: [-20.0, 0.0], METAL: ["titanium_alloy", "chromoly_steel"]},
    "keys": [ANGLE, METAL, TENSILE],
    "given": {"tube.od_mm": 18},
}


def kept() -> Kept:
    """Two axes and three draws; numbers say their places; one case has failed, one is not solved."""
    cases, records = [], {}
    for a, angle in enumerate(ABOUT["axes"][ANGLE]):
        for m, metal in enumerate(ABOUT["axes"][METAL]):
            for d in range(3):
                name = f"{a}{m}{d}"
                cases.append((name, {ANGLE: angle, METAL: metal, TENSILE: 1.0 + d}))
                found = {"peak_kN": 100.0 * a + 10 * m + d, "peak_mode": "cone" if d else "tube bends"}
                records[name] = Record(name, found, {})
    records["010"] = Record("010", {}, {}, "no equilibrium")
    del records["112"]
    return Kept(ABOUT, tuple(cases), records, ("code 1; numpy 2",))


@pytest.fixture
def results() -> Results:
    return Results.of(kept())


def test_a_dataset_has_the_axes_as_dimensions(results: Results) -> None:
    """Values lie where the axes say; what was drawn depends on the draw alone."""
    pytest.importorskip("xarray")
    data = results.to_xarray()
    assert dict(data.sizes) == ABOUT["dims"] and data[TENSILE].dims == ("draw",)
    assert data.peak_kN.sel({ANGLE: 0.0, METAL: "titanium_alloy", "draw": 3}) == 102
    assert np.isnan(data.peak_kN[0, 1, 0]) and data.problem[0, 1, 0] == "no equilibrium"
    assert data.problem[1, 1, 2] == "not solved yet" and data.peak_mode[0, 0, 0] == "tube bends"


def test_what_a_column_is_and_the_caution_stand_as_attributes(results: Results) -> None:
    pytest.importorskip("xarray")
    data = results.to_xarray()
    assert data.peak_kN.attrs == {"units": "kN", "long_name": "largest load up to the stops"}
    assert (
        data[ANGLE].attrs == {"units": "deg", "long_name": "placement angle"} and data[TENSILE].attrs["units"] == "MPa"
    )
    for name in (*data.coords, *data.data_vars):
        assert data[name].attrs["long_name"], name
        assert data[name].dtype.kind != "f" or data[name].attrs["units"], name
    assert CAUTION in data.attrs["caution"] and PULL_CAUTION in data.attrs["caution"]
    assert data.attrs["rests_on"] == "code 1; numpy 2" and "tube.od_mm" in data.attrs["case"]


def test_each_file_opens_in_one_line_with_the_same_numbers(results: Results, tmp_path: Path) -> None:
    pandas, xarray = pytest.importorskip("pandas"), pytest.importorskip("xarray")
    written = write_results(results, tmp_path)
    assert written == [name for name in FILES if (tmp_path / name).exists()]
    frames = {"table.csv": pandas.read_csv(tmp_path / "table.csv", comment="#")}
    if "results.parquet" in written:
        frames["results.parquet"] = pandas.read_parquet(tmp_path / "results.parquet")
        assert CAUTION in frames["results.parquet"].attrs["caution"]
        assert frames["results.parquet"].attrs["columns"]["peak_kN"]["units"] == "kN"
    for frame in frames.values():
        assert list(frame.columns) == list(results.names)
        np.testing.assert_array_equal(frame["peak_kN"], results.values("peak_kN"))
        assert list(frame["draw"]) == 4 * [1, 2, 3] and list(frame[METAL].unique()) == ABOUT["axes"][METAL]
    if "results.nc" in written:
        with xarray.open_dataset(tmp_path / "results.nc") as data:
            xarray.testing.assert_identical(data.load(), results.to_xarray())


def test_a_csv_says_the_caution_once_and_needs_no_package(results: Results, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr("icecone.studies.sweep.tables.find_spec", lambda name: None)
    assert write_results(results, tmp_path) == ["table.csv"]
    text = (tmp_path / "table.csv").read_text()
    assert text.count(CAUTION) == 1 and text.startswith("# invented\n") and len(text.splitlines()) == 4 + 1 + 12


def test_rows_of_several_keys_are_coordinates_of_their_axis() -> None:
    """A number and a word along `row`."""
    pytest.importorskip("xarray")
    keys = ["tube.od_mm", METAL]
    cases = tuple((name, {keys[0]: od, METAL: metal}) for name, od, metal in (("a", 16.0, "x"), ("b", 18.0, "y")))
    about = {**ABOUT, "dims": {"row": 2}, "axes": {"row": [1, 2]}, "keys": keys}
    data = Results.of(Kept(about, cases, {}, ())).to_xarray()
    assert data["tube.od_mm"].dims == ("row",) and list(data[METAL].values) == ["x", "y"] and list(data.row) == [1, 2]


def test_ten_thousand_records_open_in_a_second(tmp_path: Path) -> None:
    about = {**ABOUT, "dims": {"draw": 10_000}, "axes": {}, "keys": [TENSILE]}
    found = {column.name: 1.0 if column.is_number else "cone" for column in columns(("peak",))}
    with Records(tmp_path / NAME, ("peak",)) as records:
        records.plan(about, ((f"{number}", {TENSILE: 1.0 + number}) for number in range(10_000)))
        records.keep((Record(f"{number}", found, {"law.json": "d" * 64}) for number in range(10_000)), "code 1")
    start = time.process_time()
    results = read_results(tmp_path)
    took = time.process_time() - start
    assert len(results.rows) == 10_000 and results.values("peak_kN").sum() == 10_000
    assert took < 1.0


def test_a_folder_without_results_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="no results of a study of many cases"):
        read_results(tmp_path)
    assert not list(tmp_path.iterdir())


def test_the_page_of_the_studies_holds_the_data_dictionary() -> None:
    assert data_dictionary().strip() in (TOP / "studies" / "README.md").read_text(encoding="utf-8")
