"""The display as a record knows it: requested and obtained side by side."""

from __future__ import annotations

from math import pi, radians, tan

from calibration.geometry import Screen
from calibration.transfer import Transfer
from protocols.events import Display
from protocols.grating import FramePlan, frame_hold
from protocols.library import Protocol
from protocols.light import Light
from stimulus.pacing import Refresh

UNCALIBRATED = "uncalibrated display: its luminance, linearity and speed were not measured"


def display_line(
    protocol: Protocol,
    screen: Screen,
    full_screen: bool,
    transfer: Transfer,
    refresh: Refresh,
    frames: FramePlan,
) -> Display:
    """Display facts of an uncalibrated screen: nominal transfer, frame hold, no panel response."""
    return Display(
        calibrated=False,
        words=UNCALIBRATED,
        simulated=False,
        width_px=screen.width_px,
        height_px=screen.height_px,
        width_cm=screen.width_cm,
        height_cm=screen.height_cm,
        distance_cm=screen.distance_cm,
        fixation_x_cm=screen.fixation_x_cm,
        fixation_y_cm=screen.fixation_y_cm,
        refresh_hz=refresh.refresh_hz,
        refresh_sd_s=refresh.interval_sd_s,
        display_locked=refresh.display_locked,
        flicker_wanted_hz=protocol.settings.stimulus.flicker_hz,
        flicker_hz=frames.flicker_hz,
        frames_per_cycle=frames.frames_per_cycle,
        frame_hold=frame_hold(frames.flicker_hz, refresh.refresh_hz),
        panel_response=1.0,
        mean_relative_luminance=float(transfer.mean_luminance.mean()),
        mean_luminance_cd_m2=None,
        transfer=transfer.source,
        full_screen=full_screen,
        greatest_contrast=transfer.greatest_contrast,
    )


def light_of(protocol: Protocol, display: Display) -> Light:
    """What the display makes of contrast, with the share of it that a patch covers."""
    radius_cm = display.distance_cm * tan(radians(protocol.settings.stimulus.outer_radius_deg))
    return Light(
        refresh_hz=display.refresh_hz,
        delivery=display.delivery,
        mean_relative=display.mean_relative_luminance,
        mean_cd_m2=display.mean_luminance_cd_m2,
        screen_share=pi * radius_cm**2 / (display.width_cm * display.height_cm),
    )
