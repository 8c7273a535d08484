"""The cone of ice that a pull takes out, as a crack: three ways to its load, by how much of the pull is straight.

`straight.solve_cone` follows the crack of a straight pull from a thread ring (onset by `first_crack.cone_onset`),
`tilted.solve_tilted_cone` tries a family of cones under any pull, `fronts.front_weights` says what loads on the wall of
the hole do to a cone from the tip.
"""
