"""Delays through a real window, real ports and a rig that is a program of its own."""

from __future__ import annotations

import re

import numpy as np
import pytest
from bench_rigs import Line, loop_back_rig

from calibration.latency import LONGEST_DELAY_S
from protocols.errors import InputError
from stimulus.calibrating.window_bench import open_window_bench

PAIRS = 16
CONTACT_MS, LIGHT_MS = 6.0, 21.0


def given(folder, rig: str, button: str) -> dict[str, object]:
    return {"out": folder / "cert.json", "windowed": (640, 480), "rig": rig, "button": button}


def test_delays_are_those_of_the_outside_program(display, tmp_path):
    """The program's log is the truth: one clock for both, so its times compare directly."""
    with loop_back_rig(tmp_path, CONTACT_MS, LIGHT_MS) as rig:
        with open_window_bench(given(tmp_path, rig.output, rig.button), 1) as bench:
            found, instrument = bench.delays(PAIRS)
        log = rig.ended()
    assert instrument.kind == "loop-back rig"
    contacts = [line for line in log if line["kind"] == "contact"]
    first_s = found.flips_s[0] - 0.05  # before: the window's fixation dot is light, too
    lights = [line for line in log if line["kind"] == "light" and line["since_s"] > first_s]
    assert len(contacts) == len(lights) == PAIRS
    for causes, events in ((found.contacts_s, found.stamps_s), (found.flips_s, found.photons_s)):
        assert len(causes) == len(events) == PAIRS
        assert np.all(np.diff(causes) > LONGEST_DELAY_S)
    closed = np.array([line["closed_s"] for line in contacts])
    press = found.stamps_s - found.contacts_s
    truth = np.median(closed - found.contacts_s)
    print(f"press: {1e3 * np.median(press):.2f} ms, rig {1e3 * truth:.2f} ms")
    assert np.median(press) == pytest.approx(truth, abs=0.002)
    lit = np.array([line["closed_s"] for line in lights])
    truth = np.median(lit - found.flips_s) - np.median(press)
    photon = np.median(found.photons_s - found.flips_s)
    print(f"photon: {1e3 * photon:.2f} ms, rig {1e3 * truth:.2f} ms")
    assert photon == pytest.approx(truth, abs=0.002)
    assert photon == pytest.approx((LIGHT_MS - CONTACT_MS) / 1e3, abs=0.008)


def test_an_output_that_closes_nothing_is_told_after_a_few_tries(display, tmp_path):
    output, button = Line(tmp_path / "output"), Line(tmp_path / "button")
    options = given(tmp_path, f"serial:{output.path}", f"serial:{button.path}")
    with (
        open_window_bench(options, 1) as bench,
        pytest.raises(
            InputError,
            match=re.escape(
                '--rig: got "no press after 5 tries"; allowed: a press of the button after each. '
                "Check that the output closes the button's contact."
            ),
        ),
    ):
        bench.delays(PAIRS)
    output.close()
    button.close()


def test_a_photodiode_that_sees_nothing_is_told_apart_from_the_output(display, tmp_path):
    with (
        loop_back_rig(tmp_path, CONTACT_MS, light_ms=-1) as rig,
        open_window_bench(given(tmp_path, rig.output, rig.button), 1) as bench,
        pytest.raises(InputError, match="photodiode: got \"no press after 5 tries\""),
    ):
        bench.delays(5)
