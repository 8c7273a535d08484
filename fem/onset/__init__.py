"""The load at which the ice first fails: the end of elastic behaviour, before any crack grows.

`solve.solve_onset` runs one case: `elastic.solve_field` gives its stress, `criterion.find_onset` judges that over a
length. `mouth.solve_mouth_onset` asks for the energy of cracks at the mouth as well, `fields.to_meshio` gives what a
picture is drawn from.
"""
