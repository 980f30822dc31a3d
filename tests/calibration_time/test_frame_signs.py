"""Signs of variable refresh, a compositor, an unlocked window: told when there, and only then."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.frames import timing_part

T_S = 1 / 60


def steady(flips: int, seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.arange(flips) * T_S + 5e-5 * np.abs(rng.standard_normal(flips))


def about(hints: list[str], word: str) -> list[str]:
    return [hint for hint in hints if word in hint]


def test_variable_refresh_is_told_by_intervals_of_any_length_under_load():
    rng = np.random.default_rng(1)
    lengths = T_S * np.where(rng.random(500) < 0.3, rng.uniform(1, 2.5, 500), 1.0)
    hints = timing_part(steady(2000), np.cumsum(lengths), True).hints
    (hint,) = about(hints, "Variable refresh")
    assert hint.endswith(
        "are no whole number of frames. Switch variable refresh (adaptive synchronisation) off in "
        "the screen's own menu and in the graphics driver."
    )


def test_missed_frames_on_a_fixed_display_are_not_taken_for_variable_refresh():
    rng = np.random.default_rng(2)
    lengths = T_S * rng.choice([1, 2, 3], 500, p=[0.7, 0.2, 0.1])
    jitter = 1e-4 * rng.standard_normal(500)
    assert not about(
        timing_part(steady(2000), np.cumsum(lengths) + jitter, True).hints, "Variable refresh"
    )


@pytest.mark.parametrize("share", [0.05, 0.31, 0.5])
def test_a_compositor_is_told_by_flips_late_by_one_amount(share):
    rng = np.random.default_rng(4)
    times = steady(3000) + 0.0021 * (rng.random(3000) < share)
    (hint,) = about(timing_part(times, steady(400), True).hints, "compositor")
    assert "ms later than the others. Switch desktop effects (the compositor) off, or let " in hint
    found_ms = float(hint.split(" ms later")[0].split()[-1])
    assert found_ms == pytest.approx(2.1, abs=0.1)


@pytest.mark.parametrize("spread", ["normal", "even", "one-sided", "heavy", "wander"])
def test_lateness_of_one_group_is_not_taken_for_a_compositor(spread):
    rng = np.random.default_rng(5)
    late = {
        "normal": 1e-3 * rng.standard_normal(3000),
        "even": 3e-3 * rng.random(3000),
        "one-sided": 1e-3 * rng.exponential(size=3000),
        "heavy": 3e-4 * rng.standard_t(3, 3000).clip(-20, 20),
        "wander": np.cumsum(2e-5 * rng.standard_normal(3000)),
    }[spread]
    times = np.arange(3000) * T_S + late
    hints = timing_part(np.sort(times), steady(400), True).hints
    assert not about(hints, "compositor")


def test_an_unlocked_window_is_told_what_its_rate_is_worth():
    assert timing_part(steady(2000), steady(400), False).hints == [
        "The flips do not wait for the display, so the rate is that of the software's pacing and "
        "frames may tear: turn vertical synchronisation on in the graphics driver, and run the "
        "window full screen."
    ]


def test_a_lock_that_the_intervals_do_not_bear_out_is_doubted():
    rng = np.random.default_rng(6)
    times = np.cumsum(T_S * (1 + 0.1 * rng.standard_normal(2000).clip(-4, 4)))
    (hint,) = about(timing_part(times, steady(400), True).hints, "taken as locked")
    assert hint.startswith("The window was taken as locked to the display, but only 6")
    assert hint.endswith(
        "of the intervals lie within 10 % of one frame: close other programs, turn vertical "
        "synchronisation on, and time the flips again."
    )
