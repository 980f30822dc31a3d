"""Exams to export, of many kinds: recorded on a virtual clock, then recast as if by others."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from records import record

from protocols.files import sha256_hex
from protocols.library import Protocol, load_protocol
from protocols.observer import load_observer

LINES = list[dict[str, Any]]


def recast(source: Path, folder: Path, change: Callable[[LINES], LINES]) -> Path:
    """A copy of an exam with its journal changed and chained anew, so that it verifies."""
    shutil.copytree(source, folder)
    _write_chained(folder, change([json.loads(line) for line in _lines(source)]))
    return folder


def _write_chained(folder: Path, lines: LINES) -> None:
    prev, texts = "0" * 64, []
    for number, line in enumerate(lines):
        text = json.dumps(line | {"n": number, "prev": prev}, separators=(",", ":")).encode()
        prev = sha256_hex(text)
        texts.append(text + b"\n")
    (folder / "journal.jsonl").write_bytes(b"".join(texts))
    head = {"n": len(lines) - 1, "sha256": prev}
    (folder / "journal.head").write_text(json.dumps(head, separators=(",", ":")) + "\n")


def _lines(folder: Path) -> list[bytes]:
    return (folder / "journal.jsonl").read_bytes().splitlines()


def said(kind: str, **data: Any) -> Callable[[LINES], LINES]:
    """A change of what the lines of one kind hold."""

    def change(lines: LINES) -> LINES:
        return [
            line | {"data": line["data"] | data} if line["kind"] == kind else line for line in lines
        ]

    return change


def of_person(code: str, days: float = 0.0, **data: Any) -> Callable[[LINES], LINES]:
    """Another participant on another day."""

    def change(lines: LINES) -> LINES:
        later = [line | {"utc": _later(line["utc"], days)} for line in lines]
        return said("opened", participant=code, **data)(later)

    return change


def _later(utc: str, days: float) -> str:
    moment = datetime.fromisoformat(utc.replace("Z", "+00:00")) + timedelta(days=days)
    return f"{moment:%Y-%m-%dT%H:%M:%S.%f}Z"


def both(*changes: Callable[[LINES], LINES]) -> Callable[[LINES], LINES]:
    """One change after another."""

    def change(lines: LINES) -> LINES:
        for one in changes:
            lines = one(lines)
        return lines

    return change


def in_a_window(lines: LINES) -> LINES:
    """As if shown by the real window on a measured display."""
    certificate = "c0" * 32
    light = {"mean_luminance_cd_m2": 61.5, "certificate_sha256": certificate, "calibrated": True}
    return said("display", simulated=False, **light)(said("opened", simulated=False)(lines))


def measured_people(folder: Path) -> Path:
    """The exam as opened against a reference that says it was made from people."""
    path = folder / "reference.toml"
    text = path.read_text()
    for old, new in (("synthetic = true", "synthetic = false"), ("people = 0", "people = 160")):
        assert old in text
        text = text.replace(old, new)
    path.write_text(text)
    lines = [json.loads(line) for line in _lines(folder)]
    lines[0]["data"]["reference"] |= {
        "sha256": sha256_hex(text.encode()), "synthetic": False, "people": 160,
    }  # fmt: skip
    _write_chained(folder, lines)
    return folder


def own_protocol(folder: Path, edit: Callable[[str], str], pattern: str | None = None) -> Protocol:
    """A protocol from an edited bundled one, with a pattern of its own if one is given."""
    folder.mkdir()
    bundled = load_protocol("bayes-19")
    (folder / "own.toml").write_text(edit(bundled.text))
    if pattern is not None:
        (folder / "pattern.toml").write_text(pattern)
    return load_protocol(str(folder / "own.toml"))


def cut_after(count: int) -> Callable[[LINES], LINES]:
    """An exam that ended, without a close, after this many answers."""

    def change(lines: LINES) -> LINES:
        answers = [k for k, line in enumerate(lines) if line["kind"] == "answered"]
        return lines[: answers[count - 1] + 1]

    return change


ALL = "[[12.0, 9.0], [-12.0, 9.0], [-12.0, -9.0], [12.0, -9.5]]"
CORNERS = f'format = 1\nname = "corners"\nplaces_deg = {ALL}\n'
LONE = 'format = 1\nname = "lone"\nplaces_deg = [[0.0, 12.0]]\n'


def make_originals(folder: Path) -> dict[str, Path]:
    """A few exams recorded whole; all others are made from these."""
    record(folder / "screen", "arc-loss", "screen-19", eyes=("right", "left"), practice=True)
    record(folder / "screen-17", "healthy", "screen-17", seed=5, age_years=20, eyes=("left",))
    record(folder / "bayes", "healthy", "bayes-19", seed=2, age_years=45)
    both_eyes = ("left", "right")
    record(folder / "bayes-arc", "arc-loss", "bayes-19", seed=3, age_years=63, eyes=both_eyes)
    record(folder / "stairs", "lone-loss", "staircase-19", seed=4, age_years=71, practice=True)
    record(folder / "happy", "trigger-happy", "screen-19", seed=6, age_years=33)
    _record_own(folder)
    _record_unseeing(folder)
    return {path.name: path for path in sorted(folder.iterdir())}


def _record_own(folder: Path) -> None:
    corners = own_protocol(folder / "p1", lambda text: _named(text, "Ecken größer"), CORNERS)
    record(folder / "corners", "healthy", corners, seed=7)
    lone = own_protocol(folder / "p2", lambda text: _no_catch(_named(text, "one-" * 30)), LONE)
    record(folder / "lone", "healthy", lone, seed=8)
    for name in ("p1", "p2"):
        shutil.rmtree(folder / name)


UNSEEING = """
format = 1
about = "Invented: sees nothing at all."
age_years = 58

[right]
centre_db = 0.0

[[right.losses]]
shape = "arc"
from_eccentricity_deg = 0.0
to_eccentricity_deg = 30.0
from_polar_deg = -180.0
to_polar_deg = 180.0
depth_db = 40.0
"""


def _record_unseeing(folder: Path) -> None:
    file = folder / "unseeing.toml"
    file.write_text(UNSEEING)
    model = load_observer(file)
    file.unlink()
    record(folder / "unseeing", model, "screen-17", seed=9, age_years=58)


def _named(text: str, name: str) -> str:
    text = text.replace('name = "bayes-19"', f'name = "{name}"')
    return text.replace('"rings19"', '"pattern.toml"')


def _no_catch(text: str) -> str:
    asked = {"blind_spot": 8, "blind_spot_early": 8, "blank": 3, "full_contrast": 3}
    for kind, count in asked.items():
        assert f"\n{kind} = {count}\n" in text
        text = text.replace(f"\n{kind} = {count}\n", f"\n{kind} = 0\n")
    return text


def make_variety(originals: dict[str, Path], folder: Path) -> dict[str, Path]:
    """Twenty exams that differ in what an export must cope with."""
    changes = {
        **{name: (name, _same) for name in originals},
        "window": ("bayes", in_a_window),
        "dim-black": ("bayes-arc", both(in_a_window, said("display", greatest_contrast=0.985))),
        "old": ("screen", of_person("", 1, age_years=90)),
        "young": ("stairs", of_person("", 2, age_years=21)),
        "stopped-early": ("bayes-arc", cut_after(60)),
        "screen-stopped": ("screen", cut_after(24)),
        "skipped": ("bayes-arc", _skip_second),
        "spoiled": ("stairs", _spoiled),
        "late-press": ("stairs", _late_presses),
        "nights": ("screen-17", of_person("", 0.62)),
        "measured": ("bayes-arc", in_a_window),
        "quick-display": ("stairs", said("display", refresh_hz=144.0, frames_per_cycle=7)),
        "second-half-missing": ("screen", cut_after(30)),
    }
    made = {}
    for number, (name, (source, change)) in enumerate(changes.items()):
        named = said("opened", participant=f"AB-12345-CD-67-EF-{number:02}"[number % 2 * 9 :])
        made[name] = recast(originals[source], folder / name, both(change, named))
    measured_people(made["measured"])
    return made


def _same(lines: LINES) -> LINES:
    return lines


def _skip_second(lines: LINES) -> LINES:
    """The second eye is skipped as soon as it began."""
    second = [k for k, line in enumerate(lines) if line["kind"] == "eye"][1]
    began = lines[second]
    return [*lines[: second + 1], began | {"data": began["data"] | {"skipped": True}}]


def _spoiled(lines: LINES) -> LINES:
    """The display spoilt the last presentation, and the record ends there."""
    cut = cut_after(70)(lines)
    shown, answer = [line for line in cut if line["kind"] in ("presented", "answered")][-2:]
    shown["data"] |= {"frames_late": 3, "spoiled": True}
    answer["data"] |= {"spoiled": True}
    return cut


def _late_presses(lines: LINES) -> LINES:
    """Every third unseen target gets a press that came too late."""
    unseen = 0
    for line in lines:
        if line["kind"] == "answered" and line["data"]["verdict"] == "not_seen":
            unseen += 1
            if unseen % 3 == 0:
                late = {"verdict": "late", "response_time_s": 1.25, "presses_s": [1.25, 1.4]}
                line["data"] |= late
    return lines
