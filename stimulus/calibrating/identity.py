"""Which display this is: connector, panel, size in pixels, the system's own tables."""

from __future__ import annotations

from calibration.certificate import Identity, read_certificate
from stimulus.calibrating.given import Given
from stimulus.calibrating.job import machine_name
from stimulus.system_tables import Output, read_output


def identity_of(given: Given, size_px: tuple[int, int]) -> Identity:
    """Machine and display as they are now; raises InputError where there is no display."""
    output = read_output(int(given.screen))
    return Identity(
        machine=machine_name(),
        display_name=output.connector,
        display_serial=_serial(given, output),
        width_px=size_px[0],
        height_px=size_px[1],
        system_tables_sha256=output.tables_sha256,
        simulated=False,
    )


def _serial(given: Given, output: Output) -> str:
    """As entered, now or when the certificate was begun, and what the panel says of itself."""
    panel = f"EDID {output.panel_sha256[:16]}" if output.panel_sha256 else "no EDID"
    if not given.display_serial and given.out.exists():
        begun = read_certificate(given.out).identity.display_serial
        if begun.endswith(panel):
            return begun
    return "; ".join(part for part in (given.display_serial, panel) if part)
