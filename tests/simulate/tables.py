"""Tables of invented observers and small studies on them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analysis.reference import load_reference
from protocols.library import load_protocol
from protocols.simulate.chunks import Study
from stimulus.simulation import Asked, facts_of, make_study

HEADER = "observer,age_years,eye,x_deg,y_deg,sensitivity_db"


def rows_of(protocol: str, observers: int, eyes=("right", "left"), seed: int = 1) -> list[str]:
    """Lines of a table without its header: healthy places and some lost ones."""
    dice, pattern = np.random.default_rng(seed), load_protocol(protocol).pattern
    lines = []
    for number in range(observers):
        age = int(dice.integers(20, 80))
        for eye in eyes:
            for place in pattern.for_eye(eye):
                loss = dice.uniform(0, 30) if dice.random() < 0.2 else 0.0
                truth = 24 - 0.1 * place.eccentricity_deg + dice.normal(0, 2) - loss
                where = f"{place.x_deg:.3f},{place.y_deg:.3f}"
                lines.append(f"O-{number:03},{age},{eye},{where},{truth:.3f}")
    return lines


def write_table(path: Path, lines: list[str], header: str = HEADER) -> Path:
    path.write_text("\n".join([header, *lines]) + "\n")
    return path


def study_of(
    path: Path, protocol: str, repeats: int = 1, seed: int = 5
) -> tuple[Study, dict[str, object]]:
    """The study the command would make of a table, with the facts that tell runs apart."""
    reference, asked = load_reference(), Asked(path, seed, repeats)
    study = make_study(load_protocol(protocol), reference, asked)
    return study, facts_of(study, reference, asked)
