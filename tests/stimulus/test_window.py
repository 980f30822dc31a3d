"""The window's behaviour: quiet frames, blanks, stops, late frames, messages, closing."""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest
from light import patch_at, usual_plan

from calibration.geometry import screen_of_width
from calibration.transfer import linear, srgb_nominal
from protocols.errors import InputError
from protocols.field import Place
from protocols.grating import frame_plan
from stimulus.clock import clock
from stimulus.window import StimulusWindow, display_size_px

PATCH = patch_at(Place(9.5, 3.0))


def always() -> bool:
    return True


def test_background_is_the_mean_code_exactly_but_for_the_mark(window):
    window.quiet()
    picture = window.read_back()
    rows, columns = np.nonzero(np.any(picture != window.transfer.mean_codes, axis=-1))
    assert 80 < len(rows) < 160
    assert abs(np.mean(rows) - 359.5) < 0.01
    assert abs(np.mean(columns) - 639.5) < 0.01
    assert np.ptp(columns) < 14


def test_blank_frames_are_identical_to_quiet_ones(window):
    window.quiet()
    quiet = window.read_back()
    frames = []

    def keep_going() -> bool:
        frames.append(window.read_back())
        return True

    shown = window.present(PATCH, 0.0, usual_plan(window), keep_going)
    assert shown.frames_shown == len(frames) == usual_plan(window).frames
    assert all(np.array_equal(frame, quiet) for frame in frames)


def test_all_frames_are_shown_in_their_time_and_then_quiet(window):
    plan = usual_plan(window)
    started = clock()
    shown = window.present(PATCH, 1.0, plan, always)
    ended = clock()
    assert (shown.frames_wanted, shown.frames_shown, shown.stopped) == (36, 36, False)
    assert started < shown.onset_s < started + 0.1
    assert ended - shown.onset_s == pytest.approx(36 / 60, abs=0.02)
    left_over = window.read_back()
    window.quiet()
    assert np.array_equal(left_over, window.read_back())


def test_stop_blanks_within_one_frame(window):
    asked = []

    def keep_going() -> bool:
        asked.append(clock())
        return len(asked) < 6

    shown = window.present(PATCH, 1.0, usual_plan(window), keep_going)
    blanked_s, stopped_picture = clock(), window.read_back()
    window.quiet()
    assert (shown.stopped, shown.frames_shown, shown.frames_wanted) == (True, 6, 36)
    assert np.array_equal(stopped_picture, window.read_back())
    assert blanked_s - asked[-1] < 1.5 / 60


def test_late_frame_is_counted_and_does_not_delay_the_rest(window):
    calls = []

    def keep_going() -> bool:
        calls.append(clock())
        if len(calls) == 10:
            time.sleep(0.03)
        return True

    shown = window.present(PATCH, 1.0, usual_plan(window), keep_going)
    assert shown.frames_late >= 1
    assert shown.frames_shown == 36


def test_same_seed_gives_the_same_frames_and_another_seed_does_not(display):
    def frames(seed: int) -> np.ndarray:
        screen, kept = screen_of_width(640, 480, 53.0, 60.0), []
        with StimulusWindow(screen, srgb_nominal(), seed=seed) as opened:
            plan = frame_plan(0.1, 0.0, 20.0, opened.refresh.refresh_hz)

            def keep_going() -> bool:
                kept.append(opened.read_back().copy())
                return True

            opened.present(PATCH, 0.005, plan, keep_going)
        return np.array(kept)

    assert np.array_equal(frames(1), frames(1))
    assert not np.array_equal(frames(1), frames(2))


def test_another_transfer_has_its_own_background(display):
    with StimulusWindow(screen_of_width(640, 480, 53.0, 60.0), linear()) as opened:
        assert tuple(opened.read_back()[0, 0]) == (127, 127, 127)


def test_message_shows_words_and_the_next_frame_takes_them_away(window):
    window.quiet()
    quiet = window.read_back()
    window.message(["Right eye", "Keep looking at the ring."])
    words = window.read_back()
    assert np.sum(np.any(words != window.transfer.mean_codes, axis=-1)) > 1000
    assert np.any(words[650:] != quiet[650:]), "the small print is at the bottom"
    window.quiet()
    assert np.array_equal(window.read_back(), quiet)


def test_message_leaves_presentations_as_they_were(window):
    window.message(["Left eye"])
    shown = window.present(PATCH, 0.5, usual_plan(window), always)
    assert shown.frames_shown == 36


def test_virtual_screen_is_not_taken_for_a_display(window):
    assert not window.refresh.display_locked
    assert window.refresh.refresh_hz == 60.0
    assert window.refresh.flips == 80


def test_refuses_what_it_cannot_show(window):
    plan = usual_plan(window)
    with pytest.raises(InputError, match=r"contrast: got 1\.2; allowed: 0 to 1"):
        window.present(PATCH, 1.2, plan, always)
    with pytest.raises(InputError, match="presentation: place"):
        window.present(patch_at(Place(60.0, 0.0)), 0.5, plan, always)
    with pytest.raises(InputError, match=r"plan\.refresh_hz: got 75"):
        window.present(PATCH, 0.5, frame_plan(0.6, 0.1, 20.0, 75.0), always)


def test_refuses_a_window_larger_than_the_display(display):
    width, height = display_size_px()
    with pytest.raises(InputError, match="window size: got"):
        StimulusWindow(screen_of_width(width + 100, height, 53.0, 35.0), srgb_nominal())
    with pytest.raises(InputError, match="screen: got"):
        StimulusWindow(screen_of_width(640, 480, 53.0, 60.0), srgb_nominal(), full_screen=True)


def test_full_screen_covers_the_display(display):
    width, height = display_size_px()
    screen = screen_of_width(width, height, 53.0, 35.0)
    with StimulusWindow(screen, srgb_nominal(), full_screen=True) as opened:
        assert tuple(opened.read_back()[0, 0]) == opened.transfer.mean_codes


def test_closing_the_window_stops_a_presentation(display):
    with StimulusWindow(screen_of_width(640, 480, 53.0, 60.0), srgb_nominal()) as opened:
        assert not opened.closed
        plan = frame_plan(2.0, 0.0, 20.0, opened.refresh.refresh_hz)
        calls = []

        def keep_going() -> bool:
            calls.append(1)
            if len(calls) == 3:
                ask_to_close(opened.xid)
            return True

        shown = opened.present(PATCH, 1.0, plan, keep_going)
        assert opened.closed
        assert shown.stopped
        assert shown.frames_shown < plan.frames


def ask_to_close(xid: int) -> None:
    """What a window manager sends when somebody clicks a window away."""
    from Xlib import display, protocol

    server = display.Display()
    wanted = server.intern_atom("WM_DELETE_WINDOW"), server.intern_atom("WM_PROTOCOLS")
    target = server.create_resource_object("window", xid)
    event = protocol.event.ClientMessage(
        window=target, client_type=wanted[1], data=(32, [wanted[0], 0, 0, 0, 0])
    )
    target.send_event(event)
    server.sync()
    server.close()


def test_without_a_display_the_error_says_what_to_do():
    program = (
        "import os; os.environ.pop('DISPLAY', None)\n"
        "from calibration.geometry import screen_of_width\n"
        "from calibration.transfer import srgb_nominal\n"
        "from stimulus.window import StimulusWindow\n"
        "StimulusWindow(screen_of_width(640, 480, 53.0, 60.0), srgb_nominal())\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert ended.returncode != 0
    assert "InputError: display: got nothing; allowed: a running X display" in ended.stderr
    assert "apt-get install xvfb" in ended.stderr


def test_importing_the_window_needs_no_display_and_no_psychopy():
    program = (
        "import sys, stimulus.window\n"
        "assert not {'psychopy', 'pyglet'} & {name.split('.')[0] for name in sys.modules}"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60)
