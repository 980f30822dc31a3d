"""Exam folders in every wrong state, made from one that was run on a virtual clock."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from command_desk import OBSERVER, PATTERN, PROTOCOL

from analysis.reference import load_reference
from protocols.files import sha256_hex
from protocols.library import load_protocol
from protocols.observer import load_observer
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

FIRST_LINES = 4
SPOILT = ["virtual", "begun", "barely", "empty", "changed", "garbage", "odd", "swapped", "bare"]
SITTING = Sitting("P-017", 45, ("right",), 1, True, "now", True, "ripplefield run", "nobody")


@dataclass(frozen=True)
class Record:
    """A folder under a name of its own, to be spoilt."""

    folder: Path

    @property
    def lines(self) -> list[bytes]:
        return (self.folder / "journal.jsonl").read_bytes().splitlines(keepends=True)

    def write(self, lines: list[bytes]) -> None:
        """Lines as they are, with a head that agrees: a change the head cannot show."""
        (self.folder / "journal.jsonl").write_bytes(b"".join(lines))
        (self.folder / "journal.head").unlink()
        if lines:
            head = f'{{"n":{len(lines) - 1},"sha256":"{sha256_hex(lines[-1][:-1])}"}}\n'
            (self.folder / "journal.head").write_text(head)


def chained(lines: list[bytes]) -> list[bytes]:
    """Lines that were edited, each made to follow the one before it again."""
    prev, found = "0" * 64, []
    for line in lines:
        linked = re.sub(rb'"prev":"[0-9a-f]{64}"', f'"prev":"{prev}"'.encode(), line)
        found.append(linked)
        prev = sha256_hex(linked[:-1])
    return found


def in_a_window(lines: list[bytes]) -> list[bytes]:
    """As if a simulated participant had sat before a real window."""
    button = b"simulated participant on a virtual clock"
    opened = lines[0].replace(button, b"simulated:gone.toml")
    display = lines[1].replace(b'"simulated":true', b'"simulated":false')
    assert opened != lines[0]
    assert display != lines[1]
    return chained([opened, display, *lines[2:]])


def make_records(folder: Path) -> None:
    """`finished` and the SPOILT ones."""
    finished = _finished(folder)
    for name in SPOILT:
        shutil.copytree(finished.folder, folder / name)
    kept = finished.lines
    of = {path.name: Record(path) for path in folder.iterdir() if path.is_dir()}
    begun = in_a_window(kept)[: FIRST_LINES + 3]
    of["begun"].write(begun)
    of["virtual"].write(kept[: FIRST_LINES + 3])
    of["barely"].write(kept[:1])
    of["empty"].write([])
    of["changed"].write([*begun[:5], begun[5].replace(b'"onset_s":', b'"onset_s":1'), *begun[6:]])
    of["garbage"].write([*kept[:4], b"not a line\n", *kept[5:]])
    of["odd"].write([*kept[:5], kept[5].replace(b'"presented"', b'"dreamt"'), *kept[6:]])
    of["swapped"].write(begun)
    (of["swapped"].folder / "protocol.toml").write_text(PROTOCOL.replace("20.0", "15.0"))
    (of["bare"].folder / "protocol.toml").unlink()


def _finished(folder: Path) -> Record:
    source = folder / "source"
    source.mkdir()
    for name, text in {"protocol": PROTOCOL, "pattern": PATTERN, "observer": OBSERVER}.items():
        (source / f"{name}.toml").write_text(text)
    protocol = load_protocol(str(source / "protocol.toml"))
    model = load_observer(source / "observer.toml")
    run_virtual_exam(folder / "finished", protocol, load_reference(), SITTING, model)
    shutil.rmtree(source)
    return Record(folder / "finished")
