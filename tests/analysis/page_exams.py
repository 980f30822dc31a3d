"""Exams of invented participants on a virtual clock, for the pages under test."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from pathlib import Path

from analysis.reference import load_reference
from protocols.conduct import Settled, conduct
from protocols.exam import ExamState, open_exam
from protocols.field import EYES, Eye
from protocols.folder import open_folder
from protocols.journal import utc_text
from protocols.library import bundled_observer, load_protocol
from protocols.light import Light
from protocols.messages import Message, Wait
from protocols.observer import (
    EyeModel,
    Fatigue,
    Observer,
    ObserverFile,
    Pressing,
    Seeing,
    load_observer,
)
from protocols.presentation import Presentation
from protocols.virtual import VirtualStage
from stimulus.opening import Sitting, caution_line, make_plan, opened_line
from stimulus.virtual_exam import VIRTUAL_BUTTON, virtual_display

BEGAN = datetime(2030, 1, 15, 9, 0, tzinfo=timezone.utc)
HOLD_S = 12.0


class AskingStage(VirtualStage):
    """A virtual stage whose operator asks for something after given presentations."""

    asks: Mapping[int, Message] = {}

    def settle(self, presentation: Presentation) -> Settled:
        settled = super().settle(presentation)
        return Settled(settled.presses_s, self.asks.get(presentation.index))

    def wait(self, wait: Wait, state: ExamState) -> Message:
        if wait.what == "hold":
            self._now_s += HOLD_S
        return super().wait(wait, state)


def make_exam(
    folder: Path,
    observer: str | ObserverFile,
    eyes: tuple[Eye, ...] = EYES,
    protocol: str | Path = "screen-19",
    code: str = "P-017",
    asks: Mapping[int, Message] | None = None,
    seed: int = 3,
) -> Path:
    """Run an exam into `folder` and return it; `observer` is a bundled name or a model."""
    model = load_observer(bundled_observer(observer)) if isinstance(observer, str) else observer
    reference, loaded = load_reference(), load_protocol(str(protocol))
    sitting = Sitting(
        code, model.age_years, eyes, seed, False, "press", True, "ripplefield run", "nobody"
    )
    display = virtual_display(loaded)
    light = Light(display.refresh_hz, display.frame_hold * display.panel_response)
    plan = make_plan(loaded, reference, sitting, light.delivery)
    stage = AskingStage(plan, Observer(model, seed), light)
    stage.asks = asks or {}
    first = (
        opened_line(plan, reference, sitting, light.delivery, VIRTUAL_BUTTON),
        display,
        caution_line(plan, sitting, display, light),
    )
    journal = open_folder(
        folder, loaded, reference.text, first, stage.now_s,
        lambda: utc_text(BEGAN + timedelta(seconds=stage.now_s())),
    )  # fmt: skip
    conduct(plan, open_exam(plan), stage, journal)
    journal.close()
    return folder


WEAK_AND_TIRED = ObserverFile(
    format=1,
    about="Invented: weak all over, tires, misses much and presses at nothing.",
    age_years=70,
    right=EyeModel(centre_db=18.0),
    left=EyeModel(centre_db=13.0),
    seeing=Seeing(slope_db=4.0, lapse_rate=0.25),
    pressing=Pressing(false_press_rate=0.15),
    fatigue=Fatigue(db_per_min=3.0),
)


DENSE_RINGS = (
    (0.0, (0.0,)),
    (7.5, (30.0, 90.0, 150.0, 210.0, 270.0, 330.0)),
    (14.8, (45.0, 75.0, 105.0, 135.0, 165.0, 195.0, 225.0, 255.0, 285.0, 315.0)),
    (22.5, tuple(20.0 * n + 10 for n in range(18))),
)


def house_protocol(folder: Path) -> Path:
    """A lab's own protocol of 35 places, close together, with a long reason for its override."""
    folder.mkdir()
    rings = "".join(
        f"[[rings]]\neccentricity_deg = {r}\npolar_angles_deg = {list(angles)}\n"
        for r, angles in DENSE_RINGS
    )
    pattern = f'format = 1\nname = "dense-35"\nabout = "Invented."\n{rings}'
    (folder / "dense-35.toml").write_text(pattern)
    text = load_protocol("screen-19").text
    text = text.replace('name = "screen-19"', 'name = "house-35"')
    text = text.replace('pattern = "rings19"', 'pattern = "dense-35.toml"')
    text = text.replace("each session.", f"each session. {'The board of the house agreed. ' * 3}")
    path = folder / "house-35.toml"
    path.write_text(text)
    return path
