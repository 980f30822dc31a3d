"""Broken plug-ins: one clear error that names package and entry point, and nothing else is hurt."""

from __future__ import annotations

from pathlib import Path

import pytest
from plugin_rigs import EXAMPLES, Site, plant

PLAIN = """
import msgspec
from protocols.procedures.plugged import ProcedurePlugIn

class Settings(msgspec.Struct, TRAITS):
    answers_per_place = (1, 2)

def build(settings, places):
    BUILD

PLUG_IN = ProcedurePlugIn(Settings, build, lambda settings: "a rule")
"""
TRAITS = 'frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="ladder"'


def plain(traits: str = TRAITS, build: str = "return None", cut: str = "") -> str:
    code = PLAIN.replace("TRAITS", traits).replace("BUILD", build)
    return code.replace(cut, "pass") if cut else code


@pytest.fixture
def bare(tmp_path: Path) -> Site:
    """No plug-ins yet."""
    (tmp_path / "desk").mkdir()
    (tmp_path / "desk" / "mine.toml").write_text((EXAMPLES / "ladder/ladder-19.toml").read_text())
    return Site(tmp_path / "packages", tmp_path / "desk")


ORIGIN = '"entry point broken_one:PLUG_IN of broken-one 1.0"'
REMOVE = "Ask its author, or remove it: pip uninstall broken-one\n"
BROKEN = {
    "not to be imported": ("import no_such_module", "a plug-in that works. It says: "
                           "ModuleNotFoundError: No module named 'no_such_module'."),
    "nothing of that name": ("", "a plug-in that works. It says: AttributeError: module "
                             "'broken_one' has no attribute 'PLUG_IN'."),
    "ends the program": ("raise SystemExit(3)", "a plug-in that works. It says: SystemExit: 3."),
    "something else": ("PLUG_IN = 3", "a ProcedurePlugIn. It is of type int."),
    "another tag": (plain(TRAITS.replace("ladder", "steps")), "settings that are a msgspec.Struct "
                    "with tag='ladder'. They have 'steps'."),
    "not frozen": (plain(TRAITS.replace("frozen=True", "frozen=False")), "settings that are a "
                   "msgspec.Struct with frozen=True. They have False."),
    "not strict": (plain(TRAITS.replace("forbid_unknown_fields=True, ", "")), "settings that are a "
                   "msgspec.Struct with forbid_unknown_fields=True. They have False."),
    "no count of answers": (plain(cut="answers_per_place = (1, 2)"), "settings with a property "
                            "answers_per_place. They have none."),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_procedure_is_named(name: str, bare: Site):
    code, said = BROKEN[name]
    plant(bare.packages, "broken-one", "procedures", "ladder = broken_one:PLUG_IN", code)
    found = bare.ripplefield("protocols", "show", "mine.toml")
    assert (found.code, found.out) == (2, "")
    assert found.errors == f"error: procedure ladder: got {ORIGIN}; allowed: {said} {REMOVE}"


def test_other_commands_do_not_notice(bare: Site):
    for kind in ("procedure", "button", "photometer", "export"):
        entry = "ladder = broken_one:PLUG_IN"
        plant(bare.packages, f"broken-{kind}", f"{kind}s", entry, "raise RuntimeError('at once')")
    for words in (
        ["--help"],
        ["protocols"],
        ["protocols", "show", "screen-19"],
        ["export", "--help"],
        ["schema", "protocol"],
        ["calibrate", "all", "--photometer", "simulated:office", "--out", "c.json"],
    ):
        found = bare.ripplefield(*words)
        assert found.code == 0, words
        assert "error" not in found.errors


def test_a_procedure_that_fails_while_it_runs_is_named(bare: Site):
    code = plain(build="raise ZeroDivisionError('no places')")
    plant(bare.packages, "broken-one", "procedures", "ladder = broken_one:PLUG_IN", code)
    (bare.desk / "truth.csv").write_text(
        "observer,age_years,eye,x_deg,y_deg,sensitivity_db\na,45,right,0,8,20\n"
    )
    text = (bare.desk / "mine.toml").read_text().replace('"rings19"', '"one.toml"')
    (bare.desk / "mine.toml").write_text(text.replace("rungs = 6\nstep_db = 5.0\n", ""))
    (bare.desk / "one.toml").write_text('format = 1\nname = "o"\nplaces_deg = [[0.0, 8.0]]\n')
    words = ["simulate", "mine.toml", "--observers", "truth.csv", "--out", "r.csv"]
    found = bare.ripplefield(*words, "--workers", "1")
    assert found.code == 2
    assert found.errors.splitlines()[-1] == (
        f"error: procedure ladder: got {ORIGIN}; allowed: a plug-in that works. "
        f"It says: ZeroDivisionError: no places. {REMOVE.strip()}"
    )


@pytest.mark.parametrize(
    ("kind", "name", "words"),
    [
        ("procedure", "rising", ["protocols", "show", "screen-19"]),
        ("button", "serial", ["run", "--resume", "nowhere", "--button", "serial:x"]),
        ("photometer", "simulated", ["calibrate", "all", "--photometer", "simulated:office",
                                     "--out", "c.json"]),
        ("export", "fhir", ["export", "fhir", "x", "--out", "y"]),
    ],
)  # fmt: skip
def test_a_name_of_ours_is_refused(kind: str, name: str, words: list[str], bare: Site):
    plant(bare.packages, "broken-one", f"{kind}s", f"{name} = broken_one:PLUG_IN", "")
    if kind == "button":
        words = ["run", "screen-19", "--participant", "P-1", "--age", "45", "--eye", "right"]
        words += ["--out", "o", "--windowed", "400x300", "--distance", "35", "--screen-width", "53"]
        words += ["--button", "serial:x", "--safety-confirmed-by", "AB"]
    found = bare.ripplefield(*words)
    assert found.code == 2
    error = f"error: {kind} {name}: got {ORIGIN}; allowed: a name other than "
    assert found.errors.startswith(error)
    assert found.errors.endswith(f"{name} is Ripplefield's own name. {REMOVE}")


def test_a_name_of_two_packages_is_refused(bare: Site):
    for package in ("one-ladder", "other-ladder"):
        plant(bare.packages, package, "procedures", "ladder = x:PLUG_IN", "")
    found = bare.ripplefield("protocols", "show", "mine.toml")
    assert (found.code, found.errors) == (2, (
        'error: procedure ladder: got "one-ladder 1.0 and other-ladder 1.0"; allowed: one package '
        "that brings it. Remove one of them: pip uninstall other-ladder\n"
    ))  # fmt: skip


def test_a_list_that_cannot_be_read_is_passed_over(bare: Site):
    plant(bare.packages, "broken-one", "procedures", "ladder", "")
    found = bare.ripplefield("protocols", "show", "screen-19")
    assert (found.code, found.errors) == (0, "")


@pytest.mark.parametrize(
    ("kind", "code", "said"),
    [
        ("button", "PLUG_IN = 3", "a function of the detail after the colon. It cannot be called."),
        ("button", "class PLUG_IN:\n    def __init__(self, detail): self.name = detail\n",
         "a button. It has no start."),
        ("button", "def PLUG_IN(): pass", "a plug-in that works. It says: TypeError: PLUG_IN() "
         "takes 0 positional arguments but 1 was given."),
    ],
)  # fmt: skip
def test_a_broken_button_is_named_before_a_window_opens(
    kind: str, code: str, said: str, bare: Site
):
    plant(bare.packages, "broken-one", "buttons", "pedal = broken_one:PLUG_IN", code)
    words = ["run", "screen-19", "--participant", "P-1", "--age", "45", "--eye", "right"]
    words += ["--out", "o", "--windowed", "400x300", "--distance", "35", "--screen-width", "53"]
    found = bare.ripplefield(*words, "--button", "pedal:1", "--safety-confirmed-by", "AB")
    assert found.code == 2
    assert found.errors == f"error: button pedal: got {ORIGIN}; allowed: {said} {REMOVE}"


def test_an_export_that_fails_leaves_nothing(bare: Site):
    from stimulus.contracts.exams import record

    record(bare.desk / "exam")
    code = (
        "from analysis.export.plugged import ExportPlugIn\n"
        "def write(shown, stem, folder):\n"
        "    (folder / 'half').write_text('x')\n"
        "    raise KeyError('grade')\n"
        "PLUG_IN = ExportPlugIn(write)\n"
    )
    plant(bare.packages, "broken-one", "exports", "mine = broken_one:PLUG_IN", code)
    plant(bare.packages, "empty", "exports", "none = empty:PLUG_IN",
          code.split("    (")[0] + "    pass\nPLUG_IN = ExportPlugIn(write)\n")  # fmt: skip
    before = sorted(bare.desk.rglob("*"))
    found = bare.ripplefield("export", "mine", "exam", "--out", "out")
    assert (found.code, found.errors) == (2, (
        f"error: export mine: got {ORIGIN}; allowed: a plug-in that works. It says: KeyError: "
        f"'grade'. {REMOVE}"
    ))  # fmt: skip
    assert "It wrote none." in bare.ripplefield("export", "none", "exam", "--out", "out").errors
    assert sorted(bare.desk.rglob("*")) == before
