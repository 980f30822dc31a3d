"""Records that pages speak of, and the site itself, made once."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from page_blocks import DOCS, ROOT, program_folder


@pytest.fixture(scope="session")
def demo_records(tmp_path_factory) -> Path:
    """`demo/` as `ripplefield demo --seed 1` leaves it, but for the exam in the real window."""
    from analysis.reference import load_reference
    from stimulus import demo

    out = tmp_path_factory.mktemp("records") / "demo"
    out.mkdir()
    for number, person in enumerate(demo.PEOPLE, start=1):
        demo._virtual(out, 1 + demo.SEEDS_APART * number, person, load_reference())
    demo.measure_display(out, 1, lambda _: None)
    return out


@pytest.fixture
def desk(tmp_path, demo_records, monkeypatch):
    """A folder as somebody at work has it, and the environment of the commands run there."""

    def _desk(page: str) -> tuple[Path, dict[str, str]]:
        folder = tmp_path / "work"
        folder.mkdir()
        if "demo/" in (DOCS / page).read_text():
            shutil.copytree(demo_records, folder / "demo")
        monkeypatch.chdir(folder)
        monkeypatch.setattr(sys, "path", sys.path[:])
        paths = {
            "PATH": f"{program_folder()}:{os.environ['PATH']}",
            "PYTHONPATH": f"{ROOT}:{os.environ.get('PYTHONPATH', '')}",
            "HOME": str(tmp_path),
            "COLUMNS": "100",
        }
        return folder, os.environ | paths

    return _desk


@pytest.fixture(scope="session")
def site(tmp_path_factory) -> Path:
    """The pages, built as strictly as continuous integration does."""
    if importlib.util.find_spec("sphinx") is None:  # imported here, it would switch pyglet off
        pytest.skip("needs the docs extra: pip install -e '.[docs]'")
    out = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html"]
    done = subprocess.run(
        [*command, "-d", str(out / "trees"), str(DOCS), str(out / "html")],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    return out / "html"
