"""Whether the equations are the right ones: checks, second routes, tables of pulls.

`pack.pack` finds every check of `checks/`, `pack.run_check` runs one; `check.Check` says what a check is. A second
route to the peak is `discrete_cracks.pull`, one to cracks `phase_field`. Only `studies` imports this room.
"""
