"""Largest pull that a placement carries, what gives way, and what would give way next.

The tube is pulled on the ice's laws (`tube.pull`, `laws.gather`). This module adds the rivals, loads in N:

    ladder  the pull if the mode that ended it could not come (no cone; threads, wall or metal stronger without bound; a
            sling that holds), then if the next could not either, and so on up to ENOUGH times the peak, where a pull
            ends: what needs more is no rival. None counts below the peak: a tube that cannot bend may lever out at
            less, but no strength is lost by that
    cone    one that comes in the pull itself after its peak, at its load there at most
    beyond  where a load still rises at a stop: what the pull comes to beyond it, here and in the ladder
    stated  hanger or sling by the strength stated for it

The peak is that of tube and ice. The limit of the placement is the weakest of that and of hanger or sling as stated.
What comes next is the weakest of the rest; margin = its load / the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from ..case import Case
from ..errors import SolveError
from ..laws.ice_laws import IceLaws
from .modes import CONE, HANGER, SLING, UNENDED, mode_named
from .pull import TubePull, solve_pull

ENOUGH = 2.0  # times the peak
Rival = tuple[str, float]


@dataclass(frozen=True, slots=True)
class Peak:
    """The pull, hanger or sling with the strength stated for it, and the other modes with their loads [N].

    laws : the ice's.  stated : None if no strength is.  ladder : in the order in which they were barred.
    above : what all other modes need more than [N], as far as that was found; None if not.
    """

    pull: TubePull
    stated: Rival | None
    ladder: tuple[Rival, ...]
    laws: IceLaws
    above: float | None = None

    @property
    def rivals(self) -> tuple[Rival, ...]:
        """All that could give way but what ends the pull, the weakest first."""
        stated = () if self.stated is None else (self.stated,)
        return tuple(sorted((*stated, *self.ladder), key=_load))

    @property
    def limit(self) -> Rival:
        """What gives way, and its load [N]: the peak's mode, or hanger or sling if they hold less."""
        own = (self.pull.mode, self.pull.peak)
        return own if self.stated is None else min(own, self.stated, key=_load)

    @property
    def next(self) -> Rival | None:
        """What would give way if the limit did not; None if nothing is known."""
        rest = [rival for rival in ((self.pull.mode, self.pull.peak), *self.rivals) if rival != self.limit]
        return min(rest, key=_load, default=None)

    @property
    def margin(self) -> float:
        """Load of what comes next over the limit [-]; inf if nothing is known."""
        return self.next[1] / self.limit[1] if self.next and self.limit[1] > 0 else inf


def _load(rival: Rival) -> float:
    return rival[1]


def solve_peak(case: Case, laws: IceLaws) -> Peak:
    """Peak of a case on its ice's laws.

    Raises ValueError for what cannot be built, SolveError if an equilibrium is not found.
    """
    pull = pull_case(case, laws)
    ladder, above = _ladder(case, pull, laws)
    return Peak(pull, stated_strength(case), ladder, laws, above)


def stated_strength(case: Case) -> Rival | None:
    """Hanger, or sling where the tube is tied off, with the strength stated for it [N]; None where none is."""
    stated = (HANGER, case.tube.hanger_strength)
    if case.placement.attachment == "tied_off":
        stated = (SLING, case.placement.sling_strength)
    return stated if stated[1] < inf else None


def _ladder(case: Case, pull: TubePull, laws: IceLaws) -> tuple[tuple[Rival, ...], float | None]:
    """The other modes with their loads [N], each with all before it barred, and what the rest need more than."""
    enough, above = ENOUGH * pull.peak, None
    late = next((event.load for event in pull.events if event.name == CONE and event.load > pull.peak), inf)
    found = {CONE: late} if late < inf else {}
    mode, load = _comes_to(pull)
    if pull.stop and mode != UNENDED:
        found.setdefault(mode, load)
    barred = case_without(mode, case, laws)
    while barred is not None and load <= enough:
        try:
            other = pull_case(*barred, enough)
        except SolveError:  # of a tube and ice that do not exist: what is known of them stands
            break
        mode, load = _comes_to(other)
        if load > enough:
            above = enough
            break
        if mode in (pull.mode, UNENDED) or (mode in found and mode != CONE):
            break
        load = max(load, pull.peak)
        found[mode] = min(load, late) if mode == CONE else load
        barred = case_without(mode, *barred)
    return tuple(found.items()), above


def _comes_to(pull: TubePull) -> Rival:
    """Mode and load [N] of the peak, or of the largest where the peak still rises at a stop."""
    return (pull.largest.mode, pull.largest.load) if pull.stop else (pull.mode, pull.peak)


def pull_case(case: Case, laws: IceLaws, enough: float = inf) -> TubePull:
    """The pull of a case alone, as far as to a load that is enough [N]. Errors of `solve_peak`."""
    return solve_pull(case.tube, case.placement, case.pull, laws, case.metal, assumed=case.assumed, enough=enough)


def case_without(mode: str, case: Case, laws: IceLaws) -> tuple[Case, IceLaws] | None:
    """Case and ice in which a mode cannot come; None if there is nothing to bar."""
    bar = mode_named(mode).bar
    return None if bar is None else bar(case, laws)
