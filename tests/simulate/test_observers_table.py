"""Tables of observers are read strictly: each mistake has one clear answer with its line."""

from __future__ import annotations

import numpy as np
import pytest
from tables import HEADER, rows_of, write_table

from protocols.errors import InputError
from protocols.library import load_protocol
from protocols.simulate.observers import read_observers

PATTERN = load_protocol("screen-19").pattern
ROWS = rows_of("screen-19", 3)
COLUMNS = "observer, eye, age_years, x_deg, y_deg, sensitivity_db, slope_db, lapse_rate, "


def _with(number, old, new):
    """The rows with a change in one of them; number 0 is line 2 of the file."""
    assert old in ROWS[number]
    return [*ROWS[:number], ROWS[number].replace(old, new, 1), *ROWS[number + 1 :]]


AGE = f",{ROWS[0].split(',')[1]},"
TRUTH = f",{ROWS[4].split(',')[5]}"
MISTAKES = [
    ("eye", _with(3, "right", "Right"), 'line 5, eye: got "Right"; allowed: right or left'),
    ("no observer", _with(2, "O-000", ""), "line 4, observer: got nothing; allowed: a code"),
    ("quoted", _with(2, "O-000", '"O,0"'), 'line 4, observer: got "O,0"; allowed: a code without'),
    ("half a year", _with(1, AGE, ",40.5,"), "line 3, age_years: got \"40.5\"; allowed: a whole"),
    ("too old", _with(1, AGE, ",200,"), 'line 3, age_years: got "200"; allowed: a whole number fr'),
    ("two ages", _with(1, AGE, ",19,"), 'line 3, age_years: got "19"; allowed: the same in all'),
    ("words", _with(4, TRUTH, ",good"), 'line 6, sensitivity_db: got "good"; allowed: a number fr'),
    ("unit", _with(4, TRUTH, ",20 dB"), 'line 6, sensitivity_db: got "20 dB"; allowed: a number'),
    ("space", _with(4, TRUTH, ", 20"), 'line 6, sensitivity_db: got " 20"; allowed: a number fr'),
    ("grouped", _with(4, TRUTH, ",1_0"), 'line 6, sensitivity_db: got "1_0"; allowed: a number f'),
    ("digits", _with(4, TRUTH, ",\u0663"), 'line 6, sensitivity_db: got "\u0663"; allowed: a num'),
    ("empty", _with(4, TRUTH, ","), "line 6, sensitivity_db: got nothing; allowed: a number from"),
    ("nan", _with(4, TRUTH, ",nan"), 'line 6, sensitivity_db: got "nan"; allowed: a number from'),
    ("infinite", _with(4, TRUTH, ",inf"), 'line 6, sensitivity_db: got "inf"; allowed: a number'),
    ("far out", _with(4, TRUTH, ",70"), 'line 6, sensitivity_db: got "70"; allowed: a number from'),
    (
        "place moved",
        _with(2, "0.000,9.500", "0.000,9.650"),
        "line 4, x_deg, y_deg: got \"(0, 9.65) deg\"; allowed: a place of rings19 for the right "
        "eye within 0.1 degrees; the nearest is (0, 9.5) deg. Move the place",
    ),
    (
        "place twice",
        [*ROWS[:3], ROWS[2], *ROWS[3:]],
        'line 5, x_deg, y_deg: got "the place (0, 9.5) deg of observer O-000, right eye, once more',
    ),
    (
        "place missing",
        [*ROWS[:2], *ROWS[3:]],
        'got "no place (0, 9.5) deg for observer O-000, right eye"; allowed: all 19 places of rin',
    ),
    ("short line", _with(4, TRUTH, ""), "line 6: got \"5 fields where the header has 6\"; allowed"),
    ("long line", _with(4, TRUTH, ",1,2"), 'line 6: got "7 fields where the header has 6"; allow'),
    ("no row", [], 'truth.csv: got "no row"; allowed: at least one'),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "said"), [m[1:] for m in MISTAKES], ids=[m[0] for m in MISTAKES])
def test_a_mistake_has_one_clear_answer(lines, said, tmp_path):
    with pytest.raises(InputError) as refused:
        read_observers(write_table(tmp_path / "truth.csv", lines), PATTERN)
    assert str(refused.value).startswith("truth.csv")
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("header", "said"),
    [
        (HEADER.replace("age_years", "age_yers"), f'header: got "age_yers"; allowed: {COLUMNS}'),
        (HEADER.replace("age_years", "age_yers"), "Did you mean age_years?"),
        (HEADER.replace("age_years", "eye"), 'header: got "eye twice"; allowed: once'),
        (HEADER.replace("age_years", "slope_db"), 'header: got "no age_years"; allowed: observer'),
    ],
)
def test_a_header_that_is_not_the_one_is_refused(header, said, tmp_path):
    with pytest.raises(InputError) as refused:
        read_observers(write_table(tmp_path / "truth.csv", ROWS, header), PATTERN)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nowhere.csv", "allowed: a file that exists"),
        ("truth.txt", "a name that ends in .csv or .parquet"),
        ("truth.parquet", "a Parquet file"),
    ],
)
def test_a_file_that_is_no_table_is_refused(name, said, tmp_path):
    if name != "nowhere.csv":
        write_table(tmp_path / name, ROWS)
    with pytest.raises(InputError) as refused:
        read_observers(tmp_path / name, PATTERN)
    assert said in str(refused.value)


def test_a_good_table_is_arranged_by_the_pattern_whatever_the_order_of_its_rows(tmp_path):
    straight = read_observers(write_table(tmp_path / "truth.csv", ROWS), PATTERN)
    mixed = [*ROWS[:1], *np.random.default_rng(2).permutation(ROWS[1:]).tolist()]
    other = read_observers(write_table(tmp_path / "mixed.csv", mixed), PATTERN)
    assert len(straight) == 6
    assert list(straight.codes[:2]) == ["O-000", "O-000"]
    assert list(straight.eyes[:2]) == ["right", "left"]
    for code, eye in zip(straight.codes, straight.eyes, strict=True):
        one = (straight.codes == code) & (straight.eyes == eye)
        same = (other.codes == code) & (other.eyes == eye)
        assert np.array_equal(
            straight.watchers.sensitivity_db[one], other.watchers.sensitivity_db[same]
        )
    first = [float(line.split(",")[5]) for line in ROWS[:19]]
    assert np.array_equal(straight.watchers.sensitivity_db[0], first)
    assert (straight.watchers.slope_db == 1.5).all()


def test_places_may_lie_up_to_a_tenth_of_a_degree_off(tmp_path):
    lines = _with(2, "0.000,9.500", "0.070,9.570")
    assert len(read_observers(write_table(tmp_path / "truth.csv", lines), PATTERN)) == 6


def test_optional_columns_and_parquet_say_the_same_as_csv(tmp_path):
    from pyarrow import csv, parquet

    lines = [f"{line},2.5,0.05,0.1" for line in ROWS]
    path = write_table(
        tmp_path / "truth.csv", lines, f"{HEADER},slope_db,lapse_rate,false_press_rate"
    )
    parquet.write_table(csv.read_csv(path), tmp_path / "truth.parquet")
    one, other = (read_observers(tmp_path / f"truth.{end}", PATTERN) for end in ("csv", "parquet"))
    assert (one.watchers.slope_db == 2.5).all()
    assert (one.watchers.lapse_rate == 0.05).all()
    assert (one.watchers.false_press_rate == 0.1).all()
    for name in one.watchers.__dataclass_fields__:
        assert np.array_equal(getattr(one.watchers, name), getattr(other.watchers, name))


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("observer", [["O-000"]], "row 1, observer: got ['O-000']; allowed: text"),
        ("eye", [b"\xff"], "row 1, eye: got b'\\xff'; allowed: text"),
        ("age_years", [2**60], f"row 1, age_years: got {2**60}; allowed: a whole number from 5"),
    ],
)
def test_a_parquet_column_of_another_kind_is_refused(tmp_path, name, value, said):
    from pyarrow import csv, parquet, table

    good = csv.read_csv(write_table(tmp_path / "truth.csv", ROWS)).to_pydict()
    parquet.write_table(table({**good, name: value * len(ROWS)}), tmp_path / "truth.parquet")
    with pytest.raises(InputError) as refused:
        read_observers(tmp_path / "truth.parquet", PATTERN)
    assert said in str(refused.value)


def test_a_false_press_rate_belongs_to_the_eye_not_the_place(tmp_path):
    lines = [f"{line},{0.1 if number else 0.2}" for number, line in enumerate(ROWS)]
    path = write_table(tmp_path / "truth.csv", lines, f"{HEADER},false_press_rate")
    with pytest.raises(InputError, match=r"line 3, false_press_rate: .*the same in all rows"):
        read_observers(path, PATTERN)
