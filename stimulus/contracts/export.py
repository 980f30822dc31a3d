"""One contract for every export: subclass, say how it is called, and run it.

    class TestTable(ExportContract):
        def export(self, folders, out):
            export_plugged(find("export", "table", ()), folders, out, lambda done, total: None)
"""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from protocols.errors import InputError
from stimulus.contracts.exams import HIDDEN_PATH, INITIALS, INVENTED, record


def everything(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, by name."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


class ExportContract:
    """What every export promises: a new folder and whole, or an error and nothing."""

    same_bytes = True
    """Whether the same exams give the same bytes again; False for formats that hold a time."""

    def export(self, folders: Sequence[Path], out: Path) -> object:
        """Write exams into `out`; a subclass says how."""
        raise NotImplementedError("give the contract a method `export`")

    @pytest.fixture(scope="module")
    @classmethod
    def exams(cls, tmp_path_factory: pytest.TempPathFactory) -> Path:
        """A folder with two exams of one participant, `one` and `two`."""
        folder = tmp_path_factory.mktemp("exams")
        record(folder / "one", "arc-loss", sitting=INVENTED)
        record(folder / "two", "healthy", sitting=replace(INVENTED, seed=2))
        return folder

    @pytest.fixture
    def desk(self, exams: Path, tmp_path: Path) -> Path:
        """A copy of them, and room for what is written."""
        shutil.copytree(exams, tmp_path / "desk")
        return tmp_path / "desk"

    def test_it_writes_a_new_folder_whole_and_without_secrets(self, desk: Path) -> None:
        """The exams stay as they are, nothing is left beside, and no exam of two is lost.

        The records have the operator's initials and the command line; no file out may.
        """
        before = everything(desk)
        self.export([desk / "one", desk / "two"], desk / "out")
        self.export([desk / "one"], desk / "single")
        both, alone = everything(desk / "out"), everything(desk / "single")
        assert alone
        assert sum(map(len, both.values())) > sum(map(len, alone.values()))
        for name, content in both.items():
            for secret in (INITIALS, HIDDEN_PATH, str(desk)):
                assert secret.encode() not in content, f"{secret} in {name}"
        shutil.rmtree(desk / "out")
        shutil.rmtree(desk / "single")
        assert everything(desk) == before

    def test_the_same_exams_in_any_order_give_the_same_bytes(self, desk: Path) -> None:
        """So that an export can be made again and compared."""
        if not self.same_bytes:
            pytest.skip("this format holds the time of writing")
        self.export([desk / "one", desk / "two"], desk / "a")
        self.export([desk / "two", desk / "one"], desk / "b")
        assert everything(desk / "a") == everything(desk / "b")

    def test_a_folder_that_is_there_is_refused(self, desk: Path) -> None:
        """Nothing is written over."""
        (desk / "out").mkdir()
        self._refused(desk, ["one"], "a folder that does not exist yet")

    def test_a_changed_record_is_refused(self, desk: Path) -> None:
        """Only what verifies goes out."""
        path = desk / "one" / "journal.jsonl"
        path.write_bytes(path.read_bytes().replace(b'"seen"', b'"late"', 1))
        self._refused(desk, ["two", "one"], "one")

    def test_the_same_exam_twice_is_refused(self, desk: Path) -> None:
        """A copy under another name is noticed."""
        shutil.copytree(desk / "one", desk / "copy")
        self._refused(desk, ["one", "copy"], "each exam once")

    def test_an_exam_under_way_is_refused(self, desk: Path) -> None:
        """It would be half an exam."""
        with open(desk / "one" / "journal.jsonl", "rb") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            self._refused(desk, ["one"], "no other program is running")

    def test_a_folder_without_an_exam_is_refused(self, desk: Path) -> None:
        """With its name."""
        (desk / "empty").mkdir()
        self._refused(desk, ["empty"], "empty")

    def _refused(self, desk: Path, names: Sequence[str], words: str) -> None:
        before = everything(desk)
        with pytest.raises(InputError, match=words):
            self.export([desk / name for name in names], desk / "out")
        assert everything(desk) == before
        assert not [path for path in desk.iterdir() if path.name.startswith(".")]
