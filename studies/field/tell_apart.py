"""How many repeats tell the placements of a plan apart, pair by pair (`repeats` has the test)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from .plan import Plan, Planned
from .predict import LIMIT
from .repeats import Power, power_of

MOST_PAIRS = 15
NEVER = 10**9
SAME = 1.01  # a factor below it is none to a reader


@dataclass(frozen=True, slots=True)
class Telling:
    """How many repeats tell two placements apart. first, second : ids of their first pulls."""

    first: str
    second: str
    power: Power

    @property
    def words(self) -> str:
        """In a sentence."""
        least, pair = self.power.least, f"{self.first} and {self.second}"
        if least is None:
            most, factor = self.power.repeats[-1], max(self.power.factor, 1 / self.power.factor)
            alike = f"in half of the ices less than a factor of {factor:.2f} lies between them"
            alike = alike if factor >= SAME else "in half of the ices both hold the same"
            return f"{pair}: not even {most} pulls of each tell them apart four times in five ({alike})"
        return f"{pair}: {least} pulls of each tell them apart four times in five"


def tell_apart(plan: Plan, seed: int) -> tuple[Telling, ...]:
    """Every pair of placements, those that are told apart soonest first; limits are held against each other."""
    found = []
    for one, other in list(combinations(plan.placements, 2))[:MOST_PAIRS]:
        first, second = (pull.prediction.loads(LIMIT) for pull in (one, other))
        error = 0.01 * plan.rig.cell_error_percent * plan.rig.cell_kN / max(min(_middle(one), _middle(other)), 1e-9)
        found.append(Telling(one.id, other.id, power_of(first, second, error=min(error, 1.0), seed=seed)))
    return tuple(sorted(found, key=lambda each: each.power.least or NEVER))


def _middle(pull: Planned) -> float:
    return pull.middle_kN or 0.0
