"""The certificate: what was measured of a display, how well, and what that supports.

One JSON file. Each section is there once its measurement was made; a missing one is None. The
file carries the SHA-256 of its own content, the date, and when it lapses.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import msgspec

from protocols.errors import InputError
from protocols.files import decode_json, read_text, schema_of, sha256_hex
from protocols.migrate import current
from protocols.write import write_whole

FORMAT = current("certificate")
LAPSES_AFTER_DAYS = 30
COVERAGE_FACTOR = 2.0


class Quantity(msgspec.Struct, frozen=True, kw_only=True):
    """A value with its uncertainty (GUM, JCGM 100:2008): standard parts of type A and B.

    The expanded uncertainty is `COVERAGE_FACTOR` times the root of the sum of their squares.
    """

    value: float
    type_a: float
    type_b: float
    unit: str

    @property
    def standard(self) -> float:
        """Combined standard uncertainty, in the value's unit."""
        return float((self.type_a**2 + self.type_b**2) ** 0.5)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty with coverage factor 2."""
        return COVERAGE_FACTOR * self.standard


class Instrument(msgspec.Struct, frozen=True, kw_only=True):
    """An instrument as entered: what it is, its serial number, its own relative uncertainty."""

    kind: str
    name: str
    serial: str
    relative_uncertainty: float
    simulated: bool


class Identity(msgspec.Struct, frozen=True, kw_only=True):
    """Machine and display: enough to notice that another one is in use."""

    machine: str
    display_name: str
    display_serial: str
    width_px: int
    height_px: int
    system_tables_sha256: str | None
    simulated: bool


class GeometryPart(msgspec.Struct, frozen=True, kw_only=True):
    """Lit size, distance and mark, centimetres, and how they were found."""

    width_cm: Quantity
    height_cm: Quantity
    distance_cm: Quantity
    fixation_x_cm: float
    fixation_y_cm: float
    size_method: str
    distance_method: str
    warnings: list[str]


class ReadingLine(msgspec.Struct, frozen=True, kw_only=True):
    """One luminance reading: channel red, green, blue or white, code value, cd/m2."""

    channel: str
    code: int
    cd_m2: float


class FitLine(msgspec.Struct, frozen=True, kw_only=True):
    """A fitted channel: the model chosen, both models' errors by cross-validation, parameters."""

    channel: str
    chosen: str
    parameters: dict[str, float]
    standard_errors: dict[str, float]
    cross_validation_rms: dict[str, float]
    residual_rms_relative: float


class GammaPart(msgspec.Struct, frozen=True, kw_only=True):
    """Luminance by code: readings, fits, and the relative table of whole codes, shape (3, 256)."""

    method: str
    bits: int
    readings: list[ReadingLine]
    fits: list[FitLine]
    relative_table: list[list[float]]
    relative_table_u: list[list[float]]
    peak_cd_m2: Quantity
    mean_cd_m2: Quantity
    black_cd_m2: Quantity
    nonlinearity: Quantity


class RangePart(msgspec.Struct, frozen=True, kw_only=True):
    """Contrasts the display can show truly: lowest and greatest, all channels and by channel."""

    lowest_contrast: float
    greatest_contrast: float
    lowest_by_channel: dict[str, float]
    tolerance: float
    dither: str
    contrast_relative_u: float


class TimingPart(msgspec.Struct, frozen=True, kw_only=True):
    """Frame intervals: refresh, spread, drift, outliers, missed and doubled frames."""

    refresh_hz: Quantity
    interval_sd_s: float
    drift_ppm: float
    flips: int
    outliers: int
    missed: int
    doubled: int
    missed_under_load: int
    display_locked: bool
    histogram_edges_s: list[float]
    histogram_counts: list[int]
    hints: list[str]


class DeliveredLine(msgspec.Struct, frozen=True, kw_only=True):
    """Share of the nominal contrast that is delivered at a flicker rate and contrast."""

    flicker_hz: float
    contrast: float
    frame_hold: float
    panel_response: Quantity


class FlickerPart(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Panel response from a photodiode trace: 10-90 % rise and fall, delivered contrast."""

    method: str
    rise_s: Quantity
    fall_s: Quantity
    delivered: list[DeliveredLine]
    trace_s: list[float]
    trace_relative: list[float]
    notes: list[str] = []


class LatencyPart(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Delays: flip to photon and press to time stamp; percentiles 5, 50, 95 in seconds."""

    photon_s: Quantity
    photon_percentiles_s: list[float]
    press_s: Quantity
    press_percentiles_s: list[float]
    correction_s: float
    notes: list[str] = []


class ContrastMapPart(msgspec.Struct, frozen=True, kw_only=True):
    """Full and no light over the grid, cd/m2, and the contrast left as shares of the middle's."""

    bright_cd_m2: list[list[float]]
    dark_cd_m2: list[list[float]]
    shares: list[list[float]]
    worst_share: float


class UniformityPart(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Luminance over a grid as shares of the middle, the warm-up, and contrast over the grid.

    Rows from the bottom, columns from the left. `contrast` is there where full and no light were
    read at every point too.
    """

    columns: int
    rows: int
    shares: list[list[float]]
    worst_share: float
    stable_after_s: float | None
    warm_up_s: list[float]
    warm_up_cd_m2: list[float]
    rule: str
    contrast: ContrastMapPart | None = None


class FlashPart(msgspec.Struct, frozen=True, kw_only=True):
    """Full contrast held against flash guidance, from measured luminance."""

    patch_radius_deg: float
    area_sr: float
    rate_hz: float
    swing_cd_m2: float
    over_wcag: bool
    over_bt1702: bool | None


class Certificate(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Everything known of one display; see the sections for units."""

    format: int
    notice: str
    made_utc: str
    lapses_utc: str
    command: str
    versions: dict[str, str]
    identity: Identity
    instruments: list[Instrument]
    geometry: GeometryPart | None = None
    gamma: GammaPart | None = None
    contrast_range: RangePart | None = None
    timing: TimingPart | None = None
    flicker: FlickerPart | None = None
    latency: LatencyPart | None = None
    uniformity: UniformityPart | None = None
    flash: FlashPart | None = None
    sha256: str = ""


def lapse_utc(made: datetime) -> str:
    """When a certificate made at this time lapses, ISO 8601 with zone."""
    return (made.astimezone(timezone.utc) + timedelta(days=LAPSES_AFTER_DAYS)).isoformat(
        timespec="seconds"
    )


def sealed(certificate: Certificate) -> Certificate:
    """The same certificate with the SHA-256 of its content."""
    return msgspec.structs.replace(certificate, sha256=content_sha256(certificate))


def content_sha256(certificate: Certificate) -> str:
    """SHA-256 of everything but the seal itself."""
    return sha256_hex(certificate_bytes(msgspec.structs.replace(certificate, sha256="")))


def write_certificate(path: Path, certificate: Certificate) -> Certificate:
    """Seal and write a certificate, whole or not at all; returns what was written."""
    done = sealed(certificate)
    write_whole(path, certificate_bytes(done))
    return done


def read_certificate(path: Path) -> Certificate:
    """Read a certificate of any format there was; raises InputError.

    A broken, changed or newer file is refused.
    """
    text = read_text(path, "certificate")
    found = decode_json(Certificate, text, str(path), "certificate")
    seal = _seal(text, found)
    if found.sha256 != seal:
        raise InputError(
            f"{path}, sha256",
            f"{found.sha256[:12]}...",
            f"{seal[:12]}..., that of its content",
            "The file was changed after it was made: calibrate again.",
        )
    return found


def _seal(text: str, found: Certificate) -> str:
    """SHA-256 of a file's content; an older file was sealed in the form it had then."""
    data = msgspec.json.decode(text)
    if data["format"] == FORMAT:
        return content_sha256(found)
    unsealed = msgspec.json.encode(data | {"sha256": ""})
    return sha256_hex(msgspec.json.format(unsealed, indent=1) + b"\n")


def certificate_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a certificate, generated from the types."""
    return schema_of(Certificate, "Ripplefield certificate, format 1")


def certificate_bytes(certificate: Certificate) -> bytes:
    """The certificate as its file holds it; the same one gives the same bytes."""
    return msgspec.json.format(msgspec.json.encode(certificate), indent=1) + b"\n"
