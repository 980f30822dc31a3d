"""What practice tells the participant: beside the mark, in the quiet time, and never in testing."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.reference import load_reference
from calibration.geometry import screen_of_width
from protocols.errors import InputError
from protocols.events import Opened, PracticeLine, Presented
from protocols.journal import read
from protocols.library import bundled_observer, parse_protocol
from protocols.replay import plan_from, replay
from stimulus.feedback import ARCS, WORDS_BELOW_DEG, Feedback
from stimulus.opening import Sitting
from stimulus.runner import Setup, run_exam
from stimulus.station.say_texts import HERE
from stimulus.window import StimulusWindow
from stimulus.words import words_for

VERDICTS = ("seen", "anticipation", "late", "not_seen")
LANGUAGES = ("en", "es", "fr")
PATTERN = """
format = 1
name = "four"
about = "Four places off the axes."

places_deg = [[8.0, 8.0], [-8.0, 8.0], [8.0, -8.0], [-8.0, -8.0]]
"""
TINY = """
format = 1
name = "practised"
about = "A few places, practised first."
pattern = "four.toml"

[procedure]
kind = "rising"
tries = 1

[foreperiod]
min_s = 0.1
max_s = 0.15
lead_in_s = 0.2

[stimulus]
duration_s = 0.2

[answering]
accept_until_s = 0.9

[frames]
late_allowed = 1000

[catch_trials]
blind_spot = 0
blank = 0
full_contrast = 0

[practice]
presentations = 2
needed = 2
rounds = 1

[safety]
override_reason = "A trial without people."
"""

BLIND = """
format = 1
about = "Invented: sees nothing at all."
age_years = 45

[right]
centre_db = 19.0

[[right.losses]]
shape = "disc"
x_deg = 0.0
y_deg = 0.0
radius_deg = 40.0
depth_db = 45.0
"""


def _ink(picture: np.ndarray, quiet: np.ndarray) -> np.ndarray:
    """Rows and columns of pixels that differ from the quiet window."""
    return np.argwhere(np.any(picture != quiet, axis=-1))


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_answer_has_a_line_and_words_of_its_own_beside_an_unchanged_mark(window, language):
    window.quiet()
    quiet, words, seen = window.read_back(), words_for(language), []
    for verdict in VERDICTS:
        window.feedback(Feedback(verdict, words.feedback(verdict)))
        picture = window.read_back()
        assert len(_ink(picture, quiet)) > 150
        mark = (slice(352, 368), slice(632, 648))
        assert np.array_equal(picture[mark], quiet[mark]), "the mark stays as it is"
        assert not any(np.array_equal(picture, other) for other in seen)
        seen.append(picture)
    window.quiet()
    assert np.array_equal(window.read_back(), quiet)


@pytest.mark.parametrize("verdict", ARCS)
def test_all_of_it_lies_within_four_degrees_below_the_mark_and_a_degree_and_a_half_above(
    window, verdict
):
    """Distance on a flat screen at 35 cm: d tan(r), as the project's geometry has it."""
    window.quiet()
    quiet = window.read_back()
    window.feedback(Feedback(verdict, words_for("fr").feedback(verdict)))
    rows = _ink(window.read_back(), quiet)[:, 0]
    cm_per_px = 53.0 / 1280
    above_deg, below_deg = (
        np.degrees(np.arctan((360 - rows.min()) * cm_per_px / 35.0)),
        np.degrees(np.arctan((rows.max() - 360) * cm_per_px / 35.0)),
    )
    assert above_deg < 1.5
    assert WORDS_BELOW_DEG - 0.5 < below_deg < 4.0


def test_right_to_left_words_are_drawn_as_their_letters_in_the_order_they_are_seen(window):
    """Hebrew has no joined letters: in order of sight it is the reversed text, digits kept."""
    window.message(["x", "שלום 12"], "y", True)
    ordered = window.read_back()
    window.message(["x", "12 םולש"], "y")
    assert np.array_equal(window.read_back()[:600], ordered[:600])
    window.message(["x", "שלום 12"], "y")
    assert not np.array_equal(window.read_back()[:600], ordered[:600])


def test_arabic_letters_are_joined(window):
    """Joined forms are narrower than the letters one by one."""
    def _width() -> int:
        columns = np.argwhere((window.read_back()[:600] != window.transfer.mean_codes).any((0, 2)))
        return int(np.ptp(columns))

    window.message(["مرحبا"], "y", True)
    joined = _width()
    window.message(["مرحبا"], "y")
    assert joined < 0.9 * _width()


def test_a_language_without_a_file_or_without_words_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"--language: got \"tlh\"; allowed: en, es, fr, or a"):
        words_for("tlh")
    text = (HERE / "es.toml").read_text()
    (tmp_path / "xx.toml").write_text(text.split("[window]")[0].replace('"es"', '"xx"', 1))
    with pytest.raises(InputError, match=r"a table \[window\] with its words"):
        words_for("xx.toml", tmp_path)


class Noted:
    """What a real window was asked to do, in order; every call still draws."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.calls: list[tuple[str, object]] = []
        for name in ("present", "feedback", "quiet", "message"):
            self._note(monkeypatch, name)

    def _note(self, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
        was = getattr(StimulusWindow, name)

        def _noting(window, *given, **more):
            self.calls.append((name, given[0] if given else None))
            return was(window, *given, **more)

        monkeypatch.setattr(StimulusWindow, name, _noting)


def _run(tmp_path, observer: str, language: str = "en", practice: bool = True):
    (tmp_path / "four.toml").write_text(PATTERN)
    protocol = parse_protocol(TINY, "tiny.toml", tmp_path)
    seat = Sitting(
        "P-1", 45, ("right",), 3, not practice, "now", True, "test", "nobody: no person takes part"
    )
    button = f"simulated:{bundled_observer(observer)}" if observer == "healthy" else observer
    setup = Setup(
        screen_of_width(640, 480, 20.0, 20.0), False, f"{button}", language=language
    )
    folder = tmp_path / "e"
    state = run_exam(folder, protocol, load_reference(), seat, setup)
    return state, [entry.event for entry in read(folder)]


def test_in_a_real_exam_feedback_follows_each_practice_target_and_is_gone_before_the_next(
    tmp_path, display, monkeypatch
):
    noted = Noted(monkeypatch)
    state, events = _run(tmp_path, "healthy", "es")
    assert state.phase == "finished"
    names = [name for name, _ in noted.calls]
    practised = [e for e in events if isinstance(e, Presented) and e.practice]
    tested = [e for e in events if isinstance(e, Presented) and not e.practice]
    assert len(tested) >= 4
    assert names.count("feedback") == len(practised) == 2
    shows = [n for n, name in enumerate(names) if name == "present"]
    for at in shows[: len(practised)]:
        assert names[at + 1 : at + 3] == ["feedback", "quiet"]
    assert "feedback" not in names[shows[len(practised)] :]
    said = [given.words for name, given in noted.calls if name == "feedback"]
    assert set(said) <= {"Visto", "Ese se le escapó", "Pulsó demasiado pronto"}
    outcomes = [e.outcome for e in events if isinstance(e, PracticeLine)]
    assert outcomes == ["passed"]
    assert events[0].language == "es"
    assert "Gracias, eso ha sido todo." in [
        line for name, given in noted.calls if name == "message" for line in given
    ]


def test_nobody_waits_for_a_simulated_participant_who_does_not_pass(tmp_path, display):
    blind = tmp_path / "blind.toml"
    blind.write_text(BLIND)
    state, events = _run(tmp_path, f"simulated:{blind}")
    lines = [e for e in events if isinstance(e, PracticeLine)]
    assert [(one.outcome, one.by) for one in lines] == [
        ("not_passed", ""),
        ("waived", "nobody: no person takes part"),
    ]
    assert state.phase == "finished"
    opened = next(e for e in events if isinstance(e, Opened))
    again = replay(plan_from(opened, parse_protocol(TINY, "tiny.toml", tmp_path)), events)
    assert (again.phase, again.index, again.practice) == (
        state.phase, state.index, state.practice,
    )  # fmt: skip
