"""Sending to a real DICOM receiver on the loopback address (PS3.4: Verification, Storage)."""

from __future__ import annotations

import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from pydicom import Dataset, dcmread
from pydicom.uid import (
    EncapsulatedPDFStorage,
    OphthalmicVisualFieldStaticPerimetryMeasurementsStorage,
)
from pynetdicom import AE, evt
from pynetdicom.sop_class import Verification

from stimulus.cli import run

TITLE = "ARCHIVE"
REFUSED_OUT_OF_RESOURCES = 0xA700


OPV = OphthalmicVisualFieldStaticPerimetryMeasurementsStorage
KINDS = (Verification, OPV, EncapsulatedPDFStorage)


@contextmanager
def receiver(
    taken: int = 1000, kinds: tuple[str, ...] = KINDS, hangs_up: bool = False
) -> Iterator[tuple[int, list[Dataset]]]:
    """A storage node that takes so many files and then says it is full; its port, what it got."""
    got: list[Dataset] = []

    def store(event: evt.Event) -> int:
        if hangs_up:
            event.assoc.abort()
        if len(got) >= taken:
            return REFUSED_OUT_OF_RESOURCES
        dataset = event.dataset
        dataset.file_meta = event.file_meta
        got.append(dataset)
        return 0

    node = AE(ae_title=TITLE)
    node.require_called_aet = True
    for kind in kinds:
        node.add_supported_context(kind)
    handlers = [(evt.EVT_C_STORE, store)]
    server = node.start_server(("127.0.0.1", 0), block=False, evt_handlers=handlers)
    try:
        yield server.socket.getsockname()[1], got
    finally:
        server.shutdown()


def words(exam: Path, out: Path, port: int, called: str = TITLE) -> list[str]:
    where = ["--send", f"127.0.0.1:{port}", "--called", called]
    return ["export", "dicom", str(exam), "--out", str(out), "--mean-luminance", "50", *where]


def test_what_arrives_is_what_was_written(
    originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    out = tmp_path / "out"
    with receiver() as (port, got):
        assert run(words(originals["lone"], out, port)) == 0
    files = [dcmread(path) for path in (out / "P-1_1_right.dcm", out / "P-1_1_sheet.dcm")]
    assert got == files
    said = capsys.readouterr()
    assert f"{TITLE} at 127.0.0.1:{port}: 2 files sent" in said.out
    assert said.err == ""


def test_a_full_node_is_reported_and_the_files_stay(
    originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    out = tmp_path / "out"
    with receiver(taken=1) as (port, got):
        assert run(words(originals["lone"], out, port)) == 1
    assert len(got) == 1
    assert capsys.readouterr().err == (
        f"error: {TITLE} at 127.0.0.1:{port} did not take P-1_1_sheet.dcm. Its status is 0xA700. "
        f"1 file was taken before it; all files are in {out}.\n"
    )
    assert sorted(path.name for path in out.iterdir()) == ["P-1_1_right.dcm", "P-1_1_sheet.dcm"]


NOT_TAKEN = (
    'error: --send: got "{called} at 127.0.0.1:{port}"; allowed: a DICOM node that takes '
    "associations. {reason} Check address and titles; nothing was written.\n"
)


def test_nobody_there(
    originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        assert run(words(originals["lone"], tmp_path / "out", port)) == 2
    reason = "It does not answer, or refuses these titles."
    expected = NOT_TAKEN.format(called=TITLE, port=port, reason=reason)
    assert capsys.readouterr().err == expected
    assert list(tmp_path.iterdir()) == []


def test_another_title(
    originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    with receiver() as (port, got):
        assert run(words(originals["lone"], tmp_path / "out", port, "SOMEONE")) == 2
    reason = "It does not answer, or refuses these titles."
    expected = NOT_TAKEN.format(called="SOMEONE", port=port, reason=reason)
    assert capsys.readouterr().err == expected
    assert got == list(tmp_path.iterdir()) == []


def test_a_node_that_does_not_verify(
    originals: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    with receiver(kinds=(OPV,)) as (port, got):
        assert run(words(originals["lone"], tmp_path / "out", port)) == 2
    expected = NOT_TAKEN.format(called=TITLE, port=port, reason="It does not answer a C-ECHO.")
    assert capsys.readouterr().err == expected
    assert got == list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("how", "reason"),
    [
        ({"kinds": (Verification, EncapsulatedPDFStorage)}, "It does not take this kind of file."),
        ({"hangs_up": True}, "The connection was lost or the answer timed out."),
    ],
)
def test_a_node_that_will_not_take_it(
    how: dict[str, object],
    reason: str,
    originals: dict[str, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
):
    out = tmp_path / "out"
    with receiver(**how) as (port, _):
        assert run(words(originals["lone"], out, port)) == 1
    assert capsys.readouterr().err == (
        f"error: {TITLE} at 127.0.0.1:{port} did not take P-1_1_right.dcm. {reason} 0 files were "
        f"taken before it; all files are in {out}.\n"
    )
    assert len(list(out.iterdir())) == 2


def test_without_the_library(
    originals: dict[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
):
    monkeypatch.setitem(sys.modules, "pynetdicom", None)
    assert run(words(originals["lone"], tmp_path / "out", 104)) == 2
    assert capsys.readouterr().err == (
        'error: --send: got "127.0.0.1:104"; allowed: sending with pynetdicom installed. Install '
        "it: pip install pynetdicom\n"
    )
    assert list(tmp_path.iterdir()) == []
