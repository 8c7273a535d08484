"""What every crack method shares: what drives a crack, and ice that is slit along a surface and condensed on it.

`stress_intensity.intensity` gives G, K_I, K_II at a tip, `slit_faces.release` what opening faces release,
`friction.solve_faces` faces that rub, `condensed_ice.condense_ice` the ice round a slit, `wall_loads.ring_loads` loads
on the wall of the hole, `slit.make_slit` a surface on which a `slit.Crack` may grow.
"""
