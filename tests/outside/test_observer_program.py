"""The outside participant, tried against known flicker on a virtual screen of its own."""

from __future__ import annotations

import contextlib
import json
import os
import select
import shutil
import subprocess
import sys
import time
import tty
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
SEEN_WITHIN_S = 0.020
REACTION_S = 0.350
PRESS_WITHIN_S = 0.020
"""A look every 4 ms, and a shared two-core machine."""

pytestmark = pytest.mark.skipif(shutil.which("Xvfb") is None, reason="needs Xvfb")


@pytest.fixture(autouse=True, scope="module")
def ahead_of_others() -> Iterator[None]:
    """What is started here comes before other programs, as far as the system lets it: a person's

    reaction does not wait for a busy machine, and neither does this test's own clock."""
    before = os.sched_getscheduler(0)
    with contextlib.suppress(PermissionError):
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(1))
    yield
    os.sched_setscheduler(0, before, os.sched_param(0))


@dataclass(frozen=True)
class Virtual:
    display: str
    file: Path


@pytest.fixture(scope="module")
def virtual(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Virtual]:
    folder = tmp_path_factory.mktemp("screen")
    reader, writer = os.pipe()
    server_command = ["Xvfb", "-displayfd", str(writer), "-screen", "0", "1280x720x24"]
    server = subprocess.Popen(
        [*server_command, "-fbdir", str(folder), "-noreset", "-nolisten", "tcp"],
        pass_fds=[writer],
        stderr=subprocess.DEVNULL,
    )
    os.close(writer)
    with os.fdopen(reader) as numbers:
        yield Virtual(f":{numbers.readline().strip()}", folder / "Xvfb_screen0")
    server.terminate()
    server.wait()


@dataclass(frozen=True)
class Session:
    log: list[dict[str, Any]]
    shown: list[dict[str, float]]
    received_s: list[float]

    def kind(self, kind: str) -> list[dict[str, Any]]:
        return [line for line in self.log if line["kind"] == kind]

    @property
    def flickers(self) -> list[dict[str, Any]]:
        """All but the window that opens, half a second or more before, and the one that closes."""
        opened_s = self.shown[0]["on_s"] - 0.5
        return [
            line
            for line in self.kind("flicker")
            if line["verdict"] != "unfinished" and line["first_seen_s"] > opened_s
        ]


def run(virtual: Virtual, folder: Path, things: list[str], **rules: Any) -> Session:
    """Shows the things to the participant; what both wrote, and when bytes came."""
    (folder / "rules.json").write_text(json.dumps({"jitter_s": 0.0, **rules}))
    observer = start_observer(virtual, folder)
    port = open_button(folder / "button")
    environment = {**os.environ, "DISPLAY": virtual.display}
    flash = subprocess.Popen(
        [sys.executable, str(HERE / "flash_program.py"), *things],
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    received_s = bytes_until_end(port, flash)
    output, _ = flash.communicate()
    observer.terminate()
    assert observer.wait(5) == 0
    os.close(port)
    shown = [json.loads(line) for line in output.splitlines()]
    return Session(read_log(folder), shown, received_s)


def command(virtual: Virtual, folder: Path) -> list[str]:
    files = ["--config", str(folder / "rules.json"), "--log", str(folder / "log.jsonl")]
    program = str(HERE / "observer_program.py")
    return [sys.executable, program, "--screen", str(virtual.file), *files]


def start_observer(virtual: Virtual, folder: Path) -> subprocess.Popen[bytes]:
    observer = subprocess.Popen(
        [*command(virtual, folder), "--make-button", str(folder / "button")]
    )
    end_s = time.perf_counter() + 10
    while not (folder / "log.jsonl").exists() or not read_log(folder):
        assert time.perf_counter() < end_s
        time.sleep(0.02)
    return observer


def read_log(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "log.jsonl").read_text().splitlines()]


def open_button(path: Path) -> int:
    port = os.open(path, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(port)
    return port


def bytes_until_end(port: int, program: subprocess.Popen[str]) -> list[float]:
    received_s = []
    while program.poll() is None:
        if select.select([port], [], [], 0.05)[0]:
            os.read(port, 1)
            received_s.append(time.perf_counter())
    return received_s


@pytest.fixture(scope="module")
def plain(virtual: Virtual, tmp_path_factory: pytest.TempPathFactory) -> Session:
    """Three flickers: strong, of a single code, and small at the edge."""
    things = ["60:900:200:104:0.6", "1:100:500:104:0.6", "20:1240:8:32:0.6"]
    return run(virtual, tmp_path_factory.mktemp("plain"), things)


def test_each_flicker_is_seen_when_it_comes_and_goes(plain: Session) -> None:
    flickers = plain.flickers
    assert len(flickers) == len(plain.shown) == 3
    for flicker, shown in zip(flickers, plain.shown, strict=True):
        assert flicker["first_seen_s"] == pytest.approx(shown["on_s"], abs=SEEN_WITHIN_S)
        assert flicker["last_seen_s"] == pytest.approx(shown["off_s"], abs=SEEN_WITHIN_S)


def test_place_size_and_strength_are_those_shown(plain: Session) -> None:
    strong, weak, small = plain.flickers
    assert (strong["x_px"], strong["y_px"]) == pytest.approx((951.5, 251.5), abs=2)
    assert (weak["x_px"], weak["y_px"]) == pytest.approx((151.5, 551.5), abs=2)
    assert (small["x_px"], small["y_px"]) == pytest.approx((1255.5, 23.5), abs=2)
    assert [f["extent_px"] for f in (strong, weak, small)] == [104, 104, 32]
    assert [f["peak_code"] for f in (strong, weak, small)] == [60, 1, 20]


def test_each_press_comes_a_reaction_time_after_onset(plain: Session) -> None:
    assert [f["verdict"] for f in plain.flickers] == ["pressed"] * 3
    wanted_s = [shown["on_s"] + REACTION_S for shown in plain.shown]
    assert plain.received_s == pytest.approx(wanted_s, abs=PRESS_WITHIN_S)
    assert [press["t_s"] for press in plain.kind("press")] == pytest.approx(
        plain.received_s, abs=PRESS_WITHIN_S
    )


def test_it_looks_often_and_costs_little(plain: Session) -> None:
    [closed] = plain.kind("closed")
    assert closed["looks_per_s"] > 150
    assert closed["cpu_share"] < 0.5


def test_what_is_not_pressed(virtual: Virtual, tmp_path: Path) -> None:
    blind = [
        {"x_px": 900, "y_px": 200, "radius_px": 60},
        {"x_px": 300, "y_px": 200, "radius_px": 60, "until_code": 30},
    ]
    things = {
        "blind": "60:850:150:104:0.6",
        "blind (weak)": "10:250:150:104:0.6",
        "pressed": "40:250:150:104:0.6",
        "small": "60:600:600:24:0.6",
        "static": "60:400:400:200:0",
        "large": "60:200:20:600:0.6",
    }
    session = run(virtual, tmp_path, list(things.values()), blind=blind, small_extent_px=40)
    verdicts = [flicker["verdict"] for flicker in session.flickers]
    expected = [name.partition(" ")[0] for name in things]
    expected.insert(5, "static")  # the still thing leaves again
    assert verdicts == expected
    assert len(session.received_s) == 1


def test_changes_at_the_fixation_mark_are_ignored(virtual: Virtual, tmp_path: Path) -> None:
    fixation = {"x_px": 652, "y_px": 372, "radius_px": 40}
    session = run(virtual, tmp_path, ["60:640:360:24:0.6"], fixation=fixation)
    assert session.flickers == []
    assert session.received_s == []


def test_the_same_seed_gives_the_same_reaction_times(virtual: Virtual, tmp_path: Path) -> None:
    delays = []
    for name in ("first", "second"):
        folder = tmp_path / name
        folder.mkdir()
        session = run(virtual, folder, ["60:900:200:104:0.6"], jitter_s=0.1, seed=7)
        [flicker] = session.flickers
        delays.append(flicker["press_s"] - flicker["first_seen_s"])
    assert delays[0] == pytest.approx(delays[1], abs=PRESS_WITHIN_S)


def test_unknown_rules_are_refused(virtual: Virtual, tmp_path: Path) -> None:
    (tmp_path / "rules.json").write_text('{"reflex_s": 1}')
    done = subprocess.run(
        command(virtual, tmp_path), capture_output=True, text=True, timeout=20, check=False
    )
    assert done.returncode != 0
    assert "reflex_s" in done.stderr
