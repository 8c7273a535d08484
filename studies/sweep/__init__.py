"""Many cases: a study file read, solved, tabled, drawn and told.

`study.read_study` reads and checks a study file. `run.run_study` solves it and writes its tables, words and pictures.
`runner.run_cases` solves a list of cases, one record each, and takes up where it was stopped.
"""
