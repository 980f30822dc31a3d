"""The examination of a machine: each trial really made, and each lack really made to happen."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from stimulus.doctor import devices, display, extras, outside, software, storage, timing
from stimulus.doctor.finding import Finding

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "plugins"))
from plugin_rigs import PROGRAM, plant  # noqa: E402

STATES = {"good", "slow", "missing", "optional"}
TRIED = {"Python", "Packages", "System libraries", "Screen", "Window", "Priority", "Clock", "Disk",
         "Serial ports", "Processor"}  # fmt: skip


def doctor(*words: str, shown: str | None = None, path: str = "") -> tuple[int, str, str]:
    environment = os.environ | {"PYTHONPATH": f"{path}{os.pathsep if path else ''}{ROOT}"}
    environment.pop("DISPLAY", None)
    if shown:
        environment["DISPLAY"] = shown
    done = subprocess.run(
        [str(PROGRAM), "doctor", *words],
        env=environment, capture_output=True, text=True, timeout=180, check=False,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@pytest.mark.skipif(shutil.which("Xvfb") is None, reason="needs Xvfb: apt-get install xvfb")
def test_without_a_display_the_screen_is_missing_and_all_else_is_tried(tmp_path: Path):
    code, out, errors = doctor("--json", "--out", str(tmp_path))
    assert (code, errors) == (1, "")
    said = json.loads(out)
    assert said["all_that_exams_need"] is False
    assert "not a diagnosis" in said["notice"]
    found = {one["name"]: one for one in said["findings"]}
    assert set(found) >= TRIED | {f"Extra {name}" for name in extras.EXTRAS}
    assert [name for name, one in found.items() if one["state"] == "missing"] == ["Screen"]
    assert found["Window"]["found"] == "opens and is drawn in on a virtual screen"
    for one in found.values():
        assert one["state"] in STATES
        assert one["found"]
        if one["state"] in ("slow", "missing"):
            assert one["means"]
            assert one["mend"]
    assert list(tmp_path.iterdir()) == []


def test_with_a_display_exams_can_run(display: str, tmp_path: Path):
    code, out, errors = doctor("--out", str(tmp_path), shown=display)
    assert (code, errors) == (0, "")
    lines = out.splitlines()
    assert any(line.startswith("good      Window") for line in lines)
    assert lines[-2] == "All that exams need is here."
    assert lines[-1].startswith("Research use only.")
    assert "missing " not in out


def test_a_machine_with_hardly_any_packages_is_told_so(tmp_path: Path):
    """numpy, serial, msgspec and psychopy are there but cannot be imported."""
    for name in ("numpy", "serial", "msgspec", "psychopy", "pynetdicom"):
        (tmp_path / f"{name}.py").write_text(f"raise ImportError('{name} is broken')")
    code, out, errors = doctor(path=str(tmp_path))
    assert (code, errors) == (1, "")
    assert "Traceback" not in out
    for name in ("Window", "Processor", "Serial ports"):
        assert any(line.startswith(f"missing   {name}") for line in out.splitlines())


def test_a_folder_that_is_not_there(capsys: pytest.CaptureFixture[str]):
    from stimulus.cli import run

    assert run(["doctor", "--out", "no/such"]) == 2
    assert capsys.readouterr().err == (
        'error: --out: got "no/such"; allowed: a folder that exists. Make it first: mkdir -p '
        "no/such\n"
    )


def test_a_library_that_is_missing(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(software.LIBRARIES, "libNoSuchThing.so.1", "libnosuchthing1")
    found = software.libraries()
    assert found.state == "missing"
    assert found.found == "cannot be loaded: libNoSuchThing.so.1"
    assert found.mend == "sudo apt-get install -y libgl1-mesa-dri libnosuchthing1"


def test_a_package_that_is_missing(monkeypatch: pytest.MonkeyPatch):
    """The list says one more than there is."""
    wanted = ["numpy>=1", "no-such-thing>=2", 'extra-thing ; extra == "x"']
    monkeypatch.setattr(software.metadata, "requires", lambda name: wanted)
    found = software.packages()
    assert (found.state, found.found) == ("missing", "not installed: no-such-thing")
    assert found.mend == "pip install no-such-thing"


def test_another_python(monkeypatch: pytest.MonkeyPatch):
    assert software.python().state == "good"
    monkeypatch.setattr(software.sys, "version_info", (3, 9, 1))
    assert software.python().state == "missing"


def test_no_display_and_no_virtual_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    found = display_trial()
    assert (found.state, found.found) == ("missing", "no DISPLAY and no Xvfb")
    assert found.mend.startswith("sudo apt-get install -y xvfb")


def display_trial() -> Finding:
    return display.display()


def test_a_window_that_does_not_open(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("DISPLAY", ":98765")
    [found] = display.window()
    assert found.state == "missing"
    assert found.found.startswith("does not open: display: got")
    assert found.mend


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "it was killed by signal 11"),
        ("import sys; sys.exit('no good')", "no good"),
        ("import time; time.sleep(60)", "it did not answer within 1 s"),
        ("print('odd')", "it said odd"),
        ("raise SystemExit(7)", "it ended with code 7"),
    ],
)
def test_a_trial_that_crashes_is_only_a_finding(
    code: str, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    (tmp_path / "trial_program.py").write_text(code)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(outside.Failed, match=f"^{said}$"):
        outside.ask("trial_program", patience_s=1.0 if "sleep" in code else 60.0)


@pytest.mark.skipif(
    shutil.which("setpriv") is None or os.getuid() != 0, reason="needs setpriv and root"
)
def test_priority_that_is_not_granted():
    """Without the right to schedule, even root is granted nothing."""
    command = ["setpriv", "--bounding-set", "-sys_nice", sys.executable, "-m"]
    done = subprocess.run(
        [*command, "stimulus.doctor.priority_program"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert json.loads(done.stdout) == {"granted": "nothing"}


def test_priority_is_tried_elsewhere():
    before = os.sched_getscheduler(0), os.getpriority(os.PRIO_PROCESS, 0)
    assert timing.priority().state in ("good", "slow")
    assert (os.sched_getscheduler(0), os.getpriority(os.PRIO_PROCESS, 0)) == before


def test_the_disk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    assert storage.disk(tmp_path).state in ("good", "slow")
    assert storage.disk(Path("/proc")).state == "missing"
    monkeypatch.setattr(storage, "SLOWEST_WRITE_S", 0.0)
    assert storage.disk(tmp_path).mend.startswith("Use a disk inside")
    monkeypatch.setattr(storage, "DAY_BYTES", 10**18)
    assert storage.disk(tmp_path).mend.startswith("Make room")


def test_ports_are_those_that_are_there():
    from serial.tools.list_ports import comports

    found, there = devices.ports(), [port.device for port in comports()]
    assert all(port in found.found for port in there)
    assert found.state == ("optional" if not there else found.state)


def test_plug_ins_are_loaded_and_those_that_cannot_be_are_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    for kind, name, code in (
        ("buttons", "pedal", "def PLUG_IN(detail): ..."),
        ("exports", "table", "import no_such_module"),
        ("procedures", "rising", ""),
    ):
        plant(tmp_path / "site", f"lab-{name}", kind, f"{name} = lab_{name}:PLUG_IN", code)
    paths = os.pathsep.join([str(tmp_path / "site"), str(ROOT)])
    monkeypatch.setenv("PYTHONPATH", paths)
    found = {one.name: one for one in extras.extras()}
    assert found["Plug-in button pedal"].state == "good"
    assert found["Plug-in export table"].mend == "pip uninstall lab-table"
    assert "No module named 'no_such_module'" in found["Plug-in export table"].means
    assert "rising is Ripplefield's own name" in found["Plug-in procedure rising"].means


def test_an_extra_that_is_not_installed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(extras.EXTRAS, "export", ("no_such_module", "nothing"))
    found = {one.name: one for one in extras.extras()}["Extra export"]
    assert (found.state, found.found) == ("optional", "not installed")
    assert found.mend == "pip install no_such_module"
