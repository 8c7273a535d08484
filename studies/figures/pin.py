"""Pushes of a pin beside what the law says: what each bears at its end, over what ice that stays would bear.

Filled: chips came out; hollow: they stayed, or none was seen. Bars: the two ends of the law, ice that goes and ice that
stays, at the share of crushing that the pushes of that rate give.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ..outcome.cautions import INVENTED
from .style import GOES, INK, LIMIT, STAYS, heading, in_our_look, save, shades, small_print, tidy

if TYPE_CHECKING:
    from ..field.pin_push import Push
    from ..field.pin_words import Settled

APART = 1.1  # deg between pushes of one tilt


@in_our_look
def pin_figure(
    pushes: Sequence[Push], settled: Settled, kind: str, path: Path | None, invented: bool = False
) -> Figure:
    """The picture of some pushes; path : None to write nothing.  invented : said in the picture."""
    from ..field.pin_push import alike, pin_forces

    figure = Figure(figsize=(9.5, 5.8), layout="constrained")
    axes = figure.add_subplot()
    rates = alike(pushes, "rate_mm_per_s")
    colours = dict(zip(rates, shades(len(rates)), strict=True))
    for angle in alike(pushes, "angle_deg"):
        here = [push for push in pushes if push.angle_deg == angle]
        for k, push in enumerate(here):
            fit = settled.shares[push.rate_mm_per_s]
            ends = pin_forces(push, kind, fit.value if fit else 1.0)
            x = angle + APART * (k - 0.5 * (len(here) - 1))
            axes.plot([x - 0.4 * APART, x + 0.4 * APART], [1.0, 1.0], color=STAYS, lw=2.0, zorder=2)
            goes = ends.goes_kN / ends.stays_kN
            axes.plot([x - 0.4 * APART, x + 0.4 * APART], [goes, goes], color=GOES, lw=6, alpha=0.4, zorder=1)
            out, colour = push.chips == "came out", colours[push.rate_mm_per_s]
            face = colour if out else "white"
            axes.plot(x, push.force_kN / ends.stays_kN, "o", mfc=face, mec=colour, mew=1.5, ms=7.5, zorder=3)
    border, law = settled.border, settled.law_border_deg
    axes.axvline(law, color=LIMIT, lw=1.2, ls="--", zorder=0)
    axes.text(law, 1.02, " border of the law", color=LIMIT, fontsize=8.5, transform=axes.get_xaxis_transform())
    low, high = max(border.low, -60.0), min(border.high, 60.0)
    axes.axvspan(low, high, color=LIMIT, alpha=0.15, lw=0, zorder=0)
    axes.set_ylim(bottom=-0.04)
    axes.set_xlim(min(push.angle_deg for push in pushes) - 6, max(push.angle_deg for push in pushes) + 6)
    axes.set_xlabel("tilt of the pin [deg]   (positive: upper end toward the push)")
    axes.set_ylabel("force at the end over that of ice that stays [-]")
    tidy(axes)
    plain: dict[str, Any] = {"ls": "", "marker": "o", "ms": 7}
    handles = [Line2D([], [], color=colour, label=f"{rate:g} mm/s", **plain) for rate, colour in colours.items()]
    handles += [
        Line2D([], [], color=INK, label="chips came out", **plain),
        Line2D([], [], mfc="white", mec=INK, label="stayed, or none", **plain),
        Line2D([], [], color=STAYS, lw=2.0, label="law: ice stays"),
        Line2D([], [], color=GOES, lw=6, alpha=0.4, label="law: ice goes"),
        Line2D([], [], color=LIMIT, lw=8, alpha=0.3, label="border from\nthe pushes"),
    ]
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1), fontsize=9, frameon=False)
    heading(figure, next(text for text in settled.words if text.startswith("Border")), 11.5)
    words = f"{len(pushes)} pushes of a stiff pin in {kind.replace('_', ' ')}."
    small_print(figure, f"{words} {INVENTED}" if invented else words)
    return save(figure, path)
