"""A cheap stand-in for the model: invented log peaks of six placements that depend on two inputs."""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from icecone.studies.field.emulator import Emulator
from icecone.studies.field.fit_cases import design
from icecone.studies.field.priors import Prior
from icecone.studies.field.pulls import Array, Measured

SHARES = np.linspace(0.0005, 0.9995, 400)
TOUGHNESS = Prior("ice.K_IC_kPa_sqrt_m", SHARES, 120 * np.exp(0.25 * norm.ppf(SHARES)))
CRUSHING = Prior("assumed.crushing_share", SHARES, 0.4 + 1.2 * SHARES)
PRIORS = (TOUGHNESS, CRUSHING)
PLACEMENTS = 6


def log_peaks(shares: Array) -> Array:
    """Log peaks (n, placements) of loads in kN at shares (n, 2): some rise with one input, some with the other."""
    toughness, crushing = np.log(TOUGHNESS.at(shares[:, 0]) / 120), np.log(CRUSHING.at(shares[:, 1]))
    turn = np.linspace(0.0, 0.5 * np.pi, PLACEMENTS)
    bend = 0.15 * np.sin(4 * toughness[:, None] + turn)
    return (
        1.5 + 0.1 * np.arange(PLACEMENTS) + np.cos(turn) * toughness[:, None] + np.sin(turn) * crushing[:, None] + bend
    )


def emulator(replicates: int = 2, points: int = 128) -> Emulator:
    """Of each placement, as often as it is pulled."""
    at = design(2, points)
    return Emulator(at, np.repeat(log_peaks(at), replicates, axis=1))


def pulls(
    truth: Array, rng: np.random.Generator, scatter: float, error: float = 0.03, replicates: int = 2, limit: float = 0.2
) -> list[Measured]:
    """Invented rows of a day; a pull ends before its peak with the chance `limit`, anywhere from half of it on."""
    rows = []
    for placement, log in enumerate(log_peaks(np.atleast_2d(truth))[0]):
        for replicate in range(replicates):
            peak = float(np.exp(log + np.hypot(scatter, error) * rng.standard_normal()))
            end = 0.5 * float(np.exp(log)) + rng.random() * float(np.exp(log)) if rng.random() < 2 * limit else np.inf
            name = f"{placement}-{replicate}"
            load, bound = min(peak, end), end < peak
            rows.append(Measured(name, str(placement), load, bound, error, np.ones(1), 1.0, "", "", "invented"))
    return rows
