"""The ice as a beam feels it: limits and stiffness along the tube, computed or assumed, as plain data.

`gather.peak_laws` gives a case's `ice_laws.IceLaws`. What goes into it: `cone_load.cone_law`, `threads.thread_limit`,
`wall.bearing_stiffness` and `crushing.crushing_limit`, chips and fronts of cones from their rooms.
"""
