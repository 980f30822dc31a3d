"""Sending DICOM files to a node (C-ECHO, then C-STORE), by pynetdicom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pydicom import dcmread

from analysis.export.target import Watch
from protocols.errors import InputError, RipplefieldError

if TYPE_CHECKING:
    from pynetdicom.association import Association

TIMEOUT_S = 15.0
SUCCESS = 0x0000


@dataclass(frozen=True)
class Node:
    """Where files go: host, port, its application entity title and ours."""

    host: str
    port: int
    called: str
    calling: str

    def __str__(self) -> str:
        return f"{self.called} at {self.host}:{self.port}"


def parse_node(address: str, called: str | None, calling: str) -> Node:
    """A node from HOST:PORT and titles; raises InputError."""
    host, _, port = address.rpartition(":")
    if not host or not port.isdecimal() or not 1 <= int(port) <= 65535:
        raise InputError(
            "--send",
            address,
            "HOST:PORT with a port from 1 to 65535",
            "Write it like localhost:104.",
        )
    if called is None:
        raise InputError("--called", "", _TITLES, "Add --called TITLE, the node's own title.")
    for option, title in (("--called", called), ("--calling", calling)):
        _require_title(option, title)
    return Node(host.strip("[]"), int(port), called, calling)


def require_answer(node: Node) -> None:
    """Raise InputError unless the node answers a C-ECHO."""
    association = _associate(node)
    try:
        if not _echoes(association):
            raise _no_answer(node, "It does not answer a C-ECHO.")
    finally:
        association.release()


def send(files: Sequence[Path], node: Node, watch: Watch) -> None:
    """Store the files one by one; raises RipplefieldError at the first that is not taken."""
    association = _associate(node)
    try:
        for done, path in enumerate(files, start=1):
            _store(association, path, node, done - 1)
            watch(done, len(files))
    finally:
        association.release()


def _store(association: Association, path: Path, node: Node, before: int) -> None:
    try:
        status = association.send_c_store(dcmread(path))
    except ValueError:
        raise _not_taken(path, node, before, "It does not take this kind of file.") from None
    except RuntimeError:
        raise _not_taken(path, node, before, "The connection was lost.") from None
    if "Status" not in status:
        raise _not_taken(path, node, before, "The connection was lost or the answer timed out.")
    if status.Status != SUCCESS:
        raise _not_taken(path, node, before, f"Its status is 0x{status.Status:04X}.")


def _echoes(association: Association) -> bool:
    try:
        status = association.send_c_echo()
    except ValueError:  # the node takes no verification
        return False
    return "Status" in status and status.Status == SUCCESS


def _associate(node: Node) -> Association:
    try:
        from pynetdicom import AE
    except ImportError:
        raise InputError(
            "--send",
            f"{node.host}:{node.port}",
            "sending with pynetdicom installed",
            "Install it: pip install pynetdicom",
        ) from None
    from pydicom.uid import (
        EncapsulatedPDFStorage,
        ExplicitVRLittleEndian,
        OphthalmicVisualFieldStaticPerimetryMeasurementsStorage,
    )
    from pynetdicom.sop_class import Verification  # type: ignore[attr-defined]

    entity = AE(ae_title=node.calling)
    entity.acse_timeout = entity.dimse_timeout = entity.network_timeout = TIMEOUT_S
    entity.connection_timeout = TIMEOUT_S
    entity.add_requested_context(Verification)
    for kind in (OphthalmicVisualFieldStaticPerimetryMeasurementsStorage, EncapsulatedPDFStorage):
        entity.add_requested_context(kind, ExplicitVRLittleEndian)
    association = entity.associate(node.host, node.port, ae_title=node.called)
    if not association.is_established:
        raise _no_answer(node, "It does not answer, or refuses these titles.")
    return association


_TITLES = "a title of 1 to 16 plain characters without backslash"


def _require_title(option: str, title: str) -> None:
    plain = title.isascii() and title.isprintable() and "\\" not in title
    if not 1 <= len(title) <= 16 or not plain or not title.strip():
        raise InputError(option, title, _TITLES, "Ask who runs the node for its titles.")


def _no_answer(node: Node, reason: str) -> InputError:
    return InputError(
        "--send",
        str(node),
        "a DICOM node that takes associations",
        f"{reason} Check address and titles; nothing was written.",
    )


def _not_taken(path: Path, node: Node, before: int, reason: str) -> RipplefieldError:
    others = "1 file was" if before == 1 else f"{before} files were"
    return RipplefieldError(
        f"{node} did not take {path.name}. {reason} {others} taken before it; all files are in "
        f"{path.parent}."
    )
