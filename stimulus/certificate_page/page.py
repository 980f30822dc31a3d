"""The page of a certificate: one HTML file that loads nothing from outside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from analysis.plain_page.page import Picture, require_html
from analysis.report import scheme
from analysis.report.templating import templates
from calibration.certificate import Certificate, UniformityPart, read_certificate
from calibration.explain import missing, notes, part_sentences
from protocols import RESEARCH_ONLY
from protocols.write import write_whole
from stimulus.certificate_page.luminance_plot import luminance_picture
from stimulus.certificate_page.space_plots import (
    angle_picture,
    contrast_picture,
    range_picture,
    uniformity_picture,
)
from stimulus.certificate_page.tables import instruments_text, tables
from stimulus.certificate_page.time_plots import (
    intervals_picture,
    response_picture,
    warm_up_picture,
)


def write_certificate_page(certificate: Path, out: Path) -> Path:
    """Write the page as .html; raises InputError for a broken certificate or another suffix."""
    found = read_certificate(certificate)
    require_html(out, "--out")
    write_whole(out, certificate_page(found).encode())
    return out


def certificate_page(found: Certificate) -> str:
    """The page as HTML; the same certificate gives the same bytes."""
    found_in = templates("stimulus.certificate_page", "analysis.report")
    return found_in.get_template("certificate.html.j2").render(
        found=found,
        parts=part_sentences(found),
        missing=missing(found),
        notes=notes(found),
        pictures=list(_pictures(found)),
        tables=tables(found),
        instruments=instruments_text(found),
        research_only=RESEARCH_ONLY,
        light=scheme.declarations(dark=False),
        dark=scheme.declarations(dark=True),
    )


def _pictures(found: Certificate) -> Iterator[Picture]:
    if found.gamma is not None:
        yield luminance_picture(found.gamma)
    if found.contrast_range is not None:
        yield range_picture(found.contrast_range)
    if found.timing is not None:
        yield intervals_picture(found.timing)
    if found.flicker is not None:
        yield response_picture(found.flicker)
    if found.uniformity is not None:
        yield from _over_the_screen(found.uniformity)
    if found.geometry is not None:
        yield angle_picture(found.geometry)


def _over_the_screen(part: UniformityPart) -> Iterator[Picture]:
    yield uniformity_picture(part)
    if part.contrast is not None:
        yield contrast_picture(part.contrast)
    if part.warm_up_s:
        yield warm_up_picture(part)
