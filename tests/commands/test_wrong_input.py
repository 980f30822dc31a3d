"""Wrong input: one line that says what, what was given, what is allowed, what to do; exit code 2.

The tables hold the whole line of each. Nothing is made, changed or left half-written.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import wrong_files
import wrong_line
import wrong_records
from command_desk import (
    CODE_OF_WRONG_INPUT,
    FILES,
    PROTOCOL,
    Case,
    all_files,
    protocol_with,
    run_words,
    say,
)
from spoilt_records import make_records

from stimulus.cli import COMMANDS

PROGRAM = Path(sys.executable).with_name("ripplefield")
CASES = [*wrong_line.CASES, *wrong_files.CASES, *wrong_records.CASES]


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("records")
    make_records(folder)
    return folder


@pytest.fixture
def desk(records: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder commands run in: records, a good protocol, pattern and observer. No display."""
    folder = tmp_path / "desk"
    shutil.copytree(records, folder)
    write(folder, FILES)
    monkeypatch.chdir(folder)
    monkeypatch.delenv("DISPLAY", raising=False)
    return folder


def write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)


def test_there_are_many() -> None:
    assert len(CASES) >= 45
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_clear_line(case: Case, desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(desk, case.files)
    before = all_files(desk)
    said = say(case.words, capsys)
    assert said.errors == f"error: {case.error}\n"
    assert (said.code, said.output) == (CODE_OF_WRONG_INPUT, "")
    assert all_files(desk) == before


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_line_has_all_four_parts(case: Case) -> None:
    """Parameter, what was given, what is allowed, what to do next (a sentence or a pointer)."""
    parameter, given, rest = case.error.partition(": got ")
    allowed, todo = rest.partition("; allowed: ")[::2]
    assert parameter
    assert given
    assert allowed
    assert ". " in todo


def test_no_command_at_all(capsys: pytest.CaptureFixture[str]) -> None:
    said = say([], capsys)
    assert (said.code, said.output) == (CODE_OF_WRONG_INPUT, "")
    assert said.errors.startswith("Usage: ripplefield [OPTIONS] COMMAND [ARGS]...")
    last = f"error: command: got nothing; allowed: {', '.join(COMMANDS)}. Name what to do."
    assert said.errors.splitlines()[-1] == last


def started(words: list[str], folder: Path, display: str | None = None) -> tuple[int, str, str]:
    """The installed program as a process of its own."""
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(Path.home())}
    if display is not None:
        environment["DISPLAY"] = display
    done = subprocess.run(
        [str(PROGRAM), *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize("name", ["unknown command", "--eye", "protocol range", "resume changed"])
def test_the_installed_program_says_the_same(name: str, desk: Path) -> None:
    [case] = [case for case in CASES if case.name == name]
    write(desk, case.files)
    before = all_files(desk)
    assert started(case.words, desk) == (CODE_OF_WRONG_INPUT, "", f"error: {case.error}\n")
    assert all_files(desk) == before


def test_no_display(desk: Path) -> None:
    assert started(run_words(), desk) == (
        CODE_OF_WRONG_INPUT,
        "",
        "error: display: got nothing; allowed: a running X display named by DISPLAY. "
        "Log in to a desktop, or install a virtual screen: apt-get install xvfb\n",
    )
    assert not (desk / "out").exists()


WITH_A_DISPLAY = {
    "window larger than the display": (
        run_words(windowed="4000x3000"),
        {},
        'window size: got "4000x3000 px"; allowed: up to 1280x720 px. '
        "Make the window smaller or use a larger display.",
    ),
    "serial port that is not there": (
        run_words(button="serial:nothing-here", safety_confirmed_by="AB"),
        {},
        'button: got "serial:nothing-here"; allowed: a port that exists. '
        "Plug the box in and check the name of its port.",
    ),
    "serial port that is a file": (
        run_words(button="serial:observer.toml", safety_confirmed_by="AB"),
        {},
        'button: got "serial:observer.toml"; allowed: a serial port. '
        "Name the port of the button box, such as serial:/dev/ttyUSB0.",
    ),
    "flicker too fast for the display": (
        run_words(),
        protocol_with("20.0", "45.0"),
        "flicker_hz: got 45; allowed: up to half the refresh rate, 30 Hz here. "
        "Raise the refresh rate of the screen or lower the flicker rate.",
    ),
}


@pytest.mark.parametrize("name", WITH_A_DISPLAY)
def test_what_only_a_display_can_tell(name: str, display: str, desk: Path) -> None:
    words, files, error = WITH_A_DISPLAY[name]
    write(desk, files)
    before = all_files(desk)
    assert started(words, desk, display) == (CODE_OF_WRONG_INPUT, "", f"error: {error}\n")
    assert all_files(desk) == before


def test_right_input_is_not_refused(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The words that all others are made from get as far as the display, which is not there."""
    assert say(run_words(), capsys).errors.startswith("error: display: got nothing; ")
    assert say(["protocols", "show", "protocol.toml"], capsys).code == 0
    assert PROTOCOL in (desk / "protocol.toml").read_text()


@pytest.mark.parametrize(("group", "known"), [
    ("export", "bids, dicom, fhir"), ("reference", "build, check"),
])  # fmt: skip
def test_a_group_alone_names_its_own_commands(
    group: str, known: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = say([group], capsys)
    assert said.code == CODE_OF_WRONG_INPUT
    last = said.errors.splitlines()[-1]
    assert last == f"error: command: got nothing; allowed: {known}. Name what to do."


def test_an_invented_participant_is_found_by_name(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the README has it: nothing but the display is missing."""
    said = say(run_words(button="simulated:healthy"), capsys)
    assert said.errors.startswith("error: display: got nothing; ")
