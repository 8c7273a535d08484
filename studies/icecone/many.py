"""Studies of many cases: a study file with wants, axes and draws solved on all cores, and its results read.

from icecone import many

if __name__ == "__main__":  # processes begin by importing the script
    results = many.solve_study("spread.toml", "out/spread")
    print(results.to_pandas().peak_kN.describe())
"""

from __future__ import annotations

from pathlib import Path

from icecone.studies.sweep.tables import Results, read_results

__all__ = ["Results", "read_results", "solve_study"]


def solve_study(
    file: str | Path,
    out: str | Path,
    *,
    jobs: int | None = None,
    scheduler: str | None = None,
    level: str | None = None,
) -> Results:
    """Solve a study file of many cases into a folder, as `icecone study` does; `read_results` reads it again.

    jobs : processes, all cores without it.  scheduler : address of a dask cluster, instead.  level : of the mesh.
    Raises CaseError with file and line, OSError if a file cannot be written.

    >>> solve_study("no_such_study.toml", "out")
    Traceback (most recent call last):
    ...
    icecone.studies.case.toml.CaseError: no_such_study.toml: cannot be read: No such file or directory
    """
    from rich.console import Console

    from icecone.studies.sweep.many import read_many
    from icecone.studies.sweep.run_many import solve_into

    return solve_into(read_many(Path(file), level), Path(out), Console(stderr=True), jobs, scheduler)
