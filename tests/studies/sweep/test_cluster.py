"""A study on the workers of a dask cluster: the answer of one process, though a worker is killed on the way."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from threading import Thread
from time import monotonic, sleep

import pytest
from rich.console import Console

from icecone.studies.case.file import CaseError
from icecone.studies.sweep.many import ManyStudy, read_many
from icecone.studies.sweep.run_many import solve_into
from icecone.studies.sweep.tables import FILES, read_results

STUDY = """
[study]
title = "twelve invented peaks"
question = "how wide?"
want = ["peak"]
[random]
draws = 12
seed = 1
[random.placement]
embedment_mm = { distribution = "uniform", low = 50, high = 70 }
"""


@pytest.fixture
def study(tmp_path: Path) -> ManyStudy:
    path = tmp_path / "study.toml"
    path.write_text(STUDY)
    return read_many(path)


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_gives_the_bytes_of_one_process(tmp_path: Path, study: ManyStudy) -> None:
    """Three workers, of which one is killed once the first case is there."""
    distributed = pytest.importorskip("distributed")
    said = Console(file=(tmp_path / "said").open("w"))
    killed: list[int] = []
    with distributed.LocalCluster(n_workers=3, threads_per_worker=1, dashboard_address=None) as cluster:

        def kill() -> None:
            deadline = monotonic() + 100
            while monotonic() < deadline and not solved(tmp_path / "cluster"):
                sleep(0.05)
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

        killer = Thread(target=kill)
        killer.start()
        results = solve_into(study, tmp_path / "cluster", said, scheduler=cluster.scheduler_address)
        killer.join()
    assert killed and not any(row["problem"] for row in results.rows)
    solve_into(study, tmp_path / "one", said, jobs=1)
    written = [name for name in FILES if (tmp_path / "one" / name).exists()]
    assert "table.csv" in written
    for name in written:
        assert (tmp_path / "cluster" / name).read_bytes() == (tmp_path / "one" / name).read_bytes()


def solved(out: Path) -> int:
    """Cases with an answer by now."""
    try:
        return sum(not row["problem"] for row in read_results(out).rows)
    except CaseError:
        return 0


@pytest.mark.slow
def test_an_address_where_no_scheduler_answers_is_refused(tmp_path: Path, study: ManyStudy) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(CaseError, match=r"--scheduler = 'tcp://127.0.0.1:1': no scheduler answers there"):
        solve_into(study, tmp_path / "out", Console(), scheduler="tcp://127.0.0.1:1")
    assert not (tmp_path / "out").exists()


def test_without_dask_the_extra_is_named(tmp_path: Path, study: ManyStudy, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(CaseError, match=r"--scheduler: needs dask: pip install 'icecone\[cluster\]'"):
        solve_into(study, tmp_path / "out", Console(), scheduler="tcp://127.0.0.1:1")
    assert not (tmp_path / "out").exists()
