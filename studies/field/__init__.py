"""Measured pulls beside predicted ones.

`table.read_table` reads a CSV file of pulls and names each bad cell. `compare.compare_table` predicts every row and
writes the comparison as table, page and picture.
"""
