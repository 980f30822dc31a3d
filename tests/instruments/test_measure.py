"""Running a plan: what is kept when it ends early, and which log is refused."""

from __future__ import annotations

import json
import re
import resource
import sys
from pathlib import Path

import msgspec
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import (
    DISPLAY_TOML,
    SILENT,
    MeterProgram,
    plain_line_text,
    quick_protocol,
    scripted,
)

from calibration.certificate import ReadingLine
from calibration.contracts.photometer import IDENTITY
from calibration.instruments import InstrumentLost, Target, open_photometer
from calibration.instruments.measure import MeasuringPlan, ladder, measure
from calibration.instruments.reading_log import read_log
from calibration.instruments.simulated import SimulatedPhotometer
from calibration.simulated import load_simulated
from protocols.errors import InputError, RecordStuck

PLAN = MeasuringPlan(IDENTITY, ladder(("red", "white"), (0, 100, 200, 255)), settle_s=0.0)
OTHER_WAY = "Name another log to measure anew, or go on as this one was begun."


@pytest.fixture
def meter(tmp_path: Path) -> SimulatedPhotometer:
    (tmp_path / "d.toml").write_text(DISPLAY_TOML)
    made = SimulatedPhotometer(load_simulated(tmp_path / "d.toml"), seed=1)
    made.start()
    return made


def nothing(codes: object) -> None:
    """A screen nobody needs: simulated meters are told what is shown."""


def run(meter: SimulatedPhotometer, log: Path, plan: MeasuringPlan = PLAN) -> list[ReadingLine]:
    return measure(plan, nothing, meter, log)


def message(meter: SimulatedPhotometer, log: Path, plan: MeasuringPlan = PLAN) -> str:
    with pytest.raises(InputError) as caught:
        run(meter, log, plan)
    return str(caught.value)


def test_readings_come_in_the_plans_order_and_stand_in_the_log(meter, tmp_path):
    log = tmp_path / "log.jsonl"
    lines = run(meter, log)
    assert [(line.channel, line.code) for line in lines] == [
        (target.channel, target.code) for target in PLAN.targets
    ]
    header, logged = read_log(log)
    assert [line.reading for line in logged] == lines
    assert "not a diagnosis" in header.notice
    assert header.display == IDENTITY
    assert header.instrument == meter.identity


def test_light_settles_before_each_reading(meter, tmp_path):
    """Order of what happens: show, wait for the longer of both needs, read."""
    told: list[object] = []
    plan = MeasuringPlan(IDENTITY, (Target("red", 9), Target("blue", 7)), settle_s=0.4)
    meter.settle_s = 1.5
    progress: list[tuple[int, int, str]] = []
    measure(
        plan,
        told.append,
        meter,
        tmp_path / "log",
        lambda done, of, target: progress.append((done, of, str(target))),
        wait=lambda seconds: told.append((seconds, len(meter.asked))),
    )
    assert told == [(9, 0, 0), (1.5, 0), (0, 0, 7), (1.5, 1)]
    assert progress == [(0, 2, "red at code 9"), (1, 2, "blue at code 7")]


def test_unplugged_in_the_middle_and_plugged_in_again(tmp_path):
    """A program of its own plays the meter; it is killed after five of eight readings."""
    program = MeterProgram(tmp_path)
    (tmp_path / "quick.toml").write_text(plain_line_text(timeout_s="20.0"))
    spec, log = f"serial:{program.line.path}:{tmp_path / 'quick.toml'}", tmp_path / "log.jsonl"
    shown: list[tuple[int, int, int]] = []

    def show(codes: tuple[int, int, int]) -> None:
        shown.append(codes)
        program.show(codes)
        if len(shown) == 6:
            program.pull()

    photometer = open_photometer(spec)
    photometer.start()
    with pytest.raises(InstrumentLost) as caught:
        measure(PLAN, show, photometer, log)
    photometer.close()
    program.close()
    assert str(caught.value) == (
        f"The instrument on serial:{program.line.path} is gone. 5 of 8 readings are kept in {log}: "
        "the same command measures the rest. Plug it in again first."
    )
    before = log.read_bytes()
    assert list(caught.value.measured) == [line.reading for line in read_log(log)[1]]

    program = MeterProgram(tmp_path)
    photometer = open_photometer(spec)
    photometer.start()
    lines = measure(PLAN, show, photometer, log)
    photometer.close()
    program.close()
    assert log.read_bytes().startswith(before)
    assert shown[6:] == [target.codes for target in PLAN.targets[5:]]
    assert tuple(lines[:5]) == caught.value.measured
    assert len(lines) == 8


def test_a_finished_log_is_not_measured_again(meter, tmp_path):
    lines = run(meter, tmp_path / "log")
    asked = len(meter.asked)
    assert run(meter, tmp_path / "log") == lines
    assert len(meter.asked) == asked


def test_out_of_range_ends_it_and_keeps_the_rest(tmp_path, meter):
    dim = SimulatedPhotometer(meter.display, seed=1, range_cd_m2=(0.0, 10.0), name="dim")
    dim.start()
    log = tmp_path / "log"
    assert message(dim, log) == (
        'dim: got "over range"; allowed: a reading within its range. Choose a less sensitive range '
        f"or a smaller aperture, and measure on. 2 of 8 readings are kept in {log}: the same "
        "command measures the rest."
    )
    assert len(read_log(log)[1]) == 2
    assert len(run(meter, log)) == 8


def test_a_meter_that_falls_silent_says_what_is_kept(tmp_path):
    spoken = quick_protocol(timeout_s="0.3")
    with scripted(tmp_path, {"READ": [b"0 1 cd/m2\r\n", SILENT]}, spoken) as (driver, _):
        driver.start()
        with pytest.raises(InputError, match=r"1 of 8 readings are kept in .*measures the rest\.$"):
            measure(PLAN, nothing, driver, tmp_path / "log")


def test_a_torn_last_line_is_measured_again(meter, tmp_path):
    log = tmp_path / "log"
    lines = run(meter, log)
    log.write_bytes(log.read_bytes()[:-20])
    again = run(meter, log)
    assert again[:-1] == lines[:-1]
    assert len(read_log(log)[1]) == 8


@pytest.mark.parametrize("torn", [b"", b'{"format"', b'{"format":1,"notice":"Research u'])
def test_a_log_that_was_torn_in_its_first_line_begins_anew(meter, tmp_path, torn):
    (tmp_path / "log").write_bytes(torn)
    assert len(run(meter, tmp_path / "log")) == 8
    assert len(read_log(tmp_path / "log")[1]) == 8


def test_a_log_of_another_plan(meter, tmp_path):
    log = tmp_path / "log"
    run(meter, log)
    other = MeasuringPlan(IDENTITY, PLAN.targets[:3], settle_s=0.0)
    before = log.read_bytes()
    assert message(meter, log, other) == (
        f'{log}, plan: got "{PLAN.sha256[:12]}..."; allowed: {other.sha256[:12]}..., the plan to '
        f"measure. {OTHER_WAY}"
    )
    assert log.read_bytes() == before


@pytest.mark.parametrize(("key", "value"), [("display_serial", "S-2"), ("width_px", 1920)])
def test_a_log_of_another_display(meter, tmp_path, key, value):
    log = tmp_path / "log"
    run(meter, log)
    identity = msgspec.structs.replace(IDENTITY, **{key: value})
    other = MeasuringPlan(identity, PLAN.targets, settle_s=0.0)
    assert message(meter, log, other) == (
        f'{log}, display.{key}: got "{getattr(IDENTITY, key)}"; allowed: {value}, as now. '
        f"{OTHER_WAY}"
    )


def test_a_log_of_another_instrument(meter, tmp_path):
    log = tmp_path / "log"
    run(meter, log)
    with scripted(tmp_path, {"READ": [b"0 1 cd/m2\r\n"]}) as (driver, _):
        driver.start()
        with pytest.raises(InputError) as caught:
            measure(PLAN, nothing, driver, log)
    assert str(caught.value) == (
        f'{log}, instrument.name: got "simulated photometer"; allowed: acme, as now. {OTHER_WAY}'
    )


def test_a_log_that_is_in_use(meter, tmp_path):
    log = tmp_path / "log"

    def show(codes: object) -> None:
        assert message(meter, log) == (
            f'log: got "{log}"; allowed: a log that no other program is writing. Wait for the '
            "other one to end, or stop it."
        )

    measure(MeasuringPlan(IDENTITY, PLAN.targets[:1], settle_s=0.0), show, meter, log)


def test_a_log_that_cannot_be_opened(meter, tmp_path):
    assert message(meter, tmp_path / "none" / "log") == (
        f'log: got "{tmp_path}/none/log"; allowed: a file that can be written. The system says: '
        "No such file or directory."
    )


@pytest.mark.parametrize("text", ["buy milk\n", "buy milk", "buy milk\nand bread"])
def test_a_file_that_is_no_log_stays_as_it_is(meter, tmp_path, text):
    (tmp_path / "notes").write_text(text)
    said = message(meter, tmp_path / "notes")
    assert said.startswith(f"{tmp_path}/notes, line 1: got ")
    assert said.endswith("allowed: JSON. Mend the file or make it anew.")
    assert (tmp_path / "notes").read_text() == text


def test_reading_logs_that_are_not_there_or_empty(tmp_path):
    (tmp_path / "empty").touch()
    for name, allowed in (
        ("none", "a log of readings. The system says: No such file or directory."),
        ("empty", "a log of readings. It is empty: measure again."),
    ):
        with pytest.raises(InputError) as caught:
            read_log(tmp_path / name)
        assert str(caught.value) == f'log: got "{tmp_path}/{name}"; allowed: {allowed}'


def test_a_full_disk_keeps_what_was_measured(meter, tmp_path):
    """The system's own limit on file size stands in for a full disk."""
    log = tmp_path / "log"
    run(meter, tmp_path / "whole")
    enough = len((tmp_path / "whole").read_bytes()) - 40
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (enough, hard))
    try:
        with pytest.raises(RecordStuck) as caught:
            run(meter, log)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert str(caught.value) == (
        f"{log}: the log cannot be written on. The system says: File too large. What was measured "
        "is kept. Make room or mend the disk; the same command measures the rest."
    )
    assert len(read_log(log)[1]) == 7
    assert len(run(meter, log)) == 8


def test_every_line_is_json_for_others(meter, tmp_path):
    run(meter, tmp_path / "log")
    lines = [json.loads(text) for text in (tmp_path / "log").read_text().splitlines()]
    assert set(lines[1]) == {"n", "channel", "code", "cd_m2", "repeats_cd_m2", "utc"}
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", lines[1]["utc"])


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: MeasuringPlan(IDENTITY, ()),
         "targets: got 0; allowed: 1 to 10000. Name the colours to measure."),
        (lambda: MeasuringPlan(IDENTITY, PLAN.targets, repeats=0),
         "repeats: got 0; allowed: 1 to 100. Give a number of readings."),
        (lambda: MeasuringPlan(IDENTITY, PLAN.targets, settle_s=-1),
         "settle_s: got -1; allowed: 0 to 600. Give seconds to wait."),
        (lambda: Target("grey", 3),
         'channel: got "grey"; allowed: red, green, blue, white. Name one of them.'),
        (lambda: Target("red", -3),
         "code: got -3; allowed: 0 or more. Give a code value of the display."),
    ],
)  # fmt: skip
def test_plans_that_cannot_be(make, said):
    with pytest.raises(InputError) as caught:
        make()
    assert str(caught.value) == said
