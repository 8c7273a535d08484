"""The keys of a case file: one table is the source of defaults, checks, the example file and the README's table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..materials import COLDEST_C, WARMEST_C, ice_names

FLUSH = "flush"


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the case file: a number between low and high, one of the choices, or either.

    at_most : another key whose value is an upper limit too.
    """

    name: str
    default: float | str
    unit: str
    help: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    at_most: str = ""

    def allowed(self, high: float | None = None) -> str:
        """What is allowed, as an error message says it; `high` where another key sets the limit."""
        words = ", ".join(f'"{choice}"' for choice in self.choices)
        if self.low is None:
            return f"must be one of {words}"
        unit = f" {self.unit}" if self.unit else ""
        limit = f"{self.high:g}{unit}" if high is None else f"{high:.6g}{unit}"
        if high is None and self.at_most:
            limit += f" and at most {self.at_most}"
        return f"must be a number between {self.low:g} and {limit}" + (f", or {words}" if words else "")


def _number(name: str, default: float | str, low: float, high: float, text: str, **more: Any) -> Key:
    unit = {"mm": "mm", "deg": "deg", "kN": "kN", "C": "deg C"}[name.rpartition("_")[2]]
    return Key(name, default, unit, text, low, high, **more)


KEYS: dict[str, Key] = {
    key.name: key
    for key in (
        _number("tube.length_mm", 140.0, 60.0, 300.0, "tip of the tube to hanger eye"),
        _number("tube.od_mm", 17.0, 10.0, 30.0, "outer diameter of the plain body"),
        _number("tube.wall_mm", 1.5, 0.5, 4.0, "wall thickness of the plain body"),
        _number("tube.thread_length_mm", 65.0, 10.0, 300.0, "threaded part, from the tip up", at_most="tube.length_mm"),
        _number("tube.thread_height_mm", 2.5, 0.5, 5.0, "height of the thread over the body; does not enter the onset"),
        _number(
            "tube.thread_pitch_mm",
            5.0,
            2.0,
            10.0,
            "distance from one turn of the thread to the next; does not enter the onset",
        ),
        _number("tube.eye_mm", 10.0, 2.0, 30.0, "height of the hanger eye above the ice when driven flush"),
        _number(
            "tube.hanger_kN",
            10.0,
            0.0,
            100.0,
            "strength of the hanger as its maker states it; does not enter the onset",
        ),
        _number("placement.angle_deg", 0.0, -45.0, 45.0, "from the surface normal; positive: head leans to the pull"),
        _number(
            "placement.embedment_mm",
            FLUSH,
            30.0,
            300.0,
            'length of tube inside the ice, along it; "flush" is tube.length_mm - tube.eye_mm',
            choices=(FLUSH,),
            at_most="tube.length_mm",
        ),
        Key(
            "placement.attachment",
            "eye",
            "",
            "where the pull enters: the hanger eye, or a sling tied round the tube at the ice",
            choices=("eye", "tied_off"),
        ),
        _number(
            "pull.direction_deg", 0.0, 0.0, 90.0, "from the surface: 0 along it (shear), 90 straight out (tension)"
        ),
        Key("ice.kind", "sound_glacier", "", "ice below the crust", choices=tuple(ice_names())),
        _number("ice.temperature_C", -5.0, COLDEST_C, WARMEST_C, "temperature of the ice"),
        _number(
            "ice.crust_mm",
            0.0,
            0.0,
            100.0,
            "thickness of soft sun crust on top, at most 0.8 of the depth of the tip; 0 or at least 2",
        ),
        Key(
            "numerics.level",
            "standard",
            "",
            "how fine the mesh is: quick to try out, standard to report, fine to check",
            choices=("quick", "standard", "fine"),
        ),
    )
}
TABLES = tuple(dict.fromkeys(name.partition(".")[0] for name in KEYS))


def _toml(value: float | str) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def example_text() -> str:
    """A case file with every key at its default, its meaning, unit and range beside it."""
    lines = [
        "# An invented demo case: a made-up tube of trade-like size (common practice) in made-up ice.",
        "# Every key may be left out; the values below are the defaults. The unit is the end of each name.",
    ]
    for table in TABLES:
        lines += ["", f"[{table}]"]
        for key in KEYS.values():
            if key.name.startswith(table + "."):
                lines += [f"# {key.help}", f"# {key.allowed().removeprefix('must be ')}"]
                lines.append(f"{key.name.partition('.')[2]} = {_toml(key.default)}")
    return "\n".join(lines) + "\n"


def keys_table() -> str:
    """The keys as a Markdown table for the README."""
    rows = ["| key | default | allowed | meaning |", "| --- | --- | --- | --- |"]
    for key in KEYS.values():
        allowed = key.allowed().removeprefix("must be ")
        rows.append(f"| `{key.name}` | `{_toml(key.default)}` | {allowed} | {key.help} |")
    return "\n".join(rows) + "\n"
