"""The checks by group; a new file is found by itself.

Each file has equations, source and limits at its head and a tuple `CHECKS` of `validation.check.Check` at its end.
`validation.pack` finds the files of these folders and keeps the order of their names.
"""
