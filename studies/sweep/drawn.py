"""The range of one answer: the case pulled again with what nobody knows of it drawn at random.

    strengths of the ice      by the law of spread of their tests, where the case leaves them to the kind of ice
    assumptions               evenly between low and high of their table, where the case leaves them at its value

A number that the case states is not drawn: it is taken as known. Draws, seed and order are those of `draws`, so the
same case gives the same range.

Limits: what would need other laws of the ice (friction and sliding ratio of chips, stiffness) is not drawn; angle and
depth are as stated; the spread is that of tests on one ice, not of a day on a glacier.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.errors import SolveError
from ...geometry.errors import MeshError
from ...materials import assumptions
from ..case.file import KEYS, Settings, settings_from
from ..outcome.results import DrawnRange
from ..outcome.wanted import solve_wanted
from .draws import Draws, Random, drawn_values, usual_draws
from .statistics import FEWEST, SHARES, SHOWN, drives
from .work import forked

Array = NDArray[np.float64]
STRENGTHS = ("ice.K_IC_kPa_sqrt_m", "ice.compressive_MPa")
FIRST = 25  # draws, after which a first range is told
OTHER_LAWS = ("chip_friction", "sliding_ratio")


def keys_drawn(settings: Settings) -> tuple[Random, ...]:
    """What is drawn of a case, and how."""
    strengths = [Random(key, "spread", "") for key in STRENGTHS if settings[key] == KEYS[key].default]
    assumed = [
        Random(f"assumed.{name}", "between", "")
        for name, each in assumptions().items()
        if "peak" in each.moves and name not in OTHER_LAWS
    ]
    return (*strengths, *(each for each in assumed if settings[each.key] == KEYS[each.key].default))


def draw_case(
    settings: Settings,
    number: int = 100,
    seed: int = 1,
    advance: Callable[[], None] = lambda: None,
    jobs: int = 1,
    first: Callable[[DrawnRange], None] = lambda found: None,
) -> DrawnRange:
    """The range of a case's answer from so many draws.

    advance : called after each.  jobs : processes that share them.  first : gets what the first FIRST draws give, if
    there are more.  Raises ValueError if no draw is solved, or nothing of the case is left to draw.
    """
    randoms = keys_drawn(settings)
    if not randoms:
        raise ValueError("nothing is left to draw: the case states every number that has a range")
    draws = usual_draws(number, seed, randoms)
    drawn = [_values(draws, k, settings) for k in range(number)]
    found: list[dict[str, Any]] = []
    with forked(jobs if jobs > 1 else 0) as each:
        for answer in each(_solved, [{**settings, **values} for values in drawn]):
            found.append(answer)
            advance()
            if len(found) == FIRST < number and any(answer.get("limit_mode") for answer in found):
                first(_range(randoms, drawn[:FIRST], found, seed))
                import scipy.stats  # noqa: F401  for what drives the limit: loaded while the others are drawn
    told = _range(randoms, drawn, found, seed)
    return replace(told, driven_by=_driving(told, drawn, found))


def _solved(settings: Settings) -> dict[str, Any]:
    """What a pull of the case gives; nothing if it is not solved."""
    try:
        return asdict(solve_wanted(settings, ("peak",))[0])
    except (SolveError, MeshError):
        return {}


def _range(
    randoms: tuple[Random, ...], drawn: list[dict[str, float]], found: list[dict[str, Any]], seed: int
) -> DrawnRange:
    """The range of what was found, but for what drives it. Raises ValueError if nothing was found."""
    modes = sorted(str(answer["limit_mode"]) for answer in found if answer.get("limit_mode"))
    if not modes:
        raise ValueError(f"none of {len(drawn)} draws was solved")
    loads = {name: _loads(found, name) for name in SHOWN}
    if empty := next((name for name, of in loads.items() if not np.isfinite(of).any()), ""):
        raise ValueError(f"none of {len(drawn)} draws has a load of {empty}")
    return DrawnRange(
        draws=len(drawn),
        seed=seed,
        unsolved=len(drawn) - len(modes),
        drawn=tuple(each.key for each in randoms),
        share=SHARES,
        loads_kN={name: tuple(np.nanquantile(of, SHARES).tolist()) for name, of in loads.items()},
        modes={mode: count / len(modes) for mode, count in Counter(modes).most_common()},
        driven_by=(),
    )


def _driving(told: DrawnRange, drawn: list[dict[str, float]], found: list[dict[str, Any]]) -> tuple[str, ...]:
    """The keys that clearly move the limit, first the one that does most."""
    if told.draws - told.unsolved < FEWEST:
        return ()
    inputs = {key: np.array([values.get(key, np.nan) for values in drawn]) for key in told.drawn}
    return tuple(each.key for each in drives(inputs, _loads(found, "limit")) if each.is_clear)


def _loads(found: list[dict[str, Any]], name: str) -> Array:
    """A load of each draw [kN]; nan where it was not solved."""
    return np.array([answer.get(f"{name}_kN") or np.nan for answer in found], float)


def _values(draws: Draws, number: int, settings: Settings) -> dict[str, float]:
    """What one draw puts in the place of the case's own."""
    given = {key: value for key, value in settings.items() if value != KEYS[key].default}
    return drawn_values(draws, draws.normals(number), given, settings_from)
