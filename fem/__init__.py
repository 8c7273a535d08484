"""What happens to a placed tube: ice and steel as solids, cracks in the ice, and the pull to the end.

    solid     elastic bodies, contact, stress            cracks    what drives a crack; slit ice condensed on it
    onset     the load at which the ice first fails      cone      the cone of ice that a pull takes out
    chip      ice that comes away in front               crushing  what confined ice bears, by limit analysis
    laws      the ice as a beam feels it                 tube      a beam on those laws, its peak and mode

Imports flow from left to right in solid -> cracks -> onset | cone | chip | crushing -> laws -> tube. At the root:
`case.Case` is what is asked, `hand` holds formulas to compare with. A run begins at `onset.solve.solve_onset`,
`cone.straight.solve_cone`, `cone.tilted.solve_tilted_cone` or `tube.peak.solve_peak`; what does not come out raises
`errors.SolveError`. Nothing is handed on here, because what a result rests on is found by following imports.
"""
