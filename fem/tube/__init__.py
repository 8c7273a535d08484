"""The tube as a beam on the laws of the ice, pulled to its end: curve, events, peak and mode.

`peak.solve_peak` names the peak and what gives way, `pull.solve_pull` makes the curve, `edges.neighbours` are what
an input a little different would hold. Beneath: `beam.resist`, `cross_section.respond`, `ice_forces.spring_forces`, and
`equilibrium.find` for one step.
"""
