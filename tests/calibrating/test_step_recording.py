"""Panel response: the steps are shown, somebody outside records them, the recording is read."""

from __future__ import annotations

import io
import re
import time

import numpy as np
import pytest
from bench_rigs import Outsider
from bench_sight import Sight

from calibration.response import flicker_part
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.errors import InputError
from stimulus.calibrating.window_bench import open_window_bench

RISE_S, FALL_S = 0.004, 0.007
RATE_HZ = 5000.0
PANEL = SimulatedDisplay(DisplayFile(about="Invented.", rise_s=RISE_S, fall_s=FALL_S))


class Recorder(Outsider):
    """Looks at the middle of the screen as often as it can; times and codes."""

    def __init__(self) -> None:
        self.seen: list[tuple[float, int]] = []
        super().__init__()

    def _live(self) -> None:
        sight = Sight()
        while not self._stop.is_set():
            self.seen.append((time.perf_counter(), sight.middle()[1]))
            time.sleep(0.0005)

    def as_csv(self) -> str:
        """What a photodiode before a panel of these time constants gives, evenly sampled."""
        times, codes = np.array(self.seen).T
        even = np.arange(times[0], times[-1], 1 / RATE_HZ)
        wanted = codes[np.searchsorted(times, even, side="right") - 1] / 255
        light = PANEL.panel_follows(wanted, 1 / RATE_HZ)
        light = light + 0.002 * np.random.default_rng(1).standard_normal(len(light))
        return "\n".join(["value", *(f"{value:.5f}" for value in light)]) + "\n"


def test_steps_are_shown_recorded_outside_and_fitted(display, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    out, recording = tmp_path / "cert.json", tmp_path / "steps.csv"
    with open_window_bench({"out": out, "windowed": (640, 480)}, 1) as bench:
        assert not bench.window.closed
        recorder = Recorder()
        with pytest.raises(InputError) as told:
            bench.steps_trace()
        recorder.end()
    assert str(told.value) == (
        "--trace: got nothing; allowed: the recording of the steps that were just shown, .csv or "
        f".wav. Save it, then: ripplefield calibrate flicker --out {out} --trace FILE"
    )
    recording.write_text(recorder.as_csv())
    given = {"out": out, "windowed": (640, 480), "trace": str(recording), "trace_rate": RATE_HZ}
    with open_window_bench(given, 1) as bench:
        trace, diode = bench.steps_trace()
    assert (diode.kind, diode.name) == ("photodiode", "recording steps.csv")
    part = flicker_part(trace, [0.5], 20.0, 60.0)
    print(f"rise {1e3 * part.rise_s.value:.2f} ms, fall {1e3 * part.fall_s.value:.2f} ms")
    assert part.rise_s.value == pytest.approx(RISE_S * np.log(9), rel=0.03)
    assert part.fall_s.value == pytest.approx(FALL_S * np.log(9), rel=0.03)


def test_the_steps_flash_less_than_three_times_a_second(display, tmp_path):
    """WCAG 2.3.1: no more than three flashes in any one second."""
    from stimulus.calibrating.step_sequence import LEVEL_S

    assert 1 / (2 * LEVEL_S) < 3


def test_a_recording_without_times_asks_for_its_rate(display, tmp_path):
    recording = tmp_path / "steps.csv"
    recording.write_text("value\n" + "0.1\n0.2\n" * 200)
    given = {"out": tmp_path / "cert.json", "windowed": (640, 480), "trace": str(recording)}
    with (
        open_window_bench(given, 1) as bench,
        pytest.raises(
            InputError,
            match=re.escape(
                f"{recording}, sampling rate in Hz: got nothing; allowed: a number above 0. Add "
                "--trace-rate HZ. State the rate, or add a time_s column."
            ),
        ),
    ):
        bench.steps_trace()
