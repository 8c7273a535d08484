"""Results of a study of many cases in the field's own tools: xarray, pandas, NetCDF, Parquet, CSV.

    read_results("out/study").to_xarray()        pandas.read_parquet("out/study/results.parquet")
    xarray.open_dataset("out/study/results.nc")  pandas.read_csv("out/study/table.csv", comment="#")

Dimensions are the axes, and `draw`; what is varied are coordinates, what was found are variables, with units and long
names as attributes. Caution, title and what the records rest on stand once, as attributes of the whole. A number that
there is none of is NaN, a word "". xarray, pandas, h5netcdf and pyarrow come with `icecone[tables]`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..case.file import settings_id
from ..case.keys import KEYS
from ..case.toml import CaseError
from ..case.words import AXIS_WORDS
from ..files.records import FORMAT, Kept, Records
from ..files.store import naming, write_atomic, write_csv
from ..outcome.cautions import CAUTION, PULL_CAUTION, all_cautions
from ..outcome.wanted import Column, columns

if TYPE_CHECKING:
    from pandas import DataFrame
    from xarray import Dataset

    from ..outcome.data import Outcome

FILES = ("table.csv", "results.nc", "results.parquet")
NAME = "study.sqlite"
PROBLEM, CASE = "problem", "case_id"
_NEEDED = {"results.nc": ("xarray", "h5netcdf", "h5py"), "results.parquet": ("pandas", "pyarrow")}


@dataclass(frozen=True, slots=True)
class Results:
    """A row for each case, in order: what was varied, what was found, the problem if there is no answer, the case's id.

    dims : lengths of the dimensions.  coordinates : values along each.  keys : that are varied.  columns : found.
    attributes : of the whole.
    """

    dims: Mapping[str, int]
    coordinates: Mapping[str, Sequence[Any]]
    keys: tuple[str, ...]
    columns: tuple[Column, ...]
    rows: tuple[Mapping[str, Any], ...]
    attributes: Mapping[str, str]

    @classmethod
    def of(cls, kept: Kept) -> Results:
        """Of the records of a study."""
        about, rows = kept.about, []
        for name, varied in kept.cases:
            record = kept.records.get(name)
            found = {} if record is None else record.found
            problem = "not solved yet" if record is None else record.problem
            rows.append({**varied, **found, PROBLEM: problem, CASE: name})
        dims = dict(about["dims"])
        coordinates = {name: about["axes"].get(name, list(range(1, size + 1))) for name, size in dims.items()}
        attributes = {
            "title": about["title"],
            "question": about["question"],
            "caution": " ".join([PULL_CAUTION, CAUTION]),
            "case": json.dumps(about["given"]),
            "rests_on": " | ".join(kept.stamps),
            "format": str(FORMAT),
        }
        return cls(dims, coordinates, tuple(about["keys"]), columns(tuple(about["want"])), tuple(rows), attributes)

    @classmethod
    def of_outcomes(cls, keys: Sequence[str], values: Sequence[Sequence[Any]], outcomes: Sequence[Outcome]) -> Results:
        """Of outcomes of every combination of some keys, the last fastest.  values : of the keys, one row a case."""
        told = [_told(outcome) for outcome in outcomes]
        varied = [dict(zip(keys, (outcome.case[key] for key in keys), strict=True)) for outcome in outcomes]
        coordinates = {key: list(dict.fromkeys(row[at] for row in values)) for at, key in enumerate(keys)}
        rows = (
            {**of, **found, PROBLEM: "", CASE: settings_id(outcome.case)}
            for of, found, outcome in zip(varied, told, outcomes, strict=True)
        )
        return cls(
            {key: len(each) for key, each in coordinates.items()},
            coordinates,
            tuple(keys),
            tuple(column for column in columns() if any(found.get(column.name) is not None for found in told)),
            tuple(rows),
            {
                "title": f"outcomes over {', '.join(keys)}",
                "question": "",
                "caution": " ".join(all_cautions(outcomes)),
                "case": json.dumps({key: value for key, value in outcomes[0].case.items() if key not in keys}),
                "rests_on": "; ".join(f"{name} {number}" for name, number in outcomes[0].versions.items()),
                "format": str(FORMAT),
            },
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Columns of a table: dimensions that are no keys, keys, what was found, problem, id."""
        plain = (name for name in self.dims if name not in self.keys)
        return (*plain, *self.keys, *(column.name for column in self.columns), PROBLEM, CASE)

    def described(self, name: str) -> dict[str, str]:
        """Unit and long name of a column."""
        if name in KEYS:
            return {"units": KEYS[name].unit or "1", "long_name": AXIS_WORDS[name].partition(" [")[0]}
        words = {PROBLEM: "why there is no answer", CASE: "id of the case", "draw": "number of the draw"}
        for column in self.columns:
            if column.name == name:
                return {"long_name": column.words} | ({"units": column.unit or "1"} if column.is_number else {})
        return {"long_name": words.get(name, f"number of the {name}")}

    def values(self, name: str) -> NDArray[Any]:
        """A column (cases,): numbers, NaN where there is none, or words."""
        if name in self.dims and name not in self.keys:
            shape, at = tuple(self.dims.values()), list(self.dims).index(name)
            return np.array(self.coordinates[name])[np.indices(shape)[at].ravel()]
        numbers = next((column.is_number for column in self.columns if column.name == name), False)
        found = [row.get(name) for row in self.rows]
        if numbers or (name in self.keys and not any(isinstance(value, str) for value in found)):
            return np.array([nan if value is None else value for value in found], dtype=float)
        return np.array(["" if value is None else shown_value(value) for value in found], dtype=object)

    def to_pandas(self) -> DataFrame:
        """A table with a row for each case; `attrs` holds caution, provenance, and what each column is."""
        import pandas

        table = pandas.DataFrame({name: self.values(name) for name in self.names})
        table.attrs = {**self.attributes, "columns": {name: self.described(name) for name in self.names}}
        return table

    def to_xarray(self) -> Dataset:
        """A dataset over the axes and the draws (module docstring)."""
        import xarray

        shape = tuple(self.dims.values())
        coordinates: dict[str, Any] = {}
        for name, values in self.coordinates.items():
            array = np.array(values, dtype=object if any(isinstance(each, str) for each in values) else None)
            coordinates[name] = (name, array, self.described(name))
        for key in self.keys:
            if key not in coordinates:
                coordinates[key] = (*self._over(self.values(key).reshape(shape)), self.described(key))
        found = (*(column.name for column in self.columns), PROBLEM, CASE)
        variables = {name: (tuple(self.dims), self.values(name).reshape(shape), self.described(name)) for name in found}
        return xarray.Dataset(variables, coordinates, dict(self.attributes))

    def _over(self, values: NDArray[Any]) -> tuple[tuple[str, ...], NDArray[Any]]:
        """The dimensions that a coordinate differs along, and its values over them."""
        names = list(self.dims)
        for name in tuple(names):
            axis = names.index(name)
            first = values.take([0], axis)
            if len(names) > 1 and (values == first).all():
                values, names = first.squeeze(axis), [each for each in names if each != name]
        return tuple(names), values


def _told(outcome: Outcome) -> dict[str, Any]:
    """What an outcome says under the names of the columns."""
    found = outcome.to_dict()
    if outcome.cone is not None:  # its peak is the cone's
        found |= {"cone_kN": found["peak_kN"], "peak_kN": None, "peak_mode": None, "limit_kN": None, "limit_mode": None}
    band = outcome.peak.band if outcome.peak is not None else {}
    return found | {f"{end}_{load}_kN": loads.get(load) for end, loads in band.items() for load in ("peak", "early")}


def shown_value(value: Any) -> str:
    """A word, or a number beside words."""
    return value if isinstance(value, str) else f"{value:.12g}"


def write_results(results: Results, folder: Path) -> list[str]:
    """Write those of FILES that can be written here; their names. Raises OSError if one cannot be."""
    rows = zip(*(results.values(name).tolist() for name in results.names), strict=True)
    plain = ([None if cell != cell or cell == "" else cell for cell in row] for row in rows)
    remarks = [results.attributes[name] for name in ("title", "question", "caution", "rests_on")]
    write_csv(folder / FILES[0], results.names, plain, remarks, exact=True)
    written = [FILES[0]]
    for name, write in (("results.nc", _write_netcdf), ("results.parquet", _write_parquet)):
        if all(find_spec(module) for module in _NEEDED[name]):
            with naming(folder / name):
                write(results, folder / name)
            written.append(name)
    return written


def _write_netcdf(results: Results, path: Path) -> None:
    part = path.with_suffix(".part")
    results.to_xarray().to_netcdf(part, engine="h5netcdf")
    write_atomic(path, part.read_bytes())
    part.unlink()


def _write_parquet(results: Results, path: Path) -> None:
    write_atomic(path, results.to_pandas().to_parquet(None, engine="pyarrow", index=False))


def read_results(folder: str | Path) -> Results:
    """Results of a study of many cases, as far as it is solved. Raises CaseError if there are none in the folder.

    >>> read_results("no_such_folder")
    Traceback (most recent call last):
    ...
    icecone.studies.case.toml.CaseError: no_such_folder/study.sqlite: no results of a study of many cases
    """
    path = Path(folder) / NAME
    kept = None
    if path.is_file():
        with Records(path) as records:
            kept = records.kept()
    if not kept or not kept.about:
        raise CaseError(f"{path}: no results of a study of many cases")
    return Results.of(kept)


def data_dictionary() -> str:
    """The columns that may be found, as a Markdown table."""
    lines = ["| column | unit | want | is |", "| --- | --- | --- | --- |"]
    lines += [f"| `{each.name}` | {each.unit or '-'} | {each.want} | {each.words} |" for each in columns()]
    return "\n".join(lines) + "\n"
