"""A phone's presses as the station passes them on: taken only while its measured delay is good.

The station stamps each press on the shared clock and tells twice a second or more what it measured.
Where that stops, or gets worse than the limit, the button is lost: the exam holds.
"""

from __future__ import annotations

import socket
import threading
import time
from pathlib import Path

from protocols.errors import InputError, OrderError
from stimulus.buttons.interface import ButtonLost
from stimulus.buttons.own_socket import listening_at, require_place
from stimulus.buttons.phone_messages import LARGEST, Press, Report, read
from stimulus.clock import clock

SILENT_S = 2.0
WAKE_EVERY_S = 0.2
START_PATIENCE_S = 5.0
TODO = "Open the station's page for a phone on it, and wait until it says that it may be used."


class PhoneButton:
    """Listens at `path` for what the station passes on."""

    def __init__(self, path: Path) -> None:
        require_place(path, "button")
        self._path = path
        self.name = "phone"
        self.resolution_s = 1.0
        self.measured = ""
        self._socket: socket.socket | None = None
        self._heard_s = -1e9
        self._refusal = "the station tells nothing of a phone"
        self._waiting: list[float] = []
        self._lock = threading.Lock()

    def start(self) -> None:
        """Listen, and wait for a measurement that allows it; raises InputError where none comes."""
        if self._socket is not None:
            raise OrderError("The phone is running already; close it before starting again.")
        self._listen()
        end_s = clock() + START_PATIENCE_S
        while clock() < end_s and not self._good():
            time.sleep(0.01)
        self._waiting = []
        if not self._good():
            refusal = self._refusal
            self.close()
            raise InputError("button", f"phone: {refusal}", "a phone that was measured", TODO)

    def presses(self) -> list[float]:
        """Presses since the last call; raises ButtonLost while the phone is silent or too slow."""
        if self._socket is None:
            raise OrderError("The phone is not running; start it before asking.")
        with self._lock:
            found, self._waiting = sorted(self._waiting), []
        if found:
            return found
        if not self._good():
            raise ButtonLost(f"The phone does not serve as a button: {self._why()}.")
        return []

    def recover(self) -> bool:
        """Whether the station's last word allows it again."""
        return self._socket is not None and self._good()

    def close(self) -> None:
        """Stop listening; twice is fine."""
        if self._socket is not None:
            listening, self._socket = self._socket, None
            self._thread.join()
            listening.close()
            self._path.unlink(missing_ok=True)
        self._waiting = []
        self._heard_s = -1e9

    def _listen(self) -> None:
        self._socket = listening_at(self._path, "button", f"phone:{self._path}")
        self._socket.settimeout(WAKE_EVERY_S)
        self._thread = threading.Thread(target=self._hear, args=(self._socket,), daemon=True)
        self._thread.start()

    def _good(self) -> bool:
        return not self._refusal and clock() - self._heard_s <= SILENT_S

    def _why(self) -> str:
        return self._refusal or f"it was not heard for {SILENT_S:g} s"

    def _hear(self, listening: socket.socket) -> None:
        """Take messages as they come: the system keeps only a few for whoever asks late."""
        while self._socket is listening:
            try:
                self._take(read(listening.recv(LARGEST)))
            except TimeoutError:
                continue
            except OSError:
                return

    def _take(self, message: Report | Press | None) -> None:
        if isinstance(message, Press):
            with self._lock:
                self._waiting.append(message.at_s)
        elif isinstance(message, Report):
            self._heard_s, self._refusal = clock(), message.refusal
            self.measured, self.resolution_s = message.words, message.uncertainty_s
