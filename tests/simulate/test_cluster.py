"""The same exams on a Dask cluster: a real scheduler and two workers, one of which is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tables import rows_of, study_of, write_table

from protocols.errors import InputError
from protocols.simulate.cluster import Cluster
from protocols.simulate.run import simulate
from protocols.simulate.workers import Alone

pytest.importorskip("distributed", reason="needs the cluster extra")

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60.0


def _started(*arguments: str) -> subprocess.Popen[bytes]:
    environment = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", *arguments],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _address(client_file: Path) -> str:
    import json

    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if client_file.exists() and client_file.read_text().strip():
            return json.loads(client_file.read_text())["address"]
        time.sleep(0.05)
    raise TimeoutError("the scheduler did not come up")


@pytest.fixture
def cluster(tmp_path):
    """Address of a scheduler with two workers, and the workers."""
    from distributed import Client

    file = tmp_path / "scheduler.json"
    scheduler = _started(
        "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0",
        "--scheduler-file", str(file), "--no-dashboard",
    )  # fmt: skip
    workers = []
    try:
        address = _address(file)
        workers = [
            _started(
                "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny",
                "--no-dashboard", "--local-directory", str(tmp_path),
            )
            for _ in range(2)
        ]  # fmt: skip
        with Client(address, timeout=PATIENCE_S, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=PATIENCE_S)
        yield address, workers
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def test_a_worker_killed_in_the_middle_changes_nothing(cluster, tmp_path):
    address, workers = cluster
    table = write_table(tmp_path / "truth.csv", rows_of("bayes-19", 20))
    study, facts = study_of(table, "bayes-19", repeats=5)
    simulate(study, tmp_path / "here.csv", Alone(), facts)
    progress = []

    def strike(done: int, total: int) -> None:
        progress.append(done)
        if len(progress) == 6:
            os.kill(workers[0].pid, signal.SIGKILL)

    simulate(study, tmp_path / "there.csv", Cluster(address), facts, strike, size=10)
    assert workers[0].wait(10) == -signal.SIGKILL
    assert workers[1].poll() is None
    assert progress == list(range(0, 201, 10))
    assert (tmp_path / "there.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense://x"])
def test_a_cluster_that_is_not_there_is_one_clear_error(address, tmp_path, monkeypatch):
    monkeypatch.setattr("protocols.simulate.cluster.PATIENCE_S", 1.0)
    table = write_table(tmp_path / "truth.csv", rows_of("screen-19", 1))
    study, facts = study_of(table, "screen-19")
    with pytest.raises(InputError, match=r"--cluster: got .*running Dask scheduler.*Start one"):
        simulate(study, tmp_path / "r.csv", Cluster(address), facts)
    assert not (tmp_path / "r.csv").exists()
