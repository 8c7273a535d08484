"""Parts that several reports share: what entered, what is assumed and how it is known, the case file, pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ...materials import assumptions, ice_names
from ..case.file import KEYS
from ..case.keys import TABLES
from ..case.words import AXIS_WORDS, short_name
from ..command.numbers import plural
from ..outcome.data import Outcome
from ..words.materials import one
from .page import Copied, Picture, Section, Table, Words, section

PICTURES: dict[str, tuple[str, str]] = {  # name: what it shows, before its numbers; what stands below it
    "chain.png": ("Why the angle matters, step by step", "The chain, drawn."),
    "stress.png": ("Where the ice breaks first", "Where it breaks first."),
    "stress_strip.png": ("Where the ice breaks first, case beside case", "Where it breaks first, case beside case."),
    "load_displacement.png": ("The pull against the movement of the load point", "The curve of the pull."),
    "tube.png": ("The tube in the plane of the pull", "The tube at its events."),
    "tube_strip.png": ("The tube at its peak, case beside case", "The tube at its peak."),
    "cutaway.png": ("Tube and ice, cut open", "Tube and ice, cut open."),
    "cone.png": ("The cone's path and load", "The cone of ice."),
    "cone_strip.png": ("The cones, case beside case", "The cones."),
    "sweep.png": ("What the study varies, and what it finds", "The study in one picture."),
    "chip_paths.png": ("Paths of the first chip in front of the tube", "Where chips run."),
    "law.png": ("What the wall of the hole bears along the tube", "The law of the wall."),
    "band.png": ("The band between every chip out and none", "The band of the chips."),
    "spread.png": ("The loads as inputs are drawn at random", "Loads, drawn at random."),
    "drives.png": ("Which input drives the loads", "What drives the loads."),
    "design.png": ("Load over mass of the tubes tried", "The tubes tried."),
    "plan.png": ("What the pulls are expected to hold", "What to expect."),
    "power.png": ("How many repeats tell two placements apart", "How many repeats."),
    "comparison.png": ("Measured against predicted loads", "Measured against predicted."),
    "by_angle.png": ("Measured and predicted loads against the angle", "By angle."),
    "fit.png": ("Inputs before and after the fit", "What the pulls teach."),
    "errors.png": ("Error of every quantity, and what is allowed", "Errors."),
    "convergence.png": ("Error against element size", "Convergence."),
    "profiles.png": ("Profiles: reference as a line, ours as points", "Profiles."),
    "routes.png": ("Pulls by two routes", "Both routes."),
    "turning.png": ("Cracks in front of the tube that turn", "Cracks that turn."),
    "pin.png": ("Pushes of the pin", "The pin."),
}


def pictures(folder: Path, files: Sequence[str], numbers: str, but: Sequence[str] = ()) -> tuple[Picture, ...]:
    """The folder's pictures, in the order of PICTURES. numbers : what they show, in numbers."""
    names = [name for name in PICTURES if name in files and name not in but]
    return tuple(
        Picture((folder / name).read_bytes(), f"{PICTURES[name][0]}. {numbers}", PICTURES[name][1]) for name in names
    )


def case_file(case: Mapping[str, Any]) -> str:
    """A case file with every key as it counted."""
    lines = ["# The case of this report. Keys may be changed; solve it with: icecone solve case.toml"]
    for table in TABLES:
        lines += ["", f"[{table}]"]
        lines += [
            f"{name.partition('.')[2]} = {_toml(case[name])}"
            for name in KEYS
            if name in case and name.startswith(f"{table}.")
        ]
    return "\n".join(lines) + "\n"


def inputs(outcome: Outcome, idle: Sequence[str] | None = None, varied: Sequence[str] = ()) -> tuple[Section, ...]:
    """What entered, and what is assumed.

    idle : keys that cannot move the peak; None: not asked.  varied : keys of a study, which the other ones are not.
    """
    case = outcome.case
    known = [key for key in KEYS if key in case and key not in varied]
    rows = {key: (key, AXIS_WORDS[key].partition(" [")[0], _value(key, case[key])) for key in known}
    entered = tuple(row for key, row in rows.items() if key not in (idle or ()))
    left = tuple(row for key, row in rows.items() if key in (idle or ()))
    head = ("key", "what it is", "value")
    first = [f"Varied: {', '.join(map(short_name, varied))}; all else is the same."] if varied else []
    if idle:
        first.append(
            f"{plural(len(entered), 'key')} can move peak and limit of this case, {len(left)} cannot: each was changed "
            "alone, and what a pull is given stayed the same."
        )
    named = "Keys that entered" if idle else "Keys that all cases share" if varied else "All keys of the case"
    return (
        *section(
            "entered",
            "What entered, and what did not",
            Words(tuple(first)),
            Table(f"{named} ({len(entered)})", head, entered, folded=True),
            Table(f"Keys that cannot move the peak here ({len(left)})", head, left, folded=True),
        ),
        *assumed_section(case),
    )


def assumed_section(case: Mapping[str, Any]) -> tuple[Section, ...]:
    """What is assumed, and how it is known."""
    return section("assumed", "What is assumed, and how it is known", *_assumed(case))


def case_section(case: Mapping[str, Any]) -> tuple[Section, ...]:
    """The case file to copy."""
    return section("case", "The case file", Copied("case.toml", case_file(case)))


def _assumed(case: Mapping[str, Any]) -> tuple[Table | Words, ...]:
    """Assumptions with their ranges and how known; the stated values of ice and metal."""
    rows = []
    for name, each in assumptions().items():
        number, unit = each.number, KEYS[f"assumed.{name}"].unit
        used = _value(f"assumed.{name}", float(case.get(f"assumed.{name}", number.value)))
        words = short_name(f"assumed.{name}")
        between = f"{number.low:g} to {number.high:g}{f' {unit}' if unit else ''}"
        rows.append((words, used, between, number.how, ", ".join(each.moves), number.source))
    head = ("what", "value", "range", "how known", "moves", "source")
    return (
        Words(("Each number that nobody measured for this ice and tube, with the range it may well have.",)),
        Table("What is assumed besides the materials", head, tuple(rows)),
        *(_material(str(case[key]), case) for key in ("ice.kind", "tube.metal")),
    )


def _material(name: str, case: Mapping[str, Any]) -> Table:
    temperature, time = (float(case[f"ice.{each}"]) for each in ("temperature_C", "load_time_s"))
    page, sources = one(name, temperature, time)
    by_number = {row[0]: row[1] for row in sources.rows}
    rows = tuple((*row[:-2], *_how(by_number.get(row[-2], row[-2]))) for row in page.rows)
    kind = "ice" if name in ice_names() else "metal"
    return Table(f"Values of the {kind}: {page.title}", (*page.columns[:-2], "how known", "source"), rows, folded=True)


def _how(text: str) -> tuple[str, str]:
    how, _, source = text.partition(": ")
    return how, source


def _value(key: str, value: float | str) -> str:
    unit = KEYS[key].unit
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g}{f' {unit}' if unit else ''}"


def _toml(value: float | str) -> str:
    return f'"{value}"' if isinstance(value, str) else repr(float(value))
