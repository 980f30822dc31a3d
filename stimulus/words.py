"""What the window says to the participant (own words)."""

from __future__ import annotations

from protocols.field import Eye

OTHER: dict[Eye, Eye] = {"right": "left", "left": "right"}


def before_session() -> list[str]:
    """The photosensitivity caution, once before the first eye."""
    return [
        "Before we begin",
        "Small patches on this screen will flicker.",
        "Have you ever had a seizure?",
        "Are you sensitive to flickering light?",
        "If yes, or if you are unsure, say so now and do not take part.",
        "If you feel unwell at any time, close your eyes and tell us.",
        "If no, press the button.",
    ]


def before_eye(eye: Eye, practice: bool) -> list[str]:
    """Instructions before an eye."""
    first = "First a short practice." if practice else "It takes less than a minute or two."
    return [
        f"Now your {eye} eye",
        f"Glasses on. Cover the {OTHER[eye]} eye.",
        "Keep looking at the mark in the middle.",
        "Press when you notice a flicker anywhere.",
        "It is fine to miss many of them.",
        first,
        "Press the button to begin.",
    ]


def again(eye: Eye) -> list[str]:
    """The task once more, in the middle of an eye."""
    return [
        "Once more, how it goes",
        f"Glasses on. Cover the {OTHER[eye]} eye.",
        "Keep looking at the mark in the middle.",
        "Press when you notice a flicker anywhere.",
        "It is fine to miss many of them.",
        "Press the button to go on.",
    ]


def while_resting(eye: Eye) -> list[str]:
    """Between the eyes."""
    return ["Well done. Rest your eyes.", f"The {eye} eye comes next.", "Please wait a moment."]


def while_held(reason: str) -> list[str]:
    """The exam pauses."""
    return ["A short pause", "You may look around.", f"For the operator: {reason.rstrip('.')}."]


def finished() -> list[str]:
    """The end."""
    return ["Thank you, that was all.", "You may take your head away from the screen."]


def stopped(reason: str, folder: object) -> str:
    """For the operator, at the end of an exam that was not finished."""
    return f"stopped: {reason}. Go on with: ripplefield run --resume {folder}"
