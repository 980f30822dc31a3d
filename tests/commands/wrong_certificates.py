"""Certificates with one thing wrong each, and the wrong lines about them."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
from command_desk import Case
from msgspec.structs import replace

from calibration.certificate import (
    Certificate,
    content_sha256,
    read_certificate,
    write_certificate,
)
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.library import load_protocol
from stimulus.calibrating.job import run_steps
from stimulus.calibrating.simulated_bench import SimulatedBench
from stimulus.calibrating.steps import STEPS, Wish

LAPSED_UTC = "2026-01-31T00:00:00+00:00"
CHANGED = "The file was changed after it was made: calibrate again."
DISPLAYS = "office, slow-panel, ten-bit, uneven, or the path of a .toml file"


def make_certificates(folder: Path) -> None:
    """One of a simulated display, and spoilt copies of it."""
    bench = SimulatedBench(SimulatedDisplay(DisplayFile(about="on the desk")), 2)
    wish = Wish(load_protocol("screen-19").settings.stimulus, 2, folder / "readings.jsonl")
    good = folder / "good.json"
    run_steps(list(STEPS), bench, good, wish, "test", lambda *_: None)
    (folder / "readings.jsonl").unlink(missing_ok=True)
    text = good.read_text()
    (folder / "changed.json").write_text(_changed(text))
    newer = json.loads(text) | {"format": 2, "colour_gamut": {}}
    (folder / "newer.json").write_text(json.dumps(newer))
    (folder / "broken.json").write_text(text[:1000])
    (folder / "unknown.json").write_text(json.dumps(json.loads(text) | {"colour": 1}))
    found = read_certificate(good)
    write_certificate(folder / "lapsed.json", replace(found, lapses_utc=LAPSED_UTC))
    write_certificate(folder / "part.json", replace(found, gamma=None, contrast_range=None))


def _changed(text: str) -> str:
    """A peak that is one digit brighter than it was measured."""
    at = text.index('"value"', text.index('"peak_cd_m2"'))
    digit = text.index("2", at)
    return text[:digit] + "3" + text[digit + 1 :]


def seals(folder: Path) -> dict[str, str]:
    """What a line about a changed certificate says: the seal in it, and the right one."""
    found = msgspec.json.decode((folder / "changed.json").read_bytes(), type=Certificate)
    return {"SEALED": found.sha256[:12], "RIGHT": content_sha256(found)[:12]}


CASES = [
    Case(
        "certify without a file",
        ["certify"],
        "CERT.json: got nothing; allowed: a certificate's file. Add CERT.json. See: ripplefield "
        "certify --help",
    ),
    Case(
        "certify what is not there",
        ["certify", "none.json"],
        'certificate: got "none.json"; allowed: a file that exists. Check the path.',
    ),
    Case(
        "certify a folder",
        ["certify", "folder"],
        'certificate: got "folder"; allowed: a file, not a folder. Name the file.',
    ),
    Case(
        "certify half a file",
        ["certify", "broken.json"],
        'broken.json: got "Input data was truncated"; allowed: JSON. Mend the file or make it '
        "anew.",
    ),
    Case(
        "certify with an unknown key",
        ["certify", "unknown.json"],
        'unknown.json, colour: got "an unknown key"; allowed: command, contrast_range, flash, '
        "flicker, format, gamma, geometry, identity, instruments, lapses_utc, latency, made_utc, "
        "notice, sha256, timing, uniformity, versions. Remove it.",
    ),
    Case(
        "certify a changed one",
        ["certify", "changed.json"],
        'changed.json, sha256: got "SEALED..."; allowed: RIGHT..., that of its content. ' + CHANGED,
    ),
    Case(
        "certify one of a newer version",
        ["certify", "newer.json"],
        "newer.json, format: got 2; allowed: up to 1. It was made by a newer version: use that "
        "one, or calibrate again.",
    ),
    Case(
        "certify two",
        ["certify", "good.json", "part.json"],
        'extra argument: got "part.json"; allowed: ripplefield certify [OPTIONS] CERT.json. Remove '
        "it, or put words that belong together in quotation marks. See: ripplefield certify --help",
    ),
    Case(
        "report what is not there",
        ["report", "none.json"],
        'certificate: got "none.json"; allowed: a file that exists. Check the path.',
    ),
    Case(
        "report a changed one",
        ["report", "changed.json"],
        'changed.json, sha256: got "SEALED..."; allowed: RIGHT..., that of its content. ' + CHANGED,
    ),
    Case(
        "report as another kind of file",
        ["report", "good.json", "--out", "page.pdf"],
        '--out: got "page.pdf"; allowed: a name that ends in .html. Rename the page.',
    ),
    Case(
        "report into no folder",
        ["report", "good.json", "--out", "nowhere/page.html"],
        '--out: got "nowhere/page.html"; allowed: a name in a folder that exists. Make the folder '
        "first.",
    ),
    Case(
        "report two",
        ["report", "good.json", "part.json"],
        'DIR: got "good.json"; allowed: a folder that holds an exam. Check the path.',
    ),
    Case(
        "calibrate onto a changed one",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "changed.json"],
        'changed.json, sha256: got "SEALED..."; allowed: RIGHT..., that of its content. ' + CHANGED,
    ),
    Case(
        "calibrate onto another display's",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "good.json"],
        '--out: got "good.json, of simulated: on the desk"; allowed: a new file, or a certificate '
        "of simulated: office screen, 8 bits. Name another file: a certificate is of one display.",
    ),
    Case(
        "calibrate onto half a file",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "broken.json"],
        'broken.json: got "Input data was truncated"; allowed: JSON. Mend the file or make it '
        "anew.",
    ),
    Case(
        "calibrate into a folder",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "folder"],
        '--out: got "folder"; allowed: a file, not a folder. Name the file: CERT.json.',
    ),
    Case(
        "calibrate into the folder one is in",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "."],
        '--out: got "."; allowed: a file, not a folder. Name the file: CERT.json.',
    ),
    Case(
        "calibrate into no folder",
        ["calibrate", "gamma", "--photometer", "simulated:office", "--out", "nowhere/c.json"],
        '--out: got "nowhere/c.json"; allowed: a file in a folder that exists. Make the folder.',
    ),
    Case(
        "calibrate an unknown display",
        ["calibrate", "all", "--photometer", "simulated:offce", "--out", "c.json"],
        f'--photometer, simulated display: got "offce"; allowed: {DISPLAYS}. Check the spelling '
        "or the path.",
    ),
    Case(
        "calibrate no display",
        ["calibrate", "all", "--photometer", "simulated:", "--out", "c.json"],
        f"--photometer, simulated display: got nothing; allowed: {DISPLAYS}. Check the spelling "
        "or the path.",
    ),
    Case(
        "calibrate a display with a wrong file",
        ["calibrate", "all", "--photometer", "simulated:mine.toml", "--out", "c.json"],
        "--photometer, mine.toml, bits: got 16; allowed: a whole number 6 to 12. Change it.",
        files={"mine.toml": 'about = "mine"\nbits = 16\n'},
    ),
    Case(
        "calibrate flicker before timing",
        ["calibrate", "flicker", "--photometer", "simulated:office", "--out", "c.json"],
        'calibrate flicker: got "a certificate without timing"; allowed: one with timing. Measure '
        "it first: ripplefield calibrate timing",
    ),
    Case(
        "calibrate uniformity before geometry",
        ["calibrate", "uniformity", "--photometer", "simulated:office", "--out", "c.json"],
        'calibrate uniformity: got "a certificate without geometry"; allowed: one with geometry. '
        "Measure it first: ripplefield calibrate geometry",
    ),
]
