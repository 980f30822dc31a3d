"""A real window before real instruments."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from calibration.card import LitSize
from calibration.certificate import GammaPart, Identity, Instrument
from calibration.eye_gamma import PEAK_RELATIVE_UNCERTAINTY, eye_gamma_part
from calibration.instruments import open_photometer
from calibration.instruments.eye_estimate import estimate
from calibration.instruments.eye_match import MatchPlan
from calibration.instruments.eye_meter import EyeMeter
from calibration.instruments.interface import Photometer
from calibration.traces import Trace
from calibration.transfer import srgb_nominal
from calibration.warmup import WarmUp
from protocols.errors import InputError
from protocols.field import Floats
from stimulus.buttons import Button, open_button
from stimulus.buttons.key_listener import KeyListener
from stimulus.calibrating.beforehand import details_of
from stimulus.calibrating.bench import Delays, Grids, Progress, Size
from stimulus.calibrating.blind_spot import METHOD as BY_BLIND_SPOT
from stimulus.calibrating.blind_spot import measured_distance
from stimulus.calibrating.by_eye import matched_on
from stimulus.calibrating.card_outline import matched_card
from stimulus.calibrating.flips import flips_at_rest_s, flips_under_load_s
from stimulus.calibrating.given import BUTTONS, MATCH, METERS, ON_A_LINE, Given, missing
from stimulus.calibrating.grid import FULL, GREY, NONE, GridWalk, walked_grids
from stimulus.calibrating.identity import identity_of
from stimulus.calibrating.rig import loop_back, open_output, rig_identity
from stimulus.calibrating.shapes import whole
from stimulus.calibrating.sizes import (
    TAPE,
    USUAL_PX_CM,
    card_settings,
    drawing_screen,
    lit_by_card,
    lit_by_ruler,
    tape_cm,
)
from stimulus.calibrating.step_sequence import (
    recorded_steps,
    show_for_recording,
    steps_on_a_line,
)
from stimulus.calibrating.terminal import ask_to
from stimulus.calibrating.warming import Times, Watch
from stimulus.window import StimulusWindow, display_size_px

BITS = 8
READ_BY_METER, READ_BY_HAND = 3, 1
"""Passes over all codes, and readings at a point: a person types each of them."""

SWITCH_ON = (
    "Hold the photometer to the middle of the screen. Switch the display off, and when it is cold, "
    "on again."
)


@contextmanager
def open_window_bench(given: Mapping[str, Any], seed: int) -> Iterator[WindowBench]:
    """The bench that these options of `calibrate` describe; closed with whatever it opened.

    The window opens with the first thing that needs it. Raises InputError for options that cannot
    be, and whatever a measurement raises.
    """
    with ExitStack() as opened:
        yield WindowBench(Given(**given), seed, opened)


@dataclass
class WindowBench:
    """A window, full screen or not, and the instruments that were named; see `Bench`."""

    given: Given
    seed: int
    _opened: ExitStack = field(repr=False)
    times: Times = field(default=Times(), repr=False)

    bits = BITS

    @cached_property
    def size_px(self) -> tuple[int, int]:
        """Width and height of what is measured: the window or the whole screen."""
        return self.given.windowed or display_size_px(int(self.given.screen))

    @cached_property
    def identity(self) -> Identity:
        """Machine and display."""
        return identity_of(self.given, self.size_px)

    @cached_property
    def window(self) -> StimulusWindow:
        """The window, opened at the first use."""
        screen = drawing_screen(self.given, self.size_px)
        covers, number = self.given.windowed is None, int(self.given.screen)
        window = StimulusWindow(screen, srgb_nominal(), covers, number, self.seed)
        return self._opened.enter_context(window)

    @cached_property
    def keys(self) -> KeyListener:
        """Who hears the keys of the window."""
        keys = KeyListener(self.window.xid)
        keys.start()
        self._opened.callback(keys.close)
        return keys

    @property
    def display_locked(self) -> bool:
        """Whether flips wait for the display."""
        return self.window.refresh.display_locked

    @property
    def settle_s(self) -> float:
        """How long the display is given after a change of light, seconds."""
        return self.given.settle

    @property
    def passes(self) -> int:
        """Three by a meter on a line, one by hand."""
        return READ_BY_HAND if self.given.photometer == "manual" else READ_BY_METER

    def size(self) -> Size:
        """Lit size by ruler or card, distance by tape or blind spot."""
        lit = self._lit()
        distance = self.given.distance
        if isinstance(distance, tuple):
            return Size(lit, tape_cm(distance), TAPE)
        if distance is None:
            raise missing("--distance", "readings from eye to mark in cm, or blind-spot", "Add it.")
        cm_per_px = lit.width_cm.value / self.size_px[0]
        return Size(
            lit, measured_distance(self.window, self._button, cm_per_px), BY_BLIND_SPOT
        )

    def photometer(self) -> Photometer:
        """The photometer that was named, started; the same one each time."""
        return self._photometer

    def by_eye(self, progress: Progress) -> tuple[GammaPart, Instrument] | None:
        """Half-tones matched on the window, with the peak that was entered."""
        if not self.given.by_eye:
            return None
        if self.given.peak is None:
            raise missing("--peak", "the luminance of full white in cd/m2", "Add it.")
        kept = self.given.beside("answers"), self.identity
        done = matched_on(self.window, self.keys, MatchPlan(seed=self.seed), kept, progress)
        doubt = self.given.meter_uncertainty or PEAK_RELATIVE_UNCERTAINTY
        return eye_gamma_part(estimate(done), self.given.peak, doubt), EyeMeter().identity

    def show(self, codes: tuple[int, int, int]) -> None:
        """Exact code values over the whole window."""
        self.window.tiles([whole(self.size_px, codes)])

    def flips_s(self, count: int, under_load: bool) -> Floats:
        """Times of real flips, quiet frames or with the largest patch."""
        flips = flips_under_load_s if under_load else flips_at_rest_s
        return flips(self.window, count)

    def steps_trace(self) -> tuple[Trace, Instrument]:
        """What the photodiode named records while the steps are shown, or the recording named.

        Without either, shows the steps and says what to do next.
        """
        if self.given.trace is None:
            raise show_for_recording(self.window, self.given)
        if self.given.trace.startswith(ON_A_LINE):
            return steps_on_a_line(self.window, self.given)
        return recorded_steps(self.given)

    def delays(self, count: int) -> tuple[Delays, Instrument]:
        """So many presses by the rig's output and by its photodiode."""
        if self.given.rig is None:
            raise missing("--rig", "serial:PORT of the loop-back rig's output", "Add it.")
        output = open_output(self.given.rig)
        self._opened.callback(output.close)
        found = loop_back(self.window, output, self._button, count, self.seed)
        return found, rig_identity(self.given.rig, self._button)

    def grids(self, rows: int, columns: int, progress: Progress) -> Grids:
        """Luminance at every point of a grid to which the operator takes the photometer."""
        meter = self.photometer()
        levels = (GREY[0], FULL, NONE) if self.given.contrast_map else (GREY[0],)
        walk = GridWalk(self.window, rows, columns, progress, levels)
        log = self.given.beside("grid")
        return walked_grids(walk, meter, self.identity, self.settle_s, log, self.passes)

    def warm_up(self, progress: Progress) -> WarmUp | None:
        """Mean grey watched from switching on, for the minutes that were asked for."""
        minutes = self.given.warm_up
        if minutes is None:
            return None
        watch = Watch(self.given.beside("warm-up"), self.identity, self.photometer(), self.times)
        self.show(GREY)
        if not watch.begun:
            ask_to(SWITCH_ON)
        self.show(GREY)
        return watch.through(minutes, progress)

    def _lit(self) -> LitSize:
        card = self.given.card
        if card is None:
            return lit_by_ruler(self.given)
        if card != MATCH:
            return lit_by_card(card_settings(card), self.size_px)
        settings = matched_card(self.window, self.keys, USUAL_PX_CM, self.seed)
        return lit_by_card(settings, self.size_px)

    @cached_property
    def _photometer(self) -> Photometer:
        if not self.given.photometer:
            raise missing("--photometer", METERS, "Add it.")
        meter = open_photometer(self.given.photometer, details_of(self.given))
        if isinstance(meter, EyeMeter):
            raise InputError(
                "--photometer", "eye", "serial:PORT or manual", "No eye reads cd/m2: use a meter."
            )
        meter.start()
        self._opened.callback(meter.close)
        return meter

    @cached_property
    def _button(self) -> Button:
        if self.given.button is None:
            raise missing("--button", BUTTONS, "Add it.")
        button = open_button(self.given.button, self.keys)
        button.start()
        self._opened.callback(button.close)
        return button
