"""Measured pulls beside predicted ones, and a day of pulls: its rig, its places, its sheet, the pin that settles a law.

`table.read_table` reads a CSV file of pulls and names each bad cell. `compare.compare_table` predicts every row and
writes the comparison as table, page and picture. `rig` and `rig_verdict` say what a hauling rig lacks, `spacing` which
placements stand too near. `sheet` holds what a field sheet says, `sheet_pdf` and `sheet_page` draw it. `pin_push`,
`pin_fit` and `pin_words` say what pushes of a stiff pin settle.
"""
