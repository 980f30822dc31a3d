"""Each example of docs/extending: pip-installed, held to its contract, used by the real command."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from plugin_rigs import EXAMPLES, EXTENDING, Site

from calibration.certificate import read_certificate
from stimulus.contracts.exams import record

NAMES = ("feed", "ladder", "pipe", "places")
OBSERVERS = Path(__file__).parents[2] / "protocols" / "library" / "observers"


def test_the_examples_are_those_that_are_tried_here():
    assert tuple(sorted(path.name for path in EXAMPLES.iterdir())) == NAMES


def test_the_page_shows_each_whole():
    text = (EXTENDING / "index.md").read_text()
    shown = set(re.findall(r"\{literalinclude\} (\S+)", text))
    there = {str(path.relative_to(EXTENDING)) for path in EXAMPLES.rglob("*.py")}
    assert shown == there


def test_the_commands_of_the_page_are_those_tried_below():
    blocks = re.findall(r"```sh\n(.*?)```", (EXTENDING / "index.md").read_text(), re.DOTALL)
    assert [line for block in blocks for line in block.splitlines()] == [
        "pip install --no-deps ./ladder ./pipe ./feed ./places",
        "python -m pytest -q ladder/tests pipe/tests feed/tests places/tests",
        "ripplefield protocols show ladder/ladder-19.toml",
    ]


@pytest.mark.parametrize("name", NAMES)
def test_its_own_tests_pass(name: str, site: Site):
    """The contract, imported from the installed program by the package's own tests."""
    shutil.copytree(EXAMPLES / name / "tests", site.desk / "tests")
    ran = site.run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests"])
    assert ran.code == 0, ran.out + ran.errors
    assert " passed" in ran.out or "100%" in ran.out


def ladder_file(desk: Path, old: str = "", new: str = "") -> Path:
    text = (EXAMPLES / "ladder" / "ladder-19.toml").read_text()
    assert old in text
    (desk / "mine.toml").write_text(text.replace(old, new, 1) if old else text)
    return desk / "mine.toml"


def run_words(protocol: str, out: str, observer: str = "healthy") -> list[str]:
    return [
        *("run", protocol, "--participant", "P-017", "--age", "45", "--eye", "right"),
        *("--out", out, "--windowed", "1280x720", "--distance", "35", "--screen-width", "53"),
        *("--seed", "3", "--start", "now", "--skip-practice"),
        *("--button", f"simulated:{OBSERVERS / observer}.toml"),
    ]


SHORT = ('pattern = "rings19"', 'pattern = "few.toml"')
FEW = 'format = 1\nname = "few"\nplaces_deg = [[0.0, 8.0], [-8.0, 0.0]]\n'
QUICK = "\n[catch_trials]\nblind_spot = 0\nblank = 0\nfull_contrast = 0\n"


def few_places(desk: Path) -> str:
    path = ladder_file(desk, *SHORT)
    path.write_text(path.read_text() + QUICK)
    (desk / "few.toml").write_text(FEW)
    return path.name


@pytest.fixture(scope="module")
def ladder_exam(packages: Path, display: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An exam by the ladder in a real window, of two places."""
    desk = tmp_path_factory.mktemp("ladder")
    ran = Site(packages, desk).ripplefield(*run_words(few_places(desk), "exam"), display=display)
    assert ran.code == 0, ran.errors
    return desk / "exam"


RECORDED = {"plug-in procedure ladder": "ripplefield-example-ladder 0.1.0"}
WITHOUT = (
    "allowed: ripplefield-example-ladder 0.1.0, which the exam was run with. "
    "Install it: pip install ripplefield-example-ladder==0.1.0\n"
)


def test_an_exam_by_a_procedure_is_graded_only_where_it_is_installed(site: Site, ladder_exam: Path):
    shutil.copytree(ladder_exam, site.desk / "exam")
    opened = json.loads((site.desk / "exam" / "journal.jsonl").read_text().splitlines()[0])
    assert RECORDED.items() <= opened["data"]["versions"].items()
    assert site.ripplefield("grade", "exam").code == 0
    result = json.loads((site.desk / "exam" / "result.json").read_text())
    assert RECORDED.items() <= result["versions"].items()
    assert result["exam"]["procedure"] == "ladder"
    without = Site(site.desk, site.desk)
    for words in (["grade", "exam"], ["report", "exam"], ["compare", "exam"]):
        said = without.ripplefield(*words)
        assert said.code == 2
        assert said.errors == f"error: exam, plug-in procedure ladder: got nothing; {WITHOUT}"
    assert without.ripplefield("verify", "exam").code == 0


def cut(exam: Path, lines: int) -> None:
    """The record as a crash leaves it after so many lines."""
    path = exam / "journal.jsonl"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:lines]))
    (exam / "journal.head").unlink(missing_ok=True)


def test_an_exam_is_gone_on_with_only_by_the_version_it_began_with(
    site: Site, ladder_exam: Path, display: str
):
    cut(Path(shutil.copytree(ladder_exam, site.desk / "exam")), 6)
    newer = site.desk / "newer"
    shutil.copytree(site.packages, newer)
    about = next(newer.glob("*ladder*.dist-info/METADATA"))
    about.write_text(about.read_text().replace("Version: 0.1.0", "Version: 0.2.0"))
    said = Site(newer, site.desk).ripplefield("run", "--resume", "exam", display=display)
    assert said.code == 2
    got = '"ripplefield-example-ladder 0.2.0"'
    assert said.errors == f"error: exam, plug-in procedure ladder: got {got}; {WITHOUT}"
    observer = f"simulated:{OBSERVERS / 'healthy'}.toml"
    went_on = ["run", "--resume", "exam", "--start", "now", "--button", observer]
    assert site.ripplefield(*went_on, display=display).code == 0


WRONG = {
    "type": (("rungs = 6", 'rungs = "six"'), 'procedure.rungs: got "six"; allowed: a whole number '
             "2 to 20. Change it."),
    "range": (("step_db = 5.0", "step_db = 50.0"), "procedure.step_db: got 50; allowed: a number "
              "0.5 to 20. Change it; the unit is contrast dB."),
    "unknown": (("step_db", "stepdb"), 'procedure.stepdb: got "an unknown key"; allowed: '
                "first_below_limit_db, rungs, step_db. Did you mean step_db?"),
    "elsewhere": (('about = "', 'abuot = "'), 'abuot: got "an unknown key"; allowed: about, '
                  "answering, blind_spot, catch_trials, eyes, foreperiod, format, frames, name, "
                  "pattern, practice, procedure, safety, stimulus, stop. Did you mean about?"),
    "name": (('"ladder"', '"laddr"'), 'procedure.kind: got "laddr"; allowed: rising or staircase '
             "or bayes or quest-plus or joint or decision or ladder. Change it, or install the "
             "package that brings it."),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_procedure_table_is_said_in_full(name: str, site: Site):
    (old, new), error = WRONG[name]
    ladder_file(site.desk, old, new)
    said = site.ripplefield("protocols", "show", "mine.toml")
    assert (said.code, said.out) == (2, "")
    assert said.errors == f"error: mine.toml, {error}\n"


def test_a_procedure_is_simulated_by_thousands_in_several_processes(site: Site):
    protocol = few_places(site.desk)
    head = "observer,age_years,eye,x_deg,y_deg,sensitivity_db"
    places = [(n, place) for n in range(1500) for place in ("0,8", "-8,0")]
    rows = [f"o{n},45,right,{place},{20 + n % 7}" for n, place in places]
    (site.desk / "truth.csv").write_text("\n".join([head, *rows]) + "\n")
    words = ["simulate", protocol, "--observers", "truth.csv", "--workers", "2", "--out", "r.csv"]
    ran = site.ripplefield(*words)
    assert ran.code == 0, ran.errors
    assert len((site.desk / "r.csv").read_text().splitlines()) == 3001
    about = json.loads((site.desk / "r.csv.about.json").read_text())
    assert about["versions"]["plug-in procedure ladder"] == "ripplefield-example-ladder 0.1.0"


@contextmanager
def pressed_all_along(pipe: Path) -> Iterator[None]:
    """A hand that presses three times a second."""
    ended, hand = threading.Event(), os.open(pipe, os.O_RDWR)

    def press() -> None:
        while not ended.wait(0.33):
            os.write(hand, b"x")

    thread = threading.Thread(target=press)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
        os.close(hand)


def test_a_button_answers_in_an_exam(site: Site, display: str):
    os.mkfifo(site.desk / "hand")
    words = [*run_words(few_places(site.desk), "exam")[:-1], "pipe:hand"]
    with pressed_all_along(site.desk / "hand"):
        refused = site.ripplefield(*words, display=display)
        ran = site.ripplefield(*words, "--safety-confirmed-by", "AB", display=display)
    assert refused.code == 2
    assert refused.errors.startswith("error: --safety-confirmed-by: got nothing; ")
    assert ran.code in (0, 1), ran.errors
    text = (site.desk / "exam" / "journal.jsonl").read_text()
    lines = [json.loads(line) for line in text.splitlines()]
    opened = lines[0]["data"]
    assert opened["versions"]["plug-in button pipe"] == "ripplefield-example-pipe 0.1.0"
    assert opened["button"]["name"] == "pipe:hand"
    assert any(line["data"].get("presses_s") for line in lines if line["kind"] == "answered")


def test_a_button_refuses_before_a_window_opens(site: Site):
    words = run_words("screen-19", "exam")[:-1]
    assert site.ripplefield(*words, "pipe:").code == 2
    said = site.ripplefield(*words, "pedal:1", "--safety-confirmed-by", "AB")
    assert said.errors == (
        'error: button: got "pedal:1"; allowed: keyboard, serial, simulated, phone, pipe. Name a '
        "button, such as serial:/dev/ttyUSB0.\n"
    )
    assert not (site.desk / "exam").exists()


METER = ["--photometer", "feed:reading", "--windowed", "400x300", "--out", "c.json"]


def test_a_photometer_reads_a_window(site: Site, display: str):
    """It is lost after its first readings, as by a program that stopped; they are kept."""
    reading = site.desk / "reading"
    reading.write_text("55.0")
    watching = threading.Thread(target=_spoil_once_read, args=(site.desk, reading))
    watching.start()
    words = ["--settle", "0.05", "--meter-name", "lab meter", "--meter-serial", "7"]
    said = site.ripplefield("calibrate", "gamma", *METER, *words, display=display)
    watching.join()
    assert said.code == 1
    assert "photometer feed:reading holds no number any more" in said.errors
    [kept] = [path for path in site.desk.iterdir() if "readings" in path.name]
    assert "lab meter" in kept.read_text()
    assert "55.0" in kept.read_text()


def _spoil_once_read(desk: Path, reading: Path) -> None:
    end_s = time.monotonic() + 60
    while time.monotonic() < end_s and not _lines(desk) > 3:
        time.sleep(0.05)
    reading.write_text("out of order")


def _lines(desk: Path) -> int:
    return sum(len(path.read_text().splitlines()) for path in desk.glob("*readings*"))


def test_a_certificate_says_which_photometer_took_part(site: Site, display: str):
    (site.desk / "reading").write_text("55.0")
    sizes = ["--width", "53.1,53.0", "--height", "29.9,29.8", "--distance", "40.0,40.2"]
    said = site.ripplefield("calibrate", "geometry", *METER, *sizes, display=display)
    assert said.code == 0, said.errors
    versions = read_certificate(site.desk / "c.json").versions
    assert versions["plug-in photometer feed"] == "ripplefield-example-feed 0.1.0"


def test_an_export_writes_its_files_and_says_who_did(site: Site):
    record(site.desk / "exam", "arc-loss")
    said = site.ripplefield("export", "places", "exam", "--out", "out")
    assert said.code == 0, said.errors
    assert said.out.splitlines()[0] == "out: 1 file of 1 exam by ripplefield-example-places 0.1.0"
    assert "This is not a diagnosis" in said.out
    assert len((site.desk / "out" / "P-1_1_right.csv").read_text().splitlines()) == 20
    about = json.loads((site.desk / "out" / "made-by.json").read_text())
    assert about["plug_in"] == {
        "name": "places", "package": "ripplefield-example-places", "version": "0.1.0"
    }  # fmt: skip
    assert "  places  Write the exams" in site.ripplefield("export", "--help").out


def test_help_loads_no_plug_in(site: Site):
    code = (
        "import sys\nfrom stimulus.cli import run\nrun(['--help'])\n"
        "print(sorted(n for n in sys.modules if n.startswith('ripplefield_example')))"
    )
    began = time.perf_counter()
    assert site.run([sys.executable, "-c", code]).out.splitlines()[-1] == "[]"
    print(f"{time.perf_counter() - began:.3f} s")
