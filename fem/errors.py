"""What a solve raises that does not come out."""


class SolveError(RuntimeError):
    """A linear solve, a contact iteration or a balance that did not come out; never a number instead."""
