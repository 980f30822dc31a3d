"""A display with a certificate: what the runner takes from it, and when it refuses to light it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
from msgspec.structs import replace

from calibration.certificate import Certificate, read_certificate
from calibration.explain import missing
from calibration.gamma import transfer_of as measured_transfer
from calibration.geometry import Screen
from calibration.transfer import Transfer
from protocols.errors import InputError
from protocols.events import Display
from protocols.field import Eye
from protocols.levels import contrast_from_db
from stimulus.pacing import Refresh
from stimulus.system_tables import Output

REFRESH_TOLERANCE = 0.01
FLICKER_TOLERANCE_HZ = 0.25
_LOCKED = {True: "locked to the display", False: "paced by software"}
AGAIN = "Calibrate again: ripplefield calibrate all --out CERT.json"


def load_for_running(path: Path, now: datetime | None = None) -> Certificate:
    """Read a certificate that can carry an exam; raises InputError if it lacks or lapsed."""
    found = read_certificate(path)
    for part in ("geometry", "gamma", "contrast_range"):
        if getattr(found, part) is None:
            raise InputError(
                "--display",
                f"{path}, without {part}",
                "a certificate with geometry, gamma and contrast range",
                f"Add it: ripplefield calibrate {_step(part)} --out {path}",
            )
    moment = now or datetime.now(timezone.utc)
    if moment >= datetime.fromisoformat(found.lapses_utc):
        raise InputError(
            "--display", f"{path}, lapsed {found.lapses_utc}", "one that has not lapsed", AGAIN
        )
    return found


def screen_of(certificate: Certificate) -> Screen:
    """The geometry that was measured."""
    assert certificate.geometry is not None
    part, who = certificate.geometry, certificate.identity
    return Screen(
        who.width_px,
        who.height_px,
        part.width_cm.value,
        part.height_cm.value,
        part.distance_cm.value,
        part.fixation_x_cm,
        part.fixation_y_cm,
    )


def transfer_of(certificate: Certificate) -> Transfer:
    """The luminance table that was measured, named after the certificate."""
    assert certificate.gamma is not None
    source = f"certificate {certificate.sha256[:12]}, {certificate.gamma.method}"
    return dataclasses.replace(measured_transfer(certificate.gamma), source=source)


def panel_response(certificate: Certificate, flicker_hz: float) -> float | None:
    """Share of contrast the panel itself passes at a flicker rate; None if it was not measured.

    The mean over the contrasts measured at that rate. Raises InputError for a rate that was not
    measured.
    """
    if certificate.flicker is None:
        return None
    lines = certificate.flicker.delivered
    near = [
        line.panel_response.value
        for line in lines
        if abs(line.flicker_hz - flicker_hz) <= FLICKER_TOLERANCE_HZ
    ]
    if not near:
        rates = sorted({f"{line.flicker_hz:.2f}" for line in lines})
        raise InputError(
            "--display",
            f"no panel response at {flicker_hz:.2f} Hz",
            f"a rate that was measured: {', '.join(rates)} Hz",
            "Measure it: ripplefield calibrate flicker --out CERT.json",
        )
    return float(np.mean(near))


def certified_line(display: Display, certificate: Certificate) -> Display:
    """The display's facts with what the certificate adds: luminance and panel response."""
    assert certificate.gamma is not None
    response = panel_response(certificate, display.flicker_hz)
    lacks = [part for part in missing(certificate) if part not in ("flash",)]
    words = f"display with certificate {_short(certificate.sha256)}"
    if certificate.identity.simulated:
        words += ", measured on a simulated display: no light was measured"
    return replace(
        display,
        calibrated=True,
        words=words if not lacks else f"{words} (not measured: {', '.join(lacks)})",
        panel_response=1.0 if response is None else response,
        mean_luminance_cd_m2=certificate.gamma.mean_cd_m2.value,
        certificate_sha256=certificate.sha256,
    )


def certified_latency_s(certificate: Certificate | None) -> float:
    """How much too long response times are; 0 where it was not measured."""
    if certificate is None or certificate.latency is None:
        return 0.0
    return certificate.latency.correction_s


def refuse_other_display(certificate: Certificate, refresh: Refresh, output: Output) -> None:
    """Raise InputError where what is found at start is not what was certified."""
    who = certificate.identity
    timing = certificate.timing
    if timing is not None and timing.display_locked != refresh.display_locked:
        given, allowed = (_LOCKED[one.display_locked] for one in (refresh, timing))
        raise InputError("frames", given, f"{allowed}, as certified", AGAIN)
    if timing is not None and timing.display_locked:
        wanted_hz = timing.refresh_hz.value
        if abs(refresh.refresh_hz / wanted_hz - 1) > REFRESH_TOLERANCE:
            given, allowed = f"{refresh.refresh_hz:.2f} Hz", f"{wanted_hz:.2f} Hz, as certified"
            raise InputError("refresh", given, allowed, AGAIN)
    if who.system_tables_sha256 != output.tables_sha256:
        raise InputError(
            "the system's own look-up tables",
            _short(output.tables_sha256),
            f"{_short(who.system_tables_sha256)}, as certified",
            "Switch off night mode and colour profile loaders, or calibrate again.",
        )
    if who.display_name != output.connector:
        raise InputError(
            "display", output.connector, f"{who.display_name}, as certified", "Use that display."
        )


def refuse_faint(
    certificate: Certificate, limits_db: Mapping[Eye, Sequence[float]], protocol: str
) -> None:
    """Raise InputError where a protocol asks for less contrast than the display shows truly."""
    assert certificate.contrast_range is not None
    lowest = certificate.contrast_range.lowest_contrast
    weakest_db = max(level for levels in limits_db.values() for level in levels)
    faintest = float(contrast_from_db(weakest_db)) * certificate.contrast_range.greatest_contrast
    if faintest < lowest:
        raise InputError(
            protocol,
            f"contrast down to {100 * faintest:.2f} %",
            f"{100 * lowest:.2f} % and more, what this display shows truly",
            "Use a display of more bits, or a protocol with stronger first levels.",
        )


def _step(part: str) -> str:
    return "gamma" if part == "contrast_range" else part


def _short(sha256: str | None) -> str:
    return "none" if sha256 is None else f"{sha256[:12]}..."
