"""Each measurement as a step: a bench and a certificate in, the certificate with its part out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi, radians, tan
from pathlib import Path

from msgspec.structs import replace

from calibration.angles import geometry_part
from calibration.certificate import (
    Certificate,
    FlashPart,
    GammaPart,
    GeometryPart,
    Instrument,
    ReadingLine,
    TimingPart,
)
from calibration.contrast_range import PatchLight, range_part
from calibration.frames import timing_part
from calibration.gamma import gamma_part
from calibration.instruments.interface import Photometer, Target
from calibration.instruments.measure import MeasuringPlan, measure
from calibration.latency import latency_part
from calibration.luminance.plan import reading_plan
from calibration.response import flicker_part
from calibration.uniformity import contrast_map, uniformity_part
from protocols.errors import InputError
from protocols.grating import frame_plan
from protocols.protocol import Stimulus
from protocols.safety import assess, grating_flash
from stimulus.calibrating.bench import Bench, Progress

FIELD_RADIUS_DEG = 23.5
FLIPS, LOADED_FLIPS = 3000, 600
PAIRS = 200
CONTRASTS = (0.005, 0.01, 0.05, 0.1, 0.5, 1.0)
GRID = (3, 5)


@dataclass(frozen=True)
class Wish:
    """How to measure: stimulus that is meant, seed of the order, log of the readings."""

    stimulus: Stimulus
    seed: int
    readings_log: Path


Step = Callable[[Bench, Certificate, Wish, Progress], Certificate]


def geometry(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Lit size, distance, and what their doubt does to visual angle."""
    progress("geometry", 0, 1)
    found = bench.size()
    part = geometry_part(
        (found.lit.width_cm, found.lit.height_cm),
        found.distance_cm,
        (found.lit.method, found.distance_method),
        FIELD_RADIUS_DEG,
    )
    return replace(so_far, geometry=part)


def gamma(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Luminance by code, with a photometer or by eye; a lost meter loses no reading.

    Raises InputError, which says how to go on.
    """
    matched = bench.by_eye(progress)
    if matched is not None:
        return _with(replace(so_far, gamma=matched[0]), matched[1])
    meter = bench.photometer()
    lines = _readings(bench, meter, wish, progress)
    method, doubt = f"photometer, {len(lines)} readings", meter.identity.relative_uncertainty
    try:
        part = gamma_part(lines, method, doubt, bench.bits)
    except InputError as error:
        todo = f"{error.todo} To measure anew, remove {wish.readings_log} first."
        raise InputError(error.parameter, error.given, error.allowed, todo) from error
    return _with(replace(so_far, gamma=part), meter.identity)


def _readings(
    bench: Bench, meter: Photometer, wish: Wish, progress: Progress
) -> list[ReadingLine]:
    targets = tuple(
        Target(step.channel, step.code)  # type: ignore[arg-type]
        for step in reading_plan(wish.seed, bench.bits, bench.passes)
    )
    return measure(
        MeasuringPlan(bench.identity, targets, 1, bench.settle_s),
        bench.show,
        meter,
        wish.readings_log,
        lambda done, of, target: progress(f"gamma, {target}", done, of),
    )


def timing(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Frame intervals at rest and under load."""
    progress("timing at rest", 0, 2)
    plain = bench.flips_s(FLIPS, under_load=False)
    progress("timing under load", 1, 2)
    loaded = bench.flips_s(LOADED_FLIPS, under_load=True)
    return replace(so_far, timing=timing_part(plain, loaded, bench.display_locked))


def flicker(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Panel response from a photodiode trace; needs the refresh."""
    progress("flicker", 0, 1)
    refresh_hz = _timing(so_far, "flicker").refresh_hz.value
    trace, diode = bench.steps_trace()
    part = flicker_part(trace, CONTRASTS, wish.stimulus.flicker_hz, refresh_hz)
    return _with(replace(so_far, flicker=part), diode)


def latency(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Delays of light and of presses by a loop-back rig."""
    progress("latency", 0, 1)
    found, rig = bench.delays(PAIRS)
    part = latency_part(found.flips_s, found.photons_s, found.contacts_s, found.stamps_s)
    return _with(replace(so_far, latency=part), rig)


def uniformity(bench: Bench, so_far: Certificate, wish: Wish, progress: Progress) -> Certificate:
    """Warm-up where it is watched, then luminance over the screen; needs the geometry."""
    size = _geometry(so_far, "uniformity")
    rows, columns = GRID
    warm_up = bench.warm_up(progress)
    grids = bench.grids(rows, columns, progress)
    spacing_cm = (size.width_cm.value / (columns + 1), size.height_cm.value / (rows + 1))
    patch_cm = 2 * size.distance_cm.value * tan(radians(wish.stimulus.outer_radius_deg))
    ends = grids.full_and_none_cd_m2
    contrast = contrast_map(*ends) if ends else None
    part = uniformity_part(grids.grey_cd_m2, spacing_cm, patch_cm, warm_up, contrast)
    return replace(so_far, uniformity=part)


def concluded(so_far: Certificate, wish: Wish) -> Certificate:
    """What follows from the parts that are there: contrast range and flash facts."""
    if so_far.gamma is None or so_far.geometry is None:
        return so_far
    refresh_hz = so_far.timing.refresh_hz.value if so_far.timing else 60.0
    return replace(
        so_far,
        contrast_range=range_part(
            so_far.gamma, _patch_light(so_far, so_far.geometry, wish.stimulus, refresh_hz)
        ),
        flash=_flash(so_far.gamma, so_far.geometry, wish.stimulus, refresh_hz),
    )


STEPS: dict[str, Step] = {
    "geometry": geometry,
    "gamma": gamma,
    "timing": timing,
    "flicker": flicker,
    "latency": latency,
    "uniformity": uniformity,
}


def _patch_light(
    so_far: Certificate, size: GeometryPart, stimulus: Stimulus, refresh_hz: float
) -> PatchLight:
    patch_cm = 2 * size.distance_cm.value * tan(radians(stimulus.outer_radius_deg))
    plan = frame_plan(stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, refresh_hz)
    return PatchLight(
        patch_cm / (size.width_cm.value / so_far.identity.width_px),
        stimulus.full_radius_deg,
        stimulus.outer_radius_deg,
        plan.factors,
    )


def _flash(
    light: GammaPart, size: GeometryPart, stimulus: Stimulus, refresh_hz: float
) -> FlashPart:
    radius_cm = size.distance_cm.value * tan(radians(stimulus.outer_radius_deg))
    share = pi * radius_cm**2 / (size.width_cm.value * size.height_cm.value)
    plan = frame_plan(stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, refresh_hz)
    mean = light.mean_cd_m2.value
    facts = grating_flash(
        1.0,
        stimulus.outer_radius_deg,
        plan.flicker_hz,
        share,
        mean / light.peak_cd_m2.value,
        mean,
    )
    verdict = assess(facts)
    return FlashPart(
        patch_radius_deg=stimulus.outer_radius_deg,
        area_sr=facts.area_sr,
        rate_hz=facts.rate_hz,
        swing_cd_m2=2 * mean,
        over_wcag=verdict.over_wcag,
        over_bt1702=verdict.over_bt1702,
    )


def _with(certificate: Certificate, instrument: Instrument) -> Certificate:
    """The certificate with an instrument in its list, each kind once."""
    others = [one for one in certificate.instruments if one.kind != instrument.kind]
    return replace(certificate, instruments=[*others, instrument])


def _timing(certificate: Certificate, step: str) -> TimingPart:
    if certificate.timing is None:
        raise _before(step, "timing")
    return certificate.timing


def _geometry(certificate: Certificate, step: str) -> GeometryPart:
    if certificate.geometry is None:
        raise _before(step, "geometry")
    return certificate.geometry


def _before(step: str, first: str) -> InputError:
    return InputError(
        f"calibrate {step}",
        f"a certificate without {first}",
        f"one with {first}",
        f"Measure it first: ripplefield calibrate {first}",
    )
