"""A day of pulls as planned, in words: what to expect, whether the rig suffices, how many repeats."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..case.words import case_words, short_words
from ..command.numbers import plural, short
from ..command.plain_text import markdown
from ..outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION

if TYPE_CHECKING:
    from ..field.plan import Plan, Planned
    from ..field.run_plan import Telling

HEADS = (
    *("order", "pull", "limit (kN)", "gives way first", "early (kN)", "reckon with (kN)"),
    *("movement (mm)", "haul (kN)", "people", "keep clear (mm)"),
)
SHOWN = ("short", "mind")
MOST = 6  # findings on a screen


def answer(plan: Plan) -> str:
    """The day in two sentences: what to expect, and whether the rig suffices."""
    known = plan.predicted
    if not known:
        return f"{plural(len(plan.pulls), 'pull')}: none can be predicted."
    low, high = min(_of(pull.low_kN) for pull in known), max(_of(pull.high_kN) for pull in known)
    most = max(known, key=lambda pull: _of(pull.largest_kN))
    pulls = f"{plural(len(plan.pulls), 'pull')} of {plural(len(plan.placements), 'placement')}"
    first = f"{pulls}: expect {short(low)} to {short(high)} kN"
    first += f" and reckon with {short(_of(most.largest_kN))} kN ({most.id})."
    short_of = [each.text for each in plan.findings if each.rank == "short"]
    return f"{first} {'The rig does not suffice: ' + short_of[0] if short_of else 'The rig suffices.'}"


def table(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each pull, in the order of the day, under HEADS."""
    from ..field.plan import COLUMNS, cells

    found = []
    for pull in plan.in_order:
        told = dict(zip(COLUMNS, cells(pull, plan.rig), strict=True))
        if pull.middle_kN is None:
            found.append((str(pull.order), pull.id, "", f"no prediction: {pull.prediction.problem}", *[""] * 6))
            continue
        limit = f"{_n(pull.middle_kN)} ({_n(pull.low_kN)} to {_n(pull.high_kN)})"
        movement = f"{_of(pull.movement_mm):.0f} (to {_of(pull.movement_high_mm):.0f})"
        haul, people = told["plan_haul_kN"], told["plan_people"]
        rest = (_n(pull.early_kN), _n(pull.largest_kN), movement, _n(haul), str(people))
        found.append((str(pull.order), pull.id, limit, pull.chances, *rest, f"{_of(pull.breakout_mm):.0f}"))
    return found


def findings(plan: Plan, most: int | None = None) -> list[str]:
    """What is short, and what is to be minded; the worst first, then what is enough. most : of each kind."""
    found = []
    for rank, words in (("short", "short"), ("mind", "mind"), ("enough", "enough")):
        of = [each.text for each in plan.findings if each.rank == rank]
        shown = of if most is None else of[:most]
        found += [f"{words}: {text}" for text in shown]
        if len(of) > len(shown):
            found.append(f"{words}: {len(of) - len(shown)} more in plan.md")
    return found


def repeats(tellings: Sequence[Telling]) -> list[str]:
    """How many repeats tell placements apart, the hardest pairs last."""
    return [each.words for each in tellings]


def page(plan: Plan, tellings: Sequence[Telling]) -> str:
    """The whole plan as Markdown."""
    rows = [f"| {' | '.join(markdown(cell) for cell in row)} |" for row in table(plan)]
    said = [f"- {markdown(text)}" for text in plan.said]
    placed = [f"- {markdown(pull.id)}: {markdown(_words(pull))}" for pull in plan.placements]
    open_ = [
        f"- {markdown(pull.id)}: {markdown('; '.join(pull.prediction.assumed))}"
        for pull in plan.placements
        if pull.prediction.assumed
    ]
    lines = [
        f"# Plan of {markdown(plan.name)}",
        "",
        f"**{markdown(answer(plan))}**",
        "",
        *(f"> {text}\n>" for text in (CAUTION, PULL_CAUTION)),
        f"> {HIGH_ENERGY}",
        "",
        "## Pulls",
        "",
        f"In the order of the day: {plan.in_order[-1].block} block(s), each shuffled (seed {plan.seed}). In brackets: "
        f"nine of ten of {plan.draws} draws of ice, assumptions, angle and depth. Early: within one tube diameter of "
        "movement. Reckon with: 95 % of the peaks, a hanger that holds counted. Keep clear: radius of the ice that may "
        "come out.",
        "",
        f"| {' | '.join(HEADS)} |",
        "| " + " | ".join(["---"] * len(HEADS)) + " |",
        *rows,
        "",
        "## Rig and places",
        "",
        *(f"- {markdown(text)}" for text in findings(plan)),
        "",
        "## How many repeats",
        "",
        *(f"- {markdown(text)}" for text in repeats(tellings) or ["one placement: nothing to tell apart"]),
        "",
        "## Placements",
        "",
        *placed,
        "",
        "## Taken for granted",
        "",
        *(said or []),
        *(open_ or ([] if said else ["- nothing"])),
    ]
    return "\n".join(lines) + "\n"


def _words(pull: Planned) -> str:
    settings = pull.prediction.settings or {}
    return case_words(settings, but=("numerics.level",)) if settings else pull.prediction.problem


def brief(pull: Planned) -> str:
    """A placement in few words: angle, depth, attachment, direction."""
    settings = pull.prediction.settings or {}
    angle = float(settings["placement.angle_deg"])
    words = [f"{angle:+.0f}°".replace("-", "−") if angle else "0°", f"{settings['placement.embedment_mm']:.0f} mm"]
    if settings["placement.attachment"] != "eye":
        words.append("tied off")
    if settings["pull.direction_deg"]:
        words.append(short_words("pull.direction_deg", settings["pull.direction_deg"]))
    return ", ".join(words)


def _of(value: float | None) -> float:
    return 0.0 if value is None else value


def _n(value: object) -> str:
    return f"{value:.1f}" if isinstance(value, float) else ""
