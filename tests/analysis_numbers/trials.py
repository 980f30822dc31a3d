"""Trials for tests, made from the few facts that matter."""

from __future__ import annotations

from analysis.load import Trial
from protocols.events import AnsweredLine, Presented


def trial(
    verdict: str | None = "seen", role="place", level_db=20.0, practice=False, spoiled=False,
    presses_s=None, index=0, response_time_s=0.4,
) -> Trial:  # fmt: skip
    """One presentation with its answer; a verdict of None is one that was cut short."""
    contrast = 0.0 if role == "blank" else 10 ** (-level_db / 20)
    shown = Presented(
        index=index, eye="right", role=role, practice=practice, place_number=0, x_deg=0.0,
        y_deg=0.0, phase_deg=0.0, level_db=level_db, contrast_nominal=contrast,
        contrast_delivered=contrast, onset_s=float(index), frames_wanted=36, frames_shown=36,
        frames_late=0, spoiled=spoiled, flicker_hz=20.0, area_sr=0.0117, swing_relative=contrast,
        swing_cd_m2=None, over_wcag=False, over_bt1702=False,
    )  # fmt: skip
    if verdict is None:
        return Trial(shown, None)
    time_s = None if verdict == "not_seen" else response_time_s
    presses = ([] if time_s is None else [time_s]) if presses_s is None else presses_s
    answer = AnsweredLine(
        index=index, verdict=verdict, press_s=time_s, response_time_s=time_s,
        presses_s=presses, spoiled=spoiled,
    )  # fmt: skip
    return Trial(shown, answer)
