"""The benchmark of the elastic solve, at its smallest size: that it measures, goes on, and says what it could not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from icecone.fem.solid.assembly import assemble_stiffness
from icecone.fem.solid.solver import make_solver
from icecone.validation.benchmarks import elastic_codes, elastic_solve
from icecone.validation.benchmarks.elastic_case import compliance, make_body, rigid_modes
from icecone.validation.benchmarks.elastic_picture import Limit, draw_error_over_time, find_limit
from icecone.validation.models.half_model_case import UPRIGHT, our_glued, ours


def lines(out: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in (out / "rows.jsonl").read_text(encoding="utf-8").splitlines()]


def test_bonded_body_is_the_half_model_with_its_pairs_joined() -> None:
    """One node for a pair of the mesh gives the answer of the matrix with both joined; the family begins at "quick"."""
    body = make_body("25k")
    free, b = body.bonded_free(), body.bonded_load()
    K = assemble_stiffness(body.bonded, body.regions())
    u = make_solver(K[free][:, free].tocsr()).solve(b[free])
    joined = ours(UPRIGHT).compliance(our_glued(UPRIGHT))
    assert compliance(b[free], u) == pytest.approx(joined, rel=1e-10)
    assert abs(K @ rigid_modes(body.bonded.doflocs)).max() < 1e-8 * abs(K).max()


def test_codes_agree_and_a_second_run_measures_nothing_again(tmp_path: Path) -> None:
    """Assembly and solver of ours and scikit-fem's: the same discrete problem; the page holds both."""
    words = [str(tmp_path), "--short", "--codes", "superlu,scikit-fem"]
    elastic_solve.main(words)
    first = lines(tmp_path)
    assert [row["problem"] for row in first] == ["", ""]
    assert first[0]["compliance"] == pytest.approx(first[1]["compliance"], rel=1e-9)
    with (tmp_path / "rows.jsonl").open("a", encoding="utf-8") as file:
        file.write('{"code": "mkl", "si')  # killed while it wrote
    page = (tmp_path / "README.md").read_text(encoding="utf-8")
    (tmp_path / "README.md").unlink()
    assert len(elastic_solve.read_rows(tmp_path / "rows.jsonl")) == 2
    elastic_solve.main(words)
    assert (tmp_path / "README.md").read_text(encoding="utf-8") == page
    assert (tmp_path / "rows.jsonl").read_text(encoding="utf-8").count("\n") == 2
    assert "| icecone, SuperLU |" in page and "| scikit-fem, plain |" in page


def test_caps_and_missing_codes_are_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What does not fit says so, and the next size is not tried; a code that is not installed is named."""
    missing = elastic_codes.Code("NGSolve, direct", elastic_codes.scikit_fem, "no_such")
    monkeypatch.setitem(elastic_codes.CODES, "ngsolve", missing)
    words = [str(tmp_path), "--sizes", "tiny,25k", "--threads", "1", "--codes", "superlu,ngsolve"]
    elastic_solve.main([*words, "--memory", "0.01"])
    problems = [str(row["problem"]) for row in lines(tmp_path)]
    assert problems == ["over 0.01 GB: did not fit, stopped", "not tried: tiny did not come out"]
    page = (tmp_path / "README.md").read_text(encoding="utf-8")
    assert "| NGSolve, direct | not installed | |" in page and "| icecone, SuperLU | over 0.01 GB | not tried |" in page
    elastic_solve.main([str(tmp_path), "--short", "--codes", "superlu"])
    assert lines(tmp_path)[-1]["problem"] == "" and len(lines(tmp_path)) == 3


def test_a_wrong_word_is_refused_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, the word and what is allowed; nothing is written."""
    with pytest.raises(SystemExit) as refused:
        elastic_solve.main([str(tmp_path / "new"), "--sizes", "25k,huge"])
    assert refused.value.code == 2 and "'huge': must be of tiny, 25k" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_limit_is_found_again(tmp_path: Path) -> None:
    """C(n) = 14 (1 - 0.02 n^-2.5): Richardson from three sizes gives 14 and 2.5; from sizes that swing, none."""
    n = {"25k": 1.0, "90k": 1.5, "190k": 2.05}
    limit = find_limit({size: 14 * (1 - 0.02 * each**-2.5) for size, each in n.items()})
    assert limit is not None
    assert (limit.compliance, limit.rate) == (pytest.approx(14, rel=1e-9), pytest.approx(2.5, rel=1e-6))
    assert find_limit({"25k": 1.0, "90k": 1.1, "190k": 1.05}) == Limit(1.05, 0.0, ("190k",))
    assert find_limit({"25k": 1.0, "90k": 1.1}) is None
    values = {size: 14 * (1 - 0.02 * each**-2.5) for size, each in n.items()}
    rows = [
        {"code": "mkl", "size": size, "threads": 1, "problem": "", "compliance": C, "wall": {"setup": n[size]}}
        for size, C in values.items()
    ]
    draw_error_over_time(rows, tmp_path / "it.png")
    assert (tmp_path / "it.png").stat().st_size > 10_000
