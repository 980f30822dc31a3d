"""Readings typed by a person: what is taken, what is asked again, what stops."""

from __future__ import annotations

import builtins
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calibration.contracts.photometer import IDENTITY
from calibration.instruments import Target
from calibration.instruments.manual import (
    ManualPhotometer,
    Prompt,
    ask_in_terminal,
    dialogue,
    parse_entry,
)
from calibration.instruments.measure import MeasuringPlan, ladder, measure
from calibration.instruments.photometer import Details
from protocols.errors import InputError, Interrupted


@pytest.mark.parametrize(
    ("typed", "cd_m2"),
    [("12.4", 12.4), (" 7 ", 7.0), (".5", 0.5), ("3.", 3.0), ("1e2", 100.0), ("+4", 4.0),
     ("0", 0.0), ("10 fL", 34.262591), ("10fL", 34.262591), ("250 mcd/m2", 0.25), ("8 nit", 8.0)],
)  # fmt: skip
def test_what_is_taken(typed, cd_m2):
    assert parse_entry(typed).cd_m2 == pytest.approx(cd_m2, rel=1e-7)


def test_the_unit_of_the_meter_is_understood():
    assert parse_entry("10", unit="fL").cd_m2 == pytest.approx(34.262591, rel=1e-7)


POINT = (
    "allowed: a number with a point, such as 12.4. Write a point: a comma can stand for the "
    "decimal point or for thousands."
)
NUMBER = "allowed: a number, a number and its unit, over, under, stop. Type it anew."


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("12,4", f'reading: got "12,4"; {POINT}'),
        ("1,200.5", f'reading: got "1,200.5"; {POINT}'),
        ("", f"reading: got nothing; {NUMBER}"),
        ("bright", f'reading: got "bright"; {NUMBER}'),
        ("1 200", f'reading: got "1 200"; {NUMBER}'),
        ("1.2.3", f'reading: got "1.2.3"; {NUMBER}'),
        ("5 lx", 'meter read by hand, unit: got "lx"; allowed: cd/m2, nit, mcd/m2, kcd/m2, fL, '
         "asb. Switch the instrument to one of these."),
        ("-0.1", 'meter read by hand, reading: got "-0.1 cd/m2"; allowed: 0 or more. Set the '
         "instrument's zero with its aperture covered, and measure again."),
        ("1e6", 'meter read by hand, reading: got "1e+06 cd/m2"; allowed: up to 100000 cd/m2. '
         "Check the number and its unit, and measure again."),
        ("1e400", 'meter read by hand, reading: got "inf cd/m2"; allowed: up to 100000 cd/m2. '
         "Check the number and its unit, and measure again."),
        ("nan", f'reading: got "nan"; {NUMBER}'),
    ],
)  # fmt: skip
def test_what_is_refused(typed, message):
    with pytest.raises(InputError) as caught:
        parse_entry(typed)
    assert str(caught.value) == message


def test_prompts_repeats_and_a_second_chance():
    talk = dialogue(Target("green", 128), 2)
    assert next(talk) == Prompt(
        "green at code 128, reading 1 of 2, cd/m2 (or over, under, stop): ", None
    )
    again = talk.send("12,4")
    assert again.problem is not None
    assert again.problem.startswith('reading: got "12,4"')
    assert talk.send("12.4") == Prompt(
        "green at code 128, reading 2 of 2, cd/m2 (or over, under, stop): ", None
    )
    with pytest.raises(StopIteration) as done:
        talk.send("12.6")
    assert done.value.value.repeats_cd_m2 == (12.4, 12.6)


@pytest.mark.parametrize("state", ["over", "under"])
def test_out_of_range_by_word(state):
    meter = ManualPhotometer(lambda prompt: state.upper())
    meter.start()
    reading = meter.read_cd_m2()
    assert reading.state == state
    with pytest.raises(InputError, match=rf'meter read by hand: got "{state} range"'):
        reading.cd_m2  # noqa: B018


def test_stop_and_go_on(tmp_path):
    """A person stops after two of four readings; the next day only two are asked for."""
    plan = MeasuringPlan(IDENTITY, ladder(("white",), (0, 85, 170, 255)), settle_s=0.0)
    log = tmp_path / "log.jsonl"
    asked: list[str] = []

    def person(*answers: str) -> ManualPhotometer:
        left = list(answers)

        def ask(prompt: Prompt) -> str:
            asked.append(prompt.text.split(",")[0])
            return left.pop(0)

        meter = ManualPhotometer(ask, Details("hand meter", "7", 0.03))
        meter.start()
        return meter

    with pytest.raises(Interrupted, match=r"^Stopped by the operator\. What was entered is kept"):
        measure(plan, lambda codes: None, person("0.3", "20", "stop"), log)
    lines = measure(plan, lambda codes: None, person("90", "240"), log)
    assert [line.cd_m2 for line in lines] == [0.3, 20.0, 90.0, 240.0]
    assert asked == [f"white at code {code}" for code in (0, 85, 170, 170, 255)]


def test_what_was_entered_of_the_meter():
    entered = ManualPhotometer(str, Details("hand meter", "7", 0.03)).identity
    assert (entered.name, entered.serial, entered.relative_uncertainty) == ("hand meter", "7", 0.03)
    assumed = ManualPhotometer(str).identity
    assert (assumed.name, assumed.relative_uncertainty) == (
        "any meter (5% uncertainty assumed)", 0.05,
    )  # fmt: skip


def test_details_and_units_out_of_range():
    with pytest.raises(InputError) as caught:
        Details(relative_uncertainty=3.0)
    assert str(caught.value) == (
        "relative_uncertainty: got 3; allowed: 1e-06 to 0.5. Give the standard uncertainty as a "
        "share, such as 0.02."
    )
    with pytest.raises(InputError) as caught:
        ManualPhotometer(str, unit="lx")
    assert str(caught.value) == (
        'unit: got "lx"; allowed: cd/m2, nit, mcd/m2, kcd/m2, fL, asb. Name one of these.'
    )


def test_in_a_terminal(monkeypatch, capsys):
    monkeypatch.setattr(builtins, "input", lambda text: text)
    assert ask_in_terminal(Prompt("now: ", "that was wrong")) == "now: "
    assert capsys.readouterr().out == "that was wrong\n"


def test_the_end_of_input_stops(monkeypatch):
    def ended(text: str) -> str:
        raise EOFError

    monkeypatch.setattr(builtins, "input", ended)
    assert ask_in_terminal(Prompt("now: ")) == "stop"
