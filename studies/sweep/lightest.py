"""The lightest tubes that meet a demand: a walk up the masses, each tube pulled no more than it takes to refuse it.

A tube's mass costs no solve, a pull does. So tubes are tried from the lightest up; the first that meets the demand is
the lightest of all. A tube is refused as soon as one situation has more misses than the demand allows. Its pulls begin
where the tubes most like it held least, so that a refusal takes few. All tubes see the same
draws (common random numbers): they differ by themselves alone.

Up to WHOLE tubes all are tried: the answer is exact on the grid and for the draws. Of more, the walk goes over a coarse
grid first, then over the neighbours of what met it and of what came closest, at half the step, to the file's own step:
a lighter tube between may be missed. Where none meets it, the closest are pulled further, the one with the largest
bound first, until one pulled in full holds at least as much as the others can (branch and bound).

Why not `scipy.optimize.differential_evolution` with the demand as a constraint: it compares shortfalls, so every tube
has to be pulled in full, and it asks for hundreds of tubes; nothing in it knows that the mass is free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from heapq import nsmallest
from itertools import product
from math import inf, prod

from ..case.toml import CaseError
from .demand import Candidate, Design, Place

WHOLE = 3000  # tubes that are all tried
ANSWERS = 3  # tubes that meet the demand and are looked for
SEEDS = 6  # refused tubes whose neighbours are tried at the next step
LIKE = 30  # tubes whose pulls say where the next one may hold least
UNSOLVED = "not solved"


@dataclass(frozen=True, slots=True)
class Pulled:
    """A pull: what gives way first of all, and at what load [kN]; 0 where it is not solved."""

    limit_kN: float
    mode: str


Ask = Callable[[Candidate, Sequence[Place]], Sequence[Pulled]]


@dataclass
class Trial:
    """A tube with the pulls that it has been given. problem : why its values do not go together."""

    candidate: Candidate
    design: Design
    pulled: dict[Place, Pulled] = field(default_factory=dict)
    problem: str = ""

    def limits(self, situation: int) -> list[float]:
        """Loads of a situation as far as pulled [kN], the least first."""
        return sorted(each.limit_kN for place, each in self.pulled.items() if place[0] == situation)

    def reach(self, situation: int) -> float:
        """Load [kN] that the demanded share of a situation's draws holds, or an upper bound; inf if nothing is known.

        More pulls can only lower it.
        """
        limits = self.limits(situation)
        return limits[self.design.allowed] if len(limits) > self.design.allowed else inf

    @property
    def weakest(self) -> int:
        """The situation that holds least; of those alike the one whose least loads are lower."""
        return min(range(len(self.design.situations)), key=lambda at: (self.reach(at), self.limits(at)))

    @property
    def bound(self) -> float:
        """The load [kN] that the demanded share holds in every situation, or an upper bound."""
        return min(map(self.reach, range(len(self.design.situations))))

    @property
    def refused(self) -> bool:
        """Whether it cannot meet the demand any more."""
        return bool(self.problem) or self.bound < self.design.require.limit_kN

    @property
    def whole(self) -> bool:
        """Whether it is pulled in every situation and draw."""
        return len(self.pulled) == len(self.design.situations) * self.design.number

    @property
    def met(self) -> bool:
        """Whether it meets the demand."""
        return self.whole and not self.refused


@dataclass
class Search:
    """A search under way. ask : pulls.  tell : hears of each tube that is judged.  exact : all tubes are tried."""

    design: Design
    ask: Ask
    tell: Callable[[Trial], None] = lambda trial: None
    trials: dict[tuple[int, ...], Trial] = field(default_factory=dict)
    exact: bool = True

    @property
    def met(self) -> list[Trial]:
        """The tubes that meet the demand, the lightest first."""
        return sorted((trial for trial in self.trials.values() if trial.met), key=_mass)

    @property
    def tried(self) -> list[Trial]:
        """The tubes that go together, the lightest first."""
        return sorted((trial for trial in self.trials.values() if not trial.problem), key=_mass)

    def judge(self, places: tuple[int, ...]) -> Trial:
        """Pull a tube until it is refused or meets the demand."""
        trial = self.trials.setdefault(places, Trial(self.design.candidate(places), self.design))
        if not trial.refused and not trial.whole:
            for batch in self._batches(trial):
                self.pull(trial, batch)
                if trial.refused:
                    break
            self.tell(trial)
        return trial

    def pull(self, trial: Trial, batch: Sequence[Place]) -> None:
        """Pull a tube at some places."""
        try:
            found = self.ask(trial.candidate, batch)
        except CaseError as error:
            trial.problem = str(error)
            return
        trial.pulled |= dict(zip(batch, found, strict=True))

    def _batches(self, trial: Trial) -> Iterator[list[Place]]:
        """Places that are missing, where the tubes like it held least first; as many as may refuse it, then more."""
        held = self._expected(trial)
        every = product(range(len(self.design.situations)), range(self.design.number))
        missing = [place for place in every if place not in trial.pulled]
        missing.sort(key=lambda place: (held.get(place, inf), place[1], place[0]))
        size = self.design.allowed + 1
        while missing:
            yield missing[:size]
            missing, size = missing[size:], 2 * size

    def _expected(self, trial: Trial) -> dict[Place, float]:
        """Loads [kN] at each place of the nearest tube that was pulled there, among the LIKE nearest."""

        def far(other: Trial) -> tuple[int, float]:
            steps = zip(other.candidate.places, trial.candidate.places, strict=True)
            return sum(abs(one - own) for one, own in steps), other.candidate.mass_g

        held: dict[Place, float] = {}
        for other in reversed(nsmallest(LIKE, self.trials.values(), key=far)):
            held |= {place: each.limit_kN for place, each in other.pulled.items()}
        return held

    def walk(self, tubes: Iterable[tuple[int, ...]]) -> None:
        """Try tubes from the lightest up, until ANSWERS meet the demand."""
        for places in sorted(tubes, key=lambda places: (self.design.candidate(places).mass_g, places)):
            met = self.met
            if len(met) >= ANSWERS and self.design.candidate(places).mass_g >= met[ANSWERS - 1].candidate.mass_g:
                return
            self.judge(places)

    def closest(self) -> Trial | None:
        """Of tubes that do not meet the demand the one that holds most, pulled in full; None if none goes together."""
        while True:
            left = [trial for trial in self.tried if not trial.met]
            if not left:
                return None
            best = max(left, key=lambda trial: (trial.bound, trial.whole, -trial.candidate.mass_g))
            if best.whole:
                return best
            self.pull(best, next(self._batches(best)))


def _mass(trial: Trial) -> tuple[float, tuple[int, ...]]:
    return trial.candidate.mass_g, trial.candidate.places


def find_lightest(design: Design, ask: Ask, tell: Callable[[Trial], None] = lambda trial: None) -> Search:
    """Search for the lightest tubes that meet a demand; where none does, the closest is pulled in full."""
    search = Search(design, ask, tell)
    lengths = [len(each) for each in design.choices.values()]
    stride = 1
    while prod(len(_along(length, stride)) for length in lengths) > WHOLE:
        stride *= 2
    search.exact = stride == 1
    search.walk(product(*(_along(length, stride) for length in lengths)))
    while stride > 1:
        stride //= 2
        _refine(search, lengths, stride)
    if not search.met:
        search.closest()
    return search


def _along(length: int, stride: int) -> list[int]:
    """Every so manieth place of a key, both ends among them."""
    return sorted({*range(0, length, stride), length - 1})


def _refine(search: Search, lengths: Sequence[int], stride: int) -> None:
    """Try the neighbours, a stride away, of the tubes found so far, until no lighter one is found."""
    done: set[tuple[int, ...]] = set()
    while True:
        met = search.met[:ANSWERS]
        lighter = [trial for trial in search.tried if not trial.met and (not met or _mass(trial) < _mass(met[0]))]
        close = sorted(lighter, key=lambda trial: (-trial.bound, _mass(trial)))[:SEEDS]
        seeds = {trial.candidate.places for trial in (*met, *close)} - done
        if not seeds:
            return
        done |= seeds
        search.walk({each for seed in seeds for each in _neighbours(seed, lengths, stride)})


def _neighbours(seed: Sequence[int], lengths: Sequence[int], stride: int) -> Iterator[tuple[int, ...]]:
    """A tube and those that lie a stride away, along any number of keys."""
    steps = [
        sorted({min(max(at + step, 0), length - 1) for step in (-stride, 0, stride)})
        for at, length in zip(seed, lengths, strict=True)
    ]
    return product(*steps)
