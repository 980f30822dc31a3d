"""A protocol in words, with the times and counts it implies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.library import Protocol
from protocols.procedures.settings import ProcedureSettings, RisingSettings
from protocols.procedures.words import rule_in_words
from protocols.protocol import CatchTrials


@dataclass(frozen=True)
class Implied:
    """Presentations of one eye and seconds of test time: the least and the most there can be.

    With the rising procedure these are an eye that sees everything and one that sees nothing.
    """

    fewest: int
    most: int
    shortest_s: float
    longest_s: float


def implied(protocol: Protocol) -> Implied:
    """Counts and times from a flawless eye to one that needs every answer allowed."""
    settings = protocol.settings
    catch = settings.catch_trials
    places = len(protocol.pattern.places)
    checks = catch.blind_spot + catch.blank + catch.full_contrast
    least_each, most_each = settings.procedure.answers_per_place
    fewest = places * least_each + checks
    most = places * most_each + catch.blind_spot + catch.blank
    if not isinstance(settings.procedure, RisingSettings):
        most += catch.full_contrast
    unseen = settings.answering.accept_until_s
    quiet = mean_foreperiod_s(protocol)
    silent = catch.blind_spot + catch.blank
    shortest = (fewest - silent) * settings.stimulus.duration_s + silent * unseen + fewest * quiet
    return Implied(fewest, most, shortest, most * (unseen + quiet))


def mean_foreperiod_s(protocol: Protocol) -> float:
    """Mean of the bounded exponential the foreperiods are drawn from, seconds."""
    quiet = protocol.settings.foreperiod
    span = (quiet.max_s - quiet.min_s) / quiet.decay_s
    return float(quiet.min_s + quiet.decay_s * (1 - span / np.expm1(span)))


def in_words(protocol: Protocol) -> str:
    """Several lines of plain text."""
    s, counts = protocol.settings, implied(protocol)
    bars = {90.0: "vertical", 0.0: "horizontal"}.get(
        s.stimulus.orientation_deg, f"{s.stimulus.orientation_deg:g} degree"
    )
    reach = max(place.eccentricity_deg for place in protocol.pattern.places)
    lines = [
        f"{protocol.name}: {s.about}",
        f"  Where      {len(protocol.pattern.places)} places ({protocol.pattern.name}), out to "
        f"{reach + s.stimulus.outer_radius_deg:g} degrees with the patch's edge",
        f"  What       a {2 * s.stimulus.outer_radius_deg:g} degree patch of {bars} bars, "
        f"{s.stimulus.spatial_frequency_cpd:g} cycles per degree, reversing at about "
        f"{s.stimulus.flicker_hz:g} Hz, on for {s.stimulus.duration_s:g} s",
        f"  Answer     a press counts from {s.answering.accept_from_s * 1000:g} ms to "
        f"{s.answering.accept_until_s:g} s after onset",
        f"  Pace       {s.foreperiod.min_s:g} to {s.foreperiod.max_s:g} s of quiet before each "
        f"onset, {mean_foreperiod_s(protocol):.2f} s on average",
        f"  Rule       {rule_in_words(s.procedure)}",
        f"  Checks     {_checks_in_words(s.catch_trials)}",
        f"  Practice   {s.practice.presentations} presentations, {s.practice.needed} to be seen",
        f"  Eyes       {s.eyes.first} first, {s.eyes.rest_s:g} s rest between",
        f"  An eye     {_length_in_words(s.procedure, counts)}",
        f"  Caution    {s.safety.override_reason or 'within the flash guidance, no override'}",
    ]
    return "\n".join(lines)


def _checks_in_words(catch: CatchTrials) -> str:
    early = f", {catch.blind_spot_early} of them early" if catch.blind_spot_early else ""
    return (
        f"at least {catch.blind_spot} small targets on the blind spot{early}, "
        f"{catch.blank} blanks, {catch.full_contrast} at full contrast"
    )


def _length_in_words(procedure: ProcedureSettings, counts: Implied) -> str:
    fewest = f"{counts.fewest} presentations and about {counts.shortest_s:.0f} s"
    most = f"at most {counts.most} and about {counts.longest_s:.0f} s"
    if isinstance(procedure, RisingSettings):
        return f"{fewest} if all is seen; {most} if nothing is"
    return f"at least {fewest}; {most}"
