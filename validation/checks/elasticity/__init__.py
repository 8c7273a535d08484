"""Elastic bodies against closed forms, benchmarks and manufactured solutions.

Cylinders, holes, cavities, bars, half-spaces, layers and single crystals, meshed by `validation.models.bodies`.
`patch` and `manufactured` test the elements themselves; each file offers `CHECKS`.
"""
