"""Colours as eyes see them: CIELAB for eyes with all cones, without the red and without the green ones."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb
from numpy.typing import NDArray

EYES = {  # linear RGB as eyes without red or green cones see it (Machado et al. 2009, severity 1; from memory)
    "all cones": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


def lab(colour: str, eyes: str = "all cones") -> NDArray[np.float64]:
    """L*, a*, b* of a colour; sRGB primaries and white."""
    rgb = np.array(to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ np.clip(np.array(EYES[eyes]) @ linear, 0, 1) / to_xyz.sum(axis=1)
    x, y, z = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def apart(one: str, other: str) -> float:
    """The least CIELAB difference of two colours over the three kinds of eyes; 2.3 is just seen."""
    return min(float(np.linalg.norm(lab(one, eyes) - lab(other, eyes))) for eyes in EYES)


def lightness_apart(one: str, other: str) -> float:
    """Difference of L*: what is left of two colours in grey print."""
    return float(abs(lab(one)[0] - lab(other)[0]))
