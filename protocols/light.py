"""From a presentation to the record of its light: contrast delivered, frames, flash facts."""

from __future__ import annotations

from dataclasses import dataclass

from protocols.events import Presented
from protocols.grating import frame_plan
from protocols.plan import ExamPlan
from protocols.presentation import Presentation
from protocols.safety import assess, grating_flash


@dataclass(frozen=True)
class Light:
    """What a display makes of a nominal contrast, and the facts that flash guidance needs."""

    refresh_hz: float
    delivery: float
    mean_relative: float = 0.5
    mean_cd_m2: float | None = None
    screen_share: float = 0.02


def presented_line(
    plan: ExamPlan,
    shown: Presentation,
    light: Light,
    onset_s: float,
    frames: tuple[int, int, int],
) -> Presented:
    """The record of a presentation; `frames` are wanted, shown and late ones."""
    settings = plan.protocol.settings
    radius = (
        settings.blind_spot.target_diameter_deg / 2
        if shown.role == "blind_spot"
        else settings.stimulus.outer_radius_deg
    )
    stimulus = settings.stimulus
    timing = frame_plan(stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, light.refresh_hz)
    flash = grating_flash(
        shown.contrast,
        radius,
        timing.flicker_hz,
        light.screen_share,
        light.mean_relative,
        light.mean_cd_m2,
    )
    verdict = assess(flash)
    wanted, drawn, late = frames
    return Presented(
        index=shown.index,
        eye=shown.eye,
        role=shown.role,
        practice=shown.practice,
        place_number=shown.place_number,
        x_deg=shown.place.x_deg,
        y_deg=shown.place.y_deg,
        phase_deg=shown.phase_deg,
        level_db=shown.level_db,
        contrast_nominal=shown.contrast,
        contrast_delivered=shown.contrast * light.delivery,
        onset_s=round(onset_s, 6),
        frames_wanted=wanted,
        frames_shown=drawn,
        frames_late=late,
        spoiled=late > settings.frames.late_allowed or drawn < wanted,
        flicker_hz=timing.flicker_hz,
        area_sr=round(flash.area_sr, 6),
        swing_relative=round(flash.swing_relative, 6),
        swing_cd_m2=flash.swing_cd_m2,
        over_wcag=verdict.over_wcag,
        over_bt1702=verdict.over_bt1702,
    )
