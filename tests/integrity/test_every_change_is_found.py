"""Thousands of changes to a record, each found: flipped bytes, lost, doubled and swapped lines.

Every byte of the journal and of its head is changed once; the rest is drawn by hypothesis.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records import record

from protocols.files import sha256_hex
from protocols.journal import HEAD, JOURNAL
from protocols.verify import verify
from protocols.verify_record import verify_record
from stimulus.cli import run

EXAMPLES = 1000
DRAWN = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@pytest.fixture(scope="module")
def original(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("original") / "e"
    record(folder, "healthy")
    assert verify_record(folder).sound
    return folder


@pytest.fixture(scope="module")
def lines(original) -> list[bytes]:
    return (original / JOURNAL).read_bytes().splitlines(keepends=True)


@pytest.fixture(scope="module")
def short(original, lines, tmp_path_factory) -> Path:
    """A record of a few lines, so that every byte can be changed: as cut off after line 8."""
    folder = tmp_path_factory.mktemp("short") / "e"
    folder.mkdir()
    (folder / JOURNAL).write_bytes(b"".join(lines[:8]))
    head = {"n": 7, "sha256": sha256_hex(lines[7][:-1])}
    (folder / HEAD).write_bytes(msgspec.json.encode(head) + b"\n")
    assert verify(folder).sound
    return folder


@pytest.mark.parametrize("name", [JOURNAL, HEAD])
def test_every_byte_changed_once(short, name):
    path = short / name
    content, draw, found = path.read_bytes(), random.Random(1), 0
    for place in range(len(content)):
        changed = bytearray(content)
        changed[place] ^= draw.randint(1, 255)
        path.write_bytes(changed)
        found += not verify(short).sound
    path.write_bytes(content)
    print(f"\n{name}: {found} of {len(content)} changed bytes found")
    assert found == len(content)


def _found(folder, original, lines) -> bool:
    (folder / JOURNAL).write_bytes(b"".join(lines))
    (folder / HEAD).write_bytes((original / HEAD).read_bytes())
    return not verify(folder).sound


@pytest.fixture(scope="module")
def copy(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("copy")


@DRAWN
@given(data=st.data())
def test_any_flipped_byte(original, copy, lines, data):
    content = bytearray(b"".join(lines))
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= data.draw(st.integers(1, 255))
    assert _found(copy, original, [bytes(content)])


@DRAWN
@given(data=st.data())
def test_any_removed_line(original, copy, lines, data):
    number = data.draw(st.integers(0, len(lines) - 1))
    assert _found(copy, original, [*lines[:number], *lines[number + 1 :]])


@DRAWN
@given(data=st.data())
def test_any_doubled_line(original, copy, lines, data):
    number = data.draw(st.integers(0, len(lines) - 1))
    to = data.draw(st.integers(0, len(lines)))
    assert _found(copy, original, [*lines[:to], lines[number], *lines[to:]])


@DRAWN
@given(data=st.data())
def test_any_two_swapped_lines(original, copy, lines, data):
    pair = st.lists(st.integers(0, len(lines) - 1), min_size=2, max_size=2, unique=True)
    a, b = data.draw(pair)
    swapped = list(lines)
    swapped[a], swapped[b] = lines[b], lines[a]
    assert _found(copy, original, swapped)


@DRAWN
@given(data=st.data())
def test_any_cut(original, copy, lines, data):
    """The end torn off anywhere, in the middle of a line or between two."""
    content = b"".join(lines)
    assert _found(copy, original, [content[: data.draw(st.integers(0, len(content) - 1))]])


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("protocol.toml", "protocol.toml or pattern.toml is not the one the exam was opened with"),
        ("pattern.toml", "protocol.toml or pattern.toml is not the one the exam was opened with"),
        ("reference.toml", "reference.toml is not the one the exam was opened with"),
    ],
)
def test_the_other_files_of_a_record(original, name, problem):
    path = original / name
    content = path.read_bytes()
    path.write_bytes(content + b"#")
    assert verify_record(original).problems == [problem]
    path.unlink()
    assert verify_record(original).problems == [f"{name} is missing"]
    path.write_bytes(content)
    assert verify_record(original).sound


def test_cut_off_between_the_close_and_its_confirmation(original, copy, lines, capsys):
    """Killed after the last line was written and before the head said so: sound, and told."""
    (copy / JOURNAL).write_bytes(b"".join(lines))
    last = len(lines) - 2
    head = {"n": last, "sha256": sha256_hex(lines[last][:-1])}
    (copy / HEAD).write_bytes(msgspec.json.encode(head) + b"\n")
    for name in ("protocol.toml", "pattern.toml", "reference.toml"):
        shutil.copyfile(original / name, copy / name)
    found = verify(copy)
    assert (found.sound, found.closed, found.unconfirmed) == (True, True, 1)
    assert run(["verify", str(copy)]) == 0
    assert capsys.readouterr().out == (
        f"{copy.name}: sound, {len(lines)} lines, closed\n"
        "  1 line(s) after the last confirmed one: it was cut off there\n"
    )


def test_a_change_before_the_last_confirmed_line_of_an_open_record_is_found(copy, lines):
    """The line that the head names is held against it wherever it stands."""
    head = {"n": 5, "sha256": sha256_hex(b"another line")}
    (copy / JOURNAL).write_bytes(b"".join(lines[:9]))
    (copy / HEAD).write_bytes(msgspec.json.encode(head) + b"\n")
    assert verify(copy).problems == ["line 6 was changed"]


def test_a_head_that_says_the_same_in_other_bytes_is_found(original, copy, lines):
    (copy / JOURNAL).write_bytes(b"".join(lines))
    (copy / HEAD).write_bytes((original / HEAD).read_bytes().rstrip(b"\n") + b" ")
    assert verify(copy).problems == [f"{HEAD} is not as it was written: it was changed"]
