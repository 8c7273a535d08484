"""Files that are whole or absent, and records that say what they rest on.

`answer.answer` replaces the files of a results folder all at once. `store` writes and reads records with a digest,
`records` those of a study of many cases, in one file.
`provenance` says which code and values a result rests on. `laws.kept_law` keeps laws; `renew` renews those shipped.
"""
