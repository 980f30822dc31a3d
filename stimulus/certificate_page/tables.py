"""The numbers behind the pictures, as tables of text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calibration.certificate import Certificate
from calibration.explain import quantity_text


@dataclass(frozen=True)
class Table:
    """Caption, column heads and rows of text; the first cell of a row is its head."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables(found: Certificate) -> list[Table]:
    """Every table that the certificate has numbers for."""
    made = (
        _size(found),
        _fits(found),
        _readings(found),
        _delivered(found),
        _delays(found),
        _intervals(found),
        _shares(found),
        *_contrast(found),
        _warm_up(found),
        _instruments(found),
    )
    return [table for table in made if table.rows]


def _size(found: Certificate) -> Table:
    part = found.geometry
    rows = [] if part is None else [
        ("lit width", quantity_text(part.width_cm), part.size_method),
        ("lit height", quantity_text(part.height_cm), part.size_method),
        ("distance", quantity_text(part.distance_cm), part.distance_method),
    ]  # fmt: skip
    return Table("Size and distance", ("what", "value", "how"), tuple(rows))


def _fits(found: Certificate) -> Table:
    heads = ("channel", "model", "parameters ± standard error", "cross-validation, %", "rest, %")
    fits = found.gamma.fits if found.gamma else []
    return Table(
        "Fits of the channels",
        heads,
        tuple(
            (
                fit.channel,
                fit.chosen,
                ", ".join(
                    f"{name} {value:.4g} ± {fit.standard_errors.get(name, 0):.2g}"
                    for name, value in fit.parameters.items()
                ),
                ", ".join(f"{m} {100 * e:.2f}" for m, e in fit.cross_validation_rms.items()),
                f"{100 * fit.residual_rms_relative:.2f}",
            )
            for fit in fits
        ),
    )


def _readings(found: Certificate) -> Table:
    lines = found.gamma.readings if found.gamma else []
    rows = sorted((line.channel, line.code, line.cd_m2) for line in lines)
    return Table(
        "Readings",
        ("channel", "code", "cd/m2"),
        tuple((channel, str(code), f"{light:.4g}") for channel, code, light in rows),
    )


def _delivered(found: Certificate) -> Table:
    lines = found.flicker.delivered if found.flicker else []
    return Table(
        "Delivered contrast",
        ("nominal", "flicker, Hz", "frame hold", "panel response", "delivered"),
        tuple(
            (
                f"{100 * line.contrast:g} %",
                f"{line.flicker_hz:.2f}",
                f"{line.frame_hold:.4f}",
                quantity_text(line.panel_response, 1, ""),
                f"{100 * line.contrast * line.frame_hold * line.panel_response.value:.3g} %",
            )
            for line in lines
        ),
    )


def _delays(found: Certificate) -> Table:
    part = found.latency
    rows = [] if part is None else [
        ("flip to light", quantity_text(part.photon_s, 1e3, ""), *_ms(part.photon_percentiles_s)),
        ("press to stamp", quantity_text(part.press_s, 1e3, ""), *_ms(part.press_percentiles_s)),
    ]  # fmt: skip
    return Table("Delays, ms", ("what", "median", "5 %", "50 %", "95 %"), tuple(rows))


def _ms(times_s: list[float]) -> list[str]:
    return [f"{1e3 * time_s:.2f}" for time_s in times_s]


def _intervals(found: Certificate) -> Table:
    return Table("Frame intervals", ("from, ms", "to, ms", "flips"), tuple(_bins(found)))


def _bins(found: Certificate) -> Iterator[tuple[str, ...]]:
    if found.timing is None:
        return
    edges = found.timing.histogram_edges_s
    for low, high, count in zip(edges, edges[1:], found.timing.histogram_counts, strict=False):
        if count:
            yield f"{1e3 * low:.4f}", f"{1e3 * high:.4f}", str(count)


def _shares(found: Certificate) -> Table:
    shares = found.uniformity.shares if found.uniformity else []
    return _grid("Luminance over the screen, share of the middle", shares, ".4f")


def _contrast(found: Certificate) -> Iterator[Table]:
    part = found.uniformity.contrast if found.uniformity else None
    if part is not None:
        yield _grid("Contrast over the screen, share of the middle", part.shares, ".4f")
        yield _grid("Full light over the screen, cd/m2", part.bright_cd_m2, ".4g")
        yield _grid("No light over the screen, cd/m2", part.dark_cd_m2, ".4g")


def _grid(caption: str, rows: list[list[float]], digits: str) -> Table:
    columns = len(rows[0]) if rows else 0
    return Table(
        caption,
        ("row from below", *(f"column {n + 1}" for n in range(columns))),
        tuple((str(n + 1), *(format(one, digits) for one in row)) for n, row in enumerate(rows)),
    )


def _warm_up(found: Certificate) -> Table:
    part = found.uniformity
    lines = zip(part.warm_up_s, part.warm_up_cd_m2, strict=True) if part else ()
    return Table(
        "Warm-up",
        ("min since switching on", "cd/m2"),
        tuple((f"{time_s / 60:.1f}", f"{light:.4g}") for time_s, light in lines),
    )


def instruments_text(found: Certificate) -> str:
    """All instruments in one sentence, "" for none: kind, name, serial number, uncertainty."""
    return "; ".join(
        f"{one.kind} {one.name}, serial number {one.serial or 'none entered'}, standard "
        f"uncertainty {100 * one.relative_uncertainty:g} %"
        for one in found.instruments
    )


def _instruments(found: Certificate) -> Table:
    return Table(
        "Instruments, as entered",
        ("kind", "name", "serial number", "standard uncertainty, %"),
        tuple(
            (
                one.kind,
                one.name,
                one.serial or "none entered",
                f"{100 * one.relative_uncertainty:g}",
            )
            for one in found.instruments
        ),
    )
