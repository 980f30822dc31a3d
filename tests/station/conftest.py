"""A browser for the station's pages, and a station that many tests may share."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from station_rig import Running, prepare, station


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A station without a display: for pages and refusals."""
    data = prepare(tmp_path_factory.mktemp("st") / "d")
    with station(data, "") as found:
        yield found
