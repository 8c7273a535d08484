"""The command line `icecone` and what it prints.

`main` holds the commands, `errors` turns each failure into one line and an exit code. `screen` prints outcomes, studies
and comparisons; `rows` chooses what it says of one case. Numbers and plain text are written by `numbers`, `plain_text`.
"""
