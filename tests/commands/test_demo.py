"""`ripplefield demo`, once, on a machine with no display: pages, and the truth that was put in.

What is hidden in each invented participant stands in `protocols/library/observers`; each check
below is worked out from that file, not from a result.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from math import atan2, degrees, hypot
from typing import Any

import pytest
from demo_run import LIMIT_S, PROGRAM, Demo

from protocols import RESEARCH_ONLY

pytestmark = pytest.mark.skipif(shutil.which("Xvfb") is None, reason="needs Xvfb")

CODES = [f"DEMO-0{n}" for n in range(1, 6)]
LOST = (-8.23, -4.75)  # lone-loss, left eye: a disc of 3 degrees that sees nothing


def test_it_is_done_in_time(demo: Demo) -> None:
    assert demo.code == 0, demo.errors
    assert demo.seconds < LIMIT_S
    assert "Traceback" not in demo.errors


def test_it_says_what_it_is_and_where_the_pages_are(demo: Demo) -> None:
    assert demo.errors.startswith(f"Invented participants only. {RESEARCH_ONLY}\n")
    assert demo.output.endswith(f"{RESEARCH_ONLY}\n")
    assert "SYNTHETIC REFERENCE" in demo.output
    for code in CODES:
        assert f"demo/{code}/report.html  (" in demo.output
        assert (demo.folder / code / "report.html").is_file()
    assert demo.output.count("hidden truth: ") == len(CODES)


@pytest.mark.parametrize("code", CODES)
def test_every_page_says_research_and_that_nobody_took_part(demo: Demo, code: str) -> None:
    words = demo.words_of_page(code)
    assert RESEARCH_ONLY in words
    assert code in words
    assert "simulated participant" in words.lower()
    assert "SYNTHETIC REFERENCE" in words


@pytest.mark.parametrize("code", CODES)
def test_every_exam_is_whole_and_its_record_sound(demo: Demo, code: str) -> None:
    exam = demo.result(code)["exam"]
    assert (exam["finished"], exam["simulated"]) == (True, True)
    done = subprocess.run(
        [str(PROGRAM), "verify", str(demo.folder / code)], capture_output=True, check=False
    )
    assert done.returncode == 0


def test_one_was_examined_in_a_real_window(demo: Demo) -> None:
    lines = (demo.folder / "DEMO-05" / "journal.jsonl").read_text().splitlines()
    display = next(line["data"] for line in map(json.loads, lines) if line["kind"] == "display")
    assert display["simulated"] is False
    assert demo.result("DEMO-05")["timing"]["presentations"] >= 26


@pytest.mark.parametrize("eye", ["right", "left"])
def test_healthy_has_no_loss(demo: Demo, eye: str) -> None:
    assert {place["grade"] for place in demo.places("DEMO-01", eye)} == {0}


def in_deep_arc(place: dict[str, Any]) -> bool:
    """arc-loss, right eye: 30 dB from 80 to 165 degrees, at 8 to 21 degrees of eccentricity."""
    r_deg = hypot(place["x_deg"], place["y_deg"])
    return 8 <= r_deg <= 21 and 80 <= degrees(atan2(place["y_deg"], place["x_deg"])) <= 165


def in_shallow_arc(place: dict[str, Any]) -> bool:
    """The rest of it: 11 dB from 25 to 75 degrees."""
    r_deg = hypot(place["x_deg"], place["y_deg"])
    return 8 <= r_deg <= 21 and 25 <= degrees(atan2(place["y_deg"], place["x_deg"])) <= 75


def test_the_arc_is_found_where_it_was_put(demo: Demo) -> None:
    places = demo.places("DEMO-02", "right")
    assert {place["grade"] for place in places if in_deep_arc(place)} == {4}
    assert all(place["grade"] >= 1 for place in places if in_shallow_arc(place))
    below = [place for place in places if place["y_deg"] < 0]
    assert len(below) == 9
    assert {place["grade"] for place in below} == {0}


def test_the_other_eye_of_the_arc_is_less_bad(demo: Demo) -> None:
    right = [place["grade"] for place in demo.places("DEMO-02", "right")]
    left = [place["grade"] for place in demo.places("DEMO-02", "left")]
    assert 1 <= sum(grade > 0 for grade in left) < sum(grade > 0 for grade in right)


@pytest.mark.parametrize("code", ["DEMO-03", "DEMO-05"])
def test_the_lone_loss_is_the_only_place_not_seen_at_all(demo: Demo, code: str) -> None:
    unseen = [place for place in demo.places(code, "left") if place["grade"] == 4]
    assert len(unseen) == 1
    assert hypot(unseen[0]["x_deg"] - LOST[0], unseen[0]["y_deg"] - LOST[1]) < 0.1


def test_the_trigger_happy_one_is_flagged(demo: Demo) -> None:
    eyes = demo.result("DEMO-04")["eyes"]
    wrong = sum(
        eye["reliability"][kind]["wrong"]
        for eye in eyes.values()
        for kind in ("fixation", "false_positive")
    )
    assert wrong >= 3
    assert all("Read with care" in eye["sentence"] for eye in eyes.values())
    assert "Read with care" in demo.words_of_page("DEMO-04")


@pytest.mark.parametrize("code", ["DEMO-01", "DEMO-02", "DEMO-03"])
def test_the_careful_ones_are_not(demo: Demo, code: str) -> None:
    assert "Read with care" not in demo.words_of_page(code)
