"""Bodies that the checks solve, and half models that other codes solve too.

`bodies` makes small solids. `half_model_case` holds the settings and our own answers; `ngsolve_model` (mesh in
`ngsolve_mesh`) and `felupe_model` solve the same half models by those codes.
"""
