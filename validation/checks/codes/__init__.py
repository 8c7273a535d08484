"""Whole half models against other codes on the same mesh.

`ngsolve` and `felupe` compare stiffness, load, displacement and stress; `clarabel` solves contact by another method.
They need the optional packages of `pip install 'icecone[reference]'`; each file offers `CHECKS`.
"""
