"""Crushing: what confined ice bears when a rigid face is pushed into it, by limit analysis from both sides.

`disc.crushing_factor` is the tube deep in the ice with a gap behind it, `wedge.surface_factor` a wall under a free
surface against its angle; `limit_analysis.lower_bound` and `limit_analysis.upper_bound` do the work for any section.
"""
