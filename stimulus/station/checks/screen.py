"""Starting the probe as a program of its own and reading what it found so far."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import msgspec

from protocols.errors import OrderError
from protocols.files import UNREADABLE_JSON
from protocols.write import write_whole
from stimulus.station.checks.outcome import Outcome, bad, not_tried
from stimulus.station.settings import Settings

OUT, ERR, SETTINGS = "probe.out", "probe.err", "probe.json"
AWAITED = (
    ("screen", "Display and window"),
    ("refresh", "Refresh"),
    ("mark", "Fixation mark"),
    ("button", "Button"),
)


class Screen:
    """The probe of a data folder's `runs`. Findings stay on disk."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._program: subprocess.Popen[bytes] | None = None

    def is_running(self) -> bool:
        """Whether the window is being tried out now."""
        return self._program is not None and self._program.poll() is None

    def start(self, settings: Settings) -> None:
        """Try window, mark and button out; raises OrderError while that is going on."""
        if self.is_running():
            raise OrderError("the set-up is being tried out already; press when the mark appears")
        self._folder.mkdir(exist_ok=True)
        write_whole(self._folder / SETTINGS, msgspec.json.encode(settings))
        out, err = self._folder / OUT, self._folder / ERR
        with open(out, "wb") as output, open(err, "wb") as errors:
            self._program = subprocess.Popen(
                [sys.executable, "-m", "stimulus.station.probe", str(self._folder / SETTINGS)],
                cwd=self._folder.parent,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=errors,
            )

    def stop(self) -> None:
        """End the probe, if it runs."""
        if self._program is not None and self._program.poll() is None:
            self._program.terminate()

    def outcomes(self) -> list[Outcome]:
        """What was found so far, in order, with what is still awaited."""
        found = self._read()
        names = {outcome.name for outcome in found}
        failed = any(outcome.name == "screen" and outcome.state == "bad" for outcome in found)
        for name, title in AWAITED:
            if name not in names:
                found.append(self._missing(name, title, failed))
        return found

    def _missing(self, name: str, title: str, failed: bool) -> Outcome:
        if failed:
            return not_tried(name, title, "Mend the display first.")
        if self.is_running():
            return not_tried(name, title, "Being tried out: press each time the mark appears.")
        words = self._last_words()
        if words:
            return bad(name, title, words, "Mend it, then try again.")
        return not_tried(name, title, "Use the button \"Try out display and button\".")

    def _read(self) -> list[Outcome]:
        try:
            lines = (self._folder / OUT).read_bytes().splitlines()
            return [msgspec.json.decode(line, type=Outcome) for line in lines if line[:1] == b"{"]
        except (OSError, *UNREADABLE_JSON):
            return []

    def _last_words(self) -> str:
        try:
            lines = (self._folder / ERR).read_text(errors="replace").strip().splitlines()
        except OSError:
            return ""
        return lines[-1][:300] if lines else ""
