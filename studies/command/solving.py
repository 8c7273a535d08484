"""One case solved into a folder: the outcome, its range, fields and pictures."""

from __future__ import annotations

from contextlib import ExitStack, nullcontext, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

from rich.console import Console

from ..case.file import Settings
from ..files.answer import answer
from ..outcome.data import Outcome
from ..outcome.models import MODELS, solve_settings
from ..outcome.results import DrawnRange
from ..sweep.runner import progress_bar, say
from ..sweep.work import cores, forked
from .errors import BadInput, Unsolved
from .numbers import plural
from .screen import console

PEAK = "peak"
LEAST_DRAWS = 10  # for which one more process is worth its start
DRAWERS = 3  # processes that draw beside this one, at most


def solve_into(
    folder: Path,
    settings: Settings,
    case_file: Path,
    draws: int,
    seed: int,
    moving: bool = False,
    pictures: bool = True,
) -> Outcome:
    """Solve and write the whole answer into the folder, or leave it as it was; the outcome.

    moving : whether the pull is drawn as it goes on, too.  pictures : whether anything is drawn.
    """
    from ...fem.errors import SolveError
    from ...geometry.errors import MeshError

    screen = console(stderr=True)
    if moving and not pictures:
        raise BadInput("--moving: must not go with --no-pictures")
    model = MODELS[str(settings["numerics.model"])]
    if moving and not model.moving:
        raise BadInput(f'--moving: must go with numerics.model = "{PEAK}": model "{model.name}" follows no pull')
    with answer(folder, "solve", model.files) as stage, ExitStack() as until_drawn:
        at_once = model.name == PEAK and say_at_once(settings, screen)
        drawn = _range(settings, draws, seed, screen) if at_once and draws else None
        # what draws takes its time to load: after what is said at once
        from ..figures.solid import standing_by
        from ..files.solution import write_extra, write_solution

        if pictures and model.extra:
            until_drawn.enter_context(standing_by())
        each = until_drawn.enter_context(forked(min(cores() - 1, DRAWERS) if pictures else 0))
        try:
            with screen.status("solving") if screen.is_terminal else nullcontext():
                outcome, solution = solve_settings(settings, lambda text: say(screen, text))
        except SolveError as error:
            raise Unsolved(f"{case_file}: not solved: {error}") from None
        except MemoryError:
            raise Unsolved(f"{case_file}: out of memory: choose a coarser numerics.level") from None
        except MeshError as error:
            raise BadInput(f"{case_file}: {error}") from None
        if draws and outcome.peak is not None:  # laws were computed before a pull could be drawn
            outcome = replace(outcome, drawn=drawn if at_once else _range(settings, draws, seed, screen))
        if at_once:
            left = "field and pictures follow" if pictures else "the field follows"
            say(screen, f"first damage {outcome.onset_kN:.2f} kN: {outcome.onset.mode}; {left}")
        told: list[str] = []
        with screen.status("drawing") if pictures and screen.is_terminal else nullcontext():
            extra = partial(write_extra, outcome, stage, moving)
            write_solution(outcome, solution, stage, pictures, each, lambda: told.extend(extra() if pictures else ()))
        for line in told:
            say(screen, line)
    return outcome


def say_at_once(settings: Settings, screen: Console) -> bool:
    """What limits, as soon as one pull is made; False where laws have to be computed first, or none is solved."""
    from ...fem.errors import SolveError
    from ...geometry.errors import MeshError
    from ..outcome.wanted import solve_wanted

    with suppress(SolveError, MeshError, _Waits):
        found, _ = solve_wanted(settings, ("peak",), _wait)
        say(screen, f"limit {found.limit_kN or 0.0:.1f} kN: {found.limit_mode}; its range and the first damage follow")
        return True
    return False


class _Waits(Exception):
    """A law has to be computed first: that is said, with its reason, as the case is solved."""


def _wait(text: str) -> None:
    raise _Waits(text)


def _range(settings: Settings, draws: int, seed: int, screen: Console) -> DrawnRange | None:
    """The range of the answer, said as it comes: of the first draws, then of all. None, with why, if there is none."""
    from ..sweep.drawn import draw_case
    from ..words.answer import nine_of_ten

    try:
        with progress_bar(screen) as progress:
            bar = progress.add_task("range", total=draws)
            found = draw_case(
                settings,
                draws,
                seed,
                lambda: progress.advance(bar),
                min(cores(), 1 + draws // LEAST_DRAWS),
                lambda first: say(screen, f"{nine_of_ten(first)} of the first {first.draws} draws; the others follow"),
            )
    except ValueError as error:
        say(screen, f"no range: {error}")
        return None
    say(screen, f"{nine_of_ten(found)} of {plural(draws, 'draw')}; first damage, field and pictures follow")
    return found
