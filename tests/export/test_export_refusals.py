"""What exports refuse: one line, exit code 2, and nothing left behind."""

from __future__ import annotations

import fcntl
import resource
import shutil
import signal
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from export_rigs import LINES, cut_after, of_person, recast, said

from analysis.export.bids.write import export_bids
from analysis.export.dicom.build import finish, item
from protocols.errors import InputError
from stimulus.cli import run

WRONG_INPUT = 2
CODES = (
    "2 to 20 letters, digits and hyphens with at least one digit, such as P-017; no name, date, "
    "e-mail or phone number"
)
TITLES = "a title of 1 to 16 plain characters without backslash"


def opened_only(lines: LINES) -> LINES:
    return lines[:1]


def nothing_shown(lines: LINES) -> LINES:
    return lines[:3]


def no_lines(lines: LINES) -> LINES:
    return []


CHANGES = {
    "named": said("opened", participant="Nescio"),
    "other": of_person("P1"),
    "twin": of_person("p-1", 3),
    "nameless": said("opened", protocol="поле"),
    "long-task": said("opened", protocol="ab " * 110),
    "same-task": said("opened", protocol="Screen 19", participant="P-2"),
    "barely": opened_only,
    "begun": nothing_shown,
    "one-answer": cut_after(1),
}


@pytest.fixture(scope="module")
def exams(originals: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exams")
    for name in ("happy", "screen"):
        shutil.copytree(originals[name], folder / name)
    shutil.copytree(originals["happy"], folder / "copy")
    for name, change in CHANGES.items():
        recast(originals["screen"], folder / name, change)
    changed = Path(shutil.copytree(originals["happy"], folder / "changed")) / "journal.jsonl"
    changed.write_bytes(changed.read_bytes().replace(b'"verdict":"seen"', b'"verdict":"late"', 1))
    other = Path(shutil.copytree(originals["happy"], folder / "other-limits")) / "reference.toml"
    other.write_text(other.read_text().replace("synthetic = true", "synthetic = false"))
    empty = Path(shutil.copytree(originals["happy"], folder / "empty"))
    (empty / "journal.jsonl").write_bytes(b"")
    (empty / "journal.head").unlink()
    (folder / "notes").mkdir()
    (folder / "taken").mkdir()
    (folder / "file.txt").write_text("mine")
    return folder


@pytest.fixture
def desk(exams: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = Path(shutil.copytree(exams, tmp_path / "desk"))
    monkeypatch.chdir(folder)
    return folder


@dataclass(frozen=True)
class Case:
    name: str
    exams: tuple[str, ...]
    error: str
    kinds: tuple[str, ...] = ("bids", "dicom", "fhir")
    options: tuple[str, ...] = field(default=())
    out: str = "out"


DICOM = ("dicom",)
LUMINANCE = ("--mean-luminance", "50")
CASES = [
    Case(
        "no such folder",
        ("nowhere",),
        'DIR: got "nowhere"; allowed: a folder that holds an exam. Check the path.',
    ),
    Case(
        "no exam in it",
        ("notes",),
        'exam folder: got "notes"; allowed: a folder that holds journal.jsonl. Name the folder an '
        "exam was written to.",
    ),
    Case(
        "a changed record",
        ("happy", "changed"),
        'DIR: got "changed"; allowed: a record that was not changed. ripplefield verify says: '
        "line 8 does not follow line 7: a line was changed, lost or moved.",
    ),
    Case(
        "another reference",
        ("happy", "other-limits"),
        'DIR: got "other-limits"; allowed: a record that was not changed. ripplefield verify says: '
        "reference.toml is not the one the exam was opened with.",
    ),
    Case(
        "a copy",
        ("happy", "copy"),
        'DIR: got "copy"; allowed: each exam once; happy holds the same one. Leave one of them '
        "out.",
    ),
    Case(
        "twice",
        ("happy", "happy"),
        'DIR: got "happy"; allowed: each exam once; happy holds the same one. Leave one of them '
        "out.",
    ),
    Case(
        "a name for a code",
        ("named",),
        f'participant of named: got "Nescio"; allowed: {CODES}. Nothing that names people goes '
        "out.",
    ),
    Case(
        "no line",
        ("empty",),
        'DIR: got "empty"; allowed: an exam in which something was shown. Leave this folder out: '
        "the exam stopped before its first presentation.",
    ),
    Case(
        "one line",
        ("barely",),
        'exam folder: got "barely"; allowed: a journal with a line of kind display. The exam '
        "stopped before it began; there is nothing to grade.",
        options=(),
    ),
    Case(
        "nothing shown",
        ("begun",),
        'DIR: got "begun"; allowed: an exam in which something was shown. Leave this folder out: '
        "the exam stopped before its first presentation.",
        kinds=("bids", "fhir"),
    ),
    Case(
        "nothing tested to its end",
        ("happy", "one-answer"),
        'DIR: got "one-answer"; allowed: an exam with a place that was tested to its end. Leave '
        "this folder out: there is nothing to tell of.",
        kinds=DICOM,
        options=LUMINANCE,
    ),
    Case(
        "out is there",
        ("happy",),
        '--out: got "taken"; allowed: a folder that does not exist yet. Name another folder.',
        out="taken",
    ),
    Case(
        "out is a file",
        ("happy",),
        '--out: got "file.txt"; allowed: a folder that does not exist yet. Name another folder.',
        out="file.txt",
    ),
    Case(
        "out in a file",
        ("happy",),
        '--out: got "file.txt/out"; allowed: a name in a folder that exists. Make the folder '
        "first.",
        out="file.txt/out",
    ),
    Case(
        "out in nothing",
        ("happy",),
        '--out: got "a/b"; allowed: a name in a folder that exists. Make the folder first.',
        out="a/b",
    ),
    Case(
        "a name too long for a file",
        ("happy", "long-task"),
        f'protocol name: got "{"ab " * 110}"; allowed: up to 218 letters and digits, so that a '
        "file can be named by it. Export these exams apart from BIDS, or run exams under a "
        "shorter name.",
        kinds=("bids",),
    ),
    Case(
        "labels of people clash",
        ("screen", "other"),
        'participant: got "P1"; allowed: names that differ in letters or digits; P-1 is there '
        "too. BIDS labels hold nothing else; export these exams into two folders.",
        kinds=("bids",),
    ),
    Case(
        "labels of people clash but for case",
        ("screen", "twin"),
        'participant: got "p-1"; allowed: names that differ in letters or digits; P-1 is there '
        "too. BIDS labels hold nothing else; export these exams into two folders.",
        kinds=("bids",),
    ),
    Case(
        "labels of protocols clash",
        ("screen", "same-task"),
        'protocol name: got "screen-19"; allowed: names that differ in letters or digits; Screen '
        "19 is there too. BIDS labels hold nothing else; export these exams into two folders.",
        kinds=("bids",),
    ),
    Case(
        "no label",
        ("nameless",),
        'protocol name: got "поле"; allowed: a name with a letter a to z or a digit. BIDS labels '
        "hold nothing else; export these exams apart under another name.",
        kinds=("bids",),
    ),
    Case(
        "no luminance",
        ("happy",),
        "mean luminance of exam P-1: got nothing; allowed: a luminance in cd/m2, which DICOM "
        "demands; this display was not measured. Run exams on a certified display, or state it: "
        "--mean-luminance CD_M2",
        kinds=DICOM,
    ),
    Case(
        "luminance out of range",
        ("happy",),
        '--mean-luminance: got "0"; allowed: a number from 0.1 to 10000, in cd/m2. Give the mean '
        "grey of the screen.",
        kinds=DICOM,
        options=("--mean-luminance", "0"),
    ),
    Case(
        "no port",
        ("happy",),
        '--send: got "archive"; allowed: HOST:PORT with a port from 1 to 65535. Write it like '
        "localhost:104.",
        kinds=DICOM,
        options=("--send", "archive", "--called", "A"),
    ),
    Case(
        "port out of range",
        ("happy",),
        '--send: got "localhost:70000"; allowed: HOST:PORT with a port from 1 to 65535. Write it '
        "like localhost:104.",
        kinds=DICOM,
        options=("--send", "localhost:70000", "--called", "A"),
    ),
    Case(
        "no title",
        ("happy",),
        f"--called: got nothing; allowed: {TITLES}. Add --called TITLE, the node's own title.",
        kinds=DICOM,
        options=("--send", "localhost:104"),
    ),
    Case(
        "title too long",
        ("happy",),
        f'--called: got "ARCHIVE-OF-IMAGES"; allowed: {TITLES}. Ask who runs the node for its '
        "titles.",
        kinds=DICOM,
        options=("--send", "localhost:104", "--called", "ARCHIVE-OF-IMAGES"),
    ),
    Case(
        "own title",
        ("happy",),
        f'--calling: got "A\\B"; allowed: {TITLES}. Ask who runs the node for its titles.',
        kinds=DICOM,
        options=("--send", "localhost:104", "--called", "A", "--calling", "A\\B"),
    ),
    Case(
        "title without address",
        ("happy",),
        '--called: got "A"; allowed: --called together with --send. Add --send HOST:PORT, or '
        "leave it out.",
        kinds=DICOM,
        options=("--called", "A"),
    ),
]
ALL = [(case, kind) for case in CASES for kind in case.kinds]


def everything(folder: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@pytest.mark.parametrize(("case", "kind"), ALL, ids=lambda one: getattr(one, "name", one))
def test_one_clear_line(case: Case, kind: str, desk: Path, capsys: pytest.CaptureFixture[str]):
    before = everything(desk)
    code = run(["export", kind, *case.exams, "--out", case.out, *case.options])
    told = capsys.readouterr()
    assert told.err == f"error: {case.error}\n"
    assert (code, told.out) == (WRONG_INPUT, "")
    assert everything(desk) == before


def test_an_exam_under_way(desk: Path, capsys: pytest.CaptureFixture[str]):
    with open(desk / "happy" / "journal.jsonl", "rb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert run(["export", "bids", "happy", "--out", "out"]) == WRONG_INPUT
    assert capsys.readouterr().err == (
        'error: exam folder: got "happy"; allowed: an exam that no other program is running. '
        "Wait for the other one to end, or stop it.\n"
    )
    assert not (desk / "out").exists()


def _small_files() -> None:
    """The system lets no file grow past one kilobyte, as a full disk would.

    Python must write no bytecode meanwhile: it would leave half files in its cache.
    """
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1024, 1024))


@pytest.mark.parametrize("kind", ["bids", "dicom", "fhir"])
def test_no_room(kind: str, desk: Path):
    before = everything(desk)
    options = LUMINANCE if kind == "dicom" else ()
    program = Path(sys.executable).with_name("ripplefield")
    home = str(desk.parent)
    quiet = {"PYTHONDONTWRITEBYTECODE": "1", "MPLCONFIGDIR": home, "HOME": home}
    done = subprocess.run(
        [str(program), "export", kind, "happy", "--out", "out", *options],
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=_small_files,
        check=False,
        env={"PATH": "/usr/bin:/bin"} | quiet,
    )
    assert done.stderr.splitlines()[-1] == (
        'error: --out: got "out"; allowed: a folder that can be written to. The system says: File '
        "too large."
    )
    assert done.returncode == WRONG_INPUT
    assert everything(desk) == before


def test_stopped_by_the_operator(desk: Path):
    """Ctrl-C between two exams leaves nothing."""

    def stop(done: int, total: int) -> None:
        assert total == 2
        assert len(list(desk.glob(".out.*"))) == 1, "written beside, under another name"
        raise KeyboardInterrupt

    before = everything(desk)
    with pytest.raises(KeyboardInterrupt):
        export_bids([desk / "happy", desk / "screen"], desk / "out", stop)
    assert everything(desk) == before


def test_a_folder_that_takes_nothing(desk: Path, capsys: pytest.CaptureFixture[str]):
    """Nobody can make files in /proc, not even the administrator."""
    assert run(["export", "fhir", "happy", "--out", "/proc/out"]) == WRONG_INPUT
    assert capsys.readouterr().err == (
        'error: --out: got "/proc/out"; allowed: a folder that can be written to. The system says: '
        "No such file or directory.\n"
    )


def test_somebody_else_was_quicker(desk: Path):
    def meddle(done: int, total: int) -> None:
        (desk / "out").mkdir()
        (desk / "out" / "theirs.txt").write_text("mine")

    with pytest.raises(InputError) as error:
        export_bids([desk / "happy"], Path("out"), meddle)
    assert str(error.value) == (
        '--out: got "out"; allowed: a folder that can be written to. The system says: Directory '
        "not empty."
    )
    assert [path.name for path in (desk / "out").iterdir()] == ["theirs.txt"]
    assert list(desk.glob(".out.*")) == []


def test_a_number_that_is_none_never_goes_out():
    with pytest.raises(InputError) as error:
        finish(item(VisualFieldMeanSensitivity=float("nan")))
    assert str(error.value) == (
        "VisualFieldMeanSensitivity: got nan; allowed: a finite number. Run ripplefield verify on "
        "the folder; the record cannot be right."
    )
