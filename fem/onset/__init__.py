"""The load at which the ice first fails: the end of elastic behaviour, before any crack grows.

`solve.solve_onset` runs one case, `criterion.find_onset` judges its stress over a length, `mouth.solve_mouth_onset`
asks for the energy of cracks at the mouth as well, `fields.to_meshio` gives what a picture is drawn from.
"""
