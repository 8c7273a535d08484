"""The way of a sling that slides along the tube, node by node, each with an equilibrium of its own (`tube.sling`)."""

from __future__ import annotations

from dataclasses import replace

from .energies import sound
from .equilibrium import find
from .settling import settle
from .sling import wants
from .state import Equilibrium, TubeModel

HOP = 1e-6  # m, that the tube is drawn on with each node passed


def slide(model: TubeModel, at: Equilibrium) -> list[tuple[TubeModel, Equilibrium]]:
    """The sling's way from `at`, node by node, until friction holds it or it can go no further; empty if it holds.

    Where no sound step leads to the next node, the tube settles there.  Raises SolveError if it does not come to rest.
    """
    found: list[tuple[TubeModel, Equilibrium]] = []
    excess, first = wants(model, at)
    way = first
    while excess > 0 and way == first:
        model = replace(model, held=model.held + way)
        new = find(model, at, HOP, at.q, at.load)
        stages = [new] if new is not None and sound(model, at, new) else settle(model, at, HOP)
        found += [(model, stage) for stage in stages]
        at = stages[-1]
        excess, way = wants(model, at)
    return found
