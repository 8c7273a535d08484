"""The stiffness of ice against measured crystals, bounds and closed forms.

`ice_stiffness` follows `materials` from the single crystal to porous ice.
The file offers `CHECKS`.
"""
