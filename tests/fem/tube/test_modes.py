"""The records of modes: told apart by all eyes, and one place for whatever solver, pictures and words say of them."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from numpy.typing import ArrayLike

from icecone.fem.tube.modes import BEAM, MODES, in_order, is_stated, mode_named

EYES = {  # linear RGB as eyes without red or green cones see it (Machado et al. 2009, severity 1; from memory)
    "all cones": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


@pytest.mark.parametrize("eyes", EYES)
@pytest.mark.parametrize("of", ["colour", "pale"])
def test_modes_of_a_pull_differ_for_all_eyes(eyes: str, of: str) -> None:
    """A difference of 15 in CIELAB (2.3 is just seen) between any two, as lines and markers and as cells of a map."""

    def lab(colour: str) -> ArrayLike:
        rgb = np.array(to_rgb(colour))
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
        xyz = to_xyz @ np.clip(np.array(EYES[eyes]) @ linear, 0, 1) / to_xyz.sum(axis=1)
        x, y, z = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
        return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])

    of_pulls = [mode for mode in MODES.values() if BEAM in mode.routes]
    assert len(of_pulls) == 7
    for one, other in combinations(of_pulls, 2):
        apart = np.linalg.norm(np.subtract(lab(getattr(one, of)), lab(getattr(other, of))))
        assert apart > 15, f"{one.name} and {other.name}: {apart:.1f}"


def test_markers_of_modes_that_one_picture_shows_differ() -> None:
    """Of a pull with hanger and sling, and of the first damage."""
    onset = [mode.marker for mode in MODES.values() if "onset" in mode.routes]
    pulls = [mode.marker for mode in MODES.values() if "onset" not in mode.routes]
    assert len(set(onset)) == len(onset) == 3 and len(set(pulls)) == len(pulls) == 9


def test_a_mode_without_a_record_is_named_as_itself() -> None:
    assert mode_named("of tomorrow").name == "of tomorrow" and not is_stated("of tomorrow") and is_stated("hanger")
    assert in_order({"of tomorrow", "hanger", "cone"}) == ["cone", "hanger", "of tomorrow"]
