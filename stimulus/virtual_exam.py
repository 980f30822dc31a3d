"""A whole exam of a simulated participant on a virtual clock, with a full record."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path

from analysis.reference import Reference
from protocols.conduct import conduct
from protocols.errors import InputError
from protocols.events import ButtonFacts, Display, Event
from protocols.exam import ExamState, open_exam
from protocols.folder import open_folder
from protocols.grating import frame_hold, frame_plan
from protocols.journal import Journal, utc_text
from protocols.library import Protocol
from protocols.light import Light
from protocols.observer import Observer, ObserverFile
from protocols.virtual import VIRTUAL_REFRESH_HZ, VirtualStage
from stimulus.opening import Sitting, caution_line, make_plan, opened_line, waiver_lines
from stimulus.unfinished import load_record, taken_up

VIRTUAL_BUTTON = ButtonFacts("simulated participant on a virtual clock", 0.0)


def run_virtual_exam(
    folder: Path,
    protocol: Protocol,
    reference: Reference,
    sitting: Sitting,
    model: ObserverFile,
    began: datetime | None = None,
) -> ExamState:
    """Run it and write its record; `began` is the wall-clock time it pretends to start at."""
    display = virtual_display(protocol)
    light = Light(display.refresh_hz, display.delivery)
    plan = make_plan(protocol, reference, sitting, light.delivery)
    stage = VirtualStage(plan, Observer(model, sitting.seed), light)
    start = began or datetime.now(timezone.utc)
    first: tuple[Event, ...] = (
        opened_line(plan, reference, sitting, light.delivery, VIRTUAL_BUTTON),
        display,
        caution_line(plan, sitting, display, light),
        *waiver_lines(sitting),
    )
    journal = open_folder(
        folder,
        protocol,
        reference.text,
        first,
        stage.now_s,
        lambda: utc_text(start + timedelta(seconds=stage.now_s())),
    )
    state = conduct(plan, open_exam(plan), stage, journal)
    journal.close()
    return state


def resume_virtual_exam(
    folder: Path, model: ObserverFile, began: datetime | None = None
) -> ExamState:
    """Go on with a virtual exam that was cut off or stopped, to its end; returns the last state.

    `began` is the wall-clock time it pretends to go on at; the journal's own clock goes on where
    it was. Raises InputError if the record cannot go on, or was run in a window.
    """
    exam = load_record(folder)
    if not exam.display.simulated:
        raise InputError(
            "exam folder",
            str(folder),
            "an exam that ran on a virtual clock",
            f"This one was run in a window: ripplefield run --resume {folder}",
        )
    light = Light(exam.display.refresh_hz, exam.display.delivery)
    observer = Observer(model, exam.opened.seed)
    stage = VirtualStage(exam.plan, observer, light, exam.last_s)
    start = began or datetime.now(timezone.utc)
    journal, set_aside = Journal.reopen(
        folder,
        stage.now_s,
        lambda: utc_text(start + timedelta(seconds=stage.now_s() - exam.last_s)),
    )
    state = conduct(exam.plan, taken_up(exam, journal, set_aside, True), stage, journal)
    journal.close()
    return state


def virtual_display(protocol: Protocol) -> Display:
    """An ideal 60 Hz display of 53 by 29.8 cm at 35 cm that exists in numbers only."""
    stimulus = protocol.settings.stimulus
    timing = frame_plan(
        stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, VIRTUAL_REFRESH_HZ
    )
    return Display(
        calibrated=False,
        words="no display: simulated at a virtual 60 Hz",
        simulated=True,
        width_px=1280,
        height_px=720,
        width_cm=53.0,
        height_cm=53.0 * 720 / 1280,
        distance_cm=35.0,
        fixation_x_cm=0.0,
        fixation_y_cm=0.0,
        refresh_hz=VIRTUAL_REFRESH_HZ,
        refresh_sd_s=None,
        display_locked=False,
        flicker_wanted_hz=stimulus.flicker_hz,
        flicker_hz=timing.flicker_hz,
        frames_per_cycle=timing.frames_per_cycle,
        frame_hold=frame_hold(timing.flicker_hz, VIRTUAL_REFRESH_HZ),
        panel_response=1.0,
        mean_relative_luminance=0.5,
        mean_luminance_cd_m2=None,
        transfer="ideal",
    )
