"""A day of pulls as planned, in words: what to expect, whether the rig suffices, how many repeats."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..case.words import case_words, short_words
from ..command.numbers import percent, plural, short
from ..command.plain_text import markdown
from ..field.rig import people_needed
from ..outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION

if TYPE_CHECKING:
    from ..field.plan import Plan, Planned
    from ..field.tell_apart import Telling

HEADS = (
    *("pulls", "placement", "order", "limit (kN)", "gives way first", "early (kN)", "reckon with (kN)"),
    *("movement (mm)", "people", "keep clear (mm)"),
)
MODES = 2  # shown of a placement
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
    between = short(low, 2) if low == high else f"{short(low, 2)} to {short(high, 2)}"
    first = f"{pulls}: expect {between} kN"
    first += f" and reckon with {short(_of(most.largest_kN), 2)} kN ({most.id})."
    short_of = [each.text for each in plan.findings if each.rank == "short"]
    if not short_of:
        return f"{first} The rig suffices."
    return f"{first} The rig does not suffice: {short_of[0][0].lower()}{short_of[0][1:]}"


def table(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each placement, in the order of the table, under HEADS."""
    found: list[tuple[str, ...]] = []
    for first in plan.placements:
        own = [pull for pull in plan.predicted if pull.placement == first.placement]
        order = ", ".join(str(pull.order) for pull in sorted(own, key=lambda pull: pull.order))
        limit, movement = _n(first.middle_kN), f"{_of(first.movement_mm):.0f}"
        if plan.draws:
            limit += f" ({_n(first.low_kN)} to {_n(first.high_kN)})"
            movement += f" (to {_of(first.movement_high_mm):.0f})"
        modes = ", ".join(f"{mode} {percent(share, 0)}" for mode, share in first.modes[:MODES])
        people = people_needed(plan.rig, _of(first.high_kN))
        rest = (_n(first.early_kN), _n(first.largest_kN), movement, f"{people}", f"{_of(first.breakout_mm):.0f}")
        found.append((", ".join(pull.id for pull in own), brief(first), order, limit, modes, *rest))
    return found


def drawn_words(plan: Plan) -> str:
    """What the range is."""
    if not plan.draws:
        return "As stated, without draws"
    return f"In brackets: nine of ten of {plan.draws} draws of ice, assumptions, angle and depth"


def unpredicted(plan: Plan) -> list[str]:
    """Pulls without a prediction, with the reason."""
    return [f"{pull.id}: no prediction: {pull.prediction.problem}" for pull in plan.pulls if pull.middle_kN is None]


def order_words(plan: Plan) -> str:
    """The order of the day."""
    return "; ".join(f"{pull.order} {pull.id}" for pull in plan.in_order)


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
        f"{drawn_words(plan)}. Early: load of tube and "
        "ice within one tube diameter of movement. Reckon with: 95 % of the peaks, a hanger that holds counted. Keep "
        "clear: radius of the ice that may come out.",
        "",
        f"| {' | '.join(HEADS)} |",
        "| " + " | ".join(["---"] * len(HEADS)) + " |",
        *rows,
        "",
        *(f"- {markdown(text)}" for text in unpredicted(plan)),
        "",
        f"Order of the day, {plural(plan.in_order[-1].block, 'block')}, each shuffled (seed {plan.seed}): "
        f"{markdown(order_words(plan))}.",
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
