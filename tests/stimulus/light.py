"""Turns what was read back from a window into light, and the stimulus model into the same shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.geometry import Screen, pixel_centres, place_to_px, px_to_cm
from calibration.transfer import Transfer
from protocols.field import Floats, Place
from protocols.grating import FramePlan, Patch, frame_plan, modulation, patch_angles
from stimulus.window import Bytes, Shown, StimulusWindow

MARGIN_PX = 70


@dataclass(frozen=True)
class Seen:
    """Frames of one presentation, cut to a square round the patch.

    `codes` has shape (frames, h, w, 3); `rows` and `columns` say where the square lies on the
    picture, top row first.
    """

    codes: Bytes
    rows: slice
    columns: slice
    shown: Shown


def patch_at(place: Place, orientation_deg: float = 90.0, phase_deg: float = 0.0) -> Patch:
    return Patch(place, 2.5, 3.5, 0.5, orientation_deg, phase_deg)


def usual_plan(window: StimulusWindow) -> FramePlan:
    return frame_plan(0.6, 0.1, 20.0, window.refresh.refresh_hz)


def present_and_read(window: StimulusWindow, patch: Patch, contrast: float) -> Seen:
    rows, columns = _square(patch.place, window.screen)
    frames: list[Bytes] = []

    def keep_going() -> bool:
        frames.append(window.read_back()[rows, columns].copy())
        return True

    shown = window.present(patch, contrast, usual_plan(window), keep_going)
    return Seen(np.array(frames), rows, columns, shown)


def relative_light(seen: Seen, transfer: Transfer) -> Floats:
    """Luminance over mean grey, less 1, of the green channel; shape (frames, h, w)."""
    mean = transfer.mean_luminance[1]
    return transfer.to_luminance(seen.codes)[..., 1] / mean - 1


def model(
    patch: Patch, screen: Screen, seen: Seen, shift_px: tuple[float, float] = (0.0, 0.0)
) -> Floats:
    """Modulation at the pixel centres of the square, as if the patch lay `shift_px` further."""
    x, y = (grid[::-1][seen.rows, seen.columns] for grid in pixel_centres(screen))
    x_cm, y_cm = px_to_cm(x - shift_px[0], y - shift_px[1], screen)
    return modulation(patch, *patch_angles(patch.place, x_cm, y_cm, screen.distance_cm))


def off_the_mark(screen: Screen, seen: Seen) -> Floats:
    """1 where the fixation mark does not reach, else 0; shape (h, w)."""
    x, y = (grid[::-1][seen.rows, seen.columns] for grid in pixel_centres(screen))
    x_mark, y_mark = place_to_px(0.0, 0.0, screen)
    return (np.hypot(x - x_mark, y - y_mark) > 12).astype(float)


def _square(place: Place, screen: Screen) -> tuple[slice, slice]:
    x_px, y_px = place_to_px(place.x_deg, place.y_deg, screen)
    column = round(float(x_px) + screen.width_px / 2)
    row = round(screen.height_px / 2 - float(y_px))
    return (
        slice(max(0, row - MARGIN_PX), row + MARGIN_PX),
        slice(max(0, column - MARGIN_PX), column + MARGIN_PX),
    )
