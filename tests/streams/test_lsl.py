"""A real inlet in another process hears what the journal holds, at the same time to 1 ms."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))
from exam_rig import Desk, count_lines, data_of, end_of, journal, set_up, wait_until

from protocols.errors import InputError
from protocols.events import Advised, AnsweredLine, Held
from protocols.verify import verify
from stimulus.streams.clocks import offset_s
from stimulus.streams.markers import Marker, Marking
from stimulus.streams.outlets import Outlets

pytest.importorskip("pylsl", exc_type=(ImportError, RuntimeError))

INLET = Path(__file__).parent / "inlet_program.py"
SEED = 6
ALLOWED_S = 0.001


@dataclass(frozen=True)
class Heard:
    """An exam's folder, and what the inlet recorded of it."""

    exam: Path
    headers: dict[str, str]
    markers: list[dict[str, Any]]

    def of(self, stream: str, event: str) -> list[dict[str, Any]]:
        return [
            m for m in self.markers if m["stream"] == stream and m["says"]["event"] == event
        ]


def press(desk: Desk) -> None:
    environment = {**os.environ, "DISPLAY": desk.display}
    subprocess.run(["xdotool", "key", "space"], env=environment, check=True, timeout=20)


@pytest.fixture(scope="module")
def heard(display: str, tmp_path_factory: pytest.TempPathFactory) -> Heard:
    """An exam with a real keyboard, its space bar pressed now and then, and an inlet beside."""
    desk = set_up(tmp_path_factory.mktemp("streams"), display)
    words = desk.new_exam("exam", "keyboard", SEED, "--lsl")
    at = words.index("--start")
    program = desk.run(*words[:at], *words[at + 2 :])
    exam = desk.folder / "exam"
    inlet = subprocess.Popen([sys.executable, str(INLET)], stdout=subprocess.PIPE, text=True)
    wait_until(lambda: count_lines(exam) >= 3, program, "the first lines")
    assert inlet.stdout is not None
    ready = json.loads(inlet.stdout.readline())
    for _ in range(2):  # past the caution, then into the eye
        time.sleep(0.7)
        press(desk)
    while program.poll() is None and not data_of(exam, "closed"):
        time.sleep(0.53)
        press(desk)
    code, _, errors = end_of(program)
    assert code == 0, errors
    said, _ = inlet.communicate(timeout=60)
    return Heard(exam, ready["headers"], [json.loads(line) for line in said.splitlines()])


def test_every_presentation_and_press_is_heard_once_and_in_order(heard: Heard) -> None:
    shown = data_of(heard.exam, "presented")
    onsets = [m["says"] for m in heard.of("stimulus", "onset")]
    assert len(shown) >= 8
    assert [(m["index"], m["role"], m["x_deg"], m["y_deg"], m["level_db"]) for m in onsets] == [
        (s["index"], s["role"], s["x_deg"], s["y_deg"], s["level_db"]) for s in shown
    ]
    answered = data_of(heard.exam, "answered")
    presses = [(a["index"], t) for a in answered for t in a["presses_s"]]
    assert len(presses) >= 2
    heard_presses = [m["says"] for m in heard.of("presses", "press")]
    assert [(m["index"], m["after_onset_s"]) for m in heard_presses] == presses
    assert [m["says"]["eye"] for m in heard.of("stimulus", "eye")] == ["right"]
    assert [m["says"]["reason"] for m in heard.of("stimulus", "closed")] == ["finished"]


def _zero_utc_s(heard: Heard) -> list[float]:
    """The journal's zero on the wall clock, once by each line: its wall time less its own time."""
    return [
        datetime.fromisoformat(line["utc"].replace("Z", "+00:00")).timestamp() - line["t_s"]
        for line in journal(heard.exam)
    ]


def test_stream_time_is_journal_time_to_one_millisecond(heard: Heard) -> None:
    """By two ways that share the wall clock alone: the inlet's reading and the journal's lines."""
    zeros = sorted(_zero_utc_s(heard))
    zero = zeros[len(zeros) // 2]
    presented = {one["index"]: one["onset_s"] for one in data_of(heard.exam, "presented")}
    off = [m["utc_s"] - zero - presented[m["says"]["index"]] for m in heard.of("stimulus", "onset")]
    off += [
        m["utc_s"] - zero - presented[m["says"]["index"]] - m["says"]["after_onset_s"]
        for m in heard.of("presses", "press")
    ]
    worst = max(map(abs, off))
    print(f"\n{len(off)} markers, off by at most {worst * 1e6:.0f} us")
    assert worst < ALLOWED_S


def test_stamps_keep_the_journals_distances(heard: Heard) -> None:
    """On the streams' own clock, without any wall clock: one constant for all markers."""
    zeros = [m["stamp_s"] - m["says"]["journal_s"] for m in heard.markers]
    assert len(zeros) > 10
    spread = max(zeros) - min(zeros)
    print(f"\nspread {spread * 1e6:.0f} us")
    assert spread < ALLOWED_S


def test_headers_say_what_it_is_and_tell_nothing_of_the_participant(heard: Heard) -> None:
    for kind, header in heard.headers.items():
        assert f"<name>Ripplefield {kind}</name>" in header
        assert "<type>Markers</type>" in header
        assert "Research use only" in header
        assert re.search(rf"<source_id>ripplefield-{kind}-[0-9a-f]{{16}}</source_id>", header)
        assert "T-1" not in header
    assert "T-1" not in json.dumps(heard.markers)


def test_the_record_is_as_sound_as_without(heard: Heard) -> None:
    found = verify(heard.exam)
    assert (found.sound, found.closed) == (True, True)
    assert sum(one["spoiled"] for one in data_of(heard.exam, "presented")) == 0


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pylsl", None)
    with pytest.raises(InputError) as error:
        Outlets("0" * 16)
    assert str(error.value) == (
        '--lsl: got "no library for it"; allowed: the library pylsl. '
        "Install it: pip install pylsl"
    )


def test_without_lsl_the_library_is_not_loaded() -> None:
    code = "import sys, stimulus.runner, stimulus.streams.outlets; print('pylsl' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_offset_is_by_the_closest_reading() -> None:
    """A slow reading, with the answer anywhere in it, does not count."""
    ours = iter([0.0, 5.0, 10.0, 10.002, 20.0, 23.0, 30.0, 31.0, 40.0, 44.0])
    theirs = iter([104.0, 110.001, 122.0, 130.9, 140.1])
    assert offset_s(lambda: next(theirs), lambda: next(ours)) == pytest.approx(100.0)


def test_events_that_say_nothing_of_stimulus_or_press_make_no_marker() -> None:
    marking = Marking(onset_s=10.0)
    assert marking.of(Held("by the operator", 3), 12.5) == [
        Marker("stimulus", 12.5, {"event": "held", "reason": "by the operator"})
    ]
    line = AnsweredLine(
        index=3, verdict="seen", press_s=10.4, response_time_s=0.4, presses_s=[0.4, 0.9],
        spoiled=False,
    )  # fmt: skip
    assert [m.journal_s for m in marking.of(line, 11.0)] == pytest.approx([10.4, 10.9])
    assert marking.of(Advised("stay_attentive", "Say: stay attentive."), 0.0) == []


def test_with_a_package_that_finds_no_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The package raises RuntimeError, as it does where liblsl is missing."""
    (tmp_path / "pylsl.py").write_text('raise RuntimeError("liblsl was not found.\\nMore.")\n')
    monkeypatch.delitem(sys.modules, "pylsl", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(InputError) as error:
        Outlets("0" * 16)
    assert str(error.value) == (
        '--lsl: got "liblsl was not found."; allowed: the library pylsl with liblsl. '
        "Install it: pip install pylsl"
    )
