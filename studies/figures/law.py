"""The law of the wall for teachers: a stiff stub pushed sideways, its chips in section, its push and its trench.

Left to right: head leaning away, upright, toward the push. True to scale, from `fem.tube.rigid_wall`; dotted is what
the other end of the band would bear, ice that goes or ice that stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, degrees, pi, radians, sin, tan
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ...fem.errors import SolveError
from ...fem.laws.gather import peak_laws
from ...fem.laws.ice_laws import IceLaws
from ...fem.tube.rigid_wall import RigidPush, faces, push_rigid_wall
from ..case.file import Settings, to_case
from ..files.laws import kept_law
from ..outcome.data import Outcome
from .style import BEYOND, CONE, ICE, INK, LEANS, PULL, README, STEEL, heading, in_our_look, save, small_print, tidy

REACH, FURTHEST, SHOWN = 0.04, 0.01, 0.005  # m: the stub in the ice, its motion, the motion that the sections show
WANTED = (-20.0, 0.0, 20.0)  # deg
STANDS = 0.02  # m, of the stub above the ice
WIDE, DEEP, HIGH = (-30.0, 84.0), -64.0, 26.0  # mm
ALONG = radians(3.0)  # rise against the floor under which a chip no longer comes out


@dataclass(frozen=True, slots=True)
class Pushed:
    """A stub at an angle: its laws, its push, and the push at the end of the band that lies farther away."""

    laws: IceLaws
    push: RigidPush
    other: RigidPush | None


def law_of_study(outcomes: Sequence[Outcome], path: Path) -> None:
    """Draw the law of the first outcome's ice at those of the angles that lie nearest to WANTED.

    Nothing is drawn if a law does not come out.
    """
    angles = {float(outcome.case["placement.angle_deg"]) for outcome in outcomes}
    nearest = sorted({min(angles, key=lambda angle: (abs(angle - each), angle)) for each in WANTED})
    try:
        law_figure(outcomes[0].case, path, nearest)
    except (SolveError, ValueError):
        path.unlink(missing_ok=True)


@in_our_look
def law_figure(settings: Settings, path: Path | None, angles: Sequence[float] = WANTED) -> Figure:
    """The law of a case's ice and tube at some angles [deg]. Raises SolveError as `peak_laws`."""
    pushed = [_pushed({**settings, "placement.angle_deg": angle}) for angle in angles]
    figure = Figure(figsize=(README, 7.8), layout="constrained")
    grid = figure.add_gridspec(2, 6, height_ratios=(1.0, 1.1))
    share = 6 // len(pushed)
    for k, each in enumerate(pushed):
        _draw_section(figure.add_subplot(grid[0, share * k : share * (k + 1)]), each, LEANS[k])
    force, trench = figure.add_subplot(grid[1, :4]), figure.add_subplot(grid[1, 4:])
    for each, colour in zip(pushed, LEANS, strict=False):
        _draw_curves(force, trench, each, colour)
    _label(force, "push on the stub [kN]", "Push")
    _label(trench, "depth of the ice that is gone [mm]", "Depth of the trench")
    trench.set_ylim(-0.6, 1e3 * REACH)
    force.legend(fontsize=9.5, loc="upper right", frameon=False, ncols=len(pushed))
    heading(figure, "Why the angle matters: where the chip in front of the tube goes")
    small_print(figure, _words(pushed))
    return save(figure, path, dpi=100)


def _pushed(settings: Settings) -> Pushed:
    case = to_case(settings)
    laws = peak_laws(case, kept_law)
    angle = case.placement.angle
    push = push_rigid_wall(laws, angle, REACH, FURTHEST)
    if laws.chips is None:
        return Pushed(laws, push, None)
    ends = [
        push_rigid_wall(replace(laws, chips=replace(laws.chips, shift=shift)), angle, REACH, FURTHEST)
        for shift in (pi, -pi)
    ]
    return Pushed(laws, push, max(ends, key=lambda end: abs(end.force[-1] - push.force[-1])))


def _lean(angle: float) -> str:
    lean = round(degrees(angle), 6)
    return f"{abs(lean):g}° away" if lean < 0 else f"{lean:g}° toward" if lean > 0 else "upright"


def _label(axes: Axes, words: str, title: str) -> None:
    axes.set(xlabel="motion of the stub [mm]", ylabel=words, xlim=(0, 1e3 * FURTHEST))
    axes.set_title(title, fontsize=11)
    axes.axvline(1e3 * SHOWN, color=INK, lw=0.8, ls=(0, (1, 3)))
    tidy(axes)


def _draw_curves(force: Axes, trench: Axes, pushed: Pushed, colour: str) -> None:
    for push, style in ((pushed.push, "-"), (pushed.other, ":")):
        if push is None:
            continue
        label = _lean(push.angle) if style == "-" else f"if the ice {'stayed' if push.trench[-1] == 0 else 'went'}"
        line: dict[str, Any] = {"color": colour, "ls": style, "lw": 2.2 if style == "-" else 1.3, "label": label}
        force.plot(1e3 * push.motion, push.force / 1e3, **line)
        trench.plot(1e3 * push.motion, 1e3 * push.trench, **line)
    force.set_ylim(0, max(force.get_ylim()[1], 1.35e-3 * pushed.push.force.max()))


def _draw_section(axes: Axes, pushed: Pushed, colour: str) -> None:
    """Ice, stub after SHOWN, its chips and what is gone."""
    push, chips = pushed.push, pushed.laws.chips
    force, trench = push.at(SHOWN)
    axes.fill_between(WIDE, 2 * DEEP, 0.0, color=ICE, zorder=0)
    axes.plot(WIDE, (0, 0), color=INK, lw=0.9, zorder=1)
    _draw_stub(axes, push.angle)
    start = push.force.max()
    words = f"{start / 1e3:.1f} kN, stays" if force > 0.98 * start else f"{start / 1e3:.1f} kN, then {force / 1e3:.1f}"
    axes.set_title(f"{_lean(push.angle)}: {words}", fontsize=11.5, color=colour, fontweight="bold")
    axes.set(xlim=WIDE, ylim=(DEEP, HIGH), aspect="equal", xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    if chips is None:
        return
    first = faces(chips, push.angle, REACH, 0.0)[1]
    if trench == 0:
        _draw_face(axes, push, first, "chip" if first > 0 else "the crack dives,\nthe ice stays")
        return
    floor, face = faces(chips, push.angle, REACH, trench)
    _gone(axes, push, trench, floor)
    _draw_face(axes, push, first, "", light=True)
    _draw_face(axes, push, face, "next chip" if face - floor > ALONG else "the next crack stays under,\nthe rest bears")


def _wall(angle: float, s: float, motion: float = 0.0) -> NDArray[np.float64]:
    """Place on the front of the stub at a depth s [m] along it, moved by `motion` [m]; [mm]."""
    return 1e3 * np.array([motion * cos(angle) - s * sin(angle), -motion * sin(angle) - s * cos(angle)])


def _draw_stub(axes: Axes, angle: float) -> None:
    """The stub after SHOWN, the hole behind it, and the push."""
    back = 17.0 * np.array([cos(angle), -sin(angle)])
    hole = np.array([_wall(angle, 0.0), _wall(angle, REACH), _wall(angle, REACH, SHOWN), _wall(angle, 0.0, SHOWN)])
    axes.fill(*(hole - back).T, color="white", lw=0, zorder=2)
    ends = np.array([_wall(angle, -STANDS, SHOWN), _wall(angle, REACH, SHOWN)])
    axes.fill(*np.vstack([ends, ends[::-1] - back]).T, color=STEEL, lw=0, zorder=4)
    head = _wall(angle, 0.5 * REACH, SHOWN) + 0.75 * back
    arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 3.0, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 18}
    axes.annotate("", tuple(head), tuple(head - 1.9 * back), arrowprops=arrow, zorder=6)


def _gone(axes: Axes, push: RigidPush, trench: float, floor: float) -> None:
    """The trench after SHOWN, its floor rising in front."""
    top, foot = _wall(push.angle, 0.0, SHOWN), _wall(push.angle, trench, SHOWN)
    out = np.array([foot[0] - foot[1] / tan(max(floor, radians(1.0))), 0.0])
    axes.fill(*np.array([[top[0], 0.0], foot, out]).T, **{**BEYOND, "zorder": 2})
    axes.plot(*np.array([foot, out]).T, color=INK, lw=0.9, zorder=3)
    clear = {"fc": "white", "ec": "none", "pad": 1.0}
    axes.text(foot[0] + 16.0, 0.35 * foot[1], "gone", color=INK, fontsize=10, va="center", bbox=clear, zorder=6)


def _draw_face(axes: Axes, push: RigidPush, rise: float, words: str, light: bool = False) -> None:
    """A crack from the foot of the stub as it lay (light: dotted) or lies, up to the surface or out of the picture."""
    foot = _wall(push.angle, REACH, 0.0 if light else SHOWN)
    length = 200.0 if rise <= 0 else -foot[1] / sin(rise)
    end = foot + length * np.array([cos(rise), sin(rise)])
    axes.plot(*np.array([foot, end]).T, color=CONE, lw=1.4 if light else 2.6, ls=":" if light else "-", zorder=3)
    axes.text(WIDE[1] - 2.0, 0.55 * HIGH, words, color=CONE, fontsize=10, ha="right", va="center", zorder=6)


def _words(pushed: Sequence[Pushed]) -> str:
    """What the picture shows."""
    spall = 1e3 * pushed[0].laws.spall
    return (
        f"A stiff stub, {1e3 * REACH:g} mm in the ice, pushed sideways (green); section after {1e3 * SHOWN:g} mm, to "
        f"scale. A chip that comes out (red, dotted) is gone after {spall:g} mm.\n"
        "From the floor that is left the tube leans farther toward the push: the next chip needs more. In the end its "
        "crack stays under the ice.\n"
        "Dotted curves: which ice goes at which angle is not settled; so the other end of the band would bear."
    )
