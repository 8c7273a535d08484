"""Size effect of the weakest link: its power law, its bound by the grain, its stated numbers."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi, sqrt

import pytest

from icecone.materials import check_size_effect, ice_named
from icecone.materials.draws import spreads_of
from icecone.materials.spread import Spread
from icecone.materials.weakest_link import WeakestLink, largest_factor, weakest_link

ICE = ice_named("sound_glacier", -10.0)


def test_strength_falls_with_the_root_of_order_m_of_the_volume() -> None:
    """Weibull 1939: k = (V_0 / V)^(1/m), one at the tests' volume; no volume, no weak link."""
    law = WeakestLink(Spread("weibull", 1.0, 0.2), 3e-4)
    assert law.factor(3e-4) == pytest.approx(1.0, rel=1e-14)
    assert law.factor(3e-4 * 2**law.modulus) == pytest.approx(0.5, rel=1e-12)
    assert law.factor(3e-4 / 3**law.modulus) == pytest.approx(3.0, rel=1e-12)
    assert law.factor(0.0) == inf


def test_the_law_is_that_of_the_data_files() -> None:
    """m is that of the spread of tensile strength, about 5; V_0 is 0.4 litres."""
    law = weakest_link()
    assert law.modulus == spreads_of(ICE)["tensile"].weibull_modulus == pytest.approx(5.0, abs=0.03)
    assert law.reference_volume == pytest.approx(4e-4)


def test_no_ice_is_stronger_than_a_crack_of_one_grain_lets_it_be() -> None:
    """K_IC / sqrt(pi d / 2) by hand; an ice that is stronger already is left as it is."""
    ice = replace(ICE, toughness=1.2e5, tensile_strength=1e6, grain_size=2e-3)
    assert largest_factor(ice) * 1e6 == pytest.approx(1.2e5 / sqrt(pi * 1e-3), rel=1e-12)
    assert largest_factor(replace(ice, grain_size=0.02)) == 1.0


def test_a_word_that_names_no_size_effect_is_refused() -> None:
    check_size_effect("weakest_link")
    with pytest.raises(ValueError, match=r"^size_effect = 'weibull': must be one of none, weakest_link$"):
        check_size_effect("weibull")
