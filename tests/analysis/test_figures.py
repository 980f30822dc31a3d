"""The pictures say what the result says: places in true degrees, areas, colours, order, rates."""

from __future__ import annotations

import json
from itertools import pairwise
from math import hypot

import msgspec
import numpy as np
import pytest
import svg_reading as svg

from analysis.figures import timeline
from analysis.figures.canvas import paper
from analysis.figures.labels import Box, Disc, place_labels, text_width_pt
from analysis.figures.ramp import DARKEST_FROM_DB, depth_colour
from analysis.figures.session import Session, Span, session_of
from analysis.figures.style import PICTURE_WIDTH_PT, Look
from analysis.figures.words import grade_text, level_text, one_decimal
from analysis.load import load_exam
from analysis.reliability import rate
from analysis.report.pictures import field_picture, reliability_picture
from analysis.result import Reliability, Result


@pytest.fixture(scope="module")
def drawn(pages):
    return {name: svg.pictures(page.read_text()) for name, page in pages.items()}


@pytest.fixture(scope="module")
def results(exams):
    return {name: json.loads((f / "result.json").read_text()) for name, f in exams.items()}


def _seen_eyes(results):
    return [
        (name, eye, found)
        for name, result in results.items()
        for eye, found in result["eyes"].items()
        if found["presentations"]
    ]


def _lightness(colour):
    """CIE L* (CIE 15) of an sRGB colour (IEC 61966-2-1), by the published formulas."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
    y = float(np.dot(linear, (0.2126, 0.7152, 0.0722)))
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


def test_depth_darkens_all_the_way_in_even_steps():
    lightness = [_lightness(depth_colour(d)) for d in np.linspace(0, DARKEST_FROM_DB, 25)]
    steps = -np.diff(lightness)
    assert steps.min() > 0
    assert lightness[0] > 90
    assert lightness[-1] < 20
    assert steps.max() < 2 * steps.mean()


def test_colours_beyond_the_ends_stay_at_the_ends():
    assert depth_colour(-3.0) == depth_colour(0.0)
    assert depth_colour(40.0) == depth_colour(DARKEST_FROM_DB)


def test_every_place_lies_where_it_was_shown(drawn, results):
    """Scale and centre are read off the 20 degree ring, the places checked against result.json."""
    for name, eye, found in _seen_eyes(results):
        base = f"exam-1-{eye}-field"
        picture = drawn[name][base]
        ring = svg.extent(picture, f"{base}-ring-20")
        x0, y0 = ring.centre
        per_deg = ring.radius / 20
        small = svg.extent(picture, f"{base}-ring-10")
        assert small.radius == pytest.approx(10 * per_deg, rel=1e-4)
        for place in found["places"]:
            x, y = svg.extent(picture, f"{base}-disc-{place['number']}").centre
            assert (x - x0) / per_deg == pytest.approx(place["x_deg"], abs=0.01)
            assert (y0 - y) / per_deg == pytest.approx(place["y_deg"], abs=0.01)


def test_the_blind_spot_is_temporal_and_a_little_below(drawn, results):
    """15.5 degrees temporal, 1.5 below: Rohrschneider 2004, IOVS 45:1000."""
    for name, eye, _ in _seen_eyes(results):
        base = f"exam-1-{eye}-field"
        ring = svg.extent(drawn[name][base], f"{base}-ring-20")
        x, y = svg.extent(drawn[name][base], f"{base}-blind-spot").centre
        per_deg = ring.radius / 20
        side = 1 if eye == "right" else -1
        assert (x - ring.centre[0]) / per_deg == pytest.approx(15.5 * side, abs=0.01)
        assert (ring.centre[1] - y) / per_deg == pytest.approx(-1.5, abs=0.01)
        temporal = svg.text_at(drawn[name][base], f"{base}-temporal")[0] - ring.centre[0]
        nasal = svg.text_at(drawn[name][base], f"{base}-nasal")[0] - ring.centre[0]
        assert temporal * side > 0 > nasal * side


def test_the_area_of_a_disc_is_inverse_to_the_width_of_its_interval(drawn, results):
    for name, eye, found in _seen_eyes(results):
        base = f"exam-1-{eye}-field"
        products = [
            svg.extent(drawn[name][base], f"{base}-disc-{p['number']}").radius ** 2
            * (p["interval_db"][1] - p["interval_db"][0])
            for p in found["places"]
            if p["estimate_db"] is not None and p["interval_db"][1] - p["interval_db"][0] > 6
        ]
        assert products
        assert max(products) == pytest.approx(min(products), rel=0.01)


def test_deeper_places_are_darker_and_unseen_ones_carry_a_ring(drawn, results):
    base = "exam-1-right-field"
    picture, places = drawn["arc"][base], results["arc"]["eyes"]["right"]["places"]
    done = [p for p in places if p["bound"] != "at most"]
    by_depth = sorted(done, key=lambda p: p["below_limit_db"])
    lightness = [
        _lightness([int(svg.fill(picture, f"{base}-disc-{p['number']}")[n : n + 2], 16) / 255
                    for n in (1, 3, 5)])
        for p in by_depth
    ]  # fmt: skip
    assert lightness == sorted(lightness, reverse=True)
    assert lightness[0] > lightness[-1] + 30
    unseen = [p for p in places if p["grade"] == 4]
    unfilled = [
        svg.extent_of(path) for path in svg.unfilled(picture) if svg.extent_of(path).radius < 20
    ]
    for place in unseen:
        disc = svg.extent(picture, f"{base}-disc-{place['number']}")
        rings = [
            e for e in unfilled if hypot(e.centre[0] - disc.centre[0],
                                         e.centre[1] - disc.centre[1]) < 0.01
        ]  # fmt: skip
        assert len(rings) == 1
        assert rings[0].radius < disc.radius
    assert len(unfilled) == len(unseen) == 5


def test_levels_beside_the_discs_are_those_of_the_result(drawn, exams):
    for name, folder in exams.items():
        result = msgspec.json.decode((folder / "result.json").read_bytes(), type=Result)
        for eye, found in result.eyes.items():
            if not found.presentations:
                continue
            base = f"exam-1-{eye}-field"
            told = svg.ids(drawn[name][base], f"{base}-level-")
            done = [p for p in found.places if p.estimate_db is not None]
            assert len(told) == len(done)
            for place in done:
                text = svg.text_of(drawn[name][base], f"{base}-level-{place.number}")
                assert text == level_text(place)
                if place.bound == "between":
                    assert text.rstrip("?") == one_decimal(place.estimate_db)


def test_intervals_are_sorted_by_deviation_and_reach_as_far_as_the_result_says(drawn, results):
    for name, eye, found in _seen_eyes(results):
        base = f"exam-1-{eye}-intervals"
        picture = drawn[name][base]
        zero = svg.text_at(picture, f"{base}-tick-0")[0]
        per_db = (svg.text_at(picture, f"{base}-tick-20")[0] - zero) / 20
        heights = {
            p["number"]: svg.text_at(picture, f"{base}-row-{p['number']}")[1]
            for p in found["places"]
        }
        done = [p for p in found["places"] if p["estimate_db"] is not None]
        from_top = sorted(done, key=lambda p: heights[p["number"]])
        deviations = [p["estimate_db"] - p["limit_db"] for p in from_top]
        assert deviations == sorted(deviations)
        for place in found["places"]:
            line = svg.extent(picture, f"{base}-whisker-{place['number']}")
            low, high = (end - place["limit_db"] for end in place["interval_db"])
            assert (line.left - zero) / per_db == pytest.approx(max(low, -30), abs=0.05)
            assert (line.right - zero) / per_db == pytest.approx(min(high, 20), abs=0.05)


def test_catch_trials_are_counted_and_span_the_published_wilson_interval():
    """15 of 148: 0.062386 to 0.160487, Newcombe 1998, Stat Med 17:857."""
    none = rate(0, 0)
    found = Reliability(rate(15, 148), none, none, 0, 0, 0)
    picture = svg.pictures(reliability_picture("r", "left", found).svg)["r"]
    dots = svg.ids(picture, "r-fixation-dot-")
    assert len(dots) == 148
    assert sum(svg.fill(picture, dot) == "var(--alarm)" for dot in dots) == 15
    whole = svg.extent(picture, "r-interval-fixation-whole")
    line = svg.extent(picture, "r-interval-fixation")
    width = whole.right - whole.left
    assert (line.left - whole.left) / width == pytest.approx(0.062386, abs=1e-4)
    assert (line.right - whole.left) / width == pytest.approx(0.160487, abs=1e-4)
    assert not svg.ids(picture, "r-false_positive-dot-")
    assert svg.text_of(picture, "r-rate-false_positive") == "none shown"


def test_the_time_line_holds_every_presentation_and_every_hold(drawn, exams):
    exam = load_exam(exams["doubtful"])
    holds = 0
    for eye in ("left", "right"):
        base = f"exam-1-{eye}-timeline"
        picture = drawn["doubtful"][base]
        assert len(svg.ids(picture, f"{base}-shown-")) == len(exam.of_eye(eye))
        holds += sum(not i.endswith("word") for i in svg.ids(picture, f"{base}-hold-"))
    assert holds == len(exam.holds) == 2


def test_words_above_practice_and_holds_never_run_into_each_other():
    """A short hold right after a short practice, and one at the very end."""
    held = (Span(5.0, 6.0), Span(8.0, 9.0), Span(58.0, 60.0))
    session = Session((), (), Span(0.0, 4.0), held, None, 60.0)
    with paper(PICTURE_WIDTH_PT, timeline.HEIGHT_PT, "t") as (_, axes):
        timeline.draw_timeline(axes, session, Look(), "t")
        words = [text for text in axes.texts if (text.get_gid() or "").endswith("-word")]
        spans = [
            (text.get_position()[0], text_width_pt(text.get_text(), Look().small) / 2)
            for text in words
        ]
    assert [text.get_text() for text in words] == ["practice", "held", "held", "held"]
    for (left, half), (right, other) in pairwise(spans):
        assert left + half < right - other
    assert all(x - half >= 0 and x + half <= PICTURE_WIDTH_PT for x, half in spans)


def test_a_session_tells_wrong_catch_answers_as_often_as_the_rates(exams, results):
    exam = load_exam(exams["doubtful"])
    for eye in ("left", "right"):
        session = session_of(exam, eye)
        rates = results["doubtful"]["eyes"][eye]["reliability"]
        wrong = sum(r["wrong"] for r in rates.values() if isinstance(r, dict))
        assert sum(s.outcome == "wrong" for s in session.showings) == wrong
    assert session_of(load_exam(exams["stopped"]), "left") is None


def test_a_number_keeps_clear_of_discs_and_of_other_numbers():
    discs = [Disc(x, y, 2.0) for x in (-6.0, 0.0, 6.0) for y in (-7.0, 0.0, 7.0)]
    boxes = place_labels(discs, [(4.0, 1.5)] * len(discs), [Box(0.0, 3.0, 20.0, 0.5)], 0.3)
    for number, box in enumerate(boxes):
        assert not any(disc.touches(box) for disc in discs)
        assert not any(box.overlaps(other) for other in boxes[:number])


def test_a_measured_place_without_a_sure_grade_is_drawn_as_measured_and_doubted(exams):
    result = msgspec.json.decode((exams["arc"] / "result.json").read_bytes(), type=Result)
    place = next(p for p in result.eyes["right"].places if p.bound == "between")
    unsure = msgspec.structs.replace(
        place, grade=None, grade_probability=None, grade_trusted=False
    )
    picture = svg.pictures(field_picture("f", "right", [unsure]).svg)["f"]
    assert svg.text_of(picture, f"f-level-{place.number}") == f"{one_decimal(place.estimate_db)}?"
    assert svg.fill(picture, f"f-disc-{place.number}").startswith("#")
    assert grade_text(unsure) == "no grade is more likely than not"
