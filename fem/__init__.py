"""Solving: elasticity, contact, stress recovery, the onset of failure, the cone and the peak.

`solid.elasticity` has the forms on hexahedra and their assembly, `solid.axisymmetric` those of revolution,
`solid.solver` the linear solvers, `solid.contact` the unilateral contact of tube and ice, `solid.stress` the recovery,
`onset.criterion` the length-based onset, `onset.solve` the whole run for one case. The cone as a crack:
`cracks.stress_intensity` (G, K_I, K_II at a tip), `cone.threaded_pull` (a straight pull with a given crack),
`cone.first_crack` and `cone.straight` (its onset, its path, its peak); `cone.condensed` and
`cone.tilted` for every other pull, `onset.mouth_cracks` and `onset.mouth` for its first opening
crack; `validation.phase_field.solve` and its neighbours as a second route. The peak: `laws.gather` gathers what
`laws.cone_load`, `cone.fronts`, `chip.growth` and `laws.wall` say of the ice, `tube.pull` pulls a beam
on it, `tube.peak` names what gives way; `validation.discrete_cracks.pull` is its second route.
"""
