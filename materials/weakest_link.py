"""Size effect on the tensile strength of ice by the weakest link: the more ice is under tension, the weaker it is.

    k = (V_0 / V_e)^(1/m)         tensile strength over that of the tests                                     [-]
    k <= max(1, sqrt(2 L / d))    L = (K_IC / sigma_t)^2 / pi,  d: grain size
    V_e                           effective volume of the body (`spread.effective_volume`)                    [m3]
    V_0                           volume under even tension in the tests (`data/laws.toml`)                   [m3]
    m                             Weibull modulus of the tests' scatter (`data/laws.toml`)                    [-]

Weibull 1939, from memory (`spread`). The bound: ice has flaws about as long as a grain wherever it is stressed
(Petrovic 2003), so a small volume is no stronger than K_IC / sqrt(pi d / 2), the strength of a crack of one grain;
where grains are longer than 2 L nothing is raised. Without the bound a volume of some grains, as at the mouth of a
hole, would be six times as strong as a test. Large volumes have no bound.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from .data_file import Value, Word, read_numbers, read_values
from .ice import Ice
from .spread import Spread


@dataclass(frozen=True, slots=True)
class WeakestLink:
    """spread : of the tests' tensile strength over its mean.  reference_volume : V_0 [m3]."""

    spread: Spread
    reference_volume: float

    @property
    def modulus(self) -> float:
        """m [-]."""
        return self.spread.weibull_modulus

    def factor(self, volume: float) -> float:
        """k [-] of an effective volume [m3], without its bound; inf for none."""
        if volume == 0:
            return inf
        return self.spread.at_volume(volume, self.reference_volume).mean / self.spread.mean


def weakest_link() -> WeakestLink:
    """The law as `data/laws.toml` states it."""
    entry = read_values("laws.toml", "spread_tensile")
    cov, distribution = entry["cov"], entry["distribution"]
    assert isinstance(cov, Value) and isinstance(distribution, Word)
    volume = read_numbers("laws.toml", "size_effect")["reference_volume_mm3"]
    return WeakestLink(Spread(distribution.word, 1.0, cov.value), volume)


def largest_factor(ice: Ice) -> float:
    """The bound of k [-]."""
    return max(1.0, sqrt(2 * ice.critical_distance / ice.grain_size))
