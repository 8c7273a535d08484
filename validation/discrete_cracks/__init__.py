"""The second route to the peak: sharp cracks in one elastic body, opened in turn.

`pull.crack_pull` follows one pull; `pull.least_pull` takes the least over the cones of a family. `ring_tube` balances
the beam on rings of the wall; `chip_slits` makes the cracks of chips, `chip_growth` drives them outwards and sideways,
`loose_ice` tells whether a piece jams or slides out, `left_ice` keeps what is left.
"""
