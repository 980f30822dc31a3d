"""Line protocols as files: every mistake gets one clear error."""

from __future__ import annotations

import sys
from pathlib import Path

import msgspec
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import PLAIN_LINE

from calibration.instruments import open_photometer
from calibration.instruments.line_protocol import (
    Exchange,
    IdentityPart,
    InstrumentPart,
    MeasurePart,
    TalkPart,
    bundled_line_protocols,
    load_line_protocol,
    parse_line_protocol,
)
from calibration.instruments.transport import SerialSettings
from calibration.instruments.units import UNITS_CD_M2
from protocols.errors import InputError

LEAST = """
format = 1
about = "x"
[instrument]
name = "m"
relative_uncertainty = 0.02
[measure]
send = "R"
reply = '(?P<value>\\S+)'
unit = "cd/m2"
"""


def refused(text: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_line_protocol(text, "my.toml")
    return str(caught.value)


@pytest.mark.parametrize("name", bundled_line_protocols())
def test_the_bundled_ones_are_sound(name):
    protocol = load_line_protocol(name)
    assert protocol.file.instrument.name == name
    assert "Invented" in protocol.file.about


def test_the_bundled_example_shows_every_key():
    """The commented file is the documentation: no key of the types may be missing from it."""
    text = PLAIN_LINE.read_text()
    parts = (InstrumentPart, SerialSettings, TalkPart, Exchange, IdentityPart, MeasurePart)
    keys = {field.name for part in parts for field in msgspec.structs.fields(part)} - {"status"}
    assert {key for key in keys if f"{key} = " not in text} == set()
    tables = ("instrument", "line", "talk", "[start]", "identity", "measure", "measure.status")
    assert [table for table in (*tables, "units") if f"[{table}]" not in text] == []


def test_the_least_there_can_be():
    protocol = parse_line_protocol(LEAST, "my.toml")
    assert (protocol.file.line.baud, protocol.file.talk.retries) == (9600, 2)
    assert protocol.file.start == []
    assert protocol.units == UNITS_CD_M2


def test_a_path_and_a_missing_path(tmp_path):
    (tmp_path / "my.toml").write_text(LEAST)
    assert load_line_protocol(f"{tmp_path}/my.toml").source == "my.toml"
    with pytest.raises(InputError) as caught:
        load_line_protocol(f"{tmp_path}/none.toml")
    assert str(caught.value) == (
        f'line protocol: got "{tmp_path}/none.toml"; allowed: a file that exists. Check the path.'
    )


CASES = {
    "no toml": (
        "format = 1", "format =",
        'my.toml: got "Invalid value (at line 2, column 9)"; allowed: TOML 1.0. Mend the line it '
        "names.",
    ),
    "unknown key": (
        "[measure]", "[measure]\nsnd = 'x'",
        'my.toml, measure.snd: got "an unknown key"; allowed: overrange, reply, send, status, '
        "underrange, unit. Did you mean send?",
    ),
    "missing key": (
        'send = "R"\n', "",
        'my.toml, measure.send: got nothing; allowed: text. Add measure.send.',
    ),
    "newer format": (
        "format = 1", "format = 2", "my.toml, format: got 2; allowed: 1. Change it.",
    ),
    "speed": (
        "[measure]", "[line]\nbaud = 10\n[measure]",
        "my.toml, line.baud: got 10; allowed: a whole number 50 to 4000000. Change it.",
    ),
    "parity": (
        "[measure]", '[line]\nparity = "mark"\n[measure]',
        'my.toml, line.parity: got "mark"; allowed: even or none or odd. Change it.',
    ),
    "time-out": (
        "[measure]", '[talk]\ntimeout_s = "2 s"\n[measure]',
        'my.toml, talk.timeout_s: got "2 s"; allowed: a number 0.05 to 120. Write a bare number: '
        "the unit is in the key's name (seconds).",
    ),
    "retries": (
        "[measure]", "[talk]\nretries = -1\n[measure]",
        "my.toml, talk.retries: got -1; allowed: a whole number 0 to 20. Change it.",
    ),
    "uncertainty": (
        "0.02", "2.0",
        "my.toml, instrument.relative_uncertainty: got 2; allowed: a number above 0 to below 1. "
        "Change it.",
    ),
    "no expression": (
        "(?P<value>\\S+)", "(?P<value>\\S+",
        'my.toml, measure.reply: got "(?P<value>\\S+"; allowed: a regular expression. Mend it: '
        "missing ), unterminated subpattern at 0.",
    ),
    "matches nothing": (
        "\\S+)", "\\S*)",
        'my.toml, measure.reply: got "(?P<value>\\S*)"; allowed: a pattern that an empty reply '
        "does not match. Add what must come.",
    ),
    "no value": (
        "P<value>", "P<number>",
        'my.toml, measure.reply: got "(?P<number>\\S+)"; allowed: a group (?P<value>...). Name the '
        "value's group.",
    ),
    "no unit": (
        'unit = "cd/m2"\n', "",
        "my.toml, measure.unit: got nothing; allowed: either unit = ... or a group (?P<unit>...) "
        "in reply, one of them. Say once which unit the value is in.",
    ),
    "two units": (
        "\\S+)", "\\S+) (?P<unit>\\S+)",
        'my.toml, measure.unit: got "cd/m2"; allowed: either unit = ... or a group (?P<unit>...) '
        "in reply, one of them. Say once which unit the value is in.",
    ),
    "unknown unit": (
        'unit = "cd/m2"', 'unit = "lx"',
        'my.toml, measure.unit: got "lx"; allowed: cd/m2, nit, mcd/m2, kcd/m2, fL, asb. Use one of '
        "these, or add to [units].",
    ),
    "unit against its definition": (
        "[measure]", "[units]\nfL = 3.4\n[measure]",
        "my.toml, units.fL: got 3.4; allowed: 3.4262591, its definition. Remove it, or name your "
        "unit otherwise.",
    ),
    "unit of nothing": (
        "[measure]", "[units]\nmine = 0.0\n[measure]",
        "my.toml, units.mine: got 0; allowed: 1e-09 to 1e+09. Write what one of this unit is in "
        "cd/m2.",
    ),
    "status without a table": (
        "(?P<value>", "(?P<status>\\d) (?P<value>",
        'my.toml, measure.status: got nothing; allowed: a table in which at least one status is '
        '"good". Add the status of a sound reading, such as "0" = "good".',
    ),
    "status without a group": (
        'unit = "cd/m2"\n', 'unit = "cd/m2"\nstatus = { 0 = "good" }\n',
        'my.toml, measure.status: got "0"; allowed: no table, as reply has no group '
        "(?P<status>...). Name the group in reply, or remove the table.",
    ),
    "identity without a group": (
        "[measure]", "[identity]\nsend = 'W'\nreply = '\\S+'\n[measure]",
        'my.toml, identity.reply: got "\\S+"; allowed: a group (?P<name>...) or (?P<serial>...). '
        "Name a group, or remove [identity].",
    ),
    "beyond ascii": (
        'send = "R"', 'send = "µ"',
        'my.toml, measure.send: got "µ"; allowed: ASCII characters. Write it in ASCII.',
    ),
    "start-up expression": (
        "[measure]", "[[start]]\nsend = 'A'\nexpect = '['\n[measure]",
        'my.toml, start[0].expect: got "["; allowed: a regular expression. Mend it: unterminated '
        "character set at 0.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_each_mistake_has_its_own_words(case):
    old, new, message = CASES[case]
    assert old in LEAST
    assert refused(LEAST.replace(old, new, 1)) == message


def test_foot_lamberts_by_definition():
    """1 fL = 3.426 259 cd/m2: NIST SP 811 (2008), Appendix B.8; more digits by its definition."""
    assert UNITS_CD_M2["fL"] == pytest.approx(3.4262591, abs=5e-8)


def opening(spec: str) -> str:
    with pytest.raises(InputError) as caught:
        open_photometer(spec)
    return str(caught.value)


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        ("usb:1", 'photometer: got "usb:1"; allowed: serial, simulated, manual, eye. Name one, '
         "such as serial:/dev/ttyUSB0 or manual."),
        ("serial:", 'photometer: got "serial:"; allowed: serial:PORT or serial:PORT:PROTOCOL.toml. '
         "Name the port, such as serial:/dev/ttyUSB0."),
        ("simulated", 'photometer: got "simulated:"; allowed: simulated:office, '
         "simulated:slow-panel, simulated:ten-bit, simulated:uneven, simulated:FILE.toml. Name a "
         "simulated display after the colon."),
        ("manual:x", 'photometer: got "manual:x"; allowed: manual. Write it without a colon.'),
        ("eye:left", 'photometer: got "eye:left"; allowed: eye. Write it without a colon.'),
        ("serial:/dev/x:none.toml", 'line protocol: got "none.toml"; allowed: a file that exists. '
         "Check the path."),
        ("simulated:none.toml", 'simulated display: got "none.toml"; allowed: office, slow-panel, '
         "ten-bit, uneven, or the path of a .toml file. Check the spelling or the path."),
        ("simulated:offce", 'simulated display: got "offce"; allowed: office, slow-panel, '
         "ten-bit, uneven, or the path of a .toml file. Check the spelling or the path."),
    ],
)  # fmt: skip
def test_opening_what_cannot_be(spec, message):
    assert opening(spec) == message


def test_opening_each_kind(tmp_path):
    (tmp_path / "d.toml").write_text('about = "x"\n')
    (tmp_path / "my.toml").write_text(LEAST)
    assert open_photometer("eye").name == "half-tone matching by eye"
    assert open_photometer("manual").name == "meter read by hand"
    assert open_photometer(f"simulated:{tmp_path}/d.toml").name == "photometer simulated:d.toml"
    assert open_photometer("serial:COM3").identity.name == "plain-line"
    assert open_photometer(f"serial:COM3:{tmp_path}/my.toml").identity.name == "m"
