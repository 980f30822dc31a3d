"""A certificate in words: what was measured, what it supports, when it lapses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from calibration.certificate import (
    Certificate,
    FlashPart,
    FlickerPart,
    GammaPart,
    GeometryPart,
    LatencyPart,
    Quantity,
    RangePart,
    TimingPart,
    UniformityPart,
)
from protocols import RESEARCH_ONLY

PARTS = {
    "geometry": "geometry",
    "gamma": "gamma",
    "contrast_range": "contrast range",
    "timing": "timing",
    "flicker": "flicker",
    "latency": "latency",
    "uniformity": "uniformity",
    "flash": "flash",
}


def in_words(found: Certificate) -> str:
    """Several lines of plain text; uncertainties are expanded ones, coverage factor 2."""
    who = found.identity
    lines = [
        f"{who.display_name}, {who.width_px} x {who.height_px} px, on {who.machine}",
        f"  made {found.made_utc}, lapses {found.lapses_utc}",
        f"  SHA-256 {found.sha256}",
    ]
    lines.extend(f"  {title:15} {words}" for title, words in part_sentences(found))
    lines.extend(f"  note: {note}" for note in notes(found))
    return "\n".join([*lines, RESEARCH_ONLY])


def part_sentences(found: Certificate) -> list[tuple[str, str]]:
    """Title and words of every part, "not measured" where it is missing."""
    parts = ((title, name, getattr(found, name)) for name, title in PARTS.items())
    return [
        (title, "not measured" if part is None else _PART_WORDS[name](part))
        for title, name, part in parts
    ]


def notes(found: Certificate) -> list[str]:
    """Warnings of the geometry, hints of the timing, notes of flicker and latency: sentences."""
    warnings = found.geometry.warnings if found.geometry else []
    hints = found.timing.hints if found.timing else []
    flicker = found.flicker.notes if found.flicker else []
    latency = found.latency.notes if found.latency else []
    return [*warnings, *hints, *flicker, *latency]


def missing(found: Certificate) -> list[str]:
    """Names of the parts that were not measured."""
    return [title for part, title in PARTS.items() if getattr(found, part) is None]


def quantity_text(quantity: Quantity, factor: float = 1.0, unit: str | None = None) -> str:
    """Value and expanded uncertainty, as many digits as the uncertainty warrants.

    >>> quantity_text(Quantity(value=35.0123, type_a=0.02, type_b=0.145, unit="cm"))
    '35.0 ± 0.3 cm'
    >>> quantity_text(Quantity(value=0.992, type_a=0.005, type_b=0.0, unit="1"))
    '0.99 ± 0.01'
    """
    value, doubt = quantity.value * factor, quantity.expanded * factor
    digits = 0
    while doubt > 0 and doubt * 10**digits < 0.95 and digits < 9:
        digits += 1
    shown = quantity.unit if unit is None else unit
    after = "" if shown in ("", "1") else f" {shown}"
    return f"{value:.{digits}f} ± {doubt:.{digits}f}{after}"


def _geometry(part: GeometryPart) -> str:
    return (
        f"{quantity_text(part.width_cm)} wide, {quantity_text(part.height_cm)} high, seen from "
        f"{quantity_text(part.distance_cm)}"
    )


def _gamma(part: GammaPart) -> str:
    models = ", ".join(f"{fit.channel} {fit.chosen}" for fit in part.fits)
    return (
        f"mean {quantity_text(part.mean_cd_m2)}, peak {quantity_text(part.peak_cd_m2)}, black "
        f"{quantity_text(part.black_cd_m2)}; {models}; off straight by "
        f"{quantity_text(part.nonlinearity, 100, '% of the peak')}"
    )


def _range(part: RangePart) -> str:
    return (
        f"{100 * part.lowest_contrast:.3f} % to {100 * part.greatest_contrast:.2f} % within "
        f"{100 * part.tolerance:g} % of nominal"
    )


def _timing(part: TimingPart) -> str:
    locked = "flips wait for the display" if part.display_locked else "NOT display-locked"
    return (
        f"{quantity_text(part.refresh_hz)}, {locked}; intervals SD {1e3 * part.interval_sd_s:.3f} "
        f"ms; of {part.flips} flips {part.missed} missed, {part.doubled} doubled"
    )


def _flicker(part: FlickerPart) -> str:
    full = max(part.delivered, key=lambda line: line.contrast)
    return (
        f"rise {quantity_text(part.rise_s, 1e3, 'ms')}, fall "
        f"{quantity_text(part.fall_s, 1e3, 'ms')}; at {full.flicker_hz:.2f} Hz the frames pass "
        f"{full.frame_hold:.3f} of the contrast, the panel "
        f"{quantity_text(full.panel_response, 1, '')} of that"
    )


def _latency(part: LatencyPart) -> str:
    return (
        f"flip to light {quantity_text(part.photon_s, 1e3, 'ms')}, press to stamp "
        f"{quantity_text(part.press_s, 1e3, 'ms')}; response times are "
        f"{1e3 * part.correction_s:.1f} ms too long"
    )


def _uniformity(part: UniformityPart) -> str:
    stable = (
        "warm-up not watched"
        if part.stable_after_s is None
        else f"stable {part.stable_after_s / 60:.0f} min after switching on"
    )
    contrast = f"; contrast down to {part.contrast.worst_share:.3f}" if part.contrast else ""
    return f"furthest from the middle: {part.worst_share:.3f} of it{contrast}; {stable}"


def _flash(part: FlashPart) -> str:
    bt1702 = {True: "over", False: "within", None: "not judged by"}[part.over_bt1702]
    wcag = "over" if part.over_wcag else "within"
    return (
        f"full contrast swings {part.swing_cd_m2:.0f} cd/m2 over {part.area_sr:.4f} sr at "
        f"{part.rate_hz:.2f} Hz: {wcag} WCAG 2.3.1, {bt1702} ITU-R BT.1702"
    )


_PART_WORDS: dict[str, Callable[[Any], str]] = {
    "geometry": _geometry,
    "gamma": _gamma,
    "contrast_range": _range,
    "timing": _timing,
    "flicker": _flicker,
    "latency": _latency,
    "uniformity": _uniformity,
    "flash": _flash,
}
