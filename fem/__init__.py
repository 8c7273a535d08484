"""Solving: elasticity, contact, stress recovery, the onset of failure, the cone and the peak.

`elasticity` has the forms on hexahedra and their assembly, `axisymmetric` those of revolution, `solver` the linear
solvers, `contact` the unilateral contact of tube and ice, `stress` the recovery, `criterion` the length-based onset,
`onset` the whole run for one case. The cone as a crack: `energyrelease` (G, K_I, K_II at a tip), `conepull` (a straight
pull with a given crack), `coneonset` and `cone` (its onset, its path, its peak); `slitcone` and `tiltedcone` for every
other pull, `mouthcracks` and `mouthonset` for its first opening crack; `phasefield` and its neighbours as a second
route. The peak: `peaklaws` gathers what `pulloutlaw`, `conefronts`, `chip` and `bearinglaw` say of the ice, `tubepull`
pulls a beam on it, `peak` names what gives way; `crackpull` is its second route.
"""
