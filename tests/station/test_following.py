"""The station's eyes: following a journal, and saying honestly how long it may still take."""

from __future__ import annotations

import shutil
import statistics
from pathlib import Path

import pytest
from day_rig import exam

from analysis.reference import load_reference
from protocols.events import Presented
from protocols.exam import open_exam
from protocols.journal import read
from protocols.library import load_protocol
from protocols.observer import Observer
from protocols.replay import step
from stimulus.opening import make_plan
from stimulus.station.follow import Follower
from stimulus.station.forecast import pace_s, presentations_left
from stimulus.station.live import live_view

FUTURES_HOLD = 0.8
"""The spread runs from the 10th to the 90th of a hundred futures."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Path:
    """A finished record."""
    data = tmp_path_factory.mktemp("follow")
    return data / "exams" / exam(data, "P-001", 1, "arc-loss", "AB", grade=False)


def test_a_journal_fed_byte_by_byte_gives_the_state_of_the_whole(whole, tmp_path):
    growing = tmp_path / whole.name
    shutil.copytree(whole, growing)
    text = (growing / "journal.jsonl").read_bytes()
    (growing / "journal.jsonl").write_bytes(b"")
    piecewise, at_once = Follower(growing), Follower(whole)
    with open(growing / "journal.jsonl", "ab", buffering=0) as file:
        for begin in range(0, len(text), 977):
            file.write(text[begin : begin + 977])
            piecewise.poll()
    at_once.poll()
    assert not piecewise.poll()
    assert piecewise.trouble == at_once.trouble == ""
    one, other = (live_view("x", f.found, False, None) for f in (piecewise, at_once))
    assert one == other
    assert one is not None
    assert one.phase == "finished"
    shown = [entry.event for entry in read(whole) if isinstance(entry.event, Presented)]
    assert one.presentations == len(shown)
    assert [eye.done for eye in one.eyes] == [19, 19]


def test_a_journal_that_got_shorter_is_read_anew(whole, tmp_path):
    """After a crash the torn line is set aside, and the file is shorter than it was."""
    growing = tmp_path / whole.name
    shutil.copytree(whole, growing)
    path, lines = growing / "journal.jsonl", (whole / "journal.jsonl").read_bytes().splitlines(True)
    path.write_bytes(b"".join(lines[:20]) + lines[20][:40])
    follower = Follower(growing)
    follower.poll()
    assert follower.found.lines == 20
    path.write_bytes(b"".join(lines[:12]))
    follower.poll()
    path.write_bytes(b"".join(lines))
    follower.poll()
    assert follower.found.lines == len(lines)
    assert follower.trouble == ""


def test_a_changed_line_is_trouble_in_words_and_no_crash(whole, tmp_path):
    changed = tmp_path / whole.name
    shutil.copytree(whole, changed)
    path = changed / "journal.jsonl"
    text = path.read_text().replace('"place_number":3', '"place_number":4', 1)
    path.write_text(text)
    follower = Follower(changed)
    follower.poll()
    assert "changed" in follower.trouble


def test_the_estimate_shown_is_the_procedures_own(whole):
    follower = Follower(whole)
    follower.poll()
    view = live_view("x", follower.found, False, None)
    assert view is not None
    found = follower.found
    mean, _, _ = found.plan.procedure.estimate(found.state.eyes[1].procedure)
    nominal = [place.estimate_db for place in view.places]
    loss_db = view.places[0].estimate_db - mean[0][0]
    assert max(abs(n - loss_db - m) for n, m in zip(nominal, mean[0], strict=True)) < 0.11


@pytest.mark.parametrize(("protocol", "exams"), [("screen-19", 24), ("joint-19", 9)])
def test_eight_of_ten_exams_end_within_the_time_foretold(protocol, exams):
    """Recovery from simulated truth: people of several kinds, foretold a third of the way in.

    The bound leaves room for the draw of so many exams: 0.8 less two binomial SDs.
    """
    inside = []
    for seed in range(exams):
        left, truth = _foretold(protocol, seed)
        inside.append(left.low - 1 <= truth <= left.high + 1)
    share = statistics.mean(inside)
    print(f"{protocol}: {share:.0%} of {exams} exams end within the foretold eight in ten")
    assert share >= FUTURES_HOLD - 2 * (0.8 * 0.2 / exams) ** 0.5


def _foretold(protocol: str, seed: int):
    """The forecast a third of the way into a virtual exam, and how many came after it."""
    from records import sitting

    from protocols.conduct import conduct
    from protocols.library import bundled_observer
    from protocols.light import Light
    from protocols.observer import load_observer
    from protocols.virtual import VirtualStage

    chosen = load_protocol(protocol)
    kinds = ("healthy", "arc-loss", "lone-loss")
    model = load_observer(bundled_observer(kinds[seed % 3]))
    light = Light(60.0, 0.95)
    plan = make_plan(chosen, load_reference(), sitting(seed=seed), 0.95)
    events = []

    class _Record:
        def append(self, event):
            events.append(event)

        def sync(self):
            pass

    conduct(plan, open_exam(plan), VirtualStage(plan, Observer(model, seed), light), _Record())
    shown = [n for n, event in enumerate(events) if isinstance(event, Presented)]
    third = shown[len(shown) // 3]
    state = open_exam(plan)
    for event in events[:third]:
        state = step(plan, state, event)
    left = presentations_left(plan, state, seed, patience_s=20)
    assert left is not None
    return left, len([n for n in shown if n >= third])


def test_the_pace_is_measured_once_there_is_something_to_measure():
    plan = make_plan(load_protocol("screen-19"), load_reference(), _sitting(), 0.95)
    assert 0.5 < pace_s(plan, []) < 2.5
    assert pace_s(plan, [2.0, 2.0, 2.0, 2.0]) == 2.0


def _sitting():
    from records import sitting

    return sitting()
