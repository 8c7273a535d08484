"""Chips: ice that comes away in front of a tube which is pressed sideways into the wall of the hole.

`growth.chip_law` gives the largest push down to each depth over a family of surfaces (one of them: `body.chip_body`,
`growth.open_chip`), `path.follow_chip` lets a crack find its way in a plane section.
"""
