"""Ices and metals as traceable data: every value in `data/*.toml` with its source, how it is known and its range.

`data_file` reads the tables, `ice` and `metal` hand out what the solver needs. No number of a material stands in code.
"""

from .ice import COLDEST_C, WARMEST_C, Ice, ice_named, ice_names
from .metal import Metal, metal_named

__all__ = ["COLDEST_C", "WARMEST_C", "Ice", "Metal", "ice_named", "ice_names", "metal_named"]
