"""The field sheet: what to set and what to expect of each pull, and large empty boxes to write in, in ice and rain.

One A4 page holds ROWS pulls, in the order in which they are made. `sheet_pdf` draws it as PDF, `sheet_page` as one
page of HTML that needs nothing else; both from the words and the side view (`sketch`) of this module. Bytes are the
same for the same sheet: no date of making stands in them.

What users wrote (title, ids) loses what cannot be printed and is cut to fit. Loads in kN, lengths in mm, angles in
degrees from the surface normal, positive where the head leans toward the pull.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Literal

from ..command.numbers import short
from ..command.plain_text import one_line, shortened
from ..outcome.cautions import CAUTION, HIGH_ENERGY
from .sketch import Drawn, Frame, common_frame

ROWS = 6  # of a page
LONGEST_TITLE, LONGEST_ID, LONGEST_WORDS, LONGEST_MODE = 55, 20, 24, 30
ENDINGS = (
    "cone",
    "lever-out",
    "tube bent",
    "hanger",
    "sling",
    "cell's limit",
    "movement ran out",
    "stopped by us",
)
BOXES = (
    ("angle measured", "°"),
    ("depth measured", "mm"),
    ("PEAK", "kN"),
    ("moved at peak", "mm"),
    ("time to peak", "s"),
)
NOTES = ("ice, temperature °C", "notes")
BLANKS = (("date", 40.0), ("place", 60.0), ("people", 78.0))  # mm
CAUTIONS = (HIGH_ENERGY, CAUTION)


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A pull as it is to be made and what is expected of it, None where nothing is predicted (kN, mm, deg).

    depth_mm : length of tube in the ice.  placement : words of the user's own on the place, "" for none.
    low_kN, middle_kN, high_kN : expected range.  mode : what gives way first.  largest_kN : to be reckoned with.
    """

    id: str
    order: int
    block: int
    angle_deg: float
    depth_mm: float
    length_mm: float
    od_mm: float
    attachment: Literal["eye", "tied_off"] = "eye"
    sling_height_mm: float = 0.0
    direction_deg: float = 0.0
    placement: str = ""
    low_kN: float | None = None
    middle_kN: float | None = None
    high_kN: float | None = None
    mode: str = ""
    largest_kN: float | None = None

    def __post_init__(self) -> None:
        lengths = {"depth_mm": self.depth_mm, "length_mm": self.length_mm, "od_mm": self.od_mm}
        for name, value in lengths.items():
            if not (isfinite(value) and value > 0):
                raise ValueError(f"{name} = {value:g}: must be positive")
        for name in ("angle_deg", "direction_deg"):
            if not -90 <= getattr(self, name) <= 180:
                raise ValueError(f"{name} = {getattr(self, name):g}: must lie between -90 and 180")
        if self.attachment not in ("eye", "tied_off"):
            raise ValueError(f"attachment = {self.attachment!r}: must be 'eye' or 'tied_off'")

    @property
    def drawn(self) -> Drawn:
        """What the side view shows."""
        tied, height = self.attachment == "tied_off", self.sling_height_mm
        size = self.angle_deg, self.depth_mm, self.length_mm, self.od_mm
        return Drawn(*size, tied, height, self.direction_deg)

    @property
    def name(self) -> str:
        """The id, fit for print."""
        return shortened(one_line(self.id), LONGEST_ID)

    def to_set(self) -> tuple[str, ...]:
        """What to set, a line each."""
        away = f"{abs(self.angle_deg):g}° {'AWAY from' if self.angle_deg < 0 else 'TOWARD'} the pull"
        up = "along the ice" if self.direction_deg == 0 else f"{self.direction_deg:g}° up from the ice"
        held = "at the EYE"
        if self.attachment == "tied_off":
            held = "TIED OFF" + (f", {self.sling_height_mm:g} mm up" if self.sling_height_mm else " at the ice")
        lines = (
            f"tube {self.length_mm:g} × {self.od_mm:g} mm",
            f"{self.depth_mm:g} mm in the ice",
            away if self.angle_deg else "UPRIGHT",
            held,
            "pull STRAIGHT OUT" if self.direction_deg == 90 else f"pull {up}",
            shortened(one_line(self.placement), LONGEST_WORDS),
        )
        return tuple(line for line in lines if line)

    @staticmethod
    def heavy(line: str) -> bool:
        """Whether a line of `to_set` is one to mind: it has a word in capitals."""
        return any(part.isupper() and len(part) > 2 for part in line.split())

    def expected(self) -> tuple[str, ...]:
        """What to expect, a line each; what gives way first last."""
        if self.low_kN is None or self.high_kN is None:
            return ("no load predicted",)
        within = f"{short(self.low_kN, 2)} to {short(self.high_kN, 2)}"
        mode = shortened(one_line(self.mode), LONGEST_MODE)
        load = f"{within} kN" if self.middle_kN is None else f"{short(self.middle_kN, 2)} kN ({within})"
        return (f"expect {load}", *([mode] if mode else []))

    def reckon(self) -> str:
        """The largest load to reckon with, in words."""
        return "largest load: unknown" if self.largest_kN is None else f"be ready for {short(self.largest_kN)} kN"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A day's pulls in the order in which they are made.  seed : of the order, None if it was not drawn."""

    title: str
    rows: tuple[SheetRow, ...]
    seed: int | None = None

    def __post_init__(self) -> None:
        if not self.rows:
            raise ValueError("rows: must hold one pull at least")

    @property
    def heading(self) -> str:
        """The title, fit for print."""
        return shortened(one_line(self.title), LONGEST_TITLE)

    @property
    def frame(self) -> Frame:
        """The scale that all side views share."""
        return common_frame([row.drawn for row in self.rows])

    def pages(self) -> Iterator[tuple[str, tuple[SheetRow, ...]]]:
        """Words at the upper right and the rows of each page."""
        parts = [self.rows[k : k + ROWS] for k in range(0, len(self.rows), ROWS)]
        for number, rows in enumerate(parts, 1):
            blocks = sorted({row.block for row in rows})
            words = f"block{'s' if len(blocks) > 1 else ''} {', '.join(map(str, blocks))}"
            seed = "" if self.seed is None else f" · seed {self.seed}"
            yield f"{words}{seed} · page {number} of {len(parts)}", rows
