"""One case solved into a folder: the outcome, its range, fields and pictures."""

from __future__ import annotations

from contextlib import nullcontext, suppress
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from ..case.file import Settings
from ..files.answer import answer
from ..outcome.data import Outcome
from ..outcome.models import MODELS, solve_settings
from ..sweep.runner import progress_bar, say
from .errors import BadInput, Unsolved
from .screen import console

PEAK = "peak"


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
    from ...fem.solid.solver import SolveError
    from ...geometry import MeshError
    from ..files.solution import write_extra, write_solution

    screen = console(stderr=True)
    if moving and not pictures:
        raise BadInput("--moving: must not go with --no-pictures")
    if moving and not MODELS[str(settings["numerics.model"])].moving:
        model = settings["numerics.model"]
        raise BadInput(f'--moving: must go with numerics.model = "{PEAK}": model "{model}" follows no pull')
    with answer(folder, "solve", MODELS[str(settings["numerics.model"])].files) as stage:
        if settings["numerics.model"] == PEAK:
            say_at_once(settings, screen)
        try:
            with screen.status("solving") if screen.is_terminal else nullcontext():
                outcome, solution = solve_settings(settings, lambda text: say(screen, text))
        except SolveError as error:
            raise Unsolved(f"{case_file}: not solved: {error}") from None
        except MemoryError:
            raise Unsolved(f"{case_file}: out of memory: choose a coarser numerics.level") from None
        except MeshError as error:
            raise BadInput(f"{case_file}: {error}") from None
        if draws and outcome.peak is not None:
            outcome = _with_range(outcome, draws, seed, screen)
        write_solution(outcome, solution, stage, pictures)
        if not pictures:
            return outcome
        with screen.status("drawing") if screen.is_terminal else nullcontext():
            told = write_extra(outcome, stage, moving)
        for line in told:
            say(screen, line)
    return outcome


def say_at_once(settings: Settings, screen: Console) -> None:
    """What limits, as soon as one pull is made; nothing where laws have to be computed first, or none is solved."""
    from ...fem.solid.solver import SolveError
    from ...geometry import MeshError
    from ..outcome.wanted import solve_wanted

    with suppress(SolveError, MeshError, _Waits):
        found, _ = solve_wanted(settings, ("peak",), _wait)
        say(screen, f"limit {found.limit_kN or 0.0:.1f} kN: {found.limit_mode}; its range and the first damage follow")


class _Waits(Exception):
    """A law has to be computed first: that is said, with its reason, as the case is solved."""


def _wait(text: str) -> None:
    raise _Waits(text)


def _with_range(outcome: Outcome, draws: int, seed: int, screen: Console) -> Outcome:
    """The outcome with the range of its answer; as it was, with a message, where none can be drawn."""
    from ..sweep.drawn import draw_case

    with progress_bar(screen) as progress:
        bar = progress.add_task("range", total=draws)
        try:
            return replace(outcome, drawn=draw_case(outcome.case, draws, seed, lambda: progress.advance(bar)))
        except ValueError as error:
            say(screen, f"no range: {error}")
            return outcome
