"""Serial ports, for button boxes, photometers and photodiodes."""

from __future__ import annotations

import os

from stimulus.doctor.finding import Finding, good

NONE = "none seen; the keyboard is the button then, and a display is measured by eye"


def ports() -> Finding:
    """Ports that are there, and whether they may be opened."""
    name = "Serial ports"
    try:
        from serial.tools.list_ports import comports

        found = sorted(port.device for port in comports())
    except ImportError:
        means = "No button box and no photometer can be used."
        return Finding(name, "missing", "pyserial is not installed", means, "pip install pyserial")
    if not found:
        return Finding(name, "optional", NONE)
    closed = [port for port in found if not os.access(port, os.R_OK | os.W_OK)]
    if closed:
        means = "A box on it cannot be used: the system lets only a group use serial ports."
        mend = "sudo usermod -aG dialout $USER    (then log in anew)"
        return Finding(name, "slow", f"may not be opened: {', '.join(closed)}", means, mend)
    return good(name, f"{', '.join(found)} may be opened")
