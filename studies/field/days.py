"""Days of pulls that come with the package: tables to plan from, and their protocols; invented pushes of a pin."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..case.toml import CaseError, did_you_mean, shown

PIN = "pin_push"  # no pulls of tubes: pushes of a pin


def shipped_days(suffix: str = ".csv") -> dict[str, Path]:
    """Tables of days by name; with ".md" their protocols."""
    folder = files("icecone.studies.shipped") / "days"
    return {Path(item.name).stem: Path(str(item)) for item in folder.iterdir() if item.name.endswith(suffix)}


def shipped_pushes() -> dict[str, Path]:
    """Sheets of pushes by name; invented."""
    folder = files("icecone.studies.shipped") / "pushes"
    return {Path(item.name).stem: Path(str(item)) for item in folder.iterdir() if item.name.endswith(".csv")}


def day_text(name: str, suffix: str = ".csv") -> str:
    """The table of a day, or its protocol. Raises CaseError for one that there is not."""
    known = shipped_days(suffix)
    if name not in known:
        hint = did_you_mean(name, {each: each for each in known})
        raise CaseError(f"--day = {shown(name)}: must be one of {', '.join(sorted(known))}{hint}")
    return known[name].read_text(encoding="utf-8")
