"""Certificates, their pages, and a real browser to look at them with."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from calibration.certificate import Certificate, read_certificate, write_certificate
from stimulus.certificate_page.page import write_certificate_page
from stimulus.cli import run

DISPLAYS = ("uneven", "slow-panel", "ten-bit")


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Simulated displays that were measured, one with little measured, and one as if it were real.

    The last has the identity of a real display: how a page of one looks, not what one measured.
    """
    top = tmp_path_factory.mktemp("certificates")
    made = {name: top / f"{name}.json" for name in DISPLAYS}
    for name, path in made.items():
        words = f"calibrate all --photometer simulated:{name} --out {path}"
        assert run(words.split()) == 0
    whole = read_certificate(made["slow-panel"])
    bare = replace(whole, gamma=None, contrast_range=None, flash=None, flicker=None, latency=None)
    made["bare"] = top / "bare.json"
    write_certificate(made["bare"], replace(bare, uniformity=None, instruments=[]))
    made["real"] = top / "real.json"
    write_certificate(made["real"], _as_if_real(whole))
    return made


def _as_if_real(found: Certificate) -> Certificate:
    uniformity = replace(
        found.uniformity, contrast=None, warm_up_s=[], warm_up_cd_m2=[], stable_after_s=None
    )
    name = "DisplayPort-1, a long name <b>with marks</b> & signs"
    identity = replace(found.identity, display_name=name, simulated=False)
    return replace(found, identity=identity, uniformity=uniformity)


@pytest.fixture(scope="session")
def pages(certificates: dict[str, Path]) -> dict[str, Path]:
    """The page of each certificate beside it."""
    return {
        name: write_certificate_page(path, path.with_suffix(".html"))
        for name, path in certificates.items()
    }
