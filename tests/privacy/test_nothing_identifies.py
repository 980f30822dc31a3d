"""A name is planted in the user, the machine, the home folder and every path: no output has it.

All files are read whole: text, and what is packed inside (streams of PDF, pictures in pages).
"""

from __future__ import annotations

import base64
import gzip
import os
import re
import shutil
import socket
import subprocess
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest

NAME = "quillfeather"
HERE = Path(__file__).parent
BASE64 = re.compile(rb"base64,([A-Za-z0-9+/=]{40,})")
KINDS = {".html", ".pdf", ".json", ".jsonl", ".csv", ".toml", ".tsv", ".dcm", ".head"}


@pytest.fixture(scope="module")
def home(display: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The home folder of somebody of that name on a machine of that name, with the job done."""
    folder = tmp_path_factory.mktemp("homes") / NAME
    folder.mkdir()
    work = [sys.executable, str(HERE / "whole_job_program.py"), str(folder)]
    environment = {
        **os.environ,
        **dict.fromkeys(("USER", "LOGNAME", "USERNAME", "HOSTNAME", "NAME"), NAME),
        "HOME": str(folder),
        "DISPLAY": display,
    }
    done = subprocess.run(
        [*_on_a_machine_called(NAME), *work],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    (folder / "out" / "said.txt").write_text(_without_paths(done.stdout + done.stderr))
    return folder


def _on_a_machine_called(name: str) -> list[str]:
    """Where the system lets us, the host has the planted name too, for this program alone."""
    words = ["unshare", "--uts", "sh", "-c", f'hostname {name} && exec "$@"', "sh"]
    if shutil.which("unshare") is None:
        return []
    refused = subprocess.run([*words, "true"], capture_output=True).returncode
    return [] if refused else words


def _without_paths(said: str) -> str:
    """What was printed, less the paths that the operator typed: they are echoed to say where."""
    return re.sub(rf"/\S*{NAME}\S*", "", said)


def outputs(home: Path) -> Iterator[Path]:
    return (path for path in (home / "out").rglob("*") if path.is_file())


def unpacked(content: bytes) -> Iterator[bytes]:
    """The bytes, and those that are packed in them by zlib, gzip or base64."""
    yield content
    if content[:2] == b"\x1f\x8b":
        yield gzip.decompress(content)
    for found in BASE64.finditer(content):
        yield from unpacked(base64.b64decode(found[1] + b"=="))
    for start in re.finditer(rb"stream\r?\n", content):
        try:
            yield zlib.decompressobj().decompress(content[start.end() :])
        except zlib.error:
            continue


def holds(content: bytes, word: str) -> bool:
    """In any of the ways a text may be written down, small or large."""
    small = content.lower()
    kinds = ("utf-8", "utf-16-le", "utf-16-be")
    return any(word.lower().encode(kind) in small for kind in kinds)


def test_every_kind_of_output_is_there(home: Path) -> None:
    kinds = {path.suffix for path in outputs(home)}
    assert kinds >= KINDS, kinds
    assert sum(1 for _ in outputs(home)) > 40


def test_the_planted_name_is_in_no_output(home: Path) -> None:
    found = [
        str(path.relative_to(home))
        for path in outputs(home)
        for part in unpacked(path.read_bytes())
        if holds(part, NAME)
    ]
    assert found == []


def test_the_planted_name_is_in_no_file_name(home: Path) -> None:
    names = [str(path.relative_to(home)) for path in home.rglob("*")]
    assert [name for name in names if NAME in name.lower()] == []


def test_nor_are_this_machine_and_its_home(home: Path) -> None:
    """Letters as they are: PDF has a word /Root of its own."""
    words = [socket.gethostname(), str(Path.home()), str(HERE.parents[1]), str(home.parent)]
    telling = [word.encode() for word in words if len(word) > 4]
    assert telling
    found = {
        (str(path.relative_to(home)), word)
        for path in outputs(home)
        for part in unpacked(path.read_bytes())
        for word in telling
        if word in part
    }
    assert found == set()


def test_the_scan_would_find_it(tmp_path: Path) -> None:
    """In plain sight, in other letters, in a packed stream, in a picture inside a page."""
    secret = f"Dr {NAME.upper()}".encode()
    hidden = [
        secret,
        NAME.encode("utf-16-le"),
        b"stream\r\n" + zlib.compress(secret),
        gzip.compress(secret),
        b'src="data:image/png;base64,' + base64.b64encode(b"x" * 40 + secret),
    ]
    for content in hidden:
        assert any(holds(part, NAME) for part in unpacked(content)), content
