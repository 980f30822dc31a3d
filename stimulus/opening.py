"""The first lines of a record: who, what, on which display, under which caution."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import metadata

from analysis.reference import Reference, limits_db
from protocols import RESEARCH_ONLY, __version__
from protocols.events import ButtonFacts, Caution, Display, Opened, PracticeLine
from protocols.field import Eye
from protocols.grating import frame_plan
from protocols.library import Protocol
from protocols.light import Light
from protocols.plan import ExamPlan, nominal_limits_db
from protocols.safety import assess, grating_flash

QUESTION = (
    "Have you ever had a seizure, or been told that you are sensitive to flickering light? "
    "If yes or unsure, do not take part."
)


@dataclass(frozen=True)
class Sitting:
    """Who sits down, and how: code, age, eyes, seed, start, language of the window."""

    participant: str
    age_years: int
    eyes: tuple[Eye, ...]
    seed: int
    skip_practice: bool
    start: str
    simulated: bool
    command: str
    confirmed_by: str
    language: str = "en"


def make_plan(
    protocol: Protocol,
    reference: Reference,
    sitting: Sitting,
    delivery: float,
    latency_s: float = 0.0,
) -> ExamPlan:
    """The plan with the reference's limits turned into what this display must be asked for."""
    limits: dict[Eye, tuple[float, ...]] = {}
    for eye, reference_db in reference_limits(protocol, reference, sitting).items():
        places = protocol.pattern.for_eye(eye)
        limits[eye] = nominal_limits_db(tuple(reference_db), delivery, places)
    return ExamPlan(
        protocol, sitting.eyes, limits, sitting.seed, sitting.skip_practice, latency_s
    )


def reference_limits(
    protocol: Protocol, reference: Reference, sitting: Sitting
) -> Mapping[Eye, Sequence[float]]:
    """Delivered contrast dB that 99 % of people of this age see, per eye and place."""
    return {
        eye: [
            float(v)
            for v in limits_db(reference, protocol.pattern.for_eye(eye), sitting.age_years, eye)
        ]
        for eye in sitting.eyes
    }


def opened_line(
    plan: ExamPlan,
    reference: Reference,
    sitting: Sitting,
    delivery: float,
    button: ButtonFacts,
) -> Opened:
    """The journal's first line."""
    return Opened(
        format=1,
        notice=RESEARCH_ONLY,
        participant=sitting.participant,
        age_years=sitting.age_years,
        eyes=list(sitting.eyes),
        protocol=plan.protocol.name,
        protocol_sha256=plan.protocol.sha256,
        seed=sitting.seed,
        skip_practice=sitting.skip_practice,
        start=sitting.start,
        delivery=delivery,
        limits_db={eye: list(plan.limits_db[eye]) for eye in sitting.eyes},
        reference_limits_db={
            eye: list(v) for eye, v in reference_limits(plan.protocol, reference, sitting).items()
        },
        reference=reference.facts,
        button=button,
        simulated=sitting.simulated,
        versions=versions(),
        command=sitting.command,
        latency_s=plan.latency_s,
        practice_required=plan.practice_required,
        language=sitting.language,
    )


def waiver_lines(sitting: Sitting) -> tuple[PracticeLine, ...]:
    """Practice left out from the start is a waiver of whoever began the session."""
    if not sitting.skip_practice:
        return ()
    return (PracticeLine(sitting.eyes[0], "waived", sitting.confirmed_by),)


def caution_line(plan: ExamPlan, sitting: Sitting, display: Display, light: Light) -> Caution:
    """The photosensitivity question with what full contrast is against flash guidance."""
    stimulus = plan.protocol.settings.stimulus
    timing = frame_plan(
        stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, display.refresh_hz
    )
    verdict = assess(
        grating_flash(
            1.0,
            stimulus.outer_radius_deg,
            timing.flicker_hz,
            light.screen_share,
            light.mean_relative,
            light.mean_cd_m2,
        )
    )
    return Caution(
        question=QUESTION,
        confirmed_by=sitting.confirmed_by,
        over_wcag_at_full_contrast=verdict.over_wcag,
        over_bt1702_at_full_contrast=verdict.over_bt1702,
        override_reason=plan.protocol.settings.safety.override_reason,
    )


def versions() -> dict[str, str]:
    """Versions of what makes the light and the numbers."""
    system = f"{platform.system()} {platform.release()}"
    found = {"ripplefield": __version__, "python": platform.python_version(), "system": system}
    for name in ("psychopy", "numpy", "scipy"):
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "not installed"
    return found
