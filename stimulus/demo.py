"""The demonstration: the whole job on an invented scenario, with no person.

Four invented participants. One eye is examined in the real window at real timing; all exams of
both eyes run on a virtual clock. Each gets its record, its result and its page. A simulated display
is measured into a certificate, which gets its page too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path

from analysis.grade import grade_folder
from analysis.reference import Reference, load_reference
from analysis.report.page import write_report
from analysis.result import Result
from calibration.geometry import screen_of_width
from calibration.simulated import load_simulated
from protocols.exam import ExamState
from protocols.field import EYES, Eye
from protocols.library import bundled_observer, load_protocol
from protocols.messages import Done
from protocols.observer import load_observer
from protocols.practice import NOBODY
from stimulus.calibrating.job import run_steps
from stimulus.calibrating.kept import beside
from stimulus.calibrating.simulated_bench import SimulatedBench
from stimulus.calibrating.steps import STEPS, Wish
from stimulus.certificate_page.page import write_certificate_page
from stimulus.opening import Sitting
from stimulus.resume import load_unfinished, resume_exam
from stimulus.runner import Setup, run_exam
from stimulus.virtual_exam import run_virtual_exam
from stimulus.virtual_screen import virtual_screen

SIZE_PX = (1280, 720)
WIDTH_CM, DISTANCE_CM = 53.0, 35.0
BEGAN = datetime(2030, 1, 15, 9, 0, tzinfo=timezone.utc)
RETAKES = 2
DISPLAY = "office"
SEEDS_APART = 2
"""Between the invented participants' exams."""


@dataclass(frozen=True)
class Person:
    """An invented participant: code and observer file, with what was put into it."""

    code: str
    observer: str
    hidden_truth: str


@dataclass(frozen=True)
class Finished:
    """A demonstration exam that is done: what was hidden, what was found, where the page is."""

    person: Person
    how: str
    page: Path
    result: Result


@dataclass(frozen=True)
class Measured:
    """A demonstration display that was measured: its certificate, and its page."""

    certificate: Path
    page: Path


PEOPLE = (
    Person("DEMO-01", "healthy", "nothing lost"),
    Person("DEMO-02", "arc-loss", "an arc of loss above the centre, right eye worse"),
    Person("DEMO-03", "lone-loss", "one place of the left eye lost"),
    Person("DEMO-04", "trigger-happy", "nothing lost, but presses at nothing and looks around"),
)
LIVE = Person("DEMO-05", "lone-loss", "one place of the left eye lost")


def run_demo(out: Path, seed: int, tell: Callable[[str], None]) -> Iterator[Finished]:
    """Run all exams into `out`, yielding each as it is done; `tell` hears what goes on."""
    reference = load_reference()
    tell("in a real window, at real timing: the left eye of DEMO-05")
    yield _live(out, seed, reference, tell)
    for number, person in enumerate(PEOPLE, start=1):
        tell(f"on a virtual clock: both eyes of {person.code}")
        yield _virtual(out, seed + SEEDS_APART * number, person, reference)


def measure_display(out: Path, seed: int, tell: Callable[[str], None]) -> Measured:
    """Measure the bundled simulated display into `out`; the same job as `calibrate all`."""
    tell(f"on a bench in numbers only: every measurement of the simulated display {DISPLAY}")
    path = out / "screen.json"
    wish = Wish(load_protocol("screen-19").settings.stimulus, seed, beside(path, "readings"))
    bench = SimulatedBench(load_simulated(DISPLAY), seed)
    run_steps(list(STEPS), bench, path, wish, "ripplefield demo", lambda *_: None)
    return Measured(path, write_certificate_page(path, path.with_suffix(".html")))


def _live(out: Path, seed: int, reference: Reference, tell: Callable[[str], None]) -> Finished:
    folder = out / LIVE.code
    protocol = load_protocol("screen-17")
    observer = bundled_observer(LIVE.observer)
    screen = screen_of_width(*SIZE_PX, WIDTH_CM, DISTANCE_CM)
    sitting = _sitting(LIVE, ("left",), seed, "press")
    setup = Setup(screen, False, f"simulated:{observer}")
    with virtual_screen(*SIZE_PX):
        state = run_exam(folder, protocol, reference, sitting, setup)
        for _ in range(RETAKES):
            if not _stopped_by_display(state):
                break
            tell("other programs delayed the frames; the exam is taken up again")
            state = resume_exam(load_unfinished(folder), setup, start_now=False)
    return _finished(folder, LIVE, "real window")


def _stopped_by_display(state: ExamState) -> bool:
    return isinstance(state.action, Done) and state.action.reason.startswith("the display")


def _virtual(out: Path, seed: int, person: Person, reference: Reference) -> Finished:
    folder = out / person.code
    model = load_observer(bundled_observer(person.observer))
    sitting = _sitting(person, EYES, seed, "press")
    run_virtual_exam(folder, load_protocol("screen-19"), reference, sitting, model, BEGAN)
    return _finished(folder, person, "virtual clock")


def _sitting(person: Person, eyes: tuple[Eye, ...], seed: int, start: str) -> Sitting:
    age = load_observer(bundled_observer(person.observer)).age_years
    return Sitting(person.code, age, eyes, seed, False, start, True, "ripplefield demo", NOBODY)


def _finished(folder: Path, person: Person, how: str) -> Finished:
    result = grade_folder(folder)
    return Finished(person, how, write_report([folder], folder / "report.html"), result)
