"""The ice that is left while chips come away: what holds its cracks, which pieces lie loose, what rings may bear.

    hanging   a chip's crack is through: the thin rest above its last ring is taken out of its slit
    loose     it has gone all round: a piece (`loose_ice`); threads above its start hold no more, and rings of the wall
              above bear only thrusts that jam it
    gone      it bore no thrust of its own side: it slid out, and all slits that are left are condensed without it

A ring that starts above a slit and ends below counts by its share. Rings whose ice is gone keep their flexibility in
whole ice, as springs of their own, should the piece before them jam later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.cracks.slit import Crack, Slit
from ...fem.cracks.wall_loads import THREADS, Rings
from .chip_growth import Chip
from .chip_slits import condensed_again, side_of, turned
from .loose_ice import Piece, bears, hanging, loose_piece, lost_elements, rim_elements
from .ring_tube import TOE, RingState, RingTube

Array = NDArray[np.float64]
Known = dict[tuple[int, bytes], Slit]


class LeftIce:
    """A case's cracks and loose pieces; the last slit's mesh gives the flexibility of ice without cracks.

    known : slits condensed before, which pulls of one case may share.
    """

    def __init__(self, case: Case, rings: Rings, slits: Sequence[Slit], known: Known | None = None) -> None:
        self.case, self.rings = case, rings
        self.known: Known = {} if known is None else known
        self.cracks = [Crack(slit) if slit.kind == "cone" else Chip(slit) for slit in slits]
        self.base = slits[-1]
        self.bonded = 2 * self.base.C
        self.whole = np.diag(self.bonded).copy()
        self.pieces: list[Piece] = []
        self.slid: list[Piece] = []
        self.stale: list[Crack] = []
        self.lost = np.zeros(len(self.whole), bool)

    def flexibility(self, f: Array) -> Array:
        """F (n, n) of the rings with all cracks as they are, under loads f (n,) [m/N]."""
        F = self.bonded + sum(crack.softening(f) for crack in self.cracks if crack.ring)
        F[self.lost] = F[:, self.lost] = 0.0
        F[self.lost, self.lost] = self.whole[self.lost]
        return np.asarray(F)

    def come_through(self, chip: Chip) -> None:
        """A chip hangs by its sides; smaller ones of its side are part of it."""
        same = [c for c in self.cracks if c.slit.kind == chip.slit.kind and c.slit.start < chip.slit.start + 1e-9]
        self.cracks = [c for c in self.cracks if c is chip or c not in same]
        chip.hanging = True
        if not chip.loose:
            self._condense(chip)

    def come_loose(self, chip: Chip) -> None:
        """A chip that is through has gone all round."""
        side, slit = side_of(chip.slit.kind), chip.slit
        self.cracks.remove(chip)
        self.pieces.append(loose_piece(slit.cone, turned(self.case, side).placement, side, slit.friction))

    def limits(self, tube: RingTube, state: RingState) -> tuple[Array, list[Piece]]:
        """Largest loads (k,) [N] of a tube's rings, and the pieces that bear nothing as it stands."""
        high, idle = tube.high.copy(), []
        lean = tube.beam.angle + state.q[tube.node, 2]
        for piece in self.pieces:
            above = self.above(tube, piece)
            across = (tube.kind != TOE) & (tube.kind != THREADS) & (above > 0)
            pushed = tube.sign * piece.side
            borne = np.zeros(len(high), bool)
            borne[across] = bears(piece, tube.depth[across], lean[across], pushed[across])
            high = np.where(borne, high, np.minimum(high, (1 - above) * tube.high))
            if not (borne & (pushed > 0)).any():
                idle.append(piece)
        return high, idle

    def above(self, tube: RingTube, piece: Piece) -> Array:
        """Share of each ring's hat that lies above a piece's start; 0 for the toe."""
        h = self.rings.s[1] - self.rings.s[0]
        t = np.clip((piece.cone.shape.start - tube.depth) / h, -1.0, 1.0)
        return np.where(tube.kind == TOE, 0.0, 0.5 + t - 0.5 * t * np.abs(t))

    def lose(self, tube: RingTube, pieces: Sequence[Piece]) -> None:
        """These pieces slide out; every slit is condensed again. Raises SolveError as `condense_ice`."""
        self.slid += pieces
        for piece in pieces:
            self.lost |= self.above(tube, piece)[:-1] > 1 - 1e-9
        self.base = self._again(self.base, False)
        self.bonded = 2 * self.base.C
        sides = {piece.side for piece in pieces}
        for crack in self.cracks:
            if crack.slit.kind != "cone" and not crack.ring and side_of(crack.slit.kind) not in sides:
                self.stale.append(crack)
            else:
                self._condense(crack)

    def renew(self, crack: Crack) -> None:
        """Condense a closed crack on another side than ice that was lost, once it may be driven."""
        if crack in self.stale:
            self.stale.remove(crack)
            crack.slit = self._again(crack.slit, False)

    def _condense(self, crack: Crack) -> None:
        crack.slit = self._again(crack.slit, isinstance(crack, Chip) and crack.hanging)
        crack.known.clear()
        crack.tried.clear()

    def _again(self, slit: Slit, rim: bool) -> Slit:
        cone = slit.cone
        gone = [lost_elements(piece, cone, side_of(slit.kind)) for piece in self.slid]
        if rim:
            gone.append(rim_elements(cone))
        away = hanging(cone, np.unique(np.concatenate(gone)))
        key = (id(cone), away.tobytes())
        if key not in self.known:
            self.known[key] = condensed_again(self.case, self.rings, slit, away)
        found = self.known[key]
        return replace(slit, S=found.S, c=found.c, C=found.C)
