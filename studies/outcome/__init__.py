"""What a case comes to, as typed data, and how it is found.

`models` names how far a prediction goes; `models.solve_settings` solves one case. `data.Outcome` is the answer, plain
to JSON and back. `onset`, `cone` and `peak` write down what `fem` finds. `wanted` solves what a study asks for, alone.
`cautions` holds what every output must say.
"""
