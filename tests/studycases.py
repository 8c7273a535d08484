"""Strategies for whole studies and field tables, solved by a stand-in: what any user may write, and what may fail.

A study is its text as a user writes it, and which of its cases come out. The outcomes have the keys of real ones and
None wherever a real one may hold it; their numbers are invented and say nothing about ice.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from io import StringIO
from typing import Any

from domains import numbers
from hypothesis import strategies as st
from studystub import EVENT, made_up_record

from icecone.studies.field.columns import COLUMNS, FLAGS, SHORT
from icecone.studies.outcome.data import LOADS as OF_A_PULL
from icecone.studies.outcome.data import Outcome

READINGS = tuple(f"{load}_{what}" for load in OF_A_PULL for what in ("kN", "mode", "at_mm"))
ODD = (
    "from $5 to $10",
    r"$\frac{1$",
    r"a \$ and \ b_{2}^3",
    "[bold]kN[/] [/]",
    "x" * 3000,
    "many words " * 400,
    '=HYPERLINK("x")',
    "<script>`|`</script>",
    "red\x1b[31m \x00 \u202eback",
    "two\nlines\r\n\tand tabs",
    "冰 ❄ é",
    "%s {0} {title}",
)
TITLES = st.one_of(st.just("an invented study"), st.sampled_from(ODD), st.text(min_size=1, max_size=40))
WRITABLE = TITLES.filter(lambda text: any(c.isprintable() and not c.isspace() for c in text))
VALUES: dict[str, tuple[float | str, ...]] = {
    "placement.angle_deg": (-30, -20, 0, 20),
    "placement.embedment_mm": ("flush", 130, 60, 40, 90),
    "placement.attachment": ("eye", "tied_off"),
    "pull.direction_deg": (0, 45, 90),
    "tube.thread_height_mm": (1.5, 2.5, 3.5),
    "tube.wall_mm": (1, 1.5, 2),
    "tube.metal": ("chromoly_steel", "aluminium_alloy", "titanium_alloy"),
    "ice.kind": ("sound_glacier", "firn", "dense_waterfall"),
    "ice.temperature_C": (-20, -5, 0),
    "ice.crust_mm": (0, 2, 20),
    "ice.load_time_s": (0.1, 10, 1000),
    "ice.column_tilt_deg": ("across", -30, 0),
    "ice.thickness_mm": ("deep", 500, 1000),
    "ice.porosity": ("by_kind", 0.0, 0.2),
    "crust.temperature_C": ("as_ice", -5, -1),
    "numerics.level": ("quick", "standard", "fine"),
}
MODES = ("cone", "tube bends", "lever-out", "threads stripped", "rope", "not reached", "a mode of tomorrow")
LOADS = st.one_of(st.sampled_from((0.3, 4.0, 12.0)), numbers(0.05, 80.0))
MAYBE = st.one_of(st.none(), LOADS)


def toml(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return f"[{', '.join(map(toml, value))}]" if isinstance(value, list | tuple) else repr(value)


def tables(values: Mapping[str, object], under: str) -> str:
    """Flat keys as tables of TOML under a name."""
    return "".join(f"{under}.{name} = {toml(value)}\n" for name, value in values.items())


@st.composite
def some_values(draw: st.DrawFn, key: str) -> list[float | str]:
    """One value of a key or more, none twice."""
    values = draw(st.lists(st.sampled_from(VALUES[key]), min_size=1, unique=True))
    return [value for value in values if value != 130 or "flush" not in values]  # the same placement


@st.composite
def studies(draw: st.DrawFn) -> str:
    """A study as its text: one series, several, or a grid, of any model."""
    title, question = draw(WRITABLE), draw(WRITABLE)
    head = f"study.title = {toml(title)}\nstudy.question = {toml(question)}\n"
    kind = draw(st.sampled_from(("vary", "several", "lines", "map", "front")))
    model = "peak" if kind in ("lines", "map", "front") else draw(st.sampled_from(("onset", "cone", "peak")))
    keys = draw(st.lists(st.sampled_from(sorted(VALUES)), min_size=2, max_size=3, unique=True))
    if kind == "front" and not any(key.startswith("tube.") for key in keys):
        keys[0] = "tube.wall_mm"
    case = tables({"numerics.model": model}, "case")
    if kind in ("lines", "map", "front"):
        grid = {key: draw(some_values(key)) for key in keys}
        return f'{head}study.picture = "{kind}"\n{case}{tables(grid, "grid")}'
    keys = keys if kind == "several" else keys[:1]
    if draw(st.integers(0, 9)) == 0:
        keys[0], case = "numerics.model", ""
    series, strip = [], ""
    for key in keys:
        values = draw(some_values(key)) if key in VALUES else ["onset", "cone", "peak"]
        series.append(f"[[vary]]\nkey = {toml(key)}\nvalues = {toml(values)}\n")
        if draw(st.booleans()):
            strip = f"[strip]\nkey = {toml(key)}\nvalues = {toml(values[:2])}\n"
    return f"{head}{case}{''.join(series)}{strip}"


@st.composite
def records(draw: st.DrawFn, settings: dict[str, Any]) -> Outcome:
    """What a solve of these settings may leave."""
    ice: dict[str, Any] = {name: draw(numbers(0.1, 10.0)) for name in ("tensile_MPa", "compressive_MPa", "porosity")}
    ice |= {"K_IC_kPa_sqrt_m": draw(numbers(0.1, 10.0)), "critical_distance_mm": 3.0, "shear_distance_mm": 2.0}
    found: dict[str, Any] = {
        **dict.fromkeys(("limit_kN", "limit_mode", "ended_by", *READINGS)),
        **dict.fromkeys(("next_mode", "next_kN", "margin", "first_hinge_kN", "head_rotation_deg")),
        "onset_kN": draw(LOADS),
        "onset_mode": draw(st.sampled_from(("tension", "shear", "crushing"))),
        "onset_where_mm": [8.5, 0.0, draw(st.sampled_from((0.0, -2.0, -20.0)))],
        "ice": ice,
        "crust": ice if settings["ice.crust_mm"] > 0 else None,
    }
    model = settings["numerics.model"]
    found |= draw(cones()) if model == "cone" else draw(peaks()) if model == "peak" else {}
    return made_up_record(settings, **found)


@st.composite
def peaks(draw: st.DrawFn) -> dict[str, Any]:
    """What an outcome of a peak has beside that of an onset."""
    stated = draw(st.sampled_from(([], ["hanger"], ["hanger", "sling"])))
    rivals = [
        {"mode": mode, "load_kN": draw(LOADS)}
        for mode in (*stated, *draw(st.lists(st.sampled_from(MODES), max_size=2)))
    ]
    event = {**EVENT, "bearing_N_per_mm": draw(st.sampled_from(([0.0] * 3, [5.0, -3.0, 0.0])))}
    peak, mode = draw(LOADS), draw(st.sampled_from(MODES))
    limit = min([(peak, mode), *((each["load_kN"], each["mode"]) for each in rivals if each["mode"] in stated)])
    return {
        "limit_kN": limit[0],
        "limit_mode": limit[1],
        **{f"{load}_kN": draw(LOADS) for load in OF_A_PULL},
        **{f"{load}_mode": draw(st.sampled_from(MODES)) for load in OF_A_PULL},
        **{f"{load}_at_mm": draw(numbers(0.0, 250.0)) for load in OF_A_PULL},
        "ended_by": "invented",
        "peak_kN": peak,
        "peak_mode": mode,
        "notes": draw(st.lists(st.sampled_from(("an invented note", "another, of 50 %")), max_size=2)),
        "next_mode": rivals[0]["mode"] if rivals else None,
        "next_kN": rivals[0]["load_kN"] if rivals else None,
        "first_hinge_kN": draw(MAYBE),
        "head_rotation_deg": draw(numbers(0.0, 90.0)),
        "peak": {"rivals": rivals, "others_above_kN": draw(MAYBE), "events": [event]},
    }


@st.composite
def cones(draw: st.DrawFn) -> dict[str, Any]:
    """What an outcome of a cone has; none may open, and its side may not rise."""
    depth, rise = draw(numbers(20.0, 150.0)), draw(st.sampled_from((0.0, 30.0)))
    side = [[[x * sign, 0.0, z] for sign in (-1, 1, -1)] for x, z in ((10.0, -depth), (40.0, rise - depth))]
    peak = draw(MAYBE)
    return {
        "limit_kN": 10.0 if peak is None else min(peak, 10.0),
        "limit_mode": "hanger" if peak is None or peak > 10 else "cone",
        "peak_kN": peak,
        "peak_mode": "cone",
        "cone_angle_deg": draw(numbers(0.0, 80.0)),
        "cone_depth_mm": depth,
        "cone": {"surface_mm": side},
    }


@st.composite
def field_tables(draw: st.DrawFn) -> str:
    """A field table as its text: some rows that the model takes, some that it does not, odd names and modes."""
    words = WRITABLE.map(lambda text: text.replace("\x00", ""))
    text = StringIO(newline="")
    writer = csv.writer(text)
    columns = (*COLUMNS, *SHORT)
    writer.writerow(columns)
    for number in range(draw(st.integers(1, 6))):
        row = {"id": f"{draw(words)} {number}", "source": draw(words), "flag": draw(st.sampled_from(("", *FLAGS)))}
        row |= {"mode": draw(words), "rate": draw(words), "notes": draw(words)} if draw(st.booleans()) else {}
        if peak := draw(st.sampled_from(("", "4", "0.001", "900"))):
            row |= {"peak_kN": peak, "sd_kN": draw(st.sampled_from(("", "5")))}
            row["ended"] = draw(st.sampled_from(("", "cone", "tube bent", "hanger", "cell's limit")))
        row |= {
            "ice": draw(st.sampled_from(("", "firn", "water ice"))),
            "angle_deg": draw(st.sampled_from(("", "-10", "60"))),
        }
        writer.writerow([row.get(column, "") for column in columns])
    return text.getvalue()
