"""Before the first presentation: eyes, limits on this display, and a folder that is new."""

from __future__ import annotations

import os

import numpy as np
import pytest
from records import record

from protocols.errors import InputError, require_within
from protocols.field import Place
from protocols.folder import require_new
from protocols.library import load_protocol
from protocols.plan import eyes_in_order, nominal_limits_db
from protocols.write import write_whole
from stimulus.cli import run

SCREEN = load_protocol("screen-17")


@pytest.mark.parametrize(
    ("wanted", "eyes"),
    [("right", ("right",)), ("left", ("left",)), ("both", ("right", "left"))],
)
def test_the_protocol_says_which_eye_is_first(wanted, eyes):
    assert eyes_in_order(SCREEN, wanted) == eyes


def test_an_unknown_eye_is_refused():
    with pytest.raises(InputError, match='--eye: got "third"; allowed: right, left or both'):
        eyes_in_order(SCREEN, "third")


def test_nominal_levels_make_up_for_what_the_display_loses():
    """What is delivered at the nominal level is the reference limit: 20 log10 of the product."""
    nominal = nominal_limits_db((20.0, 12.5), 0.8, (Place(0, 0), Place(9.5, 0)))
    delivered = -20 * np.log10(0.8 * 10 ** (-np.array(nominal) / 20))
    assert delivered == pytest.approx([20.0, 12.5])


def test_a_limit_beyond_the_displays_full_contrast_is_refused_and_named():
    with pytest.raises(InputError) as refused:
        nominal_limits_db((20.0, 1.5), 0.8, (Place(0, 0), Place(9.5, 0)))
    assert str(refused.value) == (
        'reference limit: got "1.5 dB at (9.5, 0.0) deg"; allowed: 1.9 dB and up, the display\'s '
        "full contrast at this flicker rate. Use a faster display or a lower flicker rate."
    )


def test_a_new_and_an_empty_folder_are_taken(tmp_path):
    assert require_new(tmp_path) == tmp_path
    assert require_new(tmp_path / "new") == tmp_path / "new"
    assert not (tmp_path / "new").exists()


def test_a_folder_with_an_exam_is_refused_with_the_way_on(tmp_path):
    record(tmp_path / "e", protocol="screen-17")
    with pytest.raises(InputError, match=r"or go on with this exam: .*--resume"):
        require_new(tmp_path / "e")


def test_a_folder_with_anything_else_and_a_file_are_refused(tmp_path):
    (tmp_path / "notes.txt").write_text("x")
    for path in (tmp_path, tmp_path / "notes.txt"):
        with pytest.raises(InputError, match=r"--out: got .*Name another folder"):
            require_new(path)


def test_an_exams_folder_holds_everything_to_run_it_again(tmp_path):
    record(tmp_path / "e", protocol="screen-17")
    assert sorted(os.listdir(tmp_path / "e")) == [
        "journal.head", "journal.jsonl", "pattern.toml", "protocol.toml", "reference.toml",
    ]  # fmt: skip
    assert (tmp_path / "e" / "protocol.toml").read_text() == SCREEN.text


def test_a_file_is_replaced_whole_or_not_at_all(tmp_path):
    path = tmp_path / "result.json"
    write_whole(path, b"old")
    with pytest.raises(TypeError):
        write_whole(path, None)
    assert path.read_bytes() == b"old"
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["result.json"]


@pytest.mark.parametrize("value", [5, 45, 110])
def test_a_value_within_its_range_is_handed_back(value):
    assert require_within("age", value, 5, 110, "Give the age.") == value


@pytest.mark.parametrize("value", [4, 111, float("nan")])
def test_a_value_out_of_range_is_never_clipped(value):
    with pytest.raises(InputError, match=rf"^age: got {value}; allowed: 5 to 110\. Give the age\."):
        require_within("age", value, 5, 110, "Give the age.")


def test_verify_tells_sound_from_changed_by_its_exit_code(tmp_path, capsys):
    """`ripplefield verify DIR`: 0 sound, 1 changed, 2 no exam."""
    folder = tmp_path / "e"
    record(folder, protocol="screen-17")
    assert run(["verify", str(folder)]) == 0
    assert "sound" in capsys.readouterr().out
    lines = (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)
    (folder / "journal.jsonl").write_bytes(b"".join(lines[:9] + lines[10:]))
    assert run(["verify", str(folder)]) == 1
    assert "NOT SOUND" in capsys.readouterr().out
    assert run(["verify", str(tmp_path)]) == 2
    assert "allowed: a folder that holds journal.jsonl" in capsys.readouterr().err
