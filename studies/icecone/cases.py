"""What to solve, in a user's words: a case from keyword arguments, ices and metals by name or of one's own.

A keyword is a key of the case file without its table: `angle_deg` is `placement.angle_deg`. Three keys have shorter
words: `ice`, `crust` and `metal` name a kind, or are an ice or metal of one's own. Keys of the crust that the ice has
too begin with `crust_`: `crust_temperature_C`. `assumed` is a mapping of the judged numbers, by their keys there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from html import escape
from pathlib import Path
from typing import Any

from icecone.fem.case import Case as SolverCase
from icecone.materials import Ice, Metal, metal_named
from icecone.materials.surface import Surface
from icecone.studies.case.file import Settings, settings_from, to_case
from icecone.studies.case.file import read_case as read_settings
from icecone.studies.case.keys import KEYS
from icecone.studies.case.toml import CaseError, did_you_mean
from icecone.studies.outcome.own import KEYWORDS, Own

WORDS = {"ice": "ice.kind", "crust": "crust.kind", "metal": "tube.metal"}
CRUST = "crust"


def _keywords() -> dict[str, str]:
    """Keyword -> key; "crust_" before those of the crust that the ice has too."""
    found = dict(WORDS)
    for key in KEYS:
        table, _, name = key.partition(".")
        if key not in WORDS.values() and table not in (CRUST, "assumed"):
            found[name] = key
    for key in KEYS:
        table, _, name = key.partition(".")
        if table == CRUST and key not in WORDS.values():
            found[f"{CRUST}_{name}"] = key
    return found


@dataclass(frozen=True, init=False, repr=False)
class Case:
    """One case: tube, placement, pull, ice and how far and how finely to solve.

    Case(angle_deg=-20, embedment_mm=70, ice="firn"). Every key of the case file is a keyword, in its unit; what is
    left out takes its default. `ice`, `crust` (an `Ice`), `metal` (a `Metal`), `criterion` (a failure surface:
    `icecone.materials.surface`), `laws` (a function of the ice's laws that returns changed ones) and `assumed` (a
    mapping) may be your own. Raises CaseError, one line, for an unknown keyword or a value out of range.

    >>> Case(angle_deg=-20, embedment_mm=70)
    Case(angle_deg=-20, embedment_mm=70)
    """

    settings: Settings
    own: Own
    given: dict[str, Any] = field(compare=False)

    def __init__(self, settings: Mapping[str, Any] | None = None, /, **keywords: Any) -> None:
        """settings : keys of the case file with their values, before the keywords."""
        own = {name: keywords.pop(name) for name, kind in OWN.items() if isinstance(keywords.get(name), kind)}
        if laws := keywords.pop("laws", None):
            own["laws"] = laws
        if "criterion" in own:
            own["surface"] = own.pop("criterion")
        given = {**(settings or {}), **_settings(keywords)}
        object.__setattr__(self, "given", given)
        object.__setattr__(self, "settings", settings_from(given))
        object.__setattr__(self, "own", Own(**own))

    def changed(self, **keywords: Any) -> Case:
        """The same case with these keywords changed."""
        new = Case(self.given, **keywords)
        kept = {
            name: getattr(self.own, name)
            for name in (each.name for each in fields(Own))
            if getattr(new.own, name) is None and KEYWORDS.get(name, name) not in keywords
        }
        object.__setattr__(new, "own", replace(new.own, **kept))
        return new

    def solver_case(self) -> SolverCase:
        """The case in SI units, with what is of one's own in its place."""
        return self.own.put_into(to_case(self.settings))

    def stated(self) -> dict[str, Any]:
        """What was given, by keyword, as it counts."""
        own, words = self.own.names(), {key: word for word, key in _keywords().items()}
        found = {words.get(key, key): self.settings[key] for key in self.given if words.get(key, key) not in own}
        return found | {name: "your own" for name in own}

    def __repr__(self) -> str:
        shown = [f"{k}={v:g}" if isinstance(v, float) else f"{k}={v!r}" for k, v in self.stated().items()]
        return f"Case({', '.join(shown)})"

    def _repr_html_(self) -> str:
        shown = self.stated().items()
        rows = "".join(f"<tr><td>{escape(name)}</td><td>{escape(str(value))}</td></tr>" for name, value in shown)
        return f"<table><caption>Case: all other keys at their defaults</caption>{rows}</table>"


OWN: dict[str, Any] = {"ice": Ice, "crust": Ice, "metal": Metal, "criterion": Surface}


def key_of(keyword: str) -> str:
    """The key of the case file that a keyword stands for. Raises CaseError for one that there is not."""
    return next(iter(_settings({keyword: 0})))


def _settings(keywords: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of the case file for keywords. Raises CaseError for one that there is not."""
    known = _keywords()
    found: dict[str, Any] = {}
    for name, value in keywords.items():
        if name == "assumed" and isinstance(value, Mapping):
            found |= {f"assumed.{key}": number for key, number in value.items()}
        elif name in known:
            found[known[name]] = value
        else:
            hint = did_you_mean(name, {word: word for word in known})
            raise CaseError(f"{name} = {value!r}: unknown keyword: must be a key of the case file{hint}")
    return {key: _plain(value) for key, value in found.items()}


def _plain(value: Any) -> Any:
    """Numbers of NumPy as Python's."""
    return value.item() if hasattr(value, "item") and not isinstance(value, str) else value


def read_case(path: str | Path, **keywords: Any) -> Case:
    """The case of a case file, with keywords changed. Raises CaseError, with file and line.

    >>> read_case("no_such_case.toml")
    Traceback (most recent call last):
    ...
    icecone.studies.case.toml.CaseError: no_such_case.toml: cannot be read: No such file or directory
    """
    case = Case(read_settings(Path(path)))
    return case.changed(**keywords) if keywords else case


def ice(kind: str = "sound_glacier", temperature_C: float = -5.0, load_time_s: float = 10.0, **values: Any) -> Ice:
    """An ice of a kind, some of its values changed: `ice("firn", temperature_C=-10, tensile_MPa=0.8)`.

    values : keys of the table [ice] of the case file in their units, `column_tilt_deg` and `criterion` too.
    `dataclasses.replace` changes what it returns further (SI units). Raises CaseError for what is out of range.

    >>> round(ice("sound_glacier", K_IC_kPa_sqrt_m=95).toughness)
    95000
    """
    case = Case(ice=kind, temperature_C=temperature_C, load_time_s=load_time_s, **values)
    return case.solver_case().ice


def metal(name: str = "chromoly_steel", **values: Any) -> Metal:
    """A metal by name, fields changed in SI units: `metal("titanium_alloy", yield_strength=9e8)`.

    Raises ValueError for an unknown name or values that do not go together.

    >>> metal("titanium_alloy", yield_strength=9.0e8).youngs_modulus
    114000000000.0
    """
    return replace(metal_named(name), **values)
