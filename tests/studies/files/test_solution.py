"""Files of one solved case: fields as another program reads them."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from icecone.fem.onset.fields import node_fields
from icecone.fem.onset.solve import Solution
from icecone.studies.command.main import main
from icecone.studies.files.solution import write_solution
from icecone.studies.outcome.data import Outcome


def test_another_reader_finds_the_same_volume_and_fields(solved: tuple[Outcome, Solution, Path]) -> None:
    """VTK, an independent reader, measures the tube's volume in the file: the pipe's closed form, within 1 %."""
    pyvista = pytest.importorskip("pyvista")
    _, solution, folder = solved
    grid = pyvista.read(folder / "fields.vtu")
    assert set(np.unique(grid.celltypes)) == {29}  # triquadratic hexahedra
    tube = grid.extract_cells(np.flatnonzero(grid.cell_data["region"] == 2))
    measured = tube.compute_cell_sizes(length=False, area=False)["Volume"].sum()
    case = solution.case.tube
    exact = 0.5 * pi * (case.radius**2 - case.bore**2) * case.length * 1e9
    assert measured == pytest.approx(exact, rel=0.01)
    for name, values in node_fields(solution).items():
        assert np.allclose(grid.point_data[name], values)


def test_without_pictures_numbers_and_fields_are_written_all_the_same(
    solved: tuple[Outcome, Solution, Path], tmp_path: Path
) -> None:
    outcome, solution, folder = solved
    write_solution(outcome, solution, tmp_path, pictures=False)
    assert {path.name for path in tmp_path.iterdir()} == {"fields.vtu", "outcome.json"}
    assert (tmp_path / "outcome.json").read_bytes() == (folder / "outcome.json").read_bytes()


def test_a_moving_pull_is_a_picture(tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text("")
    arguments = ["solve", str(case), "--out", str(tmp_path / "out"), "--moving", "--no-pictures"]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2 and "--no-pictures" in done.output and not (tmp_path / "out").exists()
