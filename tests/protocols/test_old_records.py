"""Records of before practice had to be passed: they read, verify, replay, grade and go on.

Made from a record of today by taking away what is new, line by line, and chaining it anew.
"""

from __future__ import annotations

import json

import msgspec
import pytest
from records import record

from analysis.grade import grade_folder
from protocols.events import Opened, PracticeLine
from protocols.files import sha256_hex
from protocols.journal import FIRST_PREV, HEAD, JOURNAL, Head, read
from protocols.library import bundled_observer, load_protocol
from protocols.observer import load_observer
from protocols.replay import plan_from, replay
from protocols.verify import verify
from stimulus.virtual_exam import resume_virtual_exam

NEW_KEYS = ("practice_required", "language")


def made_old(folder, keep=None) -> None:
    """Rewrite a journal as it was written before; `keep` cuts it after so many lines."""
    lines = [json.loads(line) for line in (folder / JOURNAL).read_text().splitlines()]
    lines = [line for line in lines if line["kind"] != "practice"][:keep]
    for key in NEW_KEYS:
        lines[0]["data"].pop(key)
    lines[0]["data"]["button"].pop("measured")
    texts, prev = [], FIRST_PREV
    for number, line in enumerate(lines):
        line["n"], line["prev"] = number, prev
        texts.append(json.dumps(line, separators=(",", ":"), ensure_ascii=False))
        prev = sha256_hex(texts[-1].encode())
    (folder / JOURNAL).write_text("\n".join([*texts, ""]))
    head = Head(len(texts) - 1, prev)
    (folder / HEAD).write_bytes(msgspec.json.encode(head) + b"\n")


@pytest.fixture(params=[True, False], ids=["practised", "skipped"])
def old(request, tmp_path):
    folder = tmp_path / "e"
    record(folder, "healthy", seed=4, practice=request.param)
    before = grade_folder(folder)
    made_old(folder)
    return folder, before


def test_they_verify_and_grade_to_the_same_places(old):
    folder, before = old
    assert verify(folder).sound
    after = grade_folder(folder)
    assert after.eyes == before.eyes


def test_they_replay_to_their_end(old):
    folder, _ = old
    events = [entry.event for entry in read(folder)]
    opened = events[0]
    assert isinstance(opened, Opened)
    assert (opened.practice_required, opened.language, opened.button.measured) == (False, "en", "")
    assert replay(plan_from(opened, load_protocol("screen-19")), events).phase == "finished"


def test_one_that_was_cut_off_goes_on_by_its_own_rule(tmp_path):
    """In the middle of a practice that fails: the exam goes on to testing, as it did then."""
    folder = tmp_path / "e"
    record(folder, "healthy", seed=4, practice=True)
    made_old(folder, keep=8)
    state = resume_virtual_exam(folder, load_observer(bundled_observer("healthy")))
    assert state.phase == "finished"
    assert verify(folder).sound
    outcomes = [e.event.outcome for e in read(folder) if isinstance(e.event, PracticeLine)]
    assert set(outcomes) <= {"passed", "not_passed"}
