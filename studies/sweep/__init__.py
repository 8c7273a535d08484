"""Many cases: a study file read, solved, tabled, drawn and told.

`study.read_study` reads and checks a study file. `run.run_study` solves it and writes its tables, words and pictures.
`runner.run_cases` solves a list of cases, one record each, and takes up where it was stopped.

Thousands: `many.read_many` reads what is wanted, `axes` and `draws` (`distributions`) say of which cases, `run_many`
solves them into `files.records` by the workers of `work`, and `tables` hands the results to other tools.

A design search: `demand.read_design` reads what is demanded, `lightest` finds the tubes, `verdict` says what their
pulls prove, `run_design` writes the answer.
"""
