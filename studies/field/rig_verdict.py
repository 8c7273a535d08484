"""What a rig lacks for a day of pulls: findings in words, worst first.

    share = what must be borne / what is there      above 1: short;   above HALF: to be minded                    [-]

What must be borne (cell, links, anchor) is the largest load to reckon with of all pulls; who can haul it and how far
the strand goes is asked at the load that one pull in twenty reaches: to lack them does no harm. HALF is common practice
in rigging without a source: a link is used to half of its stated strength at most. `rig` has the equations.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal

from ..command.numbers import percent, plural, short
from ..command.plain_text import one_line, shortened
from .rig import (
    Rig,
    cell_error_share,
    haul_force_kN,
    loose_speed_m_per_s,
    people_needed,
    reaction_demand_kN,
    seen_kN,
    stored_energy_J,
    strand_needed_mm,
    time_to_peak_s,
)

Rank = Literal["short", "mind", "enough"]
HALF, COARSE, MOST_NAMED, LONGEST_ID = 0.5, 0.05, 3, 16
QUICK_S, FAST_M_PER_S, HARD_J = 2.0, 10.0, 80.0  # assumed: a cell that is read by eye; what a person cannot dodge


@dataclass(frozen=True, slots=True)
class PullLoads:
    """What is expected of one pull.  middle_kN : half of such pulls reach it.  high_kN : one in twenty does.

    largest_kN : largest that must be reckoned with.  movement_mm : of the load point at the peak.
    """

    id: str
    middle_kN: float
    high_kN: float
    largest_kN: float
    movement_mm: float

    def __post_init__(self) -> None:
        if not 0 <= self.middle_kN <= self.high_kN <= self.largest_kN < inf:
            raise ValueError(f"pull {self.id}: middle_kN, high_kN, largest_kN: must rise from 0 on and be finite")
        if not 0 <= self.movement_mm < inf:
            raise ValueError(f"movement_mm = {self.movement_mm:g}: must be at least 0 and finite")


@dataclass(frozen=True, slots=True)
class LinkDemand:
    """What a link must bear [kN] and what it is stated to bear [kN]."""

    name: str
    demand_kN: float
    strength_kN: float

    @property
    def share(self) -> float:
        """Demand over strength [-]."""
        return self.demand_kN / self.strength_kN

    @property
    def margin(self) -> float:
        """Strength over demand [-]; inf where nothing is asked."""
        return self.strength_kN / self.demand_kN if self.demand_kN > 0 else inf


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence on the rig or on the places.  share : of what there is that must be borne [-]."""

    rank: Rank
    share: float
    text: str


def ranked(share: float) -> Rank:
    """How bad a share [-] of what there is must be taken."""
    return "short" if share > 1.0 + 1e-9 else "mind" if share > HALF else "enough"


def worst_first(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings in the order of their rank, then of their share."""
    order = ("short", "mind", "enough")
    return tuple(sorted(found, key=lambda each: (order.index(each.rank), -each.share)))


def named_pulls(pulls: Sequence[str]) -> str:
    """`pull 3` or `pulls 3, 7`, the ids fit for print; of many the first ones."""
    names = [shortened(one_line(name), LONGEST_ID) for name in pulls[:MOST_NAMED]]
    more = f" and {len(pulls) - MOST_NAMED} more" if len(pulls) > MOST_NAMED else ""
    return f"pull{'s' if len(pulls) != 1 else ''} {', '.join(names)}{more}"


def link_demands(rig: Rig, load_kN: float) -> tuple[LinkDemand, ...]:
    """What links and reaction anchor bear at a load on the tube [kN], the most used first."""
    found = [LinkDemand(link.name, seen_kN(rig, link.sees, load_kN), link.strength_kN) for link in rig.links]
    found.append(LinkDemand("reaction anchor", reaction_demand_kN(rig, load_kN), rig.reaction_kN))
    return tuple(sorted(found, key=lambda each: -each.share))


def rig_findings(rig: Rig, pulls: Sequence[PullLoads]) -> tuple[Finding, ...]:
    """All findings on a rig for these pulls, worst first. Raises ValueError if there is no pull."""
    if not pulls:
        raise ValueError("pulls: must hold one at least")
    parts: tuple[Callable[[Rig, Sequence[PullLoads]], list[Finding]], ...] = (
        _cell,
        _people,
        _links,
        _strand,
        _energy,
        _time,
    )
    return worst_first([each for part in parts for each in part(rig, pulls)])


def _beyond(pulls: Sequence[PullLoads], limit: Callable[[PullLoads], bool]) -> list[str]:
    return [pull.id for pull in pulls if limit(pull)]


def _largest(pulls: Sequence[PullLoads]) -> PullLoads:
    return max(pulls, key=lambda pull: pull.largest_kN)


def _cell(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    top, most = max(pull.high_kN for pull in pulls), _largest(pulls).largest_kN
    often = _beyond(pulls, lambda pull: pull.high_kN > rig.cell_kN)
    ever = _beyond(pulls, lambda pull: pull.largest_kN > rig.cell_kN)
    share, ends = most / rig.cell_kN, f"The cell ends at {short(rig.cell_kN)} kN"
    if often:
        text = f"{ends}; one pull in twenty reaches {short(top)} kN: {named_pulls(often)} would end at the cell."
    elif ever:
        text = f"{ends}; {short(most)} kN must be reckoned with: {named_pulls(ever)} could end at the cell."
    else:
        text = f"{ends}, the largest load to reckon with is {short(most)} kN."
    # a cell that is used to its end is well used: it is short or it is not
    found = [Finding("short" if share > 1 else "enough", share, text)]
    least = min(pulls, key=lambda pull: pull.middle_kN)
    error = cell_error_share(rig, least.middle_kN)
    if error > COARSE:
        kN = 0.01 * rig.cell_error_percent * rig.cell_kN
        where = f"the {short(least.middle_kN)} kN of {named_pulls([least.id])}"
        coarse = f"The cell errs by {short(kN, 2)} kN, {percent(error, 0)} of {where}: a smaller cell would tell more."
        found.append(Finding("mind", min(error, 1.0), coarse))
    return found


def _people(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    load = max(pull.high_kN for pull in pulls)
    haul, need = haul_force_kN(rig, load), plural(people_needed(rig, load), "person", "people")
    share = haul / (rig.people * rig.person_kN)
    few = _beyond(pulls, lambda pull: people_needed(rig, pull.high_kN) > rig.people)
    pulled = f"{short(load)} kN on the tube is {short(haul, 2)} kN on the rope: {need} to haul"
    text = f"{pulled}, {rig.people} there" + (f" ({named_pulls(few)})." if few else ".")
    return [Finding("short" if few else "enough", share, text)]


def _links(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    load, found = _largest(pulls).largest_kN, []
    for link in link_demands(rig, load):
        bears = f"{link.name}: bears {short(link.demand_kN)} kN at the largest load"
        stated = "is said to hold" if link.name == "reaction anchor" else "is stated at"
        text = f"{bears}, {stated} {short(link.strength_kN)} kN ({short(link.margin, 2)} times)."
        found.append(Finding(ranked(link.share), link.share, text[:1].upper() + text[1:]))
    return found


def _strand(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    needs = [strand_needed_mm(rig, pull.high_kN, pull.movement_mm) for pull in pulls]
    most, worst = max(zip(needs, pulls, strict=True), key=lambda each: each[0])
    share, ends = most / rig.strand_mm, f"The strand ends after {short(rig.strand_mm, 4)} mm"
    parts = f"{short(worst.movement_mm)} mm of movement, {short(most - worst.movement_mm)} mm of stretch"
    few = [pull.id for need, pull in zip(needs, pulls, strict=True) if need > rig.strand_mm]
    text = f"{ends}; {short(most)} mm are needed ({parts})" + (f": {named_pulls(few)}." if few else ".")
    return [Finding("short" if few else "enough", share, text)]


def _energy(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    load = _largest(pulls).largest_kN
    energy, speed = stored_energy_J(rig, load), loose_speed_m_per_s(rig, load)
    text = (
        f"At {short(load)} kN rope and slings hold {short(energy)} J: {rig.loose_mass_kg:g} kg that come loose fly at "
        f"{short(speed, 2)} m/s at most. Nobody in line; read from a distance."
    )
    grave = energy > HARD_J or speed > FAST_M_PER_S
    return [Finding("mind" if grave else "enough", 1.0 if grave else energy / HARD_J, text)]


def _time(rig: Rig, pulls: Sequence[PullLoads]) -> list[Finding]:
    times = [time_to_peak_s(rig, pull.middle_kN, pull.movement_mm) for pull in pulls]
    least, most = min(times), max(times)
    text = f"At {rig.pull_rate_mm_per_s:g} mm/s a peak comes after {short(least, 2)} to {short(most, 2)} s."
    if least < QUICK_S:
        return [Finding("mind", HALF, f"{text} Read the cell's own peak, not its display.")]
    return [Finding("enough", 0.0, text)]
