"""Matching by eye: the sequence, what it finds on known displays, and how sure it says it is."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.instruments.eye_estimate import (
    channel_estimate,
    estimate,
    few_settings_factor,
    reading_lines,
)
from calibration.instruments.eye_match import (
    Look,
    Match,
    MatchPlan,
    Request,
    answered,
    begin,
    half_tone,
    replayed,
    request,
)
from calibration.instruments.eye_meter import EyeMeter
from calibration.instruments.simulated import SimulatedEye
from calibration.simulated import DisplayFile, SimulatedDisplay
from calibration.transfer import srgb_nominal
from protocols.errors import InputError, OrderError

ONE = MatchPlan(channels=("green",), depth=1)
FURTHER = "Sit further away so that the pattern melts together, and begin this matching again."


def display(gamma: float = 2.2, **changes: object) -> SimulatedDisplay:
    return SimulatedDisplay(DisplayFile(about="Invented.", gamma=[gamma] * 3, **changes))


def exact(shown_display: SimulatedDisplay):
    """An observer without noise."""

    def compare(shown: Request) -> Look:
        channel = ("red", "green", "blue").index(shown.channel)
        low, high, solid = shown_display.channel_cd_m2(
            channel, [shown.low, shown.high, shown.solid]
        )
        return "lighter" if solid > (low + high) / 2 else "darker"

    return compare


@pytest.mark.parametrize("layout", ["lines", "squares"])
@pytest.mark.parametrize("shape", [(2, 3), (64, 64), (10, 7)])
def test_a_half_tone_gives_half_the_sum_of_both_lights(layout, shape):
    codes = half_tone(40, 255, shape, layout)
    light = display().channel_cd_m2(1, codes)
    low, high = display().channel_cd_m2(1, [40, 255])
    assert light.mean() == pytest.approx((low + high) / 2, rel=1e-12)


def test_squares_alternate_both_ways_and_lines_one_way():
    assert half_tone(0, 1, (2, 4), "squares").tolist() == [[0, 1, 0, 1], [1, 0, 1, 0]]
    assert half_tone(0, 1, (4, 2), "lines").tolist() == [[0, 0], [1, 1], [0, 0], [1, 1]]


def test_the_half_of_srgb():
    """IEC 61966-2-1: relative luminance 0.5 is code 187.52 of 255 by its formula."""
    srgb = srgb_nominal().luminance[1]

    def compare(shown: Request) -> Look:
        half = (srgb[shown.low] + srgb[shown.high]) / 2
        return "lighter" if srgb[shown.solid] > half else "darker"

    match = EyeMeter().matched(ONE, compare).done[0]
    assert match.mean_code == pytest.approx(255 * (1.055 * 0.5 ** (1 / 2.4) - 0.055), abs=0.5)


def test_halves_then_quarters_then_eighths():
    """Each match's half-tone is made of codes that were matched before it."""
    state = EyeMeter().matched(MatchPlan(("red",), depth=3), exact(display()))
    half, quarter, three = (match.solid for match in state.done[:3])
    shown = [(match.low, match.high) for match in state.done]
    assert shown[:3] == [(0, 255), (0, half), (half, 255)]
    assert shown[3:] == [(0, quarter), (quarter, half), (half, three), (three, 255)]


@pytest.mark.parametrize("gamma", [1.6, 2.2, 2.8])
def test_without_noise_the_points_lie_on_the_displays_curve(gamma):
    """Two routes: halving by matches, and the power of the code. Half a code is the grain."""
    state = EyeMeter().matched(MatchPlan(("blue",), depth=3), exact(display(gamma)))
    found = estimate(state)[0]
    assert found.gamma.value == pytest.approx(gamma, rel=0.01)
    for point in found.points:
        grain = gamma * (point.code / 255) ** (gamma - 1) / 255
        assert abs(point.relative - (point.code / 255) ** gamma) <= 1.5 * grain
    assert [p.relative for p in found.points] == pytest.approx(np.arange(9) / 8, abs=0.01)


def test_stray_light_and_peak_do_not_matter():
    plain = EyeMeter().matched(ONE, exact(display()))
    lit = display(black_cd_m2=[5.0] * 3, peak_cd_m2=[900.0] * 3)
    assert EyeMeter().matched(ONE, exact(lit)).answers == plain.answers


def test_settings_begin_above_and_below_in_turn():
    starts: list[int] = []
    state = begin(MatchPlan(("red",), depth=1, settings=6))
    while (shown := request(state)) is not None:
        starts.append(shown.solid)
        state = answered(state, "equal")
    assert [start > 186 for start in starts] == [True, False] * 3
    assert len(set(starts)) == 6


def test_each_turn_halves_the_step():
    state = begin(ONE)
    code = request(state).solid
    shown = []
    for look in ("lighter", "lighter", "darker", "lighter", "darker", "lighter"):
        state = answered(state, look)
        shown.append(request(state).solid)
    steps = np.diff([code, *shown])
    assert steps.tolist()[:2] == [-20, -20]
    assert [abs(s) for s in steps.tolist()[2:]] == [10, 5, 2, 1]
    before = state
    state = answered(state, "darker")
    assert state.set_codes == (request(before).solid + 0.5,)


@pytest.mark.parametrize(("jnd", "depth"), [(0.02, 2), (0.05, 2), (0.03, 1)])
def test_gamma_is_found_and_its_uncertainty_is_honest(jnd, depth):
    """40 displays of known gamma, 1.6 to 2.8, three channels each; seeds 0 to 39.

    Twice the stated uncertainty must hold the truth in at least 90 %, and not be idle: the errors'
    SD is over half of what is stated.
    """
    misses, sizes = [], []
    for seed in range(40):
        gammas = [float(g) for g in np.random.default_rng(seed).uniform(1.6, 2.8, 3)]
        eye = SimulatedEye(SimulatedDisplay(DisplayFile(about="x", gamma=gammas)), jnd, seed)
        state = EyeMeter().matched(MatchPlan(depth=depth, seed=seed), eye.compare)
        for found, gamma in zip(estimate(state), gammas, strict=True):
            misses.append((found.gamma.value - gamma) / found.gamma.expanded)
            sizes.append(found.gamma.value / gamma - 1)
    print(f"jnd {jnd}, depth {depth}: gamma within {np.std(sizes):.2%} (SD), "
          f"{np.mean(np.abs(misses) < 1):.1%} covered")  # fmt: skip
    assert np.mean(np.abs(misses) < 1) >= 0.9
    assert np.std(misses) > 0.25
    assert abs(np.mean(sizes)) < 3 * np.std(sizes) / np.sqrt(len(sizes))


def test_points_are_as_sure_as_they_say():
    """Relative luminance of matched codes against the true power, 25 displays, seeds 0 to 24."""
    inside = []
    for seed in range(25):
        eye = SimulatedEye(display(2.0), 0.03, seed)
        state = EyeMeter().matched(MatchPlan(("green",), depth=3, seed=seed), eye.compare)
        for point in estimate(state)[0].points[1:-1]:
            truth = (point.code / 255) ** 2.0
            inside.append(abs(point.relative - truth) < 2 * point.relative_u)
    assert np.mean(inside) >= 0.9


def test_uncertainty_is_carried_from_the_half_to_its_quarter():
    """A quarter is half of what was taken for the half, plus its own setting's error."""
    spread = (0.95, 0.97, 1.03, 1.05)
    half, quarter, three = 186.0, 136.0, 224.0
    matches = [
        Match("red", low, high, tuple(code * share for share in spread))
        for low, high, code in ((0, 255, half), (0, 186, quarter), (186, 255, three))
    ]
    found = channel_estimate(matches, 255)
    u = {point.code: point.relative_u for point in found.points}
    own = u[186] / 0.5  # relative: settings spread by the same share of the code, so of the light
    assert u[136] == pytest.approx(np.hypot(0.25 * own, u[186] / 2), rel=1e-6)
    assert u[224] == pytest.approx(np.hypot(0.75 * own, u[186] / 2), rel=1e-6)
    assert (u[0], u[255]) == (0.0, 0.0)


def test_settings_that_all_agree_are_no_surer_than_a_whole_code():
    """Without noise every setting is the same half code; the grain must still be stated."""
    misses = []
    for gamma in np.linspace(1.6, 2.8, 60):
        state = EyeMeter().matched(MatchPlan(("red",), depth=2), exact(display(float(gamma))))
        found = estimate(state)[0].gamma
        misses.append(abs(found.value - gamma) / found.expanded)
    assert np.mean(np.array(misses) < 1) >= 0.95


def test_another_curve_than_a_power_shows_and_widens_the_uncertainty():
    plain = SimulatedEye(display(2.2), 0.01, 3)
    shifted = SimulatedEye(display(2.2, code_offset=[0.15] * 3), 0.01, 3)
    plan = MatchPlan(("green",), depth=2, settings=6)
    power, other = (
        estimate(EyeMeter().matched(plan, eye.compare))[0] for eye in (plain, shifted)
    )
    assert power.inconsistency < 2
    assert other.inconsistency > 3
    assert other.gamma.type_a > 2 * power.gamma.type_a


def test_widening_for_few_settings_is_that_of_the_gum():
    """JCGM 100:2008, Table G.2, column 95.45 %: t = 13.97, 3.31, 2.65, 2.28, 2.13."""
    t = [2 * few_settings_factor(n) for n in (1, 3, 5, 10, 20)]
    assert t == pytest.approx([13.97, 3.31, 2.65, 2.28, 2.13], abs=0.006)


def test_readings_scaled_to_a_peak():
    found = channel_estimate([Match("red", 0, 255, (185.0, 187.0))], 255)
    lines = reading_lines(found, {"red": 50.0})
    assert [(line.channel, line.code) for line in lines] == [("red", 0), ("red", 186), ("red", 255)]
    assert [line.cd_m2 for line in lines] == pytest.approx([0.0, 25.0, 50.0])


def test_answers_alone_rebuild_a_state_and_the_meter_goes_on_from_them():
    plan = MatchPlan(("red", "blue"), depth=1, seed=4)
    whole = EyeMeter().matched(plan, SimulatedEye(display(), 0.02, 1).compare)
    assert replayed(plan, whole.answers) == whole
    half = whole.answers[: len(whole.answers) // 2]
    rest = iter(whole.answers[len(half) :])
    seen: list[tuple[int, int]] = []
    again = EyeMeter().matched(
        plan, lambda shown: next(rest), half, lambda done, of, shown: seen.append((done, of))
    )
    assert again == whole
    assert len(seen) == len(whole.answers) - len(half)
    assert seen[-1] == (1, 2)


def test_the_eye_records_what_it_was_asked():
    eye = SimulatedEye(display(), 0.02, 1)
    state = EyeMeter().matched(ONE, eye.compare)
    assert [look for _, look in eye.asked] == list(state.answers)
    assert all(shown.channel == "green" for shown, _ in eye.asked)
    assert eye.identity.simulated
    assert EyeMeter().identity.kind == "eye"


def test_ten_bits():
    plan = MatchPlan(("green",), depth=2, bits=10)
    found = estimate(EyeMeter().matched(plan, exact(display(bits=10))))[0]
    assert found.gamma.value == pytest.approx(2.2, rel=0.003)
    assert found.points[-1].code == 1023


def refused(action) -> str:
    with pytest.raises(InputError) as caught:
        action()
    return str(caught.value)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"depth": 4}, "depth: got 4; allowed: 1 to 3. Choose how often to halve the range."),
        ({"settings": 0}, "settings: got 0; allowed: 2 to 40. Choose how often to set each match."),
        ({"settings": 5},
         "settings: got 5; allowed: an even number. Half begin above, half below."),
        ({"bits": 5}, "bits: got 5; allowed: 6 to 12. Give the bits of a channel."),
        ({"channels": ("white",)},
         'channels: got "white"; allowed: red, green, blue. Name one or more.'),
        ({"channels": ()}, "channels: got nothing; allowed: red, green, blue. Name one or more."),
    ],
)  # fmt: skip
def test_plans_that_cannot_be(changes, said):
    assert refused(lambda: MatchPlan(**changes)) == said


def test_answers_that_cannot_be():
    assert refused(lambda: answered(begin(ONE), "brighter")) == (
        'answer: got "brighter"; allowed: lighter, darker, equal. Say how the solid patch looks.'
    )

    def always_lighter() -> None:
        EyeMeter().matched(ONE, lambda shown: "lighter")

    assert refused(always_lighter) == (
        'answer: got "lighter at code 1 of green"; allowed: a match between the half-tone\'s '
        f"codes, 0 and 255. {FURTHER}"
    )

    def always_darker() -> None:
        EyeMeter().matched(ONE, lambda shown: "darker")

    assert refused(always_darker) == (
        'answer: got "darker at code 254 of green"; allowed: a match between the half-tone\'s '
        f"codes, 0 and 255. {FURTHER}"
    )


def test_matches_that_no_exponent_gives():
    assert refused(lambda: channel_estimate([Match("red", 0, 255, (20.0, 21.0))], 255)) == (
        'matches of red: got "codes 20.5"; allowed: codes that an exponent between 0.5 and 6 gives.'
        " Sit further away so that the pattern melts together, and match again."
    )


def test_codes_too_near_for_another_halving():
    """6 bits, exponent 2.8: the top eighths lie within fewer than eight codes."""
    plan = MatchPlan(("red",), depth=3, bits=6)
    said = refused(lambda: EyeMeter().matched(plan, exact(display(2.8, bits=6))))
    assert said == (
        'half-tone of red: got "codes 58 and 63"; allowed: at least 8 codes apart. Take one level '
        "of depth less."
    )


def test_the_wrong_order():
    with pytest.raises(OrderError, match=r"^0 of 1 matches are made: make the rest first\.$"):
        estimate(begin(ONE))
    done = EyeMeter().matched(ONE, exact(display()))
    assert request(done) is None
    with pytest.raises(OrderError, match=r"^All matches are made: take the estimate\.$"):
        answered(done, "equal")


def test_other_things_that_cannot_be():
    assert refused(lambda: half_tone(0, 1, (3, 2), "lines")) == (
        "rows: got 3; allowed: an even number from 2. Make the patch one row taller."
    )
    assert refused(lambda: SimulatedEye(display(), 0.5)) == (
        "jnd_relative: got 0.5; allowed: 0.0001 to 0.3. Give a share, such as 0.02."
    )
    eye = SimulatedEye(display(), 0.02)
    assert refused(lambda: eye.compare(Request("white", 0, 255, 9))) == (
        'channel: got "white"; allowed: red, green, blue. Match one channel at a time.'
    )
