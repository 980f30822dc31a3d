"""Wrong values for every option and argument of every command, made from what each is for.

`RIGHT` holds, for each command, words that are right; one parameter at a time is then given a wrong
value. What kind of thing a parameter takes stands in `TAKES`; numbers, choices and sizes tell by
their own types.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import click

from stimulus.cli import cli
from stimulus.commands.base import written
from stimulus.commands.parameters import Number, Numbers, OneOf, Size

UNREADABLE = "/proc/self/mem"
"""A file that nobody can read from its beginning, not even the administrator."""

NOWHERE = "/proc/new"
"""Where nobody can make anything."""

READ = ["", "nothing-here", "folder", UNREADABLE, "binary", "text", "empty-file", "source.toml/x"]
ALONE = "(alone)"
"""Stands for the value of a flag."""

EXAM = ["", "nothing-here", "text", "folder", "garbage"]
NEW_FOLDER = ["", "text", "finished", "text/new", NOWHERE]
WRONG = {
    "protocol": READ,
    "plan": [*READ, "protocol.toml", "truth.csv"],
    "case": [*READ, "protocol.toml", "plan.toml", "case-1", "CASE-01"],
    "session's record": [*READ, "protocol.toml", "truth.csv", "good.json"],
    "language": [*READ, "xx", "EN", "en.toml", "protocol.toml", "source.toml", "folder.toml"],
    "observers": [*READ, "binary.csv", "text.csv", "empty.csv", "folder.csv"],
    "reference": READ,
    "measured reference": READ,
    "certificate": READ,
    "key": READ,
    "exam": EXAM,
    "exam to go on with": EXAM,
    "exam that verifies or not": EXAM[:-1],
    "any folder": EXAM[:3],
    "phrase": [*READ, "short"],
    "new folder": NEW_FOLDER,
    "new folder in one": [*NEW_FOLDER, "no/such/new"],
    "folder": ["", "text", "nothing-here"],
    "data folder": ["", "text", "text/new", NOWHERE],
    "new csv": ["", "folder", "new.txt", "no/such/new.csv", "text/new.csv", f"{NOWHERE}.csv"],
    "new table": ["", "folder", "new.txt", "text/new.csv", f"{NOWHERE}.csv"],
    "new toml": ["", "folder", "new.txt", "no/such/new.toml", f"{NOWHERE}.toml"],
    "new file": ["", "folder", "text", "no/such/new", f"{NOWHERE}.txt"],
    "new html": ["", "folder", "new.txt", "no/such/new.html", f"{NOWHERE}.html"],
    "page": ["", "folder", "new.txt", "no/such/new.html", "text/new.pdf", f"{NOWHERE}.html"],
    "new certificate": ["", "folder", "no/such/c.json", "binary", "text", f"{NOWHERE}.json"],
    "button": ["", "pedal", "serial:", "simulated:", "keyboard:usb", "simulated:nothing-here",
               "simulated:binary", "simulated:folder", "phone", "phone:", "phone:no/such/place",
               "phone:protocol.toml"],
    "button of a display": ["", "pedal", "serial:", "keyboard:usb"],
    "photometer": ["", "lux", "serial:", "simulated:", "simulated:nothing-here", "manual:1",
                   "serial:/dev/x:nothing-here.toml", "simulated:binary", "simulated:folder"],
    "trace": ["", "serial:", "nothing-here.csv", "folder", "text", "binary.csv", "text.wav"],
    "rig": ["", "usb", "serial:"],
    "code": ["", "Anna Berg", "Berg", "1980-05-12", "x" * 30],
    "initials": ["", "A", "A1", "ABCDE"],
    "socket": ["", "no/such/socket", "x" * 200, f"{NOWHERE}.sock", "text"],
    "node": ["", "archive", "host:0", "host:99999", "host:x"],
    "title": ["", "x" * 17, "A\\B"],
    "card": ["", "big", "324", "324x", "0x0", "1x1,x"],
    "address": ["", "nowhere", "300.1.1.1"],
    "scheduler": ["", "nowhere", "tcp://"],
    "name": ["", " "],
    "any text": [""],
}  # fmt: skip
"""What is wrong for each kind of thing."""

TAKES = {
    "demo --out": "new folder",
    "run PROTOCOL": "protocol",
    "run --participant": "code",
    "run --out": "new folder",
    "run --button": "button",
    "run --display": "certificate",
    "run --safety-confirmed-by": "initials",
    "run --reference": "reference",
    "run --resume": "exam to go on with",
    "run --control": "socket",
    "run --language": "language",
    "simulate PROTOCOL": "protocol",
    "simulate --observers": "observers",
    "simulate --out": "new table",
    "simulate --cluster": "scheduler",
    "simulate --reference": "reference",
    "protocols show PROTOCOL": "protocol",
    "calibrate --out": "new certificate",
    "calibrate --photometer": "photometer",
    "calibrate --card": "card",
    "calibrate --display-serial": "any text",
    "calibrate --meter-name": "any text",
    "calibrate --meter-serial": "any text",
    "calibrate --trace": "trace",
    "calibrate --trace-channel": "any text",
    "calibrate --rig": "rig",
    "calibrate --button": "button of a display",
    "calibrate --protocol": "protocol",
    "certify CERT.json": "certificate",
    "grade DIR...": "exam",
    "grade --reference": "reference",
    "grade --table": "new csv",
    "reference build DIR...": "exam",
    "reference build --out": "new toml",
    "reference build --name": "name",
    "reference check REF.toml": "measured reference",
    "reference check DIR...": "any folder",
    "compare DIR...": "exam",
    "compare --reference": "reference",
    "compare --out": "new html",
    "report DIR...": "exam",
    "report --out": "page",
    "report --reference": "reference",
    "learn CASE...": "case",
    "learn --check": "session's record",
    "learn --out": "data folder",
    "learn --student": "code",
    "learn --button": "button",
    "learn --safety-confirmed-by": "initials",
    "pilot PLAN.toml": "plan",
    "pilot --out": "new folder",
    "pilot --cluster": "scheduler",
    "export bids DIR...": "exam",
    "export bids --out": "new folder in one",
    "export dicom DIR...": "exam",
    "export dicom --out": "new folder in one",
    "export dicom --send": "node",
    "export dicom --called": "title",
    "export dicom --calling": "title",
    "export fhir DIR...": "exam",
    "export fhir --out": "new folder in one",
    "station --data": "data folder",
    "station --listen": "address",
    "station --tls-cert": "key",
    "station --tls-key": "key",
    "station --pass-phrase-file": "phrase",
    "verify DIR...": "exam that verifies or not",
    "verify --public-key": "key",
    "sign DIR...": "exam",
    "sign --key": "key",
    "scrub DIR...": "exam",
    "scrub --out": "new folder in one",
    "scrub --keep-key": "new file",
    "doctor --out": "folder",
}
"""What each parameter of text takes."""

RUN = {
    "PROTOCOL": "protocol.toml", "--participant": "P-017", "--age": "45", "--eye": "right",
    "--out": "out", "--button": "simulated:observer.toml", "--windowed": "1280x720",
    "--distance": "35", "--screen-width": "53",
}  # fmt: skip
CASE = {"CASE...": "case-01", "--text": ALONE}
PERSON: dict[str, str | None] = {
    "--text": None, "--as": "participant", "--age": "45", "--distance": "35",
    "--screen-width": "53", "--windowed": "1280x720", "--button": "simulated:observer.toml",
}  # fmt: skip
METER = {"--photometer": "manual", "--meter-name": "x", "--meter-uncertainty": "0.02"}
RIGHT: dict[str, dict[str, str]] = {
    "demo": {"--out": "out"},
    "run": RUN,
    "simulate": {"PROTOCOL": "protocol.toml", "--observers": "truth.csv", "--out": "r.csv"},
    "protocols show": {"PROTOCOL": "protocol.toml"},
    "calibrate": {"STEP": "gamma", "--out": "c.json", **METER},
    "certify": {"CERT.json": "good.json"},
    "grade": {"DIR...": "finished"},
    "reference build": {"DIR...": "finished", "--out": "ours.toml"},
    "reference check": {"REF.toml": "measured.toml", "DIR...": "finished"},
    "compare": {"DIR...": "both"},
    "report": {"DIR...": "finished"},
    "learn": CASE,
    "pilot": {"PLAN.toml": "plan.toml", "--out": "out", "--workers": "1"},
    "samples reference": {},
    "samples agreement": {"--sd-db": "1.5", "--within-db": "0.5"},
    "samples difference": {"--difference-db": "1", "--sd-db": "2"},
    "export bids": {"DIR...": "finished", "--out": "out"},
    "export dicom": {"DIR...": "finished", "--out": "out", "--mean-luminance": "60"},
    "export fhir": {"DIR...": "finished", "--out": "out"},
    "station": {"--data": "data"},
    "verify": {"DIR...": "finished"},
    "sign": {"DIR...": "finished", "--key": "key.pem"},
    "scrub": {"DIR...": "finished", "--out": "out"},
    "doctor": {},
    "schema": {"FORMAT": "protocol"},
}

BESIDE = {
    "run --display": {"--distance": None, "--screen-width": None, "--windowed": None},
    "run --button": {"--safety-confirmed-by": "AB"},
    "run --resume": dict.fromkeys(RUN),
    "learn --check": {"--text": None},
    **{f"learn {name}": PERSON for name in PERSON if name not in ("--text", "--as")},
    "learn --safety-confirmed-by": PERSON,
    "learn --button": {**PERSON, "--safety-confirmed-by": "AB"},
    "pilot --cluster": {"--workers": None},
    "calibrate --card": {"STEP": "geometry", "--distance": "40,40", "--photometer": None},
    "calibrate --width": {"STEP": "geometry", "--height": "30,30", "--distance": "40,40"},
    "calibrate --height": {"STEP": "geometry", "--width": "53,53", "--distance": "40,40"},
    "calibrate --distance": {"STEP": "geometry", "--width": "53,53", "--height": "30,30"},
    "calibrate --trace": {"STEP": "flicker"},
    "calibrate --trace-channel": {"STEP": "flicker", "--trace": "steps.csv"},
    "calibrate --rig": {"STEP": "latency", "--button": "keyboard"},
    "calibrate --button": {"STEP": "latency", "--rig": "serial:/dev/x"},
    "export dicom --send": {"--called": "A"},
    "export dicom --called": {"--send": "localhost:104"},
    "export dicom --calling": {"--send": "localhost:104", "--called": "A"},
    "station --tls-cert": {"--tls-key": "tls.pem"},
    "station --tls-key": {"--tls-cert": "cert.pem"},
}
"""What a parameter needs beside it, or cannot have, where that is not in `RIGHT`."""


@dataclass(frozen=True)
class Parameter:
    """A parameter of a command, by the name it has on the command line."""

    command: str
    name: str
    type: click.ParamType
    is_flag: bool

    @property
    def key(self) -> str:
        return f"{self.command} {self.name}"


def parameters() -> list[Parameter]:
    """Every parameter of every command, the help page's own apart."""
    return list(_walk(cli, click.Context(cli), ""))


def _walk(command: click.Command, context: click.Context, path: str) -> Iterator[Parameter]:
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            child = command.get_command(context, name)
            assert child is not None
            inner = click.Context(child, info_name=name, parent=context)
            yield from _walk(child, inner, f"{path} {name}".strip())
    if path:
        for param in command.params:
            yield Parameter(path, written(param), param.type, getattr(param, "is_flag", False))


def wrong_values(param: Parameter) -> list[str]:
    """Wrong type, empty, out of range, and whatever else is wrong for what it takes."""
    kind = param.type
    if isinstance(kind, Number):
        whole = ["1.5"] if kind._whole else []
        beyond = [f"{kind._low - 1:.17g}", f"{kind._high * 2 + 1:.17g}"]
        return ["", "abc", "nan", "inf", *beyond, *whole]
    if isinstance(kind, Numbers):
        return ["", "abc", "40,,41", "40,x", "nan,nan", "1e99"]
    if isinstance(kind, OneOf):
        return ["", "no-such-word", kind.choices[0].upper()]
    if isinstance(kind, Size):
        return ["", "1280", "1280x", "0x0", "axb", "99999x99999", "-1x-1"]
    return WRONG[TAKES[param.key]]


def words_with(param: Parameter, value: str) -> list[str]:
    """The command with all right but this one."""
    given: dict[str, str | None] = {**RIGHT[param.command], **BESIDE.get(param.key, {})}
    given[param.name] = value
    words = param.command.split()
    for name, text in given.items():
        if text == ALONE:
            words.append(name)
        elif text is not None:
            words += [name, text] if name.startswith("--") else ["--", text][text[:1] != "-":]
    return words
