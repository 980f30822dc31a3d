"""A study of simulated exams as the command asks for it: protocol, table, reference, display."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.batch import BatchGrader
from analysis.reference import Reference, limits_db, mean_db
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from protocols.field import EYES, Floats
from protocols.files import sha256_hex
from protocols.library import Protocol
from protocols.plan import nominal_limits_db
from protocols.plugins import recorded
from protocols.procedures.plugged import plug_in_of
from protocols.procedures.settings import RisingSettings
from protocols.simulate.chunks import Study
from protocols.simulate.observers import Observers, read_observers
from protocols.simulate.results import COLUMNS
from protocols.write import write_whole
from stimulus.opening import versions
from stimulus.virtual_exam import virtual_display

COUNTING = ("ripplefield", "python", "numpy", "scipy")
"""What the numbers depend on: a run goes on only with the same versions of these."""


@dataclass(frozen=True)
class Asked:
    """What a command asks for, besides where the results go."""

    observers: Path
    seed: int
    repeats: int


def make_study(protocol: Protocol, reference: Reference, asked: Asked) -> Study:
    """The study on a virtual 60 Hz display; raises InputError."""
    observers = read_observers(asked.observers, protocol.pattern)
    delivery = virtual_display(protocol).delivery
    limits, means = _reference_levels(protocol, reference, observers, asked.observers.name)
    _require_reachable(protocol, limits, delivery)
    rising = isinstance(protocol.settings.procedure, RisingSettings)
    return Study(
        protocol=protocol,
        observers=observers,
        limits_db=limits,
        means_db=means,
        delivery=delivery,
        seed=asked.seed,
        repeats=asked.repeats,
        grader=BatchGrader(reference.file.spread_db, delivery, rising),
    )


def facts_of(study: Study, reference: Reference, asked: Asked) -> dict[str, object]:
    """What makes a run what it is: the same facts, the same results."""
    return {
        "protocol": study.protocol.name,
        "protocol_sha256": study.protocol.sha256,
        "observers": asked.observers.name,
        "observers_sha256": sha256_hex(asked.observers.read_bytes()),
        "reference": reference.file.name,
        "reference_sha256": reference.sha256,
        "delivery": study.delivery,
        "seed": study.seed,
        "repeats": study.repeats,
        "versions": counting_versions([study.protocol]),
    }


def counting_versions(protocols: Iterable[Protocol]) -> dict[str, str]:
    """Versions of what the numbers depend on, plug-ins of these protocols among them."""
    found = versions()
    plugins = [plug_in_of(protocol.settings.procedure) for protocol in protocols]
    return {name: found[name] for name in COUNTING} | recorded(*plugins)


def write_about(out: Path, facts: dict[str, object], reference: Reference, command: str) -> None:
    """The results' birth certificate, beside them."""
    about = {
        "notice": RESEARCH_ONLY,
        "simulated": "No person was examined: every observer and every answer is simulated.",
        "reference_notice": reference.file.notice,
        "command": command,
        **facts,
        "columns": COLUMNS,
    }
    content = json.dumps(about, indent=2, ensure_ascii=False) + "\n"
    write_whole(out.with_name(out.name + ".about.json"), content.encode())


def _reference_levels(
    protocol: Protocol, reference: Reference, observers: Observers, source: str
) -> tuple[Floats, Floats]:
    """Limits and means in delivered dB of each observer's eye, (entries, places)."""
    shape = (len(observers), len(protocol.pattern.places))
    limits, means = np.zeros(shape), np.zeros(shape)
    for eye in EYES:
        places = protocol.pattern.for_eye(eye)
        for age in np.unique(observers.ages[observers.eyes == eye]).tolist():
            rows = (observers.eyes == eye) & (observers.ages == age)
            try:
                limits[rows] = limits_db(reference, places, age, eye)
            except InputError as error:
                if error.parameter != "age":
                    raise
                raise InputError(
                    f"{source}, age_years", age, error.allowed, error.todo
                ) from None
            means[rows] = mean_db(reference, places, age, eye)
    return limits, means


def _require_reachable(protocol: Protocol, limits: Floats, delivery: float) -> None:
    for row in np.unique(limits, axis=0):
        nominal_limits_db(_levels(row), delivery, protocol.pattern.places)


def _levels(row: Sequence[float] | Floats) -> tuple[float, ...]:
    return tuple(float(level) for level in row)
