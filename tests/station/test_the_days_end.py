"""Sums, backup, queue files: counted a second way, read back, merged."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import ssl
import subprocess
from datetime import datetime
from pathlib import Path

import httpx
import pytest
from day_rig import happened
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs
from station_rig import prepare, station

from analysis.load import load_exam
from protocols.errors import InputError, OrderError
from protocols.verify import verify
from stimulus.station.again import repeat_advice
from stimulus.station.backup import back_up, check
from stimulus.station.corrections import correct
from stimulus.station.day import COLUMNS, day_csv, day_of, days_of
from stimulus.station.index import Index, Summary
from stimulus.station.queue import Queue, added, merged, moved, new_entry, removed
from stimulus.station.queue_csv import CsvErrors, read_csv, safe_cell, safe_csv
from stimulus.station.queue_file import QueueFile
from stimulus.station.ribbon import ribbon
from stimulus.station.runs import Runs
from stimulus.station.settings import Settings, changed, read_settings, write_settings


@pytest.fixture(scope="module")
def data(tmp_path_factory) -> Path:
    return happened(tmp_path_factory.mktemp("end") / "d", people=4)


def test_the_sums_are_those_of_the_result_files(data):
    day = day_of(Index(data).all(), "2030-01-02")
    results = [json.loads(p.read_text()) for p in sorted(data.glob("exams/*/result.json"))]
    grades = [p["grade"] for r in results for e in r["eyes"].values() for p in e["places"]]
    assert day.people == day.finished == len(results) == 4
    assert list(day.places_by_grade) == [grades.count(g) for g in range(5)]
    assert sum(day.people_by_worst_grade) + day.people_ungraded == 4
    assert day.frames_shown == sum(r["timing"]["frames_shown"] for r in results)
    assert [o.initials for o in day.operators] == ["AB", "CD"]
    assert sum(o.sessions for o in day.operators) == 4
    assert days_of(day.sessions) == ["2030-01-02"]


@pytest.mark.parametrize("content", [b'{"journal_sha256": "\xff"}', b"[" * 5000, b""])
def test_a_spoilt_result_is_made_anew(content, data, tmp_path):
    folder = tmp_path / "exams" / "P-1"
    shutil.copytree(next((data / "exams").iterdir()), folder)
    whole = Index(tmp_path).of("P-1")
    (folder / "result.json").write_bytes(content)
    assert Index(tmp_path).of("P-1") == whole


def test_a_record_that_the_system_keeps_to_itself_spoils_no_other(data, monkeypatch):
    def closed(folder):
        if folder.name == "P-002-1":
            raise PermissionError(13, "Permission denied")
        return load_exam(folder)

    monkeypatch.setattr("stimulus.station.index.load_exam", closed)
    troubles = {s.exam: s.trouble for s in Index(data).all() if s.trouble}
    assert troubles == {"P-002-1": "The system says: Permission denied."}


def test_a_file_beside_the_protocols_that_is_no_text_is_in_nobodys_way(tmp_path):
    (tmp_path / "protocols").mkdir()
    (tmp_path / "protocols" / "notes.toml").write_bytes(b"\xff\xfe")
    write_settings(tmp_path, Settings())


@pytest.mark.parametrize("content", [b'{"exam": "\xff", "entry_id": "", "pid": 1}', b"[" * 5000])
def test_a_spoilt_note_of_the_last_run_is_no_run(content, tmp_path):
    (tmp_path / "runs").mkdir()
    (tmp_path / "runs" / "current.json").write_bytes(content)
    assert Runs(tmp_path).last is None


def test_records_that_cannot_be_read_are_nobodys(data):
    readable = Index(data).all()
    day = day_of([*readable, Summary("a", trouble="torn"), Summary("b", trouble="torn")], "all")
    before = day_of(readable, "all")
    assert day.standings["not readable"] == 2
    assert day.stopped == before.stopped + 2
    for what in ("people", "repeated", "people_ungraded", "people_by_worst_grade"):
        assert getattr(day, what) == getattr(before, what)


def test_the_csv_has_a_row_an_eye_and_the_research_line(data):
    rows = list(csv.DictReader(io.StringIO(day_csv(day_of(Index(data).all(), "all"), "notice"))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 8
    assert {row["notice"] for row in rows} == {"notice"}
    assert all(row[None] is None for row in rows if None in row)


def test_the_ribbon_lies_within_its_hours(data):
    found = ribbon(day_of(Index(data).all(), "2030-01-02").sessions)
    assert found is not None
    assert found.hours[0] == (0.0, "09:00")
    assert all(s.at >= 0 and s.at + s.length <= 1 for s in found.stretches)


def test_a_backup_is_read_back_and_the_systems_own_tool_agrees(data, tmp_path):
    done = back_up(data, tmp_path, None)
    assert done.wrong == ()
    subprocess.run(["sha256sum", "--check", "--quiet", "SHA256SUMS"], cwd=done.folder, check=True)
    for path in data.rglob("journal.jsonl"):
        copy = done.folder / path.relative_to(data)
        assert hashlib.sha256(copy.read_bytes()).digest() == hashlib.sha256(
            path.read_bytes()
        ).digest()
        assert verify(copy.parent).sound


def test_a_backup_that_was_spoilt_is_found(data, tmp_path):
    folder = back_up(data, tmp_path, None).folder
    spoilt = next(folder.rglob("journal.jsonl"))
    content = bytearray(spoilt.read_bytes())
    content[100] ^= 1
    spoilt.write_bytes(content)
    (folder / "queue.json").unlink()
    assert set(check(folder)) == {str(spoilt.relative_to(folder)), "queue.json"}


def test_a_running_exam_is_left_out_and_said(data, tmp_path):
    done = back_up(data, tmp_path, "P-002-1")
    assert not (done.folder / "exams" / "P-002-1").exists()
    assert "P-002-1" in done.sentence


@pytest.mark.parametrize("name", [b"a\nb", b"a\\nb\nc", "a\u2028b".encode(), b"a\xffb", b"a  b"])
def test_a_backup_takes_files_of_any_name(name, data, tmp_path):
    (tmp_path / "day").mkdir()
    (tmp_path / "drive").mkdir()
    (tmp_path / "day" / os.fsdecode(name)).write_text("x")
    done = back_up(tmp_path / "day", tmp_path / "drive", None)
    assert (done.files, done.wrong) == (1, ())
    subprocess.run(["sha256sum", "--check", "--quiet", "SHA256SUMS"], cwd=done.folder, check=True)


def test_what_a_link_leads_to_is_said_to_be_missing_in_a_backup(data, tmp_path):
    (tmp_path / "day").mkdir()
    (tmp_path / "drive").mkdir()
    (tmp_path / "day" / "exams").symlink_to(data / "exams")
    done = back_up(tmp_path / "day", tmp_path / "drive", None)
    assert done.files == 0
    assert "NOT COPIED, since links are not followed: exams." in done.sentence


def test_a_backup_of_the_same_second_leaves_the_first_alone(data, tmp_path, monkeypatch):
    monkeypatch.setattr("stimulus.station.backup.datetime", StoodStill)
    first = back_up(data, tmp_path, None)
    with pytest.raises(InputError, match=r"a folder that can be made.*Nothing was copied"):
        back_up(data, tmp_path, None)
    assert check(first.folder) == []


class StoodStill(datetime):
    """A clock within one second."""

    @classmethod
    def now(cls, tz=None):
        return cls(2030, 1, 2, tzinfo=tz)


@pytest.mark.parametrize(
    "target", ["relative", "/nowhere/at/all", "{data}", "{data}/exams", "/" + "a" * 300]
)
def test_a_place_that_cannot_take_a_backup_is_refused(data, target):
    before = sorted(data.rglob("*"))
    with pytest.raises(InputError, match="folder"):
        back_up(data, Path(target.format(data=data)), None)
    assert sorted(data.rglob("*")) == before


def test_a_full_drive_is_said_and_no_half_copy_counts(data, tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=60k", "tmpfs", str(small)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip("needs the right to mount a small drive")
    try:
        with pytest.raises(InputError, match="another drive"):
            back_up(data, small, None)
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_an_eye_that_was_wrong_asks_for_a_repeat(tmp_path):
    own = happened(tmp_path / "d", people=1)
    folder = own / "exams" / "P-000-1"
    assert repeat_advice(Index(own).of("P-000-1")).weight != "repeat"
    correct(folder, "eye", "left and right swapped", "AB")
    summary = Index(own).of("P-000-1")
    assert summary.finished
    assert verify(folder).sound
    assert verify(folder).closed
    advice = repeat_advice(summary)
    assert advice.weight == "repeat"
    assert "blind spot" in advice.sentence


def test_a_corrected_exam_still_counts_as_finished_and_cannot_be_taken_up(tmp_path):
    from stimulus.unfinished import load_record

    own = happened(tmp_path / "d", people=1)
    folder = own / "exams" / "P-000-1"
    correct(folder, "code", "P-900", "AB")
    result = json.loads((folder / "result.json").read_text())
    assert result["exam"]["participant"] == "P-900"
    assert result["exam"]["finished"]
    with pytest.raises(InputError, match="not finished"):
        load_record(folder)


def test_each_reason_to_repeat_is_given_in_words():
    done = Summary("x", finished=True, standing="good")
    assert repeat_advice(done).weight == "no need"
    for kind, words in (("unusable_gaze", "leaving"), ("unusable_presses", "nothing"),
                        ("unusable_attention", "missed")):  # fmt: skip
        found = repeat_advice(Summary("x", finished=True, advice=(kind,)))
        assert found.weight == "repeat"
        assert words in found.sentence
    assert repeat_advice(Summary("x", finished=True, advice=("look_at_mark",))).weight == "consider"
    spoiled = repeat_advice(Summary("x", finished=True, presentations=100, spoiled=11))
    assert spoiled.weight == "repeat"
    assert "11 of 100" in spoiled.sentence


def queue_of(*codes: str) -> Queue:
    return added(Queue(), [new_entry(code, 40, False, "both", "no", "en") for code in codes])


def test_two_lists_merge_to_one_with_the_later_change(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    first = QueueFile(tmp_path / "a", lambda: "hall-1")
    first.change(lambda _: queue_of("P-1", "P-2"))
    (tmp_path / "b" / "queue.json").write_bytes((tmp_path / "a" / "queue.json").read_bytes())
    second = QueueFile(tmp_path / "b", lambda: "hall-2")
    one, two = second.queue.entries
    second.change_entry(two.id, lambda e: structs.replace(e, state="tested", exams=["P-2-1"]))
    second.change(lambda q: added(q, queue_of("P-3").entries))
    first.change_entry(one.id, lambda e: structs.replace(e, state="no-show"))
    for whole in (merged(first.queue, second.queue), merged(second.queue, first.queue)):
        assert [(e.code, e.state) for e in whole.entries] == [
            ("P-1", "no-show"), ("P-2", "tested"), ("P-3", "waiting"),
        ]  # fmt: skip
        assert [e.changed_by for e in whole.entries] == ["hall-1", "hall-2", "hall-2"]


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(-7, 7)), max_size=20))
def test_moving_never_loses_anybody(steps):
    queue = queue_of(*(f"P-{n}" for n in range(6)))
    queue = structs.replace(
        queue, entries=[*queue.entries[:5], structs.replace(queue.entries[5], state="tested")]
    )
    ids = {entry.id for entry in queue.entries}
    for which, by in steps:
        entry = queue.entries[which]
        if entry.state == "waiting":
            queue = moved(queue, entry.id, by)
        else:
            with pytest.raises(OrderError):
                moved(queue, entry.id, by)
    assert {entry.id for entry in queue.entries} == ids
    assert queue.entries[5].state == "tested"


def test_who_has_a_record_cannot_be_taken_out():
    queue = queue_of("P-1")
    tested = structs.replace(queue.entries[0], exams=["P-1-1"])
    with pytest.raises(OrderError, match="record stays"):
        removed(Queue(entries=[tested]), tested.id)


HEADER = "code,age,glasses,eyes,photosensitive,language\n"


@pytest.mark.parametrize("age", ["0000000450", "00000004599", "9" * 5000, "0" * 5000, "111", "4"])
def test_no_other_age_is_taken_from_a_csv(age):
    """A queue with such an age could not be read again."""
    with pytest.raises(CsvErrors) as refused:
        read_csv(f"{HEADER}P-1,{age},yes,both,no,en\n", ["en"], Queue())
    assert [(e.column, e.allowed) for e in refused.value.errors] == [
        ("age", "whole years from 5 to 110")
    ]


def test_an_error_of_a_csv_names_the_line_that_its_row_begins_on():
    text = f'{HEADER}\n"P\n-1",45,yes,both,no,en\nP-2,4,yes,both,no,en\nP-3,"5\n\n'
    with pytest.raises(CsvErrors) as refused:
        read_csv(text, ["en"], Queue())
    assert [e.line for e in refused.value.errors] == [6]
    with pytest.raises(CsvErrors) as refused:
        read_csv(text[: text.index("P-3")], ["en"], Queue())
    assert [(e.line, e.column) for e in refused.value.errors] == [(3, "code"), (5, "age")]


def test_a_column_of_a_csv_that_comes_twice_is_said_once():
    with pytest.raises(CsvErrors) as refused:
        read_csv("code," + HEADER, ["en"], Queue())
    assert list(map(str, refused.value.errors)) == [
        'Line 1, column code: got "it 2 times"; allowed: each column once.'
    ]


def test_a_code_comes_once_whatever_its_case():
    with pytest.raises(InputError, match="not in the queue"):
        added(queue_of("P-1a"), queue_of("p-1A").entries)


@given(st.text(max_size=12))
def test_no_text_becomes_a_formula(text):
    read = list(csv.reader(io.StringIO(safe_csv(["a"], [[text]]))))
    cell = read[1][0] if len(read) > 1 and read[1] else ""
    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    assert safe_cell(3) == 3


def test_settings_come_back_as_they_were_kept(tmp_path):
    data = prepare(tmp_path)
    kept = changed(Settings(), {"protocol": "tiny.toml", "distance_cm": "33,5", "windowed": ""})
    write_settings(data, kept)
    assert read_settings(data) == kept
    for form, words in (
        ({"distance_cm": "far"}, "distance_cm"),
        ({"protocol": "../secret.toml"}, "protocol"),
        ({"certificate": "../../etc/passwd"}, "certificate"),
        ({"button": "simulated:/etc/passwd"}, "button"),
        ({"button": "phone:10.0.0.7"}, "button"),
        ({"windowed": "big"}, "windowed"),
        ({"station": "a name"}, "station"),
    ):
        with pytest.raises(InputError, match=words):
            write_settings(data, changed(kept, form))
    assert read_settings(data) == kept


def test_over_tls_the_pass_phrase_is_needed_too(tmp_path):
    cert, key, phrase = (tmp_path / name for name in ("c.pem", "k.pem", "phrase"))
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
         "-nodes", "-days", "1", "-subj", "/CN=station", "-addext",
         "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(cert)],
        check=True, capture_output=True,
    )  # fmt: skip
    phrase.write_text("seven green lanterns\n")
    words = ("--tls-cert", str(cert), "--tls-key", str(key), "--pass-phrase-file", str(phrase))
    with station(prepare(tmp_path / "d"), "", *words) as running:
        assert running.address.startswith("https://")
        trust = ssl.create_default_context(cafile=str(cert))
        headers = {"origin": running.address}
        client = httpx.Client(base_url=running.address, verify=trust, headers=headers)
        token = running.link.split("token=")[1]
        assert "Pass phrase" in client.get("/open", params={"token": token}).text
        wrong = client.post("/open", data={"token": token, "phrase": "eight red lanterns"})
        assert wrong.status_code == 403
        right = client.post("/open", data={"token": token, "phrase": "seven green lanterns"})
        assert right.status_code == 303
        assert "Secure" in right.headers["set-cookie"]
        assert client.get("/queue").status_code == 200
