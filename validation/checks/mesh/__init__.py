"""What the mesh costs: reported quantities against those of an infinitely fine one.

`meshes` refines the standard case and extrapolates.
The file offers `CHECKS`.
"""
