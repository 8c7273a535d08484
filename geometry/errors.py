"""What a placement raises that cannot be meshed."""


class MeshError(ValueError):
    """A placement that the mapped mesh cannot follow; the message names the parameters."""
