"""Healthy people for tests: as arrays, and as whole recorded exams of few places."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from analysis.reference import load_reference
from analysis.reference_build.sample import Facts, Sample
from protocols.field import Place
from protocols.library import Protocol, load_protocol, parse_protocol
from protocols.observer import EyeModel, ObserverFile, Pressing, Seeing
from protocols.population.draw import draw_population
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

RINGS = load_protocol("bayes-19").pattern
FACTS = Facts("bayes-19", "0" * 64, "bayes", "rings19", 10, 10, True, ())
BEGAN = datetime(2030, 1, 2, 9, 0, tzinfo=timezone.utc)
TINY = """format = 1
name = "tiny"
about = "For a test."
pattern = "tiny.toml"
[procedure]
kind = "bayes"
[catch_trials]
blind_spot = 1
blank = 1
full_contrast = 1
"""
TINY_PLACES = 'format = 1\nname = "tiny"\nplaces_deg = [[9.5, 4.0], [-9.5, 4.0], [0.0, -15.0]]\n'


def codes(people: int) -> tuple[str, ...]:
    return tuple(f"H-{k:03d}" for k in range(people))


def drawn(people: int, seed: int, numbers: Sequence[int] = range(19)) -> Sample:
    """One eye each from the invented population at these places: true levels, no exam noise."""
    found = draw_population(people, seed, RINGS, {"healthy": 1.0})
    levels = np.full((people, 2, len(numbers)), np.nan)
    levels[:, 0] = found.sensitivity_db[:, list(numbers)]
    places = tuple(RINGS.places[k] for k in numbers)
    return Sample(codes(people), np.rint(found.age_years), levels, places)


def simple(people: int, seed: int, temporal_gain_db: float = 0.0) -> Sample:
    """Level 25 - 0.05 * (age - 50) + gain where temporal, SD 2 by place and eye, three places."""
    dice = np.random.default_rng(seed)
    places = (Place(12.0, 3.0), Place(-12.0, 3.0), Place(0.0, 9.0))
    ages = np.rint(dice.uniform(20, 80, people))
    mean = 25 - 0.05 * (ages - 50)
    levels = mean[:, None, None] + dice.normal(0, 2, (people, 2, 3))
    levels[:, :, 0] += temporal_gain_db
    return Sample(codes(people), ages, levels, places, (0,) * people)


def tiny_protocol() -> Protocol:
    return parse_protocol(TINY, "tiny.toml", Path(), TINY_PLACES)


def examine(
    folder: Path, code: str, seed: int, shift_db: float = 0.0, days: int = 0,
    protocol: Protocol | None = None, reference: Path | None = None, eyes=("right", "left"),
    age_years: int | None = None,
) -> Path:  # fmt: skip
    """One healthy simulated person's exam, recorded in a folder of its own."""
    dice = np.random.default_rng(seed)
    age = int(dice.integers(20, 81)) if age_years is None else age_years
    height = 27 - 0.06 * (age - 20) + float(dice.normal(0, 1.5)) + shift_db
    sides = [EyeModel(height + float(dice.normal(0, 0.7))) for _ in range(2)]
    model = ObserverFile(
        format=1, about="invented", age_years=age, right=sides[0], left=sides[1],
        seeing=Seeing(1.5, 0.01), pressing=Pressing(0.01),
    )  # fmt: skip
    sitting = Sitting(code, age, tuple(eyes), seed, True, "now", True, "test", "nobody")
    run_virtual_exam(
        folder, protocol or tiny_protocol(), load_reference(reference), sitting, model,
        BEGAN + timedelta(days=days),
    )  # fmt: skip
    return folder


def examine_many(folder: Path, people: int, seed: int, shift_db: float = 0.0) -> Path:
    """So many people's exams below one folder."""
    folder.mkdir(parents=True)
    for k in range(people):
        code = f"H-{seed % 100:02d}{k:03d}"
        examine(folder / code, code, 1000 * seed + k, shift_db, days=k)
    return folder
