"""Largest pull that a placement carries, what gives way, and what would give way next.

The tube is pulled on the ice's laws (`tubepull`, `peaklaws`). Two things lie outside a single pull:

    push    the cone's load falls with the push H of the tube on the wall in front, N = N_0 n(H / N_0): the pull is
            repeated with H of its own cone (or of its peak, where no cone came) until N is steady (1 %)
    rivals  what the pull would come to if the mode that ended it could not (no cone; threads, wall or metal stronger
            without bound; a sling that holds), then if that which ends it then could not either, and so on up to
            ENOUGH times the peak: a ladder of the modes; and hanger or sling by the strength that is stated for it

The peak is that of tube and ice. margin = load of the weakest rival / peak: below 1 where hanger or sling, holding no
more than they must, give way before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from .case import Case
from .icelaws import IceLaws
from .peaklaws import PeakLaws
from .sling import SLING_SLIDES
from .solver import SolveError
from .tubepull import TubePull, solve_pull

Array = NDArray[np.float64]
REPEATS, WHOLE_STEPS, STEADY = 12, 3, 0.01
UNENDED = "not reached"
ENOUGH = 2.0  # times the peak: a mode that needs more is no rival
STRONG = 1e3  # times as strong as it is: a rival that is barred


@dataclass(frozen=True, slots=True)
class Peak:
    """The pull, and its rivals with their loads [N], the weakest first.

    cone_load : N, of the threads along the axis [N].  push : H [N].  laws : the ice's in this pull.
    """

    pull: TubePull
    rivals: tuple[tuple[str, float], ...]
    cone_load: float
    push: float
    laws: IceLaws

    @property
    def margin(self) -> float:
        """Load of the weakest rival over the peak; inf where none is known."""
        return self.rivals[0][1] / self.pull.peak if self.rivals else inf


def solve_peak(case: Case, laws: PeakLaws) -> Peak:
    """Peak of a case on its ice's laws.

    Raises ValueError for what cannot be built, SolveError where an equilibrium or a steady push is not found.
    """
    ice, alone = laws.ice, laws.ice.cone_load
    pull, push = _pull(case, ice), 0.0
    for repeat in range(REPEATS):
        push = _push(pull)
        load = alone * laws.push.n_of(push / alone)
        if load == ice.cone_load or abs(load - ice.cone_load) <= STEADY * alone:  # also a cone without bound
            break
        step = (load - ice.cone_load) * (1.0 if repeat < WHOLE_STEPS else 0.5)  # some go to and fro
        ice = replace(ice, cone_load=max(ice.cone_load + step, 1.0))
        pull = _pull(case, ice)
    else:
        raise SolveError(f"the cone's load and the push on the wall did not settle in {REPEATS} pulls")
    rivals = _ladder(case, pull, ice)
    stated = ("hanger", case.tube.hanger_strength)
    if case.placement.attachment == "tied_off":
        stated = ("sling", case.placement.sling_strength)
    rivals += [stated] if stated[1] < inf else []
    return Peak(pull, tuple(sorted(rivals, key=lambda rival: rival[1])), ice.cone_load, push, ice)


def _ladder(case: Case, pull: TubePull, laws: IceLaws) -> list[tuple[str, float]]:
    """The other modes with their loads [N], each with all before it barred."""
    found: dict[str, float] = {}
    barred, load = _barred(pull.mode, case, laws), pull.peak
    while barred is not None and load <= ENOUGH * pull.peak:
        try:
            other = _pull(*barred)
        except SolveError:  # of a tube and ice that do not exist: what is known of them stands
            break
        if other.mode in (pull.mode, *found, UNENDED):
            break
        found[other.mode] = load = other.peak
        barred = _barred(other.mode, *barred)
    return list(found.items())


def _pull(case: Case, laws: IceLaws) -> TubePull:
    return solve_pull(case.tube, case.placement, case.pull, laws, case.metal)


def _push(pull: TubePull) -> float:
    """Push on the wall in front [N] as the cone comes, or at the peak."""
    at = next(event for name in ("cone", "peak") for event in pull.events if event.name == name)
    return float(np.trapezoid(np.maximum(at.bearing, 0.0), at.s))


def _barred(mode: str, case: Case, laws: IceLaws) -> tuple[Case, IceLaws] | None:
    """Case and ice in which a mode cannot come; None where there is nothing to bar."""
    if mode == "cone":
        return case, replace(laws, cone_load=inf)
    if mode == "threads stripped":
        names = ("thread_limit", "thread_softening")  # a fall as steep as before
        return case, replace(laws, **{name: STRONG * getattr(laws, name) for name in names})
    if mode == "lever-out":
        return case, replace(laws, limit=STRONG * laws.limit, spall=STRONG * laws.spall)
    if mode in ("tube bends", "rope"):
        strong = {name: STRONG * getattr(case.metal, name) for name in ("yield_strength", "ultimate_strength")}
        return replace(case, metal=replace(case.metal, strain_limit=STRONG, **strong)), laws
    if mode == SLING_SLIDES:
        return replace(case, placement=replace(case.placement, sling_friction=inf)), laws
    return None
