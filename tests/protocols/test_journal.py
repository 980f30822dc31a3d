"""The journal: append-only, chained, and any change, loss or reordering of lines is found."""

from __future__ import annotations

import json
import shutil
from itertools import count

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import record

from protocols.errors import InputError
from protocols.events import KINDS, Closed, Corrected, Held, Presented, Resumed
from protocols.files import sha256_hex
from protocols.journal import HEAD, JOURNAL, Journal, read
from protocols.verify import verify


@pytest.fixture(scope="module")
def original(tmp_path_factory):
    """A closed record of one eye."""
    folder = tmp_path_factory.mktemp("original") / "e"
    record(folder, "trigger-happy", protocol="screen-17", seed=6)
    return folder


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """A folder for damaged copies of one record."""
    return tmp_path_factory.mktemp("copy")


@pytest.fixture(scope="module")
def lines(original):
    return (original / JOURNAL).read_bytes().splitlines(keepends=True)


def _with_lines(original, copy, lines):
    (copy / JOURNAL).write_bytes(b"".join(lines))
    shutil.copyfile(original / HEAD, copy / HEAD)
    return verify(copy)


def test_a_record_is_sound_and_closed(original, lines):
    found = verify(original)
    assert (found.sound, found.closed, found.torn_bytes) == (True, True, 0)
    assert found.lines == len(lines)


def test_a_line_holds_these_keys_and_chains_to_the_one_before(lines):
    prev = "0" * 64
    for n, text in enumerate(lines):
        line = json.loads(text)
        assert list(line) == ["n", "t_s", "utc", "kind", "data", "prev"]
        assert (line["n"], line["prev"]) == (n, prev)
        assert line["kind"] in KINDS
        prev = sha256_hex(text.rstrip(b"\n"))


def test_time_only_runs_forward(lines):
    times = [json.loads(text)["t_s"] for text in lines]
    assert times == sorted(times)


def test_the_first_lines_say_what_the_exam_is_and_the_last_how_it_ended(lines):
    kinds = [json.loads(text)["kind"] for text in lines]
    assert kinds[:5] == ["opened", "display", "caution", "practice", "eye"]  # waived
    assert kinds[-1] == "closed"
    assert json.loads(lines[0])["data"]["notice"].startswith("Research use only")


def test_every_presentation_has_its_answer_right_after_it(lines):
    kinds = [json.loads(text)["kind"] for text in lines]
    for n, kind in enumerate(kinds):
        if kind == "presented":
            assert kinds[n + 1] == "answered"
            pair = json.loads(lines[n]), json.loads(lines[n + 1])
            assert pair[0]["data"]["index"] == pair[1]["data"]["index"]


def test_the_head_names_the_last_line(original, lines):
    head = json.loads((original / HEAD).read_bytes())
    assert head == {"n": len(lines) - 1, "sha256": sha256_hex(lines[-1].rstrip(b"\n"))}


@settings(max_examples=150)
@given(data=st.data())
def test_one_flipped_bit_anywhere_is_found(original, copy, lines, data):
    content = bytearray(b"".join(lines))
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= 1 << data.draw(st.integers(0, 7))
    (copy / JOURNAL).write_bytes(content)
    shutil.copyfile(original / HEAD, copy / HEAD)
    assert not verify(copy).sound


@settings(max_examples=40)
@given(data=st.data())
def test_a_changed_digit_with_the_line_still_well_formed_is_found(original, copy, lines, data):
    number = data.draw(st.integers(0, len(lines) - 1))
    line = json.loads(lines[number])
    line["t_s"] = line["t_s"] + data.draw(st.floats(0.001, 5.0))
    changed = json.dumps(line, separators=(",", ":")).encode() + b"\n"
    found = _with_lines(original, copy, [*lines[:number], changed, *lines[number + 1 :]])
    assert not found.sound


@settings(max_examples=40)
@given(data=st.data())
def test_lost_lines_are_found(original, copy, lines, data):
    first = data.draw(st.integers(0, len(lines) - 1))
    last = data.draw(st.integers(first + 1, len(lines)))
    assert not _with_lines(original, copy, lines[:first] + lines[last:]).sound


@settings(max_examples=40)
@given(data=st.data())
def test_a_doubled_line_is_found(original, copy, lines, data):
    number = data.draw(st.integers(0, len(lines) - 1))
    assert not _with_lines(original, copy, [*lines[: number + 1], *lines[number:]]).sound


@settings(max_examples=40)
@given(data=st.data())
def test_swapped_lines_are_found(original, copy, lines, data):
    two = st.lists(st.integers(0, len(lines) - 1), min_size=2, max_size=2, unique=True)
    a, b = data.draw(two)
    swapped = list(lines)
    swapped[a], swapped[b] = swapped[b], swapped[a]
    assert not _with_lines(original, copy, swapped).sound


def test_a_line_added_after_the_close_is_found(original, copy, lines):
    added = json.loads(lines[-1])
    added |= {"n": len(lines), "prev": sha256_hex(lines[-1].rstrip(b"\n"))}
    text = json.dumps(added, separators=(",", ":")).encode() + b"\n"
    found = _with_lines(original, copy, [*lines, text])
    assert found.problems == [f"1 line(s) were added after line {len(lines)}"]


def _rechained(lines, number, change):
    """A forger's work: one line changed and every later `prev` made anew."""
    forged, prev = list(lines[:number]), json.loads(lines[number])["prev"]
    for n, text in enumerate(lines[number:], start=number):
        line = json.loads(text)
        line["prev"] = prev
        if n == number:
            change(line)
        text = json.dumps(line, separators=(",", ":"), ensure_ascii=False).encode()
        forged.append(text + b"\n")
        prev = sha256_hex(text)
    return forged


def test_a_chain_made_anew_is_still_found_by_the_head(original, copy, lines):
    forged = _rechained(lines, 5, lambda line: line.update(t_s=line["t_s"] + 1))
    found = _with_lines(original, copy, forged)
    assert found.problems == [f"line {len(lines)} was changed"]


def test_the_messages_say_which_line(original, copy, lines):
    assert _with_lines(original, copy, lines[:7] + lines[8:]).problems[:2] == [
        "line 8 does not follow line 7: a line was changed, lost or moved",
        "line 8 bears number 8, expected 7",
    ]
    assert _with_lines(original, copy, lines[:-2]).problems == [
        f"2 line(s) were lost after line {len(lines) - 2}"
    ]
    assert _with_lines(original, copy, [*lines[:3], b"?\n", *lines[4:]]).problems[0] == (
        "line 4 is not a journal line: it was changed"
    )


def test_a_lost_or_broken_head_is_found(original, copy, lines):
    (copy / JOURNAL).write_bytes(b"".join(lines))
    (copy / HEAD).unlink(missing_ok=True)
    assert verify(copy).problems == [f"{HEAD} is missing although {JOURNAL} is closed"]
    (copy / HEAD).write_bytes(b"{")
    assert verify(copy).problems == [f"{HEAD} is not readable: it was changed"]


@settings(max_examples=40)
@given(data=st.data())
def test_a_torn_last_line_is_left_out_and_its_bytes_are_counted(original, copy, lines, data):
    """Killed while writing: whole lines are sound, what follows is no line."""
    whole = data.draw(st.integers(4, len(lines) - 1))
    torn = data.draw(st.integers(1, len(lines[whole]) - 1))
    (copy / JOURNAL).write_bytes(b"".join(lines[:whole]) + lines[whole][:torn])
    head = {"n": whole - 1, "sha256": sha256_hex(lines[whole - 1][:-1])}
    (copy / HEAD).write_bytes(msgspec.json.encode(head) + b"\n")
    found = verify(copy)
    assert (found.sound, found.closed, found.torn_bytes) == (True, False, torn)
    assert [entry.n for entry in read(copy)] == list(range(whole))


def _begun(folder):
    """A journal that was killed in the middle of its third line."""
    clock = count()
    journal = Journal.create(folder, lambda: float(next(clock)))
    journal.append(Held("one"))
    journal.append(Resumed("held"))
    journal.sync()
    with open(folder / JOURNAL, "ab") as file:
        file.write(b'{"n":2,"t_s":7.0,"kin')
    return folder


def test_reopening_sets_a_torn_line_aside_in_a_file_and_says_which(tmp_path):
    journal, name = Journal.reopen(_begun(tmp_path), lambda: 9.0)
    assert name is not None
    assert (tmp_path / name).read_bytes() == b'{"n":2,"t_s":7.0,"kin'
    journal.append(Resumed("crash", name))
    journal.close()
    entries = list(read(tmp_path))
    assert [entry.n for entry in entries] == [0, 1, 2]
    assert entries[-1].event == Resumed("crash", name)
    assert (tmp_path / JOURNAL).read_bytes().endswith(b"\n")


def test_reopening_a_whole_journal_sets_nothing_aside_and_keeps_the_chain(tmp_path):
    journal = Journal.create(tmp_path, lambda: 1.0)
    journal.append(Held("one"))
    journal.close()
    again, name = Journal.reopen(tmp_path, lambda: 2.0)
    again.append(Closed("finished", "finished"))
    again.close()
    first, second = (tmp_path / JOURNAL).read_bytes().splitlines()
    assert name is None
    assert json.loads(second)["prev"] == sha256_hex(first)


def test_a_journal_with_only_a_torn_line_cannot_be_reopened(tmp_path):
    (tmp_path / JOURNAL).write_bytes(b'{"n":0')
    with pytest.raises(InputError, match="Nothing was recorded; start a new exam"):
        Journal.reopen(tmp_path, lambda: 0.0)


def test_a_journal_is_never_begun_over_another(tmp_path):
    Journal.create(tmp_path, lambda: 0.0).close()
    with pytest.raises(InputError, match="allowed: a folder that holds no exam"):
        Journal.create(tmp_path, lambda: 0.0)


def test_a_line_is_whole_in_the_file_before_sync(tmp_path):
    """A killed program loses nothing it has appended: no buffer of our own holds it back."""
    journal = Journal.create(tmp_path, lambda: 0.0)
    journal.append(Held("one"))
    assert (tmp_path / JOURNAL).read_bytes().endswith(b"\n")
    assert not (tmp_path / HEAD).exists()
    journal.sync()
    assert json.loads((tmp_path / HEAD).read_bytes())["n"] == 0


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_text_survives(tmp_path_factory, reason, by):
    folder = tmp_path_factory.mktemp("text")
    written = [Held(reason, 3), Corrected("age", "45", reason, by), Closed(by, "stopped")]
    journal = Journal.create(folder, lambda: 0.5)
    for event in written:
        journal.append(event)
    journal.close()
    assert [entry.event for entry in read(folder)] == written


PRESENTED = {
    "index", "eye", "role", "x_deg", "y_deg", "level_db", "contrast_nominal",
    "contrast_delivered", "onset_s", "frames_wanted", "frames_shown", "frames_late",
}  # fmt: skip
ANSWERED = {"index", "verdict", "press_s", "response_time_s"}


@pytest.mark.parametrize(("kind", "keys"), [("presented", PRESENTED), ("answered", ANSWERED)])
def test_presentations_and_answers_are_recorded_with_these_keys(lines, kind, keys):
    """The contract's keys; more are welcome, these stay."""
    found = [json.loads(text)["data"] for text in lines if json.loads(text)["kind"] == kind]
    assert found
    assert all(keys <= set(data) for data in found)


def test_delivered_contrast_is_nominal_times_what_the_display_delivers(original):
    """Both are kept; at 20 Hz on 60 Hz the frame hold leaves sin(pi/3)/(pi/3) = 0.82699."""
    shown = [entry.event for entry in read(original) if isinstance(entry.event, Presented)]
    for line in shown:
        assert line.contrast_delivered == pytest.approx(0.826993 * line.contrast_nominal, rel=1e-6)
    assert any(line.contrast_nominal == 1.0 for line in shown)


@pytest.mark.parametrize("folder", ["nothing", "empty"])
def test_a_folder_without_a_journal_is_refused(tmp_path, folder):
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match=r"exam folder: got .*; allowed: a folder that holds"):
        verify(tmp_path / folder)


def test_a_line_nested_beyond_reading_is_not_ours(copy, lines):
    """Neither verify nor a reader fails by it."""
    deep = lines[1].replace(b'"data":', b'"data":' + b"[" * 5000 + b"]" * 5000 + b',"x":')
    (copy / JOURNAL).write_bytes(b"".join([lines[0], deep]))
    assert "line 2 is not a journal line: it was changed" in verify(copy).problems
    with pytest.raises(InputError, match=rf"{JOURNAL}, line 2: got .*Run ripplefield verify"):
        list(read(copy))


def test_reading_a_line_that_is_not_ours_names_it(copy, lines):
    (copy / JOURNAL).write_bytes(b"".join([*lines[:2], b'{"n":2}\n']))
    with pytest.raises(InputError, match=rf"{JOURNAL}, line 3: got .*Run ripplefield verify"):
        list(read(copy))
