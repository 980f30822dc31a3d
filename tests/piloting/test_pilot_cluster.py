"""A pilot on a Dask cluster: a real scheduler with a worker process, the same bytes."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilot_rigs import all_bytes, piloted

distributed = pytest.importorskip("distributed", reason="needs the cluster extra")


def test_a_cluster_gives_the_same_bytes(plan: Path, pilot: Path, tmp_path: Path) -> None:
    asked = {"n_workers": 1, "threads_per_worker": 1, "dashboard_address": None}
    with distributed.LocalCluster(**asked, local_directory=str(tmp_path)) as cluster:
        out = piloted(plan, tmp_path / "out", "--cluster", cluster.scheduler_address)
    assert all_bytes(out) == all_bytes(pilot)
