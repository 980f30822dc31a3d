"""The screen: whether there is one, whether a window opens on it, how its flips come."""

from __future__ import annotations

import os
import shutil

from stimulus.doctor.finding import Finding, good
from stimulus.doctor.outside import Failed, ask
from stimulus.drawing import LIBRARIES

SOFTWARE = ("llvmpipe", "softpipe", "swrast", "software")
AS_DEMO = "Simulated participants and the demo can run; nobody can be examined here."


def display() -> Finding:
    """Whether DISPLAY names a screen, or a virtual one can be started."""
    name, shown = "Screen", os.environ.get("DISPLAY", "")
    if shown:
        return good(name, f"DISPLAY is {shown}")
    mend = "Run it in a terminal of the machine's own desktop, or set it: export DISPLAY=:0"
    if shutil.which("Xvfb"):
        return Finding(name, "missing", "no DISPLAY; a virtual screen (Xvfb) can be started",
                       AS_DEMO, mend)  # fmt: skip
    means = "No window can be opened: no exam, no demo."
    mend = "sudo apt-get install -y xvfb    (a virtual screen, for the demo and the tests)"
    return Finding(name, "missing", "no DISPLAY and no Xvfb", means, mend)


def window() -> list[Finding]:
    """Opens a small window in a program of its own, draws, and times the flips."""
    name = "Window"
    try:
        found = ask("stimulus.doctor.window_program")
    except Failed as failed:
        means = "An exam ends before it begins."
        return [Finding(name, "missing", f"does not open: {failed}", means, _mend(str(failed)))]
    where = " on a virtual screen" if found["virtual"] else ""
    opened = good(name, f"opens and is drawn in{where}")
    hints = map(_hint, found["hints"] if found["locked"] else ())
    return [opened, _renderer(found["renderer"]), _flips(found), *hints]


def _mend(said: str) -> str:
    if LIBRARIES in said:
        return "See System libraries."
    return "See Screen." if "DISPLAY" in said else LIBRARIES


def _renderer(renderer: str) -> Finding:
    name = "Graphics"
    if not any(word in renderer.lower() for word in SOFTWARE):
        return good(name, renderer)
    means = "Drawn by the processor: frames may come late under load; late ones are noticed."
    mend = "Install the graphics card's driver (a virtual screen has none: nothing to mend)."
    return Finding(name, "slow", renderer, means, mend)


def _flips(found: dict[str, object]) -> Finding:
    said = f"{found['refresh_hz']:.2f} Hz"
    if found["locked"]:
        return good("Refresh", f"{said}, flips wait for the display")
    means = "Frames are paced by software: their times on the glass are not known."
    mend = "Switch vertical synchronisation on in the graphics driver; run full screen."
    return Finding("Refresh", "slow", f"{said}, flips do not wait for the display", means, mend)


def _hint(sentence: str) -> Finding:
    found, _, todo = sentence.partition(": ")
    means = "Frames reach the glass at other times than the record says, or late."
    return Finding("Frames", "slow", found, means, todo or "See ripplefield calibrate timing.")
