"""A scene of an outcome: tube, ice with the failure index of its fields, cracks, and the frames of the pull."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..outcome.data import Outcome
from ..words.answer import limit_words
from .cracks import cone_parts, surface_reach, trench_of, trench_parts
from .field import grid_of, index_of
from .ice import Block, block_for, ice_parts
from .moving import frames_of
from .parts import Frame, Part, Scene
from .tube import Stand, tube_parts


def block_of(outcome: Outcome) -> Block:
    """The block of ice of a scene: wide enough for its cone, up to 2.2 times the embedment."""
    at = Stand.of(outcome.case)
    return block_for(at, min(surface_reach(cone_parts(outcome, at)), 2.2 * at.embedment))


def broken_ice(outcome: Outcome, frame: Frame) -> tuple[Part, Part]:
    """Ice and hole as a frame has them: what has gone by then is carved out."""
    trench = trench_of(outcome, float(frame.gone.max(initial=0.0)))
    return ice_parts(Stand.of(outcome.case), block_of(outcome), trench)


def scene_of(outcome: Outcome, fields: Path | None = None) -> Scene:
    """The scene; fields : the case's fields.vtu, for the colours of the ice; none without it.

    Raises OSError or meshio.ReadError if the fields cannot be read.
    """
    at, trench = Stand.of(outcome.case), trench_of(outcome)
    cone, block = cone_parts(outcome, at), block_of(outcome)
    index = None if fields is None else index_of(fields, outcome.onset_kN, block)
    crust = outcome.case["ice.crust_mm"]
    words = f", coloured by its failure index at {outcome.onset_kN:.2f} kN, the first damage" if index else ""
    words += f"; the upper {crust:g} mm are crust" if crust > 0 else ""
    ice = ice_parts(at, block, None, index, words)
    cracks = [*cone, *(trench_parts(at, block, trench) if trench else [])]
    start = at.place(np.array([[at.load_along, 0.0, 0.0]]))[0]
    return Scene(
        title=limit_words(outcome),
        parts=(*tube_parts(outcome.case), *ice, *cracks),
        frames=frames_of(outcome),
        grid=None if index is None else grid_of(at, block, index),
        pull=tuple(at.pull.tolist()),
        at=tuple(start.tolist()),
    )
