"""Crushing of confined ice: limit analysis from both sides against closed forms of plasticity.

`stamp_and_wall` takes Prandtl's stamp and walls under a free surface, `disc` a pile in endless Tresca material.
Each file offers `CHECKS`.
"""
