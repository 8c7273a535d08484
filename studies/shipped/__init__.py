"""What comes with icecone: study files, laws of the ice, pictures; no code.

`sweep.study.shipped_studies` finds the study files by name. `days` holds plans of days of pulls, invented and without
results, with a page each. `files.laws` looks up the laws after the user's own; `files.renew` computes them again. The
pictures are those of the README pages.
"""
