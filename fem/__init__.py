"""Solving: elasticity on hexahedra, contact, stress recovery and the onset of failure.

`elasticity` has the forms and their assembly, `solver` the linear solvers, `contact` the unilateral contact of tube
and ice, `stress` the recovery, `criterion` the length-based onset, `onset` the whole run for one case.
"""
