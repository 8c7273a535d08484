"""What is placed and how it is meshed.

`placement` holds plain checked data (tube, placement, pull) and the signs; `o_grid` (across the axis), `layers` (along
it) and `half_model` build the mapped hexahedral half model with its regions, surfaces and contact pairs; `quality`
measures a mesh. Nothing here knows of forces or materials. Nothing is handed on here: what is
placed loads no mesh.
"""
