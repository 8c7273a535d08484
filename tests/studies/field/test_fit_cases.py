"""The pulls of a fit: priors from the tables, a design, each case solved once; and a fit to pulls of the real model."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from icecone.fem.errors import SolveError
from icecone.materials import assumptions, ice_named
from icecone.materials.draws import spreads_of
from icecone.studies.case.file import CaseError, Settings, settings_from
from icecone.studies.field.emulator import Emulator
from icecone.studies.field.fit import fit_rows
from icecone.studies.field.fit_cases import EDGE, NAME, design, fit_keys, fit_study, priors_of, solve_fit
from icecone.studies.field.pulls import Measured
from icecone.studies.outcome import wanted
from icecone.studies.outcome.wanted import Found

TOUGHNESS, CRUSHING = "ice.K_IC_kPa_sqrt_m", "assumed.crushing_share"
QUIET = Console(quiet=True)


def rows(*angles: float, **more: Any) -> list[Settings]:
    given = {key.replace("__", "."): value for key, value in more.items()}
    return [settings_from({"placement.angle_deg": angle, "tube.hanger_kN": 40.0, **given}) for angle in angles]


def test_priors_are_those_of_the_tables() -> None:
    toughness, crushing = priors_of((TOUGHNESS, CRUSHING), rows(0.0)[0])
    law = spreads_of(ice_named("sound_glacier", -5.0, 10.0))["toughness"]
    shares = np.array([0.05, 0.3, 0.5, 0.95])
    assert toughness.at(shares) == pytest.approx([float(law.quantile(share)) / 1e3 for share in shares], rel=1e-3)
    number = assumptions()["crushing_share"].number
    assert crushing.at(shares) == pytest.approx(number.low + (number.high - number.low) * shares, rel=1e-4)


def test_keys_that_can_be_fitted_are_those_that_move_a_peak_and_need_no_new_law() -> None:
    assert {TOUGHNESS, CRUSHING, "assumed.chip_border_shift_deg", "assumed.steel_friction"} <= set(fit_keys())
    assert not {"assumed.chip_friction", "assumed.sliding_ratio", "ice.E_GPa", "assumed.headed_stud_factor"} & set(
        fit_keys()
    )


@pytest.mark.parametrize(
    "keys, of, told",
    [
        ((), rows(0.0), "fit = nothing: must be one to 3 different keys"),
        ((TOUGHNESS, TOUGHNESS), rows(0.0), "must be one to 3 different keys"),
        (("assumed.chip_friction",), rows(0.0), "fit = assumed.chip_friction: cannot be fitted: its laws take minutes"),
        (("assumed.sliding_ratio",), rows(0.0), "its laws take minutes a value"),
        (("tube.wall_mm",), rows(0.0), r"fit = tube.wall_mm: must be some of ice.K_IC_kPa_sqrt_m, "),
        ((CRUSHING,), rows(0.0, assumed__crushing_share=0.7), "one says assumed.crushing_share = 0.7"),
        ((CRUSHING,), [], "fit: no row"),
        ((TOUGHNESS,), [*rows(0.0), *rows(0.0, ice__kind="bubbly_glacier")], "must be one kind of ice"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_one_line(keys: tuple[str, ...], of: list[Settings], told: str) -> None:
    with pytest.raises(CaseError, match=told) as error:
        fit_study(of, keys, design(1, 8))
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("k, points", [(1, 10), (2, 64), (3, 100)])
def test_a_design_fills_the_cube_and_has_its_corners(k: int, points: int) -> None:
    found = design(k, points)
    assert found.shape == (points + 2**k, k) and len(np.unique(found, axis=0)) == len(found)
    assert found.min() == EDGE and found.max() == 1 - EDGE
    for own in range(k):
        counts = np.histogram(found[:points, own], 5, (0, 1))[0]
        assert counts.min() >= 0.8 * points / 5 - 1
    assert np.array_equal(found, design(k, points)) and not np.array_equal(found, design(k, points, 2))


def test_replicates_share_their_cases_and_the_cases_have_the_values_of_the_priors() -> None:
    of = rows(0.0, 10.0, 0.0)
    at = design(2, 8)
    study, names = fit_study(of, (TOUGHNESS, CRUSHING), at)
    assert len(study.cases) == 2 * len(at) and all(line[0] == line[2] != line[1] for line in names)
    toughness, crushing = priors_of((TOUGHNESS, CRUSHING), of[0])
    by_id = {case.id: study.settings(case) for case in study.cases}
    for point, line in zip(at, names, strict=True):
        settings = by_id[line[1]]
        assert settings["placement.angle_deg"] == 10.0
        assert settings[TOUGHNESS] == pytest.approx(toughness.at(point[0]), rel=1e-3)
        assert settings[CRUSHING] == pytest.approx(crushing.at(point[1]), rel=1e-4)


def test_it_is_taken_up_again_and_what_is_not_solved_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stand-in whose peak is a twentieth of K_IC, and fails below 80 kPa m^0.5; solved in this process."""
    from concurrent.futures import ThreadPoolExecutor
    from contextlib import contextmanager

    asked: list[Settings] = []

    def solve(settings: Settings, wants: Any, say: Any = None) -> tuple[Found, dict[str, str]]:
        asked.append(settings)
        if float(settings[TOUGHNESS]) < 80:
            raise SolveError("no balance")
        return Found(peak_kN=float(settings[TOUGHNESS]) / 20, peak_mode="cone"), {}

    @contextmanager
    def threads(jobs: int) -> Any:
        yield lambda: ThreadPoolExecutor(jobs)

    monkeypatch.setattr(wanted, "solve_wanted", solve)
    monkeypatch.setattr("icecone.studies.sweep.run_many.processes", threads)
    found = solve_fit(rows(0.0, 0.0), (TOUGHNESS,), tmp_path, QUIET, 16, jobs=1)
    assert (tmp_path / NAME).exists() and len(asked) == 18 and found.log_peaks.shape == (18, 2)
    toughness = found.priors[0].at(found.points[:, 0])
    solved = np.isfinite(found.log_peaks[:, 0])
    assert np.array_equal(solved, np.array([mode[0] == "cone" for mode in found.modes])) and 0 < solved.sum() < 18
    assert np.exp(found.log_peaks[solved, 0]) == pytest.approx(toughness[solved] / 20, rel=1e-3)
    solve_fit(rows(0.0, 0.0), (TOUGHNESS,), tmp_path, QUIET, 32, jobs=1)
    assert len(asked) == 18 + 16, "the first half of the longer design was solved before"


@pytest.mark.slow
def test_pulls_of_the_real_model_give_back_what_they_were_pulled_with(tmp_path: Path) -> None:
    """Invented pulls in ice of K_IC at 0.3 and crushing at 0.7 of their priors; three placements, scatter 0.1."""
    truth = np.array([0.3, 0.7])
    of = rows(-20.0, 0.0) + rows(0.0, pull__direction_deg=90.0)
    keys = (TOUGHNESS, CRUSHING)
    found = solve_fit(of, keys, tmp_path, QUIET, 64)
    values = {key: float(prior.at(share)) for key, prior, share in zip(keys, found.priors, truth, strict=True)}
    real = [wanted.solve_wanted({**row, **values}, ("peak",))[0].peak_kN or 0.0 for row in of]
    held = np.zeros(2)
    rng = np.random.default_rng(1)
    emulated = Emulator(found.points, np.repeat(found.log_peaks, 4, axis=1))
    for _ in range(20):
        pulls = [
            Measured(f"{k}-{n}", str(k), float(load * np.exp(0.1 * rng.standard_normal())), False, 0.02, np.ones(1),
                     1.0, "", "", "invented") for k, load in enumerate(real) for n in range(4)
        ]  # fmt: skip
        fit = fit_rows(pulls, emulated, found.priors, cells=32)
        low, high = (fit.grid.percentiles(fit.weights.sum(0), share) for share in (0.05, 0.95))
        held += (low <= truth) & (truth <= high)
        assert fit.gain > 0
    assert np.all(held >= 16), held
