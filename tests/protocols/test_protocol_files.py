"""Protocol files are read strictly: each kind of mistake has one clear answer.

Every row is a mistake and the whole message that a person reads.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from protocols.errors import InputError
from protocols.library import bundled_protocols, load_protocol, parse_protocol

GOOD = """format = 1
name = "mine"
about = "A trial."
pattern = "rings17"
[procedure]
kind = "rising"
"""


def _parse(text, folder):
    return parse_protocol(text, "mine.toml", folder)


def _said(text, folder) -> str:
    with pytest.raises(InputError) as refused:
        _parse(text, folder)
    return str(refused.value)


def test_the_plain_file_is_good(tmp_path):
    assert _parse(GOOD, tmp_path).settings.procedure.tries == 3


@pytest.mark.parametrize("name", bundled_protocols())
def test_bundled_protocols_are_good_and_bear_their_own_name(name):
    assert load_protocol(name).name == name


def test_the_bundled_screenings_write_out_the_defaults():
    """A reader of the file sees every number of the stimulus; none differs from the design's.

    Only the checks of fixation are more than a file that says nothing gets.
    """
    screen = load_protocol("screen-19").settings
    plain = parse_protocol(GOOD, "mine.toml", Path()).settings
    assert screen.stimulus == plain.stimulus
    assert screen.answering == plain.answering
    assert screen.foreperiod == plain.foreperiod
    assert screen.procedure == plain.procedure
    told = {"blind_spot": 8, "blind_spot_early": 8}
    assert screen.catch_trials == replace(plain.catch_trials, **told)


MISTAKES = [
    (
        "an unknown key with a likely meaning",
        GOOD + "[stimulus]\nflicker_hertz = 20.0\n",
        'mine.toml, stimulus.flicker_hertz: got "an unknown key"; allowed: duration_s, flicker_hz, '
        "full_radius_deg, orientation_deg, outer_radius_deg, phases_deg, ramp_s, "
        "spatial_frequency_cpd. Did you mean flicker_hz?",
    ),
    (
        "an unknown key without one",
        GOOD + "[eyes]\nzzz = 1\n",
        'mine.toml, eyes.zzz: got "an unknown key"; allowed: first, rest_s. Remove it.',
    ),
    (
        "an unknown table",
        GOOD + "[display]\nx = 1\n",
        'mine.toml, display: got "an unknown key"; allowed: about, answering, blind_spot, '
        "catch_trials, eyes, foreperiod, format, frames, name, pattern, practice, procedure, "
        "safety, stimulus, stop. Remove it.",
    ),
    (
        "a missing key",
        GOOD.replace('name = "mine"\n', ""),
        'mine.toml, name: got nothing; allowed: text that is not empty. Add name.',
    ),
    (
        "a missing table",
        GOOD.replace("[procedure]\n", "[eyes]\n").replace("kind", "first").replace(
            "rising", "left"
        ),
        'mine.toml, procedure: got nothing; allowed: a value. Add procedure.',
    ),
    (
        "an empty text",
        GOOD.replace('"mine"', '""'),
        "mine.toml, name: got nothing; allowed: text that is not empty. Change it.",
    ),
    (
        "a unit beside the number",
        GOOD + '[stimulus]\nduration_s = "600 ms"\n',
        'mine.toml, stimulus.duration_s: got "600 ms"; allowed: a number 0.05 to 2. '
        "Write a bare number: the unit is in the key's name (seconds).",
    ),
    (
        "the wrong unit",
        GOOD + "[stimulus]\nduration_s = 600.0\n",
        "mine.toml, stimulus.duration_s: got 600; allowed: a number 0.05 to 2. "
        "Change it; the unit is seconds.",
    ),
    (
        "a number out of range",
        GOOD + "[stimulus]\nflicker_hz = 200.0\n",
        "mine.toml, stimulus.flicker_hz: got 200; allowed: a number 5 to 60. "
        "Change it; the unit is hertz.",
    ),
    (
        "a bound that is not allowed itself",
        GOOD + "[stimulus]\norientation_deg = 180.0\n",
        "mine.toml, stimulus.orientation_deg: got 180; allowed: a number 0 to below 180. "
        "Change it; the unit is degrees of visual angle.",
    ),
    (
        "a number in an array",
        GOOD + "[stimulus]\nphases_deg = [0.0, 400.0]\n",
        "mine.toml, stimulus.phases_deg[1]: got 400; allowed: a number 0 to below 360. "
        "Change it; the unit is degrees of visual angle.",
    ),
    (
        "half a count",
        GOOD.replace('"rising"\n', '"rising"\ntries = 2.5\n'),
        "mine.toml, procedure.tries: got 2.5; allowed: a whole number 1 to 3. Change it.",
    ),
    (
        "a count out of range",
        GOOD.replace('"rising"\n', '"rising"\ntries = 4\n'),
        "mine.toml, procedure.tries: got 4; allowed: a whole number 1 to 3. Change it.",
    ),
    (
        "an unknown choice",
        GOOD + '[eyes]\nfirst = "middle"\n',
        'mine.toml, eyes.first: got "middle"; allowed: left or right. Change it.',
    ),
    (
        "an unknown format",
        GOOD.replace("format = 1", "format = 2"),
        "mine.toml, format: got 2; allowed: up to 1. It was made by a newer version: use that one.",
    ),
    (
        "two keys that disagree",
        GOOD + "[stimulus]\nfull_radius_deg = 4.0\n",
        'mine.toml, stimulus.outer_radius_deg: got "3.5"; allowed: above full_radius_deg, 4. '
        "Leave room for a soft edge.",
    ),
    (
        "two tables that disagree",
        GOOD + "[answering]\naccept_until_s = 0.5\n",
        'mine.toml, stimulus.duration_s: got "0.6"; allowed: up to answering.accept_until_s, 0.5. '
        "Shorten the presentation or lengthen the answer window.",
    ),
    (
        "ramps longer than the presentation",
        GOOD + "[stimulus]\nramp_s = 0.4\n",
        'mine.toml, stimulus.ramp_s: got "0.4"; allowed: up to half of duration_s, 0.3. '
        "Shorten the ramps or lengthen the presentation.",
    ),
    (
        "a foreperiod without play",
        GOOD + "[foreperiod]\nmax_s = 0.3\n",
        'mine.toml, foreperiod.max_s: got "0.3"; allowed: above min_s, 0.3. '
        "A constant foreperiod teaches a rhythm.",
    ),
    (
        "an answer window turned round",
        GOOD + "[answering]\naccept_from_s = 0.5\naccept_until_s = 0.4\n",
        'mine.toml, answering.accept_until_s: got "0.4"; allowed: above accept_from_s, 0.5. '
        "Give people time to answer.",
    ),
    (
        "more practice to pass than there is",
        GOOD + "[practice]\nneeded = 5\n",
        'mine.toml, practice.needed: got "5"; allowed: up to presentations, 4. '
        "Ask for fewer answers.",
    ),
    (
        "an unknown pattern",
        GOOD.replace("rings17", "rings18"),
        'mine.toml, pattern: got "rings18"; allowed: rings17, rings19, or the path of a .toml '
        "file. Check the spelling or the path.",
    ),
    (
        "patches too wide for the pattern",
        GOOD + "[stimulus]\nouter_radius_deg = 6.0\n",
        'mine.toml, pattern: got "places (0, 0) deg and (8.227, 4.75) deg that are 9.50 degrees '
        'apart"; allowed: at least 12 degrees, so that patches do not overlap. '
        "Move one of them or make the patch smaller.",
    ),
]


@pytest.mark.parametrize(
    ("text", "message"), [row[1:] for row in MISTAKES], ids=[row[0] for row in MISTAKES]
)
def test_a_mistake_has_one_clear_answer(text, message, tmp_path):
    assert _said(text, tmp_path) == message


def test_an_unknown_procedure_is_refused_with_those_there_are(tmp_path):
    said = _said(GOOD.replace('"rising"', '"falling"'), tmp_path)
    head, _, allowed = said.partition("; allowed: ")
    assert head == 'mine.toml, procedure.kind: got "falling"'
    assert "rising" in allowed.removesuffix(". Change it.").split(" or ")


def test_bad_toml_names_the_line(tmp_path):
    said = _said("format = 1\nname = \n", tmp_path)
    assert said.startswith('mine.toml: got "Invalid value (at line 2')
    assert said.endswith("allowed: TOML 1.0. Mend the line it names.")


@pytest.mark.parametrize("text", [GOOD + "[procedure]\n", GOOD + "name = [\n", "\x00"])
def test_no_bad_toml_gets_through(text, tmp_path):
    assert "allowed: TOML 1.0" in _said(text, tmp_path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format = " + "9" * 5000, '"a whole number with thousands of digits"'),
        ("x = " + "[" * 3000 + "]" * 3000, '"lists or tables nested too deeply"'),
        ("x = " + "{a = " * 3000 + "1" + "}" * 3000, '"lists or tables nested too deeply"'),
        ("\ufeff" + GOOD, '"a byte order mark before the first line"'),
    ],
    ids=["digits", "lists", "tables", "mark"],
)
def test_what_the_parser_has_no_line_for_is_said_in_words(text, said, tmp_path):
    assert _said(text, tmp_path).startswith(f"mine.toml: got {said}; allowed: TOML 1.0. ")


def test_not_a_number_and_infinity_are_refused(tmp_path):
    for odd in ("nan", "inf", "-inf"):
        assert "stimulus.duration_s" in _said(GOOD + f"[stimulus]\nduration_s = {odd}\n", tmp_path)


def test_a_path_and_a_pattern_beside_it_are_found(tmp_path):
    (tmp_path / "p.toml").write_text('format = 1\nname = "two"\nplaces_deg = [[0.0, 0.0]]\n')
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace("rings17", "p.toml"))
    assert len(load_protocol(str(path)).pattern.places) == 1


def test_a_mistake_in_the_pattern_names_the_pattern(tmp_path):
    (tmp_path / "p.toml").write_text('format = 1\nname = "two"\nplaces_deg = [[0.0, 90.0]]\n')
    assert _said(GOOD.replace("rings17", "p.toml"), tmp_path) == (
        "p.toml, places_deg[0][1]: got 90; allowed: a number -80 to 80. "
        "Change it; the unit is degrees of visual angle."
    )


def test_a_mistake_in_a_ring_keeps_its_unit(tmp_path):
    ring = "[[rings]]\neccentricity_deg = 99.0\npolar_angles_deg = [0.0]\n"
    (tmp_path / "p.toml").write_text('format = 1\nname = "two"\n' + ring)
    assert _said(GOOD.replace("rings17", "p.toml"), tmp_path) == (
        "p.toml, rings[0].eccentricity_deg: got 99; allowed: a number 0 to 80. "
        "Change it; the unit is degrees of visual angle."
    )


@pytest.mark.parametrize("name", ["nowhere", "folder"])
def test_a_protocol_that_is_not_there(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as refused:
        load_protocol(name)
    assert str(refused.value) == (
        f'protocol: got "{name}"; allowed: {", ".join(bundled_protocols())}, or the path of a '
        ".toml file. Check the spelling or the path."
    )


def test_a_file_that_is_not_text(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match=r"allowed: UTF-8 text\. Save the file as UTF-8"):
        load_protocol(str(path))


def test_the_hash_covers_protocol_and_pattern(tmp_path):
    plain = _parse(GOOD, tmp_path)
    other = _parse(GOOD + "# a word\n", tmp_path)
    pattern = parse_protocol(GOOD, "mine.toml", tmp_path, plain.pattern_text + "# a word\n")
    assert len({plain.sha256, other.sha256, pattern.sha256}) == 3
    assert plain.sha256 == _parse(GOOD, tmp_path).sha256
