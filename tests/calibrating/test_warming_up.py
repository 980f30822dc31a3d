"""Warm-up on a real window: the meter is read by itself while the display warms up.

Three seconds here are ten minutes of the display's: only the clocks are faster, the light
comes over a real port from a program that warms up as fast.
"""

from __future__ import annotations

import io
import json
import re
import time
from pathlib import Path

import numpy as np
import pytest
from bench_rigs import SCREEN_TOML, watching_meter

from calibration.instruments.interface import InstrumentLost
from calibration.simulated import load_simulated
from calibration.warmup import WarmUp
from protocols.errors import InputError
from stimulus.calibrating.warming import EVERY_S, REPEATS, Times
from stimulus.calibrating.window_bench import open_window_bench
from stimulus.cli import run

FASTER = 200.0
SCREEN = SCREEN_TOML + "warm_up_drop = 0.1\nwarm_up_s = 300.0\n"
MINUTES = 40.0
PAUSE_S = 120.0


class Fast:
    """Clocks that run faster, and that opening a window again takes two minutes of, no more."""

    def __init__(self, folder: Path) -> None:
        self._warm, self._hidden_s, self._left_s = folder / "warm.json", 0.0, 0.0
        self.times = Times(
            lambda: (time.perf_counter() - self._hidden_s) * FASTER,
            lambda: (time.time() - self._hidden_s) * FASTER,
            lambda seconds: time.sleep(seconds / FASTER),
        )

    def switch_on_or_back(self) -> None:
        if self._left_s:
            self._hidden_s += time.perf_counter() - self._left_s - PAUSE_S / FASTER
        began_s = json.loads(self._warm.read_text())["began_s"] if self._left_s else self._now_s
        on = {"began_s": began_s, "since_s": began_s + self._hidden_s, "times": FASTER}
        self._warm.write_text(json.dumps(on))

    def leave(self) -> None:
        self._left_s = time.perf_counter()

    @property
    def _now_s(self) -> float:
        return time.perf_counter() - self._hidden_s


@pytest.fixture
def fast(tmp_path: Path) -> Fast:
    return Fast(tmp_path)


def watched(
    folder: Path, fast: Fast, minutes: float = MINUTES, readings: int | None = None
) -> WarmUp:
    given = {"out": folder / "cert.json", "windowed": (640, 480), "warm_up": minutes}
    with (
        watching_meter(folder, readings, (1280, 720), SCREEN) as meter,
        open_window_bench({**given, "photometer": meter.spec}, 1) as bench,
    ):
        bench.times = fast.times
        bench.window.quiet()
        _ = bench.photometer()
        fast.switch_on_or_back()
        try:
            found = bench.warm_up(lambda *_: None)
        finally:
            fast.leave()
    assert found is not None
    return found


@pytest.fixture(autouse=True)
def someone_presses_enter(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))


def test_it_is_watched_from_switching_on_until_stable(display, tmp_path, fast):
    """Truth: the display's own exponential; stable when ten minutes change by less than 0.5 %."""
    found = watched(tmp_path, fast)
    truth = load_simulated(tmp_path / "screen.toml")
    assert MINUTES < len(found.time_s) <= MINUTES * 60 / EVERY_S + 1  # fewer on a busy machine
    share = found.cd_m2 / found.cd_m2[-1]
    wanted = truth.warm_share(found.time_s) / truth.warm_share(found.time_s[-1])
    off = np.abs(share - wanted)[1:]
    print(f"largest error of a share {np.max(off):.4f}, stable after {found.stable_after_s:.0f} s")
    assert np.max(off) < 0.015
    # 10 min change less than 0.5 % from where 0.1 exp(-t/300) (1 - exp(-2)) falls below it
    assert found.stable_after_s == pytest.approx(300 * np.log(0.1 * 0.865 / 0.005), abs=150)


def test_a_meter_unplugged_for_two_minutes_loses_no_reading(display, tmp_path, fast):
    with pytest.raises(InstrumentLost) as lost:
        watched(tmp_path, fast, readings=12 * REPEATS)
    log = tmp_path / "cert.json.warm-up.jsonl"
    assert str(lost.value) == (
        f"The instrument on serial:{tmp_path}/meter is gone. 12 readings are kept in {log}: leave "
        "the display on, and the same command goes on, or one with more minutes. Plug it in first."
    )
    kept = log.read_bytes()
    assert len(kept.splitlines()) == 13
    log.write_bytes(kept + b'{"after_s":99')  # what a crash tears
    found = watched(tmp_path, fast)
    now = log.read_bytes()
    assert now.startswith(kept)
    assert b'"after_s":99\n' not in now
    rows = [json.loads(line) for line in now.splitlines()[1:]]
    after_s = [row["after_s"] for row in rows]
    assert after_s == sorted(after_s) == found.time_s.tolist()
    print(f"longest pause {max(np.diff(after_s)):.0f} s of the display's")
    assert PAUSE_S < max(np.diff(after_s)) < 600
    truth = load_simulated(tmp_path / "screen.toml")
    first, last = rows[0]["cd_m2"], rows[-1]["cd_m2"]
    assert first / last == pytest.approx(float(truth.warm_share(after_s[0])), abs=0.015)


def test_a_display_that_is_not_stable_yet_is_read_on_with_more_minutes(display, tmp_path, fast):
    with pytest.raises(InputError) as told:
        watched(tmp_path, fast, minutes=20)
    assert re.search(
        r"cd_m2: got \"a change of \+[\d.]+% over the last 10 minutes\"; allowed: below 0.5%.*"
        r"\d+ readings are kept in .*: leave the display on, and the same command goes on, or one "
        "with more minutes.",
        str(told.value),
    ), told.value


def test_after_a_restart_of_the_computer_the_times_no_longer_fit(display, tmp_path, fast):
    with pytest.raises(InstrumentLost):
        watched(tmp_path, fast, readings=2 * REPEATS)
    log = tmp_path / "cert.json.warm-up.jsonl"
    begun, *rest = log.read_text().splitlines()
    slept = json.loads(begun) | {"wall_s": json.loads(begun)["wall_s"] - 3600}
    log.write_text("\n".join([json.dumps(slept), *rest]) + "\n")
    with pytest.raises(InputError) as told:
        watched(tmp_path, fast)
    assert re.fullmatch(
        re.escape(f'{log}, clocks since it was begun: got "') + r"36\d\d s apart"
        '"; allowed: up to 5 s: no restart, no sleep, no clock set in between. Let the display '
        "cool down, remove the file, and begin anew.",
        str(told.value),
    ), told.value


def test_nobody_types_a_reading_every_half_minute(display, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    words = "calibrate uniformity --photometer manual --warm-up 30 --windowed 640x480 --out c.json"
    assert run(words.split()) == 2
    assert capsys.readouterr().err.splitlines()[-1] == (
        'error: --warm-up: got "--warm-up and --photometer manual"; allowed: '
        "serial:PORT[:PROTOCOL.toml], which reads by itself. Leave --warm-up out, and let the "
        "display warm up for an hour first."
    )
    assert list(tmp_path.iterdir()) == []


def test_nobody_watches_where_nobody_asked(display, tmp_path):
    with open_window_bench({"out": tmp_path / "c.json", "windowed": (640, 480)}, 1) as bench:
        assert bench.warm_up(lambda *_: None) is None
        assert "window" not in bench.__dict__
