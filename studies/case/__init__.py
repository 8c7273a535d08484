"""A case as a user writes it: its keys, its file, its words.

`keys` is the one table of keys, defaults and ranges. `file.read_case` reads a case file, `file.to_case` turns checked
settings into a case in SI units. `words.case_words` says a case in one line. Bad input raises `toml.CaseError`.
"""
