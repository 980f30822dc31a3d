"""Panel response through a real window, a real port and a photodiode that sees the pixels."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
from collections.abc import Iterator
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import pytest
from bench_rigs import WINDOW, Line, command, program

from calibration.certificate import (
    Certificate,
    lapse_utc,
    read_certificate,
    write_certificate,
)
from calibration.frames import timing_part
from calibration.instruments.simulated_time import SimulatedFlips
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols import RESEARCH_ONLY
from stimulus.calibrating.given import Given
from stimulus.calibrating.identity import identity_of
from stimulus.virtual_screen import virtual_screen

RISE_S, FALL_S = 0.005, 0.008
LN_9 = float(np.log(9.0))  # an exponential takes ln 9 time constants from 10 to 90 %
pytestmark = pytest.mark.skipif(shutil.which("Xvfb") is None, reason="needs Xvfb")


@pytest.fixture
def watched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A display of our own whose pixels lie in a file; the path of that file."""
    monkeypatch.delenv("DISPLAY", raising=False)
    frame = tmp_path / "frame"
    frame.mkdir()
    with virtual_screen(640, 480, frame):
        yield frame / "Xvfb_screen0"


@contextlib.contextmanager
def photodiode(folder: Path, frame: Path, kind: str, rate_hz: float, lines: int | None = None):
    line = Line(folder / "diode")
    words = [str(line.far), str(frame), str(RISE_S), str(FALL_S), str(rate_hz), kind]
    words += [] if lines is None else [str(lines)]
    process = program("watching_photodiode.py", words, [line.far])
    line.hand_over()
    try:
        yield f"serial:{line.path}"
    finally:
        process.kill()
        process.wait()
        line.close()


def with_timing(out: Path) -> None:
    """A certificate of the display at hand whose refresh is known: what the step needs first."""
    flips = SimulatedFlips(SimulatedDisplay(DisplayFile(about="Invented.")), 1).flips_s
    now = datetime.now(timezone.utc)
    write_certificate(
        out,
        Certificate(
            format=1,
            notice=RESEARCH_ONLY,
            made_utc=now.isoformat(timespec="seconds"),
            lapses_utc=lapse_utc(now),
            command="test",
            versions={},
            identity=identity_of(Given(out=out), (640, 480)),
            instruments=[],
            timing=timing_part(flips(3000), flips(600), False),
        ),
    )


@pytest.mark.parametrize(("kind", "rate_hz"), [("value", 2000.0), ("timed", 1500.0)])
def test_rise_and_fall_are_those_of_the_panel_outside(watched, tmp_path, kind, rate_hz):
    with_timing(tmp_path / "cert.json")
    with photodiode(tmp_path, watched, kind, rate_hz) as spec:
        done = command(
            f"calibrate flicker --out cert.json --windowed {WINDOW} --trace {spec}".split(),
            tmp_path,
            typed="\n",
        )
    assert done.returncode == 0, done.stderr
    assert "Put the photodiode on the white square. Then press Enter." in done.stderr
    found = read_certificate(tmp_path / "cert.json")
    part = found.flicker
    assert part is not None
    assert [(one.kind, one.simulated) for one in found.instruments] == [("photodiode", False)]
    print(f"{kind}: rise {1e3 * part.rise_s.value:.2f} ms, fall {1e3 * part.fall_s.value:.2f} ms")
    assert part.rise_s.value == pytest.approx(RISE_S * LN_9, rel=0.04)
    assert part.fall_s.value == pytest.approx(FALL_S * LN_9, rel=0.04)
    truth = SimulatedDisplay(DisplayFile(about="Invented.", rise_s=RISE_S, fall_s=FALL_S))
    full = max(part.delivered, key=lambda line: line.contrast)
    wanted = delivered_share(truth, full.contrast, full.frame_hold)
    print(f"panel response {full.panel_response.value:.4f}, by Fourier analysis {wanted:.4f}")
    assert full.panel_response.value == pytest.approx(wanted, rel=0.02)


def delivered_share(panel: SimulatedDisplay, contrast: float, frame_hold: float) -> float:
    """By direct Fourier analysis of the panel's own waveform at 20 Hz, three frames a cycle."""
    step_s, cycles, each = 1 / 60 / 500, 40, 500
    frames = 1 + contrast * np.cos(2 * np.pi * np.arange(3) / 3)
    light = panel.panel_follows(np.tile(np.repeat(frames, each), cycles), step_s)[-10 * 3 * each :]
    t = np.arange(len(light)) * step_s
    amplitude = 2 * abs(np.mean(light * np.exp(-2j * np.pi * 20 * t)))
    return amplitude / np.mean(light) / (contrast * frame_hold)


def test_unplugged_while_the_steps_are_shown(watched, tmp_path):
    with_timing(tmp_path / "cert.json")
    before = (tmp_path / "cert.json").read_bytes()
    with photodiode(tmp_path, watched, "value", 1500.0, lines=6000) as spec:
        done = command(
            f"calibrate flicker --out cert.json --windowed {WINDOW} --trace {spec}".split(),
            tmp_path,
            typed="\n",
        )
    assert done.returncode == 1, done.stderr
    assert re.fullmatch(
        rf"error: The photodiode on serial:{tmp_path}/diode is gone. Plug it in and run the same "
        "command again: the steps are shown anew.",
        done.stderr.splitlines()[-1],
    ), done.stderr
    assert (tmp_path / "cert.json").read_bytes() == before


def test_a_port_that_is_not_there_is_told_before_anything_is_shown(watched, tmp_path):
    with_timing(tmp_path / "cert.json")
    done = command(
        f"calibrate flicker --out cert.json --windowed {WINDOW} --trace serial:nowhere".split(),
        tmp_path,
    )
    assert (done.returncode, done.stderr.splitlines()[-1]) == (
        2,
        'error: --trace: got "serial:nowhere"; allowed: a port that exists. Plug the photodiode in '
        "and check its port's name.",
    )
    assert "press Enter" not in done.stderr
    assert set(os.listdir(tmp_path)) == {"frame", "cert.json"}
