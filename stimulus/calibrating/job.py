"""Runs measuring steps in order and writes the certificate after each, so that none is lost."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from datetime import datetime, timezone
from pathlib import Path

from msgspec.structs import replace

from calibration.certificate import (
    FORMAT,
    Certificate,
    lapse_utc,
    read_certificate,
    write_certificate,
)
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from protocols.plugins import MARK, PlugIn
from protocols.write import require_writable
from stimulus.calibrating.bench import Bench, Progress
from stimulus.calibrating.kept import let_go
from stimulus.calibrating.steps import STEPS, Wish, concluded
from stimulus.opening import versions


def begin(
    out: Path, bench: Bench, command: str, plugins: Sequence[PlugIn | None] = ()
) -> Certificate:
    """The certificate at `out` to go on with, or an empty one; raises InputError for another's."""
    now = datetime.now(timezone.utc)
    fresh = Certificate(
        format=FORMAT,
        notice=RESEARCH_ONLY,
        made_utc=now.isoformat(timespec="seconds"),
        lapses_utc=lapse_utc(now),
        command=command,
        versions=versions(*plugins),
        identity=bench.identity,
        instruments=[],
    )
    if not out.exists():
        _require_folder(out)
        return fresh
    found = read_certificate(out)
    if found.identity != bench.identity:
        raise InputError(
            "--out",
            f"{out}, of {found.identity.display_name}",
            f"a new file, or a certificate of {bench.identity.display_name}",
            "Name another file: a certificate is of one display.",
        )
    plugged = {key: said for key, said in found.versions.items() if key.startswith(MARK)}
    return replace(found, command=command, versions=plugged | versions(*plugins))


def run_steps(
    names: Sequence[str],
    bench: Bench,
    out: Path,
    wish: Wish,
    command: str,
    progress: Progress,
    plugins: Sequence[PlugIn | None] = (),
) -> Certificate:
    """Measure; returns what was written. An error leaves the steps before it in the file.

    `plugins` are those that take part: the certificate says so.
    """
    certificate, followed_from = begin(out, bench, command, plugins), None
    for name in names:
        certificate = STEPS[name](bench, certificate, wish, progress)
        basis = (certificate.geometry, certificate.gamma, certificate.timing)
        if basis != followed_from:
            certificate, followed_from = concluded(certificate, wish), basis
        certificate = write_certificate(out, certificate)
        let_go(out, name)
    return certificate


def machine_name() -> str:
    """The kind of machine, without a name that tells whose it is."""
    return f"{platform.system()} {platform.release()}, {platform.machine()}"


def require_certificate_place(out: Path) -> None:
    """Raise InputError unless a certificate can be written to `out`, or the one there read."""
    if out.is_dir():
        raise InputError("--out", str(out), "a file, not a folder", "Name the file: CERT.json.")
    _require_folder(out)
    require_writable(out.absolute().parent, "--out", out)
    if out.exists():
        read_certificate(out)


def _require_folder(out: Path) -> None:
    if not out.parent.is_dir():
        raise InputError("--out", str(out), "a file in a folder that exists", "Make the folder.")
