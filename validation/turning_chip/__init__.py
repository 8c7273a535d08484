"""Which ice goes, by a third way: a crack in front of the tube, followed in three dimensions as its surface turns.

`surface.turning_slit` meshes a surface whose generators turn; `follow.follow_turning_chip` follows the crack ring by
ring. Plane sections (`fem.chip.path`) and straight faces (`fem.chip.growth`) are the other two.
"""
