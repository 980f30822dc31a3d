"""The stimulus window: mean grey, a fixation mark, and one flickering patch at a time.

PsychoPy owns the window and its flips; what is drawn between them is drawn here. PsychoPy and
pyglet need a display to be imported, so that happens when a window is opened and not before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.geometry import Screen, refuse_off_screen
from calibration.transfer import Transfer
from protocols import RESEARCH_ONLY
from protocols.errors import InputError, RipplefieldError, require_within
from protocols.grating import FramePlan, Patch
from stimulus.clock import clock
from stimulus.drawing import import_psychopy, said_if_there_is_no_display, screens
from stimulus.feedback import Feedback, draw_feedback
from stimulus.message import draw_caption, draw_message
from stimulus.pacing import Refresh, measure_refresh, pacer_for
from stimulus.picture import PictureReader
from stimulus.refresh_watch import frame_interval_s
from stimulus.tiles import Tile, draw_tiles

Bytes = NDArray[np.uint8]
KeepGoing = Callable[[], bool]


@dataclass(frozen=True)
class Shown:
    """What a presentation came to. `onset_s` is the clock right after the first frame's flip.

    A presentation told to stop has `stopped` set and fewer frames shown than wanted.
    `frame_interval_s` is the median time between its flips, None for too few of them.
    """

    onset_s: float
    frames_wanted: int
    frames_shown: int
    frames_late: int
    stopped: bool
    frame_interval_s: float | None = None


class WindowGone(RipplefieldError):
    """The window was destroyed from outside: nothing more can be shown in it."""


class StimulusWindow:
    """An open window. Use as a context manager, or call `close`.

    `full_screen` covers display number `display`; else the window has the screen's size. Raises
    InputError when no display can be opened or its size is not the screen's.
    """

    def __init__(
        self,
        screen: Screen,
        transfer: Transfer,
        full_screen: bool = False,
        display: int = 0,
        seed: int = 0,
    ) -> None:
        self.screen = screen
        self.transfer = transfer
        self._window = _open(screen, transfer, full_screen, display)
        self._reader: PictureReader | None = None
        try:
            self._prepare_drawing(seed)
        except BaseException:
            self._window.close()
            raise

    def __enter__(self) -> StimulusWindow:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def refresh(self) -> Refresh:
        """What the flips showed when the window was opened."""
        return self._refresh

    @property
    def renderer(self) -> str:
        """What draws, by the graphics driver's own name, and its version of OpenGL."""
        info = self._window.winHandle.context.get_info()
        return f"{info.get_renderer()}, OpenGL {info.get_version()}"

    @property
    def closed(self) -> bool:
        """True once somebody closed the window."""
        return self._window._closed or bool(self._window.winHandle.has_exit)

    @property
    def xid(self) -> int:
        """The X11 window, for a listener of key presses."""
        return int(self._window.winHandle._window)

    def quiet(self) -> float:
        """One frame of mean grey with the mark; returns the clock right after its flip.

        Raises WindowGone.
        """
        with self._gone_said():
            self._begin()
            return self._quiet_frame()[0]

    def present(
        self, patch: Patch, contrast: float, plan: FramePlan, keep_going: KeepGoing
    ) -> Shown:
        """Show a patch for the plan's frames, then one quiet frame.

        `keep_going` is asked after every flip; once it says no, the next frame is mean grey. A
        blank is contrast 0: everything is drawn but the contrast. Contrast 1 is the greatest that
        the display's black allows (`transfer.greatest_contrast`). Raises WindowGone.
        """
        self._check(patch, contrast, plan)
        with self._gone_said():
            return self._present(patch, contrast, plan, keep_going)

    def _present(
        self, patch: Patch, contrast: float, plan: FramePlan, keep_going: KeepGoing
    ) -> Shown:
        self._begin()
        self._patch.prepare(patch, plan.frames_per_cycle)
        full = contrast * self.transfer.greatest_contrast
        flips_s: list[float] = []
        late, going = 0, True
        for factor in plan.factors:
            flipped_s, was_late = self._patch_frame(full * float(factor))
            flips_s.append(flipped_s)
            late += was_late
            going = keep_going() and not self.closed
            if not going:
                break
        ended_s, was_late = self._quiet_frame()
        interval_s = frame_interval_s([*flips_s, ended_s])
        return Shown(
            flips_s[0], plan.frames, len(flips_s), late + was_late, not going, interval_s
        )

    def feedback(self, said: Feedback) -> float:
        """One quiet frame with the mark and what is told of a practice answer, until the next.

        Returns the clock right after the flip. Raises WindowGone.
        """
        with self._gone_said():
            self._begin()
            draw_feedback(self._window, self.screen, said)
            return self._quiet_frame()[0]

    def message(
        self,
        lines: Sequence[str],
        small_print: str = RESEARCH_ONLY,
        right_to_left: bool = False,
    ) -> None:
        """Show lines of text on mean grey, the first as a heading, until the next frame.

        Raises WindowGone.
        """
        with self._gone_said():
            self._begin()
            draw_message(self._window, lines, small_print, right_to_left)
            self._flip()

    def tiles(self, shown: Sequence[Tile], words: Sequence[str] = (), mark: bool = False) -> float:
        """One frame of rectangles of exact code values over mean grey; stays until the next frame.

        `words` stand at the bottom with the research-only line, `mark` adds the fixation mark.
        Returns the clock right after the flip.
        """
        self._begin()
        draw_tiles(shown)
        if words:
            draw_caption(self._window, words)
        if mark:
            self._mark.draw()
        return self._flip()[0]

    def attend(self) -> None:
        """Heed the window manager while nothing is drawn; `closed` then knows."""
        self._window.winHandle.dispatch_events()

    def wait_for_display(self) -> None:
        """Return once the display has answered; a lost one ends the program here, not later."""
        from pyglet.libs.x11 import xlib

        xlib.XSync(self._window.winHandle._x_display, 0)

    def read_back(self) -> Bytes:
        """What is on the window now: code values, top row first, shape (H, W, 3)."""
        from pyglet import gl

        gl.glFinish()
        self.wait_for_display()
        if self._reader is None:
            self._reader = PictureReader(self.xid, self.screen.width_px, self.screen.height_px)
        return self._reader.read()

    def close(self) -> None:
        """Close the window; more than once is no harm."""
        if self._reader is not None:
            self._reader.close()
            self._reader = None
        if not self._window._closed:
            with suppress(WindowGone), self._gone_said():
                self._window.close()

    @contextmanager
    def _gone_said(self) -> Iterator[None]:
        """Raise WindowGone for a refusal of the graphics library if the window is no more."""
        from pyglet.gl import GLException

        try:
            yield
        except GLException:
            if self._exists():
                raise
            raise WindowGone("the stimulus window was closed") from None

    def _exists(self) -> bool:
        from pyglet.libs.x11 import xlib

        facts = xlib.XWindowAttributes()
        handle = self._window.winHandle
        return bool(xlib.XGetWindowAttributes(handle._x_display, handle._window, facts))

    def _prepare_drawing(self, seed: int) -> None:
        from stimulus.mark import MarkDrawer
        from stimulus.patch import PatchDrawer

        self._patch = PatchDrawer(self.screen, self.transfer, seed)
        self._mark = MarkDrawer(self.screen)
        self._window.flip()
        self._refresh = measure_refresh(self._unpaced_quiet_frame)
        self._pacer = pacer_for(self._refresh)
        self.quiet()

    def _unpaced_quiet_frame(self) -> None:
        self._mark.draw()
        self._window.flip()

    def _begin(self) -> None:
        self._window.winHandle.switch_to()
        self._pacer.start()

    def _quiet_frame(self) -> tuple[float, bool]:
        self._mark.draw()
        return self._flip()

    def _patch_frame(self, amplitude: float) -> tuple[float, bool]:
        self._patch.draw(amplitude)
        self._mark.draw()
        return self._flip()

    def _flip(self) -> tuple[float, bool]:
        self._pacer.wait()
        self._window.flip()
        flipped_s = clock()
        return flipped_s, self._pacer.flipped(flipped_s)

    def _check(self, patch: Patch, contrast: float, plan: FramePlan) -> None:
        require_within("contrast", contrast, 0.0, 1.0, "1 is the most the display can show.")
        refuse_off_screen([patch.place], patch.outer_radius_deg, self.screen, "presentation")
        if abs(plan.refresh_hz - self._refresh.refresh_hz) > 0.01 * self._refresh.refresh_hz:
            raise InputError(
                "plan.refresh_hz",
                plan.refresh_hz,
                f"the window's own, {self._refresh.refresh_hz:.3f}",
                "Make the frame plan from window.refresh.",
            )


def display_size_px(display: int = 0) -> tuple[int, int]:
    """Width and height of a connected display in pixels; raises InputError when there is none."""
    import_psychopy()
    found = screens()
    if not 0 <= display < len(found):
        todo = "Connect the display or choose another number."
        raise InputError("display", display, f"0 to {len(found) - 1}", todo)
    return found[display].width, found[display].height


def _open(screen: Screen, transfer: Transfer, full_screen: bool, display: int) -> Any:
    available = display_size_px(display)
    wanted = (screen.width_px, screen.height_px)
    if full_screen and available != wanted:
        raise InputError(
            "screen",
            f"{wanted[0]}x{wanted[1]} px",
            f"{available[0]}x{available[1]} px, its size",
            "Give the size of the display itself, or run in a window.",
        )
    if min(available[0] - wanted[0], available[1] - wanted[1]) < 0:
        raise InputError(
            "window size",
            f"{wanted[0]}x{wanted[1]} px",
            f"up to {available[0]}x{available[1]} px",
            "Make the window smaller or use a larger display.",
        )
    return _psychopy_window(screen, transfer, full_screen, display)


def _psychopy_window(screen: Screen, transfer: Transfer, full_screen: bool, display: int) -> Any:
    from psychopy import monitors, visual
    from pyglet import gl

    monitor = monitors.Monitor("ripplefield", width=screen.width_cm, distance=screen.distance_cm)
    monitor.setSizePix((screen.width_px, screen.height_px))
    with said_if_there_is_no_display():
        window = visual.Window(
            size=(screen.width_px, screen.height_px),
            fullscr=full_screen,
            screen=display,
            units="pix",
            monitor=monitor,
            color=[code / 127.5 - 1 for code in transfer.mean_codes],
            colorSpace="rgb",
            waitBlanking=True,
            allowGUI=not full_screen,
            checkTiming=False,
            title="Ripplefield",
            autoLog=False,
        )
    window.mouseVisible = False
    gl.glDisable(gl.GL_DITHER)
    return window
