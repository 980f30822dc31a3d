"""The exam on the live page: followed, foretold, and told to every page that asks."""

from __future__ import annotations

import asyncio
import contextlib
import os
import threading
import time
from collections.abc import AsyncIterator
from concurrent.futures import Future, ThreadPoolExecutor

import msgspec

from protocols.errors import InputError
from stimulus.buttons.control_channel import PressesHeard
from stimulus.station.drawn import article
from stimulus.station.follow import Follower
from stimulus.station.forecast import Left, safely_left
from stimulus.station.live import LiveView, live_view
from stimulus.station.runs import Runs

POLL_S = 0.015
LIVENESS_EVERY_S = 0.5
FORECAST_EVERY_S = 4.0
HEARTBEAT_S = 5.0
MOST_WATCHERS = 12
NICENESS = 10


def background(name: str) -> ThreadPoolExecutor:
    """A thread for slow work that gives way to pages and, above all, to light."""

    def _give_way() -> None:
        if hasattr(os, "setpriority"):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICENESS)

    return ThreadPoolExecutor(1, name, initializer=_give_way)


class Watch:
    """Follows the last run of `runs`. `poll` is cheap and may be called by anybody at any time."""

    def __init__(self, runs: Runs) -> None:
        self._runs = runs
        self._follower: Follower | None = None
        self._running = False
        self._asked_s = self._foretold_s = 0.0
        self._left: Left | None = None
        self._future: Future[Left | None] | None = None
        self._pool = background("forecast")
        self._heard: PressesHeard | None = None
        self._presses = 0
        self._view: LiveView | None = None
        self._stale = True
        self.version = 0
        self.watchers = 0

    @property
    def view(self) -> LiveView | None:
        """Where the exam stands; None while there is no record of it yet."""
        if self._stale and self._follower is not None:
            found, exam = self._follower.found, self._follower.folder.name
            self._view = live_view(
                exam, found, self._running, self._left, self._presses, self._follower.trouble
            )
            self._stale = False
        return self._view

    def poll(self) -> None:
        """Take what is new in the journal, in the process, in the forecast."""
        run = self._runs.last
        if run is None:
            return
        if self._follower is None or self._follower.folder.name != run.exam:
            self._follower = Follower(self._runs.folder(run.exam))
            self._left, self._view, self._asked_s = None, None, 0.0
            self._listen(run.exam)
        changed = self._follower.poll()
        changed |= self._poll_process()
        changed |= self._poll_forecast()
        changed |= self._poll_presses()
        if changed:
            self._stale = True
            self.version += 1

    def _listen(self, exam: str) -> None:
        """Hear presses ahead of the journal; without, the page only learns of them later."""
        if self._heard is not None:
            self._heard.close()
        self._heard, self._presses = None, 0
        with contextlib.suppress(InputError):
            self._heard = PressesHeard(self._runs.socket(exam))

    def _poll_presses(self) -> bool:
        new = 0 if self._heard is None else self._heard.take()
        self._presses += new
        return bool(new)

    def _poll_process(self) -> bool:
        now_s = time.monotonic()
        if now_s - self._asked_s < LIVENESS_EVERY_S:
            return False
        self._asked_s, before = now_s, self._running
        self._running = self._runs.is_running()
        if before and not self._running and self._follower is not None:
            self._pool.submit(article, self._follower.folder)  # drawn before anybody looks
        return before != self._running

    def _poll_forecast(self) -> bool:
        if self._future is not None and self._future.done():
            self._left, self._future = self._future.result(), None
            return True
        assert self._follower is not None
        found, now_s = self._follower.found, time.monotonic()
        due = self._future is None and now_s - self._foretold_s >= FORECAST_EVERY_S
        if due and self._running and found.plan is not None and found.state is not None:
            self._foretold_s = now_s
            self._future = self._pool.submit(safely_left, found.plan, found.state, found.lines)
        return False

    async def events(self) -> AsyncIterator[bytes]:
        """Server-sent events (WHATWG HTML, 9.2), one for each change, until the reader leaves."""
        self.watchers += 1
        told, spoke_s = -1, time.monotonic()
        try:
            while True:
                self.poll()
                now_s = time.monotonic()
                if told != self.version:
                    told, spoke_s = self.version, now_s
                    yield b"data: " + msgspec.json.encode(self.view) + b"\n\n"
                elif now_s - spoke_s > HEARTBEAT_S:
                    spoke_s = now_s
                    yield b": still here\n\n"
                await asyncio.sleep(POLL_S)
        finally:
            self.watchers -= 1

    def close(self) -> None:
        """Stop foretelling and listening."""
        if self._heard is not None:
            self._heard.close()
        self._pool.shutdown(wait=False, cancel_futures=True)
