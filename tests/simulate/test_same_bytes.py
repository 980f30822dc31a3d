"""The same seed gives the same file, whoever did the work, in whatever pieces, stopped or not."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from tables import rows_of, study_of, write_table

from protocols.errors import InputError, Interrupted
from protocols.simulate.results import COLUMNS
from protocols.simulate.run import simulate
from protocols.simulate.workers import Alone, Processes

PROTOCOLS = ("screen-19", "staircase-19", "bayes-19")


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    return write_table(tmp_path_factory.mktemp("truth") / "truth.csv", rows_of("screen-19", 8))


def _bytes(study, facts, out, crew, size):
    simulate(study, out, crew, facts, size=size)
    assert not list(out.parent.glob("*.parts"))
    return out.read_bytes()


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_the_size_of_the_pieces_changes_nothing(protocol, table, tmp_path):
    study, facts = study_of(table, protocol)
    found = [
        _bytes(study, facts, tmp_path / f"{size}.csv", Alone(), size) for size in (1, 7, 1000)
    ]
    assert len(set(found)) == 1
    assert found[0].count(b"\n") == 1 + 8 * 2 * 19


def test_the_number_of_workers_changes_nothing(table, tmp_path):
    study, facts = study_of(table, "bayes-19", repeats=2)
    alone = _bytes(study, facts, tmp_path / "alone.csv", Alone(), 10)
    three = _bytes(study, facts, tmp_path / "three.csv", Processes(3), 4)
    assert alone == three


def test_an_observer_gets_the_same_answers_in_another_table(table, tmp_path):
    study, facts = study_of(table, "staircase-19")
    every = _bytes(study, facts, tmp_path / "every.csv", Alone(), 100).decode().splitlines()
    rows = [line for line in rows_of("screen-19", 8) if line.startswith(("O-005", "O-002"))]
    some, facts = study_of(write_table(tmp_path / "some.csv", rows[::-1]), "staircase-19", 2)
    few = _bytes(some, facts, tmp_path / "few.csv", Alone(), 100).decode().splitlines()
    kept = [line for line in every if line.startswith(("O-005,1", "O-002,1"))]
    assert sorted(kept) == sorted(line for line in few if ",1," in line[:8])


def test_another_seed_gives_other_answers_and_repeats_differ(table, tmp_path):
    one, facts = study_of(table, "bayes-19", repeats=2, seed=1)
    two, other = study_of(table, "bayes-19", repeats=2, seed=2)
    first = _bytes(one, facts, tmp_path / "1.csv", Alone(), 100)
    assert first != _bytes(two, other, tmp_path / "2.csv", Alone(), 100)
    lines = first.decode().splitlines()[1:]
    assert [line.split(",", 2)[2] for line in lines[:19]] != [
        line.split(",", 2)[2] for line in lines[19:38]
    ]


def test_parquet_holds_what_csv_holds(table, tmp_path):
    from pyarrow import parquet

    study, facts = study_of(table, "bayes-19")
    text = _bytes(study, facts, tmp_path / "r.csv", Alone(), 5).decode()
    _bytes(study, facts, tmp_path / "r.parquet", Alone(), 5)
    columns = parquet.read_table(tmp_path / "r.parquet").to_pydict()
    assert list(columns) == list(COLUMNS) == text.splitlines()[0].split(",")
    for number, row in enumerate(csv.DictReader(text.splitlines())):
        for name, value in row.items():
            held = columns[name][number]
            same = value == "" if held is None else str(held) == value or float(value) == held
            assert same, (number, name, value, held)


class _Struck(Alone):
    """Works until the operator presses Ctrl-C after so many pieces."""

    def __init__(self, after):
        self._after = after

    def run(self, numbers, make):
        for done, piece in enumerate(super().run(numbers, make)):
            if done == self._after:
                raise KeyboardInterrupt
            yield piece


def test_a_stopped_run_keeps_its_pieces_and_the_same_run_goes_on(table, tmp_path):
    study, facts = study_of(table, "bayes-19")
    whole = _bytes(study, facts, tmp_path / "whole.csv", Alone(), 3)
    out = tmp_path / "r.csv"
    with pytest.raises(Interrupted, match=r"2 of 6 pieces are kept in .*r.csv.parts; the same"):
        simulate(study, out, _Struck(2), facts, size=3)
    assert not out.exists()
    assert len(list((tmp_path / "r.csv.parts").glob("part-*"))) == 2
    ran = []

    class Counting(Alone):
        def run(self, numbers, make):
            ran.extend(numbers)
            return super().run(numbers, make)

    seen = []
    simulate(study, out, Counting(), facts, lambda done, total: seen.append((done, total)), 3)
    assert ran == [2, 3, 4, 5]
    assert seen == [(6, 16), (9, 16), (12, 16), (15, 16), (16, 16)]
    assert out.read_bytes() == whole


def test_the_parts_of_another_run_are_not_mixed_in(table, tmp_path):
    study, facts = study_of(table, "bayes-19")
    with pytest.raises(Interrupted):
        simulate(study, tmp_path / "r.csv", _Struck(1), facts, size=3)
    other, others = study_of(table, "bayes-19", seed=6)
    with pytest.raises(InputError, match='run with another seed"; allowed: the same run again'):
        simulate(other, tmp_path / "r.csv", Alone(), others, size=3)


def test_results_that_are_there_are_not_overwritten(table, tmp_path):
    study, facts = study_of(table, "screen-19")
    (tmp_path / "r.csv").write_text("precious")
    with pytest.raises(InputError, match="a file that does not exist yet"):
        simulate(study, tmp_path / "r.csv", Alone(), facts)
    assert (tmp_path / "r.csv").read_text() == "precious"


def test_a_worker_process_that_is_killed_costs_nothing_but_time(table, tmp_path):
    import multiprocessing
    import os
    import signal

    study, facts = study_of(table, "bayes-19", repeats=4)
    whole = _bytes(study, facts, tmp_path / "whole.csv", Alone(), 4)
    killed = []

    def strike(done, total):
        workers = multiprocessing.active_children()
        if done and not killed and workers:
            killed.append(workers[0].pid)
            os.kill(workers[0].pid, signal.SIGKILL)

    simulate(study, tmp_path / "r.csv", Processes(2), facts, strike, 4)
    assert killed
    assert (tmp_path / "r.csv").read_bytes() == whole


def test_the_numbers_in_the_table_belong_together(table, tmp_path):
    study, facts = study_of(table, "bayes-19", repeats=3)
    text = _bytes(study, facts, tmp_path / "r.csv", Alone(), 100).decode()
    rows = list(csv.DictReader(text.splitlines()))
    lossy = [row for row in rows if float(row["truth_db"]) < 10]
    assert len(lossy) > 50
    for row in rows:
        assert float(row["low_db"]) <= float(row["high_db"])
        assert int(row["place_presentations"]) <= int(row["exam_presentations"])
        assert row["grade"] in ("", "0", "1", "2", "3", "4")
    grades = [int(row["grade"]) for row in lossy if row["grade"]]
    assert np.mean([grade >= 2 for grade in grades]) > 0.9
    for exam in range(0, len(rows), 19):
        mine = rows[exam : exam + 19]
        at_places = sum(int(row["place_presentations"]) for row in mine)
        assert at_places + 9 <= int(mine[0]["exam_presentations"])
        assert len({row["exam_seconds"] for row in mine}) == 1
