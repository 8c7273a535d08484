"""The report of one case: its limit, the pull that moves, the chain of what happens, numbers, inputs, case file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ...fem.tube.modes import is_stated, mode_named
from ..case.file import CaseError, settings_from
from ..case.words import case_words, short_name
from ..command.numbers import fixed, percent
from ..command.rows import cone_rows, onset_rows, peak_rows
from ..files.store import read_json
from ..outcome.cautions import all_cautions
from ..outcome.data import LOADS, Outcome, known
from ..words.answer import cone_words, drawn_words, limit_words
from .moments import at_rest, curve, moments, placement, start_at
from .page import Moving, Page, Table, Words, cells, section
from .render import SPACE
from .space import packed
from .told import case_section, inputs, pictures

QUESTION = "What limits this tube in ice when it is pulled, and at what load?"
STEPS = ("push on the wall", "first crack", "ice in front", "lever or hinge", "what ends it")
GONE = "ice in front gone"


def solve_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a solved case. Raises ValueError if outcome.json is of another format."""
    outcome = Outcome.from_dict(read_json(folder / "outcome.json"))
    numbers = f"{answer_words(outcome)[0]} {case_words(outcome.case, outcome)}."
    space = packed(outcome, folder / "fields.vtu" if "fields.vtu" in files else None)
    made = ", ".join(f"{name} {number}" for name, number in outcome.versions.items())
    return Page(
        command="solve",
        title=limit_words(outcome),
        question=QUESTION,
        answer=answer_words(outcome),
        about=case_words(outcome.case, outcome),
        limits=tuple(f"{note[0].upper()}{note[1:]}." for note in outcome.notes),
        cautions=tuple(all_cautions([outcome])),
        sections=(
            *section("pull", "The pull" if outcome.peak else "Tube and ice", _pull(outcome, space)),
            *section("chain", "Why: the chain", _chain(outcome), *pictures(folder, files, numbers)),
            *section("numbers", "Numbers", _numbers(outcome), _events(outcome), _rivals(outcome), _drawn(outcome)),
            *inputs(outcome, idle_of(outcome)),
            *case_section(outcome.case),
        ),
        made=f"Made with {made}.",
        scripts=frozenset({SPACE}) if space else frozenset(),
    )


def answer_words(outcome: Outcome) -> tuple[str, ...]:
    """The answer in two sentences: the limit and what it is, then its range and what moves it."""
    if outcome.limit_kN is None:
        onset = outcome.onset
        return (
            f"The first damage comes at {outcome.onset_kN:.2f} kN: {onset.mode} {onset.place}.",
            f"The crack is {onset.crack}; the peak was not asked for.",
        )
    words = mode_named(outcome.limit_mode).words or str(outcome.limit_mode)
    at_least = "at least " if outcome.limit_mode == "not reached" else ""
    return f"It holds {at_least}{outcome.limit_kN:.1f} kN; then {words}.", _range(outcome)


def _range(outcome: Outcome) -> str:
    if (drawn := outcome.drawn) is not None:
        low, *_, high = drawn.loads_kN["limit"]
        driven = ", ".join(map(short_name, drawn.driven_by[:2]))
        moved = f"; what moves it most is the {driven}" if driven else ""
        return f"Nine of ten draws lie between {low:.1f} and {high:.1f} kN{moved}."
    if outcome.peak is not None and (band := chip_band(outcome)) is not None:
        return f"If every chip of ice comes out it is {band[0]:.1f} kN, if none does {band[1]:.1f} kN."
    words = cone_words(outcome) if outcome.cone is not None else limit_words(outcome)
    return f"{words[0].upper()}{words[1:]}."


def chip_band(outcome: Outcome) -> tuple[float, float] | None:
    """The limit if every chip comes out and if none does, the smaller first [kN]; None without a pull."""
    if outcome.peak is None or not outcome.peak.band:
        return None
    stated = [rival.load_kN for rival in outcome.peak.rivals if is_stated(rival.mode)]
    stated += [known(outcome.limit_kN)] if is_stated(outcome.limit_mode) else []
    loads = sorted(min([of["peak"], *stated]) for of in outcome.peak.band.values())
    return loads[0], loads[-1]


def idle_of(outcome: Outcome) -> tuple[str, ...] | None:
    """The keys that cannot move the peak; None where that is not known."""
    from ..outcome.idle import idle_keys

    if outcome.peak is None:
        return None
    try:
        return idle_keys(settings_from(outcome.case)) or None
    except CaseError:
        return None


def _pull(outcome: Outcome, space: dict[str, object] | None) -> Moving | None:
    found = moments(outcome) or ([at_rest(outcome)] if space else [])
    if not found:
        return None
    happened = outcome.peak.events if outcome.peak else ()
    events = "; ".join(f"{event.name} at {event.load_kN:.1f} kN" for event in happened)
    shows = f"The tube as it is pulled: {events}." if events else f"Tube and ice at rest; {limit_words(outcome)}."
    data = {
        "placement": placement(outcome.case),
        "moments": found,
        "start": start_at(outcome, found) if happened else 0,
        "words": limit_words(outcome),
        "curve": curve(outcome),
        "limit": outcome.limit_kN or 0.0,
        "space": space,
    }
    return Moving("pull", "pull", shows, data)


def steps(outcome: Outcome) -> tuple[str, ...]:
    """The five steps from the push to the end, each with its number, under STEPS."""
    onset, peak = outcome.onset, outcome.peak
    push = (
        f"at the mouth {abs(onset.mouth_compression_MPa_per_kN):.1f} MPa of compression and "
        f"{onset.mouth_tension_MPa_per_kN:.1f} MPa of tension for each kN"
    )
    crack = f"{outcome.onset_kN:.2f} kN: {onset.mode} {onset.place}"
    if peak is None:
        return push, crack, "not followed", "not followed", limit_words(outcome)
    gone = next((event for event in peak.events if event.name == GONE), None)
    if gone is None:
        chip = "no chip comes out, the ice stays"
    else:
        chip = f"{gone.load_kN:.1f} kN: chips come out, {gone.displacement_mm:.1f} mm moved"
    if (band := chip_band(outcome)) is not None:
        chip += f"; if every chip came {band[0]:.1f} kN, if none {band[1]:.1f} kN"
    hinge = outcome.first_hinge_kN
    turned = f"the head turns by {abs(known(outcome.head_rotation_deg)):.0f}° up to the peak"
    bent = f"{hinge:.1f} kN: the tube forms a hinge; {turned}" if hinge is not None else f"no hinge; {turned}"
    return push, crack, chip, bent, limit_words(outcome).removeprefix("limit ")


def _chain(outcome: Outcome) -> Table:
    rows = tuple((f"{k} {name}", text) for k, (name, text) in enumerate(zip(STEPS, steps(outcome), strict=True), 1))
    return Table(
        "From the push to the end, in five steps", ("step", "what happens, and at what load"), rows, sorts=False
    )


def _numbers(outcome: Outcome) -> Table:
    rows = [*(peak_rows(outcome) if outcome.peak else cone_rows(outcome) if outcome.cone else ()), *onset_rows(outcome)]
    return Table(
        "What was found", ("what", "value"), tuple((what, *cells([value])) for what, value in map(_flat, rows))
    )


def _flat(row: tuple[str, object]) -> tuple[str, object]:
    what, value = row
    if isinstance(value, dict):
        return what, ", ".join(f"{name} {cells([each])[0]}" for name, each in value.items())
    return what, value


def _events(outcome: Outcome) -> Table | None:
    if outcome.peak is None:
        return None
    events = sorted(outcome.peak.events, key=lambda event: event.displacement_mm)
    rows = tuple((event.name, fixed(event.load_kN, 2), fixed(event.displacement_mm, 2)) for event in events)
    return Table("Events of the pull", ("event", "load (kN)", "movement (mm)"), rows)


def _rivals(outcome: Outcome) -> Table | None:
    """The loads that a pull reads, as found and at both ends of the band."""
    if outcome.peak is None:
        return None
    band = outcome.peak.band
    rows = [
        (
            words,
            fixed(known(outcome.load(name)), 2),
            outcome.mode(name),
            *("" if (of := band.get(end, {}).get(name)) is None else fixed(of, 2) for end in ("goes", "stays")),
        )
        for name, words in LOADS.items()
    ]
    head = ("load of tube and ice", "kN", "what gives way", "if every chip comes out (kN)", "if none does (kN)")
    return Table("Loads that a pull reads, and the band of the chips", head, tuple(rows))


def _drawn(outcome: Outcome) -> Words | Table | None:
    drawn = outcome.drawn
    if drawn is None:
        return None
    head = ("load", *(f"{percent(share, 0)} below (kN)" for share in drawn.share))
    rows = tuple((LOADS.get(name, name), *(fixed(load, 2) for load in loads)) for name, loads in drawn.loads_kN.items())
    return Table(f"With what nobody knows drawn at random: {'; '.join(drawn_words(outcome)[:1])}", head, rows)
