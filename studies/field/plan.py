"""The plan of a day: what to expect of each pull, what the rig must bear, how far apart, in which order.

    limit            what gives way first, hanger and sling counted: median and nine tenths of the draws
    early            largest load within one tube diameter of movement: median
    reckon with      95 % of the peak of tube and ice: a hanger may hold more than its maker states        [kN]
    movement         of the load point at the peak, median and 95 %                                        [mm]

Order: block r holds the r-th repeat of each placement, shuffled; the same seed gives the same order. A block is a
whole small test: what changes over a day (sun, tired people) falls on all placements alike (common practice).

Limits: those of `predict`; the plan knows the ice as it is stated, not as it will be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..case.file import settings_id
from ..command.numbers import percent, short
from ..sweep.statistics import chances
from .predict import ANGLE, DEPTH, LIMIT, Prediction
from .rig import Rig, haul_force_kN, people_needed, stored_energy_J
from .rig_verdict import Finding, PullLoads, link_demands, rig_findings
from .spacing import Spot, breakout_radius_mm, spacing_findings

RANGE = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class Planned:
    """One pull of a day. order, block : from 1.  low, middle, high, early, largest in kN; None if not predicted.

    modes : what limits, with its share of the draws, the likeliest first.  movement_mm, movement_high_mm : at the peak.
    breakout_mm : radius of the ice that may come out.
    """

    prediction: Prediction
    order: int
    block: int
    low_kN: float | None = None
    middle_kN: float | None = None
    high_kN: float | None = None
    modes: tuple[tuple[str, float], ...] = ()
    early_kN: float | None = None
    largest_kN: float | None = None
    movement_mm: float | None = None
    movement_high_mm: float | None = None
    breakout_mm: float | None = None

    @property
    def id(self) -> str:
        """Name of the row."""
        return self.prediction.row.id

    @property
    def mode(self) -> str:
        """What gives way first, as a rule."""
        return self.modes[0][0] if self.modes else ""

    @property
    def chances(self) -> str:
        """`cone 70 %, hanger 30 %`."""
        return ", ".join(f"{mode} {percent(share, 0)}" for mode, share in self.modes)

    @property
    def placement(self) -> str:
        """The same for rows of the same placement."""
        return settings_id(self.prediction.settings) if self.prediction.settings else self.id


@dataclass(frozen=True, slots=True)
class Plan:
    """A day as planned, in the order of its table; findings : on rig and places, worst first."""

    name: str
    pulls: tuple[Planned, ...]
    rig: Rig
    findings: tuple[Finding, ...]
    draws: int
    seed: int
    said: tuple[str, ...] = ()

    @property
    def predicted(self) -> list[Planned]:
        """Pulls that the model can take."""
        return [pull for pull in self.pulls if pull.middle_kN is not None]

    @property
    def placements(self) -> list[Planned]:
        """The first pull of each placement."""
        return list({pull.placement: pull for pull in reversed(self.predicted)}.values())[::-1]

    @property
    def in_order(self) -> list[Planned]:
        """As they are to be made."""
        return sorted(self.pulls, key=lambda pull: pull.order)


def plan_day(
    name: str, predictions: Sequence[Prediction], rig: Rig, draws: int, seed: int, said: Sequence[str] = ()
) -> Plan:
    """The plan of predicted rows."""
    places = [settings_id(each.settings) if each.settings else each.row.id for each in predictions]
    blocks = _blocks(places, [each.row.replicate for each in predictions])
    orders = _orders(blocks, seed)
    pulls = tuple(_planned(each, order, block) for each, order, block in zip(predictions, orders, blocks, strict=True))
    known = [pull for pull in pulls if pull.middle_kN is not None]
    findings = (*rig_findings(rig, [_loads(pull) for pull in known]), *_spacing(rig, known)) if known else ()
    return Plan(name, pulls, rig, findings, draws, seed, tuple(said))


def _blocks(places: Sequence[str], replicates: Sequence[int | None]) -> list[int]:
    """The block of each row: its stated repeat, else how often its placement has come before."""
    seen: Counter[str] = Counter()
    found = []
    for place, stated in zip(places, replicates, strict=True):
        seen[place] += 1
        found.append(seen[place] if stated is None else stated)
    ranks = {block: rank for rank, block in enumerate(sorted(set(found)), start=1)}
    return [ranks[block] for block in found]


def _orders(blocks: Sequence[int], seed: int) -> list[int]:
    """The place of each row in the day: block by block, shuffled within."""
    rng = np.random.default_rng(seed)
    shuffled = rng.permutation(len(blocks))
    order = sorted(range(len(blocks)), key=lambda row: (blocks[row], shuffled[row]))
    places = {row: place for place, row in enumerate(order, start=1)}
    return [places[row] for row in range(len(blocks))]


def _planned(each: Prediction, order: int, block: int) -> Planned:
    if each.settings is None or each.load(LIMIT) is None:
        return Planned(each, order, block)
    low, middle, high = each.at(LIMIT, RANGE)
    early, largest = each.at("early", (0.5,))[0], each.at("peak", (0.95,))[0]
    movement, farthest = each.at_column("peak_at_mm", (0.5, 0.95))
    modes = tuple((mode, known.value) for mode, known in chances(each.modes(LIMIT)).items()) if each.draws else ()
    if middle is None:  # without draws: as stated
        low = middle = high = each.load(LIMIT)
        early, largest, movement = each.load("early"), each.load("peak"), each.plain.get("peak_at_mm")
        farthest, modes = movement, ((str(each.plain.get("limit_mode")), 1.0),)
    settings = each.settings
    radius = breakout_radius_mm(*(float(settings[key]) for key in (DEPTH, ANGLE, "pull.direction_deg")))
    return Planned(
        each,
        order,
        block,
        low,
        middle,
        high,
        modes,
        early,
        max(largest or 0.0, high or 0.0),
        movement,
        farthest,
        radius,
    )


def _loads(pull: Planned) -> PullLoads:
    return PullLoads(
        pull.id, pull.middle_kN or 0.0, pull.high_kN or 0.0, pull.largest_kN or 0.0, pull.movement_high_mm or 0.0
    )


def _spacing(rig: Rig, pulls: Sequence[Planned]) -> tuple[Finding, ...]:
    spots = []
    for pull in pulls:
        row, settings = pull.prediction.row, pull.prediction.settings or {}
        embedment, angle, direction = (float(settings[key]) for key in (DEPTH, ANGLE, "pull.direction_deg"))
        far = (rig.edge_distance_mm, rig.reaction_distance_mm)
        spots.append(Spot(pull.id, embedment, angle, direction, row.x_mm, row.y_mm, *far))
    return spacing_findings(spots)


COLUMNS = (
    *("plan_order", "plan_block", "plan_limit_low_kN", "plan_limit_kN", "plan_limit_high_kN", "plan_gives_way"),
    *("plan_early_kN", "plan_largest_kN", "plan_movement_mm", "plan_movement_high_mm", "plan_haul_kN", "plan_people"),
    *("plan_weakest_link", "plan_energy_J", "plan_breakout_mm", "plan_assumed", "plan_problem"),
)


def cells(pull: Planned, rig: Rig) -> list[object]:
    """What the plan says of a pull, in COLUMNS."""
    load = pull.largest_kN
    own: list[object] = [None] * 4
    if load is not None:
        weakest = max(link_demands(rig, load), key=lambda link: link.share)
        link = f"{weakest.name}: {short(weakest.margin, 2)} times"
        own = [haul_force_kN(rig, load), people_needed(rig, load), link, stored_energy_J(rig, load)]
    return [
        *(pull.order, pull.block, pull.low_kN, pull.middle_kN, pull.high_kN, pull.chances, pull.early_kN, load),
        *(pull.movement_mm, pull.movement_high_mm, *own, pull.breakout_mm),
        *("; ".join(pull.prediction.assumed), pull.prediction.problem),
    ]
