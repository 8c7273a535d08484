"""Runs what `validation` holds and writes what agrees with what.

`run.run_pack` runs the checks; `page` and `figures` write them as `validation.md` and pictures. `two_routes.run_routes`
pulls the cases of `both_routes` by both routes to the peak, `turning.run_turning` follows cracks that turn.
"""
