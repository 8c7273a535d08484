"""Cracks, chips and cones against closed forms, formulas and a second method.

Stress intensity and energy release, onset at cracks and holes, paths and loads of chips and cones.
`phase_field` and `chip_field` set the sharp crack against smeared damage; each file offers `CHECKS`.
"""
