"""The load that a study asks for: onset of damage, peak of the pull, or peak of the ice's cone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A load of the records [kN].

    name : in words.  key, mode_key : of load and mode in a record.  legend : of a marker, {} is the mode.
    """

    name: str
    key: str
    mode_key: str
    legend: str

    def load(self, record: Record) -> float | None:
        """Its load; None where no cone that was tried opens."""
        found = record[self.key]
        return None if found is None else float(found)

    def loads(self, records: Iterable[Record]) -> list[float]:
        """Of those that have one."""
        return [load for record in records if (load := self.load(record)) is not None]

    def mode(self, record: Record) -> str:
        """What gives way at it."""
        return str(record[self.mode_key])


ONSET = Quantity("onset", "onset_kN", "onset_mode", "first damage by {}")
PEAK = Quantity("peak", "peak_kN", "peak_mode", "peak: {}")
CONE = Quantity("peak of the cone", "peak_kN", "peak_mode", "peak of the {}")


def asked(records: Iterable[Record]) -> Quantity:
    """What records of these models have in common: where one holds no peak, the onset."""
    records = list(records)
    for quantity, part in ((CONE, "cone"), (PEAK, "peak")):
        if all(part in record for record in records):
            return quantity
    return ONSET
