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
    made = (_fits(found), _readings(found), _delivered(found), _intervals(found), _shares(found))
    return [table for table in (*made, _instruments(found)) if table.rows]


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
    part = found.uniformity
    columns = part.columns if part else 0
    rows = part.shares if part else []
    return Table(
        "Luminance over the screen, share of the middle",
        ("row from below", *(f"column {n + 1}" for n in range(columns))),
        tuple(
            (str(n + 1), *(f"{share:.4f}" for share in shares)) for n, shares in enumerate(rows)
        ),
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


