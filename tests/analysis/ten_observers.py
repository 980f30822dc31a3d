"""Ten very different invented people, each with a protocol, and what is hidden in their eyes."""

from __future__ import annotations

from protocols.observer import (
    ArcLoss,
    DiscLoss,
    EyeModel,
    Fatigue,
    Fixation,
    ObserverFile,
    Pressing,
)

ABOUT = "Invented."


def _arc(from_deg: float, to_deg: float, depth_db: float, inner_deg: float = 7.0) -> ArcLoss:
    return ArcLoss(
        from_eccentricity_deg=inner_deg,
        to_eccentricity_deg=24.0,
        from_polar_deg=from_deg,
        to_polar_deg=to_deg,
        depth_db=depth_db,
    )


def _person(age_years: int, right: EyeModel, left: EyeModel | None = None) -> ObserverFile:
    return ObserverFile(
        format=1, about=ABOUT, age_years=age_years, right=right, left=left or EyeModel()
    )


LONE = DiscLoss(x_deg=8.227, y_deg=-4.75, radius_deg=3.0, depth_db=20.0)

TEN: dict[str, tuple[ObserverFile, str]] = {
    "healthy": (_person(45, EyeModel()), "bayes-19"),
    "arc-upper": (_person(62, EyeModel(losses=[_arc(60, 190, 14)])), "screen-19"),
    "arc-lower": (_person(58, EyeModel(), EyeModel(losses=[_arc(170, 300, 30)])), "staircase-19"),
    "diffuse": (_person(50, EyeModel(centre_db=19.5), EyeModel(centre_db=19.0)), "joint-19"),
    "isolated": (_person(35, EyeModel(losses=[LONE])), "decide-19"),
    "nasal-step": (_person(66, EyeModel(losses=[_arc(140, 180, 12, 15.0)])), "bayes-19"),
    "trigger-happy": (
        ObserverFile(format=1, about=ABOUT, age_years=30, pressing=Pressing(false_press_rate=0.25)),
        "screen-17",
    ),
    "wandering": (
        ObserverFile(format=1, about=ABOUT, age_years=40, fixation=Fixation(away_share=0.35)),
        "decide-19",
    ),
    "tired": (
        ObserverFile(
            format=1,
            about=ABOUT,
            age_years=70,
            fatigue=Fatigue(db_per_min=0.8, lapse_rate_per_min=0.05),
        ),
        "staircase-19",
    ),
    "very-old": (
        _person(
            88,
            EyeModel(centre_db=10.0),
            EyeModel(centre_db=16.0, losses=[_arc(180, 359, 40)]),
        ),
        "joint-19",
    ),
}
