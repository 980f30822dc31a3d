"""A photometer's driver against scripted dialogues on a real pseudo-terminal."""

from __future__ import annotations

import sys
import threading
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import PULL, SILENT, plain_line_text, quick_protocol, scripted

from calibration.instruments import InstrumentLost
from calibration.instruments.line_protocol import parse_line_protocol
from protocols.errors import InputError, OrderError

REPLY = r"(?P<status>\d) (?P<value>[-+]?[0-9.]+(?:[eE][-+]?\d+)?) (?P<unit>\S+)"


def refusal(folder: Path, replies: list[object], **changes: str) -> tuple[str, list[str]]:
    """The error of a reading that gets these replies, and the commands the instrument heard."""
    with scripted(folder, {"READ": replies}, quick_protocol(**changes)) as (driver, meter):
        driver.start()
        with pytest.raises(InputError) as caught:
            driver.read_cd_m2()
        heard = [command for command in meter.heard if command == "READ"]
        return str(caught.value).replace(str(folder), "DIR"), heard


def value(folder: Path, *replies: object, **changes: str) -> float:
    with scripted(folder, {"READ": list(replies)}, quick_protocol(**changes)) as (driver, _):
        driver.start()
        return driver.read_cd_m2().cd_m2


def test_the_start_up_dialogue_and_who_it_is(tmp_path):
    with scripted(tmp_path, {"READ": [b"0 1 cd/m2\r\n"]}) as (driver, meter):
        assert driver.identity.serial == ""
        driver.start()
        assert meter.heard == ["REMOTE", "UNIT cd/m2", "WHO"]
        assert (driver.identity.name, driver.identity.serial) == ("acme", "17")
        assert driver.identity.relative_uncertainty == 0.02


def test_a_reading(tmp_path):
    assert value(tmp_path, b"0 123.4 cd/m2\r\n") == 123.4


@pytest.mark.parametrize(
    ("reply", "cd_m2"),
    [
        # 1 fL = 3.4262591 cd/m2: NIST SP 811 (2008), Appendix B.8, "footlambert 3.426 259 E+00"
        (b"0 10 fL\r\n", 34.262591),
        (b"0 500 mcd/m2\r\n", 0.5),
        (b"0 2 nit\r\n", 2.0),
        (b"0 1.5E+1 cd/m2\r\n", 15.0),
        (b"0 7 cd\r\n", 7.0),
        # 1 asb = 1/pi cd/m2: ISO 80000-7 remarks, from memory
        (b"0 3.14159265 asb\r\n", 1.0),
    ],
)
def test_units_become_cd_m2(tmp_path, reply, cd_m2):
    assert value(tmp_path, reply) == pytest.approx(cd_m2, rel=1e-7)


def test_white_space_around_a_reply_does_not_matter(tmp_path):
    assert value(tmp_path, b"  0 5 cd/m2 \r\n") == 5.0


def test_a_reply_in_pieces_is_put_together(tmp_path):
    with scripted(tmp_path, {"READ": [b"0 12"]}) as (driver, meter):
        driver.start()

        def the_rest() -> None:
            while "READ" not in meter.heard:
                time.sleep(0.01)
            time.sleep(0.1)
            meter.say(b"3.5 cd/")
            time.sleep(0.1)
            meter.say(b"m2\r\n")

        helper = threading.Thread(target=the_rest)
        helper.start()
        assert driver.read_cd_m2().cd_m2 == 123.5
        helper.join()


@pytest.mark.parametrize(
    ("reply", "state"),
    [(b"HIGH\r\n", "over"), (b"LOW\r\n", "under"), (b"1 9.9 cd/m2\r\n", "over"),
     (b"2 0.0 cd/m2\r\n", "under")],
)  # fmt: skip
def test_out_of_range_is_a_state_without_a_value(tmp_path, reply, state):
    words = {
        "over": '"over range"; allowed: a reading within its range. Choose a less sensitive range '
        "or a smaller aperture, and measure on.",
        "under": '"under range"; allowed: a reading within its range. Choose a more sensitive '
        "range, darken the room, and measure on.",
    }
    with scripted(tmp_path, {"READ": [b"0 4 cd/m2\r\n", reply]}) as (driver, meter):
        driver.start()
        reading = driver.read_cd_m2(repeats=3)
        assert reading.state == state
        assert reading.repeats_cd_m2 == (4.0,)
        assert meter.heard.count("READ") == 2
        with pytest.raises(InputError) as caught:
            reading.cd_m2  # noqa: B018
        assert str(caught.value) == f"{driver.name}: got {words[state]}"


def test_garbage_is_asked_for_again(tmp_path):
    assert value(tmp_path, b"\xff\x00?\r\n", b"0 8 cd/m2\r\n") == 8.0


def test_garbage_to_the_end(tmp_path):
    message, heard = refusal(tmp_path, [b"\xff?\r\n"])
    assert message == (
        'photometer serial:DIR/meter, reply to "READ": got "\\xff?"; allowed: a reply that '
        f"matches {REPLY}. Tried 3 times. Check the protocol file against the instrument's manual, "
        "the speed and the cable."
    )
    assert heard == ["READ"] * 3


def test_a_number_that_is_none(tmp_path):
    message, _ = refusal(tmp_path, [b"0 1.2.3 cd/m2\r\n"], retries="0")
    assert message == (
        'photometer serial:DIR/meter, reply to "READ": got "0 1.2.3 cd/m2"; allowed: a reply that '
        f"matches {REPLY} with a number. Tried once. Check the protocol file against the "
        "instrument's manual, the speed and the cable."
    )


def test_silence(tmp_path):
    message, heard = refusal(tmp_path, [SILENT], retries="1", timeout_s="0.3")
    assert message == (
        "serial:DIR/meter: got nothing; allowed: a reply within 0.3 s that ends with \\r\\n. Tried "
        "2 times. Check that the instrument is on, its cable, and the speed and line ending in the "
        "protocol file."
    )
    assert heard == ["READ"] * 2


def test_a_reply_that_stops_in_the_middle(tmp_path):
    message, _ = refusal(tmp_path, [b"0 12.3"], retries="0", timeout_s="0.3")
    assert message.startswith('serial:DIR/meter: got "0 12.3 and no more"; allowed: a reply within')


def test_a_late_reply_is_not_taken_for_the_next_one(tmp_path):
    """The reply to the first try comes after its time-out, and before the one to the second."""

    def slow() -> bytes:
        time.sleep(0.3)
        return b"0 20 cd/m2\r\n"

    spoken = quick_protocol(timeout_s="0.5")
    with scripted(tmp_path, {"READ": [SILENT, slow]}, spoken) as (driver, meter):
        driver.start()
        late = threading.Timer(0.65, meter.say, [b"0 10 cd/m2\r\n"])
        late.start()
        assert driver.read_cd_m2().cd_m2 == 20.0
        late.join()


def test_what_was_said_unasked_is_not_taken_for_a_reply(tmp_path):
    with scripted(tmp_path, {"READ": [b"0 20 cd/m2\r\n"]}) as (driver, meter):
        driver.start()
        meter.say(b"0 99 cd/m2\r\n")
        time.sleep(0.05)
        assert driver.read_cd_m2().cd_m2 == 20.0


def test_an_unknown_unit(tmp_path):
    message, heard = refusal(tmp_path, [b"0 55 lx\r\n"])
    assert message == (
        'photometer serial:DIR/meter, unit: got "lx"; allowed: cd/m2, nit, mcd/m2, kcd/m2, fL, '
        "asb, cd. Switch the instrument to one of these."
    )
    assert heard == ["READ"]


def test_a_negative_reading(tmp_path):
    message, heard = refusal(tmp_path, [b"0 -0.02 cd/m2\r\n"])
    assert message == (
        'photometer serial:DIR/meter, reading: got "-0.02 cd/m2"; allowed: 0 or more. Set the '
        "instrument's zero with its aperture covered, and measure again."
    )
    assert heard == ["READ"]


def test_a_fault_the_file_knows(tmp_path):
    message, _ = refusal(tmp_path, [b"3 0 cd/m2\r\n"])
    assert message == (
        'photometer serial:DIR/meter, status: got "3: the battery is low"; allowed: 0. Put right '
        "what the instrument complains of."
    )


def test_a_status_the_file_does_not_know(tmp_path):
    message, _ = refusal(tmp_path, [b"8 0 cd/m2\r\n"])
    assert message == (
        'photometer serial:DIR/meter, status: got "8"; allowed: 0. Add this status to '
        "[measure.status] in plain-line.toml."
    )


def test_unplugged_in_the_middle_of_a_reading(tmp_path):
    with scripted(tmp_path, {"READ": [b"0 1 cd/m2\r\n", PULL]}) as (driver, _):
        driver.start()
        assert driver.read_cd_m2().cd_m2 == 1.0
        with pytest.raises(InstrumentLost) as caught:
            driver.read_cd_m2()
        assert str(caught.value) == f"The instrument on serial:{tmp_path}/meter is gone."


def test_unplugged_between_readings(tmp_path):
    with scripted(tmp_path, {"READ": [b"0 1 cd/m2\r\n"]}) as (driver, meter):
        driver.start()
        meter.pull()
        with pytest.raises(InstrumentLost, match=r"is gone\.$"):
            driver.read_cd_m2()


def test_a_start_up_reply_that_is_not_the_expected_one_leaves_the_port_free(tmp_path):
    script = {"UNIT cd/m2": [b"WHAT?\r\n", b"WHAT?\r\n", b"WHAT?\r\n", b"OK\r\n"]}
    with scripted(tmp_path, script) as (driver, _):
        with pytest.raises(InputError) as caught:
            driver.start()
        assert str(caught.value).endswith(
            'reply to "UNIT cd/m2": got "WHAT?"; allowed: a reply that matches OK. Tried 3 times. '
            "Check the protocol file against the instrument's manual, the speed and the cable."
        )
        with pytest.raises(OrderError, match=r"is not started"):
            driver.read_cd_m2()
        driver.start()


def test_an_instrument_that_echoes(tmp_path):
    changes = {"echo": "true"}
    script: dict[str, list[object]] = {
        "REMOTE": [b"REMOTE\r\nOK\r\n"],
        "UNIT cd/m2": [b"UNIT cd/m2\r\nOK\r\n"],
        "WHO": [b"WHO\r\nacme, 17\r\n"],
        "READ": [b"READ\r\n0 6 cd/m2\r\n"],
    }
    with scripted(tmp_path, script, quick_protocol(**changes)) as (driver, _):
        driver.start()
        assert driver.read_cd_m2().cd_m2 == 6.0


def test_an_echo_that_is_missing(tmp_path):
    message, _ = refusal_with_echo(tmp_path)
    assert 'reply to "REMOTE": got "OK"; allowed: a reply that matches REMOTE.' in message


def refusal_with_echo(folder: Path) -> tuple[str, list[str]]:
    with scripted(folder, {}, quick_protocol(echo="true", retries="0")) as (driver, meter):
        with pytest.raises(InputError) as caught:
            driver.start()
        return str(caught.value), meter.heard


def test_an_instrument_that_streams(tmp_path):
    """Half a line can look whole: 3.5 of 123.5. Only a line heard from its start counts."""
    text = plain_line_text().replace('send = "READ"', 'send = ""')
    text = text.replace(REPLY, r"(?P<value>\d+\.\d)").replace('# unit = "cd/m2"', 'unit = "cd/m2"')
    text = text.split("[measure.status]")[0]
    with scripted(tmp_path, {}, parse_line_protocol(text, "x.toml")) as (driver, meter):
        driver.start()
        stop = threading.Event()

        def stream() -> None:
            while not stop.is_set():
                for piece in (b"12", b"3.5\r\n"):
                    meter.say(piece)
                    time.sleep(0.02)

        speaker = threading.Thread(target=stream)
        speaker.start()
        try:
            for reading in range(20):
                time.sleep(0.007 * (reading % 6))  # begin anywhere within a line
                assert driver.read_cd_m2().cd_m2 == 123.5
        finally:
            stop.set()
            speaker.join()
