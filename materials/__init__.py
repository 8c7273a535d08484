"""Ices and metals as traceable data: every value in `data/*.toml` with its source, how it is known and its range.

`data_file` reads the tables. Stiffness of ice: `tensor`, `crystal` (single crystal, temperature, fabric), `porosity`.
Strength: `strength` (laws), `surface` (multi-axial failure), `spread` and `draws` (scatter, Monte Carlo),
`weakest_link` (size effect). `ice` and `metal` hand out what the solver needs, `assumed` what is assumed besides. No
number of a material stands in code.
"""

from .assumed import Assumed, assumed_from, assumptions, default_assumed
from .crystal import COLDEST_C, FABRICS, WARMEST_C
from .ice import OVERRIDES, Ice, check_ice, ice_named, ice_names
from .metal import Metal, metal_named, metal_names
from .porosity import SCHEMES as PORE_SCHEMES
from .strength import LONGEST_S, SHORTEST_S, SIZE_EFFECTS, check_size_effect
from .surface import SURFACES as CRITERIA

__all__ = [
    "COLDEST_C",
    "CRITERIA",
    "FABRICS",
    "LONGEST_S",
    "OVERRIDES",
    "PORE_SCHEMES",
    "SHORTEST_S",
    "SIZE_EFFECTS",
    "WARMEST_C",
    "Assumed",
    "Ice",
    "Metal",
    "assumed_from",
    "assumptions",
    "check_ice",
    "check_size_effect",
    "default_assumed",
    "ice_named",
    "ice_names",
    "metal_named",
    "metal_names",
]
