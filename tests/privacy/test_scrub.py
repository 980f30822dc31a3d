"""Copies for sharing: nobody to be found in them, a valid chain, the same result."""

from __future__ import annotations

import csv
import re
import shutil
import stat
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import msgspec
import pytest
from records import BEGAN, sitting

from analysis.grade import grade_folder
from analysis.load import load_exam
from analysis.reference import load_reference
from analysis.result_file import read_result
from calibration.certificate import Certificate, read_certificate
from protocols.events import Corrected, Display
from protocols.journal import JOURNAL, Journal, read
from protocols.library import bundled_observer, load_protocol
from protocols.observer import load_observer
from protocols.scrub import Alias, scrub_text
from protocols.verify_record import verify_record
from stimulus.cli import run
from stimulus.virtual_exam import run_virtual_exam

CODES = ("HLM-17", "QX-4", "HLM-17")
DAYS = (0, 1, 40)


@pytest.fixture(scope="module")
def exams(tmp_path_factory) -> list[Path]:
    """Three graded exams of two people, 40 days apart; one code was entered wrongly at first."""
    folder = tmp_path_factory.mktemp("exams")
    made = []
    for number, (code, days) in enumerate(zip(CODES, DAYS, strict=True)):
        path = folder / f"{code}-visit-{number}"
        command = f"ripplefield run screen-19 --participant {code} --out {path.name}"
        entered = "WRONG-5" if number == 2 else code
        who = replace(sitting(seed=number), participant=entered, command=command)
        who = replace(who, confirmed_by="KQ", age_years=45)
        _run(path, who, BEGAN + timedelta(days=days))
        if number == 2:
            _correct(path, entered, code, BEGAN + timedelta(days=days + 1))
        grade_folder(path)
        made.append(path)
    return made


def _run(path, who, began):
    model = load_observer(bundled_observer("arc-loss"))
    run_virtual_exam(path, load_protocol("screen-19"), load_reference(), who, model, began)


def _correct(path, was, now, moment):
    last = list(read(path))[-1]
    text = moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    journal, _ = Journal.reopen(path, lambda: last.t_s, lambda: text)
    journal.append(Corrected("code", was, now, "ZV"))
    journal.close()


def scrubbed(exams, out, *options) -> list[Path]:
    assert run(["scrub", *map(str, exams), "--out", str(out), *options]) == 0
    return sorted(out.iterdir())


@pytest.fixture(scope="module")
def shared(exams, tmp_path_factory) -> list[Path]:
    return scrubbed(exams, tmp_path_factory.mktemp("shared") / "out", "--seed", "3")


def test_people_stay_together_and_folders_tell_nothing(shared):
    names = [path.name for path in shared]
    assert all(re.fullmatch(r"S-\d{5}-[12]", name) for name in names)
    codes = [name[:-2] for name in names]
    assert len(set(codes)) == 2
    assert sorted(codes.count(code) for code in set(codes)) == [1, 2]


def test_the_chain_is_valid(shared):
    for folder in shared:
        found = verify_record(folder)
        assert (found.sound, found.closed, found.notes) == (True, True, [])
        assert load_exam(folder).opened.participant == folder.name[:-2]


def _by_seed(folders) -> dict[int, Path]:
    return {load_exam(folder).opened.seed: folder for folder in folders}


def plain(folder) -> dict:
    return msgspec.to_builtins(read_result(folder))


def test_results_are_the_same_but_for_code_dates_and_what_is_withheld(exams, shared):
    before, after = _by_seed(exams), _by_seed(shared)
    assert set(before) == set(after) == {0, 1, 2}
    for seed, folder in before.items():
        was, now = plain(folder), plain(after[seed])
        differ = _differences(was, now)
        assert differ <= {
            "exam.participant", "exam.opened_utc", "exam.ended_utc", "exam.command",
            "safety.confirmed_by", "journal_sha256", "corrections",
        }  # fmt: skip
        assert now["eyes"] == was["eyes"]
        assert now["exam"]["seconds"] == was["exam"]["seconds"]
        for name in ("places.csv", "presentations.csv"):
            assert _without_code(after[seed] / name) == _without_code(folder / name)


def _without_code(path) -> str:
    return re.sub(r"(HLM-17|QX-4|S-\d{5})", "CODE", path.read_text())


def _differences(was, now, path="") -> set[str]:
    if isinstance(was, dict):
        found = [_differences(was[key], now[key], f"{path}.{key}") for key in was]
        return set().union(*found) if found else set()
    return set() if was == now else {path.lstrip(".")}


def test_trials_are_the_same(exams, shared):
    before, after = _by_seed(exams), _by_seed(shared)
    for seed, folder in before.items():
        assert load_exam(after[seed]).trials == load_exam(folder).trials


def test_dates_move_by_whole_days_to_1925_or_earlier_and_visits_keep_their_distance(exams, shared):
    """1925 or earlier: BIDS 1.10, Scans file."""
    before, after = _by_seed(exams), _by_seed(shared)
    shifts = {}
    for seed, folder in before.items():
        moments = [
            [datetime.fromisoformat(e.utc.replace("Z", "+00:00")) for e in read(one)]
            for one in (folder, after[seed])
        ]
        steps = {b - a for a, b in zip(*moments, strict=True)}
        assert len(steps) == 1
        [shift] = steps
        assert shift % timedelta(days=1) == timedelta(0)
        assert max(moments[1]) <= datetime(1925, 12, 31, 23, 59, 59, tzinfo=timezone.utc)
        shifts[seed] = shift
    assert shifts[0] == shifts[2] != shifts[1]


PLANTED = ("HLM", "QX-4", "WRONG-5", "2030", "KQ", "ZV", "visit", "2030-01", "--participant")


def test_nothing_planted_is_left_in_any_file_or_name(shared):
    for path in (path for folder in shared for path in (folder, *folder.iterdir())):
        content = path.read_bytes().decode() if path.is_file() else ""
        content = re.sub(r"[0-9a-f]{64}", "", content)  # a hash may hold any digits
        found = [word for word in PLANTED if word in content + path.name]
        assert not found, (path, found)


def test_the_same_seed_gives_the_same_copy_and_none_gives_another(exams, shared, tmp_path):
    def contents(folders):
        return {p.name + "/" + f.name: f.read_bytes() for p in folders for f in p.iterdir()}

    assert contents(scrubbed(exams, tmp_path / "a", "--seed", "3")) == contents(shared)
    names = {p.name for p in scrubbed(exams, tmp_path / "b")}
    assert names != {p.name for p in scrubbed(exams, tmp_path / "c")}
    assert not names & {p.name for p in shared}


def test_the_key_is_kept_on_demand_only_and_for_its_owner_only(exams, tmp_path, capsys):
    key = tmp_path / "key.csv"
    made = scrubbed(exams, tmp_path / "out", "--keep-key", str(key))
    rows = list(csv.DictReader(key.open()))
    assert {row["code"] for row in rows} == {"HLM-17", "QX-4"}
    assert {row["new_code"] for row in rows} == {path.name[:-2] for path in made}
    began = datetime.fromisoformat(next(iter(read(made[0]))).utc[:10])
    shift = next(int(r["shift_days"]) for r in rows if r["new_code"] == made[0].name[:-2])
    assert (began - timedelta(days=shift)).year == 2030
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert f"{key}: which code became which. Never share it.\n" in capsys.readouterr().out
    before = set(tmp_path.rglob("*"))
    scrubbed(exams, tmp_path / "again")
    assert set(tmp_path.rglob("*")) - before == set((tmp_path / "again").rglob("*")) | {
        tmp_path / "again"
    }


def test_visits_can_still_be_compared(exams, shared, capsys):
    """What a reader of the copy needs: the same person's visits, so many days apart."""
    codes = [path.name[:-2] for path in shared]
    visits = [str(path) for path in shared if codes.count(path.name[:-2]) == 2]
    assert run(["compare", *visits]) == 0
    copied = capsys.readouterr().out
    assert run(["compare", str(exams[0]), str(exams[2])]) == 0
    original = capsys.readouterr().out
    hidden = r"(\d{4}-\d\d-\d\d|HLM-17-visit-\d|HLM-17|S-\d{5}-\d|S-\d{5})"
    assert re.sub(hidden, "", copied).split() == re.sub(hidden, "", original).split()


def refused(capsys, *words) -> str:
    capsys.readouterr()
    assert run(["scrub", *map(str, words)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def test_refusals_leave_nothing_behind(exams, tmp_path, capsys):
    out, key = tmp_path / "out", tmp_path / "key.csv"
    key.write_text("here")
    assert refused(capsys, exams[0], "--out", out, "--keep-key", key) == (
        f'error: --keep-key: got "{key}"; allowed: a file that does not exist yet. '
        "Name another file.\n"
    )
    inside = out / "key.csv"
    assert refused(capsys, exams[0], "--out", out, "--keep-key", inside) == (
        f'error: --keep-key: got "{inside}"; allowed: a name in a folder that exists. '
        "Make the folder first.\n"
    )
    assert refused(capsys, exams[0], "--out", out, "--keep-key", out) == (
        f'error: --keep-key: got "{out}"; allowed: a file outside --out. '
        "Keep it where nothing is shared.\n"
    )
    assert refused(capsys, exams[0], "--out", tmp_path) == (
        f'error: --out: got "{tmp_path}"; allowed: a folder that does not exist yet. '
        "Name another folder.\n"
    )
    assert sorted(tmp_path.iterdir()) == [key]
    assert key.read_text() == "here"


def test_what_looks_like_a_date_and_is_none_is_withheld():
    said = "not 2030-02-30T10:00:00Z, not 0000-13-45T99:99:99, but 2030-02-28T10:00:00Z"
    moved = scrub_text(said, Alias("P-1", "S-1", -365), True)
    assert moved == "not withheld, not withheld, but 2029-02-28T10:00:00Z"
    assert scrub_text("0001-01-01T00:00:00Z", Alias("P-1", "S-1", -1), True) == "withheld"


def test_a_clock_that_was_decades_wrong_is_not_shifted_past_1925(tmp_path, capsys):
    """A computer that lost its time says 1970; the same shift for both would tell the real date."""
    exams = []
    for year in (1970, 2030):
        began = datetime(year, 1, 2, tzinfo=timezone.utc)
        model = load_observer(bundled_observer("healthy"))
        protocol, folder = load_protocol("screen-17"), tmp_path / f"exam-{year}"
        run_virtual_exam(folder, protocol, load_reference(), sitting(), model, began)
        exams.append(folder)
    assert run(["scrub", *map(str, exams), "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err == (
        'error: DIR: got "exams of P-1 from 1970-01-02 to 2030-01-02"; allowed: exams of one '
        "participant within 25 years. A clock was wrong at one of them: leave that one out.\n"
    )
    assert sorted(tmp_path.iterdir()) == exams


def test_a_changed_record_is_not_copied(exams, tmp_path, capsys):
    exam = tmp_path / "e"
    shutil.copytree(exams[0], exam)
    path = exam / JOURNAL
    path.write_bytes(path.read_bytes().replace(b'"age_years":45', b'"age_years":46'))
    assert refused(capsys, exams[1], exam, "--out", tmp_path / "out") == (
        f'error: DIR: got "{exam}"; allowed: a record that was not changed. ripplefield verify '
        "says: line 2 does not follow line 1: a line was changed, lost or moved.\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["e"]


def test_an_unfinished_exam_with_a_torn_line_and_a_telling_age(tmp_path, capsys):
    exam = tmp_path / "e"
    _run(exam, sitting(age_years=90), BEGAN)
    lines = (exam / JOURNAL).read_bytes().splitlines(keepends=True)
    (exam / JOURNAL).write_bytes(b"".join(lines[:9]) + lines[9][:30])
    (exam / "journal.head").unlink()
    [copied] = scrubbed([exam], tmp_path / "out")
    assert capsys.readouterr().err == (
        f"{copied.name}: 30 bytes of a torn last line are left out\n"
        f"{copied.name}: the age of 90 is kept; such an age can tell who it is\n"
    )
    found = verify_record(copied)
    assert (found.sound, found.closed, found.lines, found.torn_bytes) == (True, False, 9, 0)
    assert not (copied / "result.json").exists()


def _with_certificate(exam, folder) -> Certificate:
    """As if run on a display with a certificate: it is in the folder, its seal in the journal."""
    path = exam / "display.json"
    words = ["--photometer", "simulated:office", "--display-serial", "SN-PLANTED"]
    assert run(["calibrate", "all", *words, "--out", str(path)]) == 0
    found = read_certificate(path)
    entries = list(read(exam))
    (exam / JOURNAL).unlink()
    now = entries[0]
    journal = Journal.create(exam, lambda: now.t_s, lambda: now.utc)
    for now in entries:
        event = now.event
        if isinstance(event, Display):
            event = msgspec.structs.replace(event, certificate_sha256=found.sha256)
        journal.append(event)
    journal.close()
    return found


def test_a_certificate_is_scrubbed_and_sealed_anew(exams, tmp_path):
    exam = tmp_path / "e"
    shutil.copytree(exams[1], exam)
    was = _with_certificate(exam, tmp_path)
    [copied] = scrubbed([exam], tmp_path / "out")
    now = read_certificate(copied / "display.json")
    [display] = [e.event for e in read(copied) if isinstance(e.event, Display)]
    assert display.certificate_sha256 == now.sha256 != was.sha256
    assert (now.gamma, now.geometry, now.timing) == (was.gamma, was.geometry, was.timing)
    assert int(now.made_utc[:4]) <= 1925 < int(was.made_utc[:4])
    assert now.made_utc[10:] == was.made_utc[10:]
    assert "PLANTED" not in (copied / "display.json").read_text()
    assert verify_record(copied).sound
