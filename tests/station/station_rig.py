"""The station as a program of its own on a data folder with the tiny exam, to be driven."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))
from exam_rig import OBSERVER, PATTERN, PROGRAM, PROTOCOL

PATIENCE_S = 40.0

SLOW = PROTOCOL.replace("min_s = 0.1", "min_s = 0.4").replace("max_s = 0.12", "max_s = 0.45")
"""The tiny exam with time to ask something of it in between."""


@dataclass
class Running:
    """A station program, its address and the links it printed."""

    data: Path
    program: subprocess.Popen[str]
    log: Path

    @property
    def links(self) -> list[str]:
        return re.findall(r"http\S+/open\?token=\S+", self.log.read_text())

    @property
    def link(self) -> str:
        """The newest link."""
        return self.links[-1]

    @property
    def address(self) -> str:
        return self.links[0].split("/open")[0]

    def client(self, **how) -> httpx.Client:
        """A program with a session, as a browser has after opening the link."""
        client = httpx.Client(base_url=self.address, headers={"origin": self.address}, **how)
        opened = client.get(self.link)
        assert opened.status_code == 303, opened.text
        return client

    def stop(self) -> None:
        self.program.terminate()
        self.program.wait(timeout=15)


def prepare(data: Path, protocol: str = PROTOCOL, button: str = "simulated:observer.toml") -> Path:
    """A data folder whose station runs the tiny exam in a small window."""
    for name, text in {
        "protocols/tiny.toml": protocol,
        "protocols/four.toml": PATTERN,
        "observers/observer.toml": OBSERVER,
        "station.toml": (
            'station = "hall-1"\nprotocol = "tiny.toml"\nwindowed = "640x480"\n'
            f'distance_cm = 20\nscreen_width_cm = 20\nbutton = "{button}"\n'
        ),
    }.items():
        (data / name).parent.mkdir(parents=True, exist_ok=True)
        (data / name).write_text(text)
    return data


@contextmanager
def station(data: Path, display: str, *words: str) -> Iterator[Running]:
    """A station on a data folder, ended at the end; exams it started are not."""
    running = start_station(data, display, *words)
    try:
        yield running
    finally:
        if running.program.poll() is None:
            running.stop()


def start_station(data: Path, display: str, *words: str) -> Running:
    log = data.parent / f"{data.name}.log"
    log.write_text("")
    with open(log, "ab") as output:
        program = subprocess.Popen(
            [str(PROGRAM), "station", "--data", str(data), *words],
            env={**os.environ, "DISPLAY": display},
            stdout=output,
            stderr=output,
            text=True,
        )
    running = Running(data, program, log)
    until(lambda: running.links or program.poll() is not None, "the link")
    assert running.links, log.read_text()
    return running


def until(met: Callable[[], object], what: str, patience_s: float = PATIENCE_S) -> None:
    end_s = time.monotonic() + patience_s
    while not met():
        assert time.monotonic() < end_s, f"waited in vain for {what}"
        time.sleep(0.01)


CSV = (
    "code,age,glasses,eyes,photosensitive,language\n"
    "P-001,45,no,right,no,en\n"
    "P-002,61,yes,right,no,es\n"
    "P-003,30,no,right,no,fr\n"
)
