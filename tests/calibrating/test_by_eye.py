"""Half-tone matching on the real window by somebody who sees its pixels and presses its keys."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from bench_sight import Sight
from Xlib import XK, X
from Xlib.ext import xtest

from calibration.certificate import read_certificate
from calibration.eye_gamma import METHOD, eye_gamma_part
from calibration.instruments.eye_estimate import estimate
from calibration.instruments.eye_match import Look, MatchPlan, Request
from calibration.instruments.eye_meter import EyeMeter
from calibration.instruments.simulated import SimulatedEye
from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.transfer import Transfer
from stimulus.calibrating.answers import kept_answers
from stimulus.calibrating.given import Given
from stimulus.calibrating.identity import identity_of
from stimulus.cli import run

TRUTH = SimulatedDisplay(DisplayFile(about="Invented.", gamma=[2.05, 2.2, 2.4]))
JND = 0.02
PEAK = 245.0
LEFT_TO_DO = 100
KEY_OF = {"lighter": "Up", "darker": "Down", "equal": "Return"}
AGAIN_S = 2.0
LINE = "calibrate gamma --photometer eye --peak 245 --windowed 640x480 --seed 3"
WORDS = LINE.split()


def seen_request(sight: Sight) -> Request | None:
    """The half-tone left of the middle and the patch right of it, from the pixels alone."""
    strip = sight.box(sight.width // 2 - 8, sight.height // 2 - 20, 16, 16)
    lines, solid = strip[:, 2], strip[0, 12]
    lit = [channel for channel in range(3) if solid[channel]]
    if len(lit) != 1:
        return None
    codes, channel = lines[:, lit[0]], ("red", "green", "blue")[lit[0]]
    return Request(channel, int(codes.min()), int(codes.max()), int(solid[lit[0]]))


class Person:
    """Looks at the screen and types; `decide` says what, None for a person who stops."""

    def __init__(self, decide: Callable[[Request], Look | None]) -> None:
        self.answers: list[tuple[Request, str]] = []
        self._decide, self._stop = decide, threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def end(self) -> None:
        self._stop.set()
        self._thread.join()

    def _live(self) -> None:
        sight, answered, since_s = Sight(), None, 0.0
        while not self._stop.is_set():
            time.sleep(0.004)
            shown = seen_request(sight)
            if shown is None or (shown == answered and time.monotonic() - since_s < AGAIN_S):
                continue
            time.sleep(0.02)
            look = self._decide(shown)
            self._type(sight, "Escape" if look is None else KEY_OF[look])
            self.answers.append((shown, look or "stop"))
            answered, since_s = shown, time.monotonic()

    def _type(self, sight: Sight, name: str) -> None:
        code = sight.display.keysym_to_keycode(XK.string_to_keysym(name))
        for kind in (X.KeyPress, X.KeyRelease):
            xtest.fake_input(sight.display, kind, code)
            sight.display.sync()
            time.sleep(0.003)


@contextmanager
def somebody(decide: Callable[[Request], Look | None]) -> Iterator[Person]:
    person = Person(decide)
    try:
        yield person
    finally:
        person.end()


def first_answers(out: Path, plan: MatchPlan, leave: int) -> list[Look]:
    """All but the last answers of a simulated eye, put where a stopped matching leaves them."""
    looks = list(EyeMeter().matched(plan, SimulatedEye(TRUTH, JND, 4).compare).answers)
    given = Given(out, windowed=(640, 480))
    with kept_answers(given.beside("answers"), identity_of(given, (640, 480)), plan) as answers:
        for look in looks[:-leave]:
            answers.append(look)
    return looks[:-leave]


def test_a_stopped_matching_goes_on_and_gives_the_displays_exponents(
    display, tmp_path, capsys
):
    """Stop after a few, go on to the end; exponents within the uncertainty that is stated."""
    out = tmp_path / "cert.json"
    words = [*WORDS, "--out", str(out)]
    kept = len(first_answers(out, MatchPlan(seed=3), LEFT_TO_DO))
    eye, typed = SimulatedEye(TRUTH, JND, 9), []

    def stops_after_four(shown: Request) -> Look | None:
        typed.append(shown)
        return eye.compare(shown) if len(typed) < 5 else None

    with somebody(stops_after_four):
        assert run(words) == 130
    path = f"{out}.answers.jsonl"
    assert re.search(
        rf"error: Stopped by the operator. {kept + 4} answers are kept in {re.escape(path)}: "
        "the same command goes on.",
        capsys.readouterr().err,
    )
    assert not out.exists()
    with somebody(eye.compare) as person:
        assert run(words) == 0, capsys.readouterr().err
    assert len(person.answers) >= 5
    assert not Path(path).exists()
    check_part(out)


def check_part(out: Path) -> None:
    found = read_certificate(out)
    part = found.gamma
    assert part is not None
    assert part.method == METHOD == "by eye, half-tone matching; cd/m2 from an entered peak"
    assert [one.kind for one in found.instruments] == ["eye"]
    assert part.peak_cd_m2.value == pytest.approx(PEAK, rel=0.002)
    assert part.peak_cd_m2.expanded == pytest.approx(0.2 * PEAK, rel=0.01)
    for fit, gamma in zip(part.fits, TRUTH.file.gamma, strict=True):
        value, error = fit.parameters["gamma"], fit.standard_errors["gamma"]
        print(f"{fit.channel}: exponent {value:.3f} ± {2 * error:.3f}, truth {gamma}")
        assert abs(value - gamma) < 2 * error
        assert error < 0.1


def test_what_is_seen_on_the_window_is_what_was_asked_for(display, tmp_path):
    """The person's view, from pixels alone, is the machine's own sequence of requests."""
    plan, out = MatchPlan(seed=3), tmp_path / "cert.json"
    looks = first_answers(out, plan, 6)
    wanted: list[Request] = []
    eye = SimulatedEye(TRUTH, JND, 4)

    def last_ones(shown: Request) -> Look:
        look = eye.compare(shown)
        wanted.append(shown)
        return look

    with somebody(last_ones) as person:
        assert run([*WORDS, "--out", str(out)]) == 0
    replay = iter([*looks, *(look for _, look in person.answers)])
    shown: list[Request] = []
    EyeMeter().matched(plan, lambda one: (shown.append(one), next(replay))[1])  # type: ignore[arg-type,return-value]
    assert [request for request, _ in person.answers] == shown[len(looks) :]
    assert {request.channel for request in wanted} == {"blue"}


@pytest.mark.parametrize("offset", [0.0, -0.055])
def test_stated_uncertainty_covers_the_delivered_contrast(offset):
    """Twenty simulated eyes on power curves and on sRGB-like ones (IEC 61966-2-1: 2.4, -0.055)."""
    gammas = [2.1, 2.2, 2.35] if offset == 0 else [2.4] * 3
    truth = SimulatedDisplay(DisplayFile(about="Invented.", gamma=gammas, code_offset=[offset] * 3))
    from calibration.gamma import light_of
    from calibration.luminance.contrast import contrast_standard

    errors, within = [], 0
    for seed in range(20):
        done = EyeMeter().matched(MatchPlan(seed=seed), SimulatedEye(truth, JND, seed).compare)
        part = eye_gamma_part(estimate(done), PEAK)
        drawn = Transfer(np.array(part.relative_table), "by eye")
        ends = [
            float(truth.cd_m2(drawn.to_codes(drawn.mean_luminance * (1 + sign * 0.01))))
            for sign in (1, -1)
        ]
        error = (ends[0] - ends[1]) / (ends[0] + ends[1]) / 0.01 - 1
        within += abs(error) < 2 * contrast_standard(light_of(part), 0.01)
        errors.append(error)
    print(f"offset {offset}: error {100 * np.mean(errors):+.2f} ± {100 * np.std(errors):.2f} %")
    assert within >= 18
    assert np.max(np.abs(errors)) < 0.03
