"""Cracks as smeared damage, which nobody tells where to run: the second route to cracks.

`model.make_damage_model` sets up a body, `solve.follow_damage` follows its energy, `energy_split` says what broken ice
still holds. `pull.pull_out` pulls a cone; `chip.chip_field` breaks the ice in front of a wall (mesh: `even_wedge`).
"""
