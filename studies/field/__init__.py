"""Days of pulls: one table for plan, field sheet and results.

`table`, `cells`, `columns` read it. `plan`, `rig`, `spacing`, `tell_apart`, `sheet` plan the day. `compare` and
`agreement` hold it against the model, `fit` and `next_pull` learn from it. `pin_push` is the experiment that settles
which ice goes.
"""
