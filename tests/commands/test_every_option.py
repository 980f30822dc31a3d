"""Every option and argument of every command, with everything that is wrong for it.

One line that names the parameter, what was given, what is allowed and what to do next; exit code 2;
no traceback; nothing written.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import wrong_certificates
from command_desk import CODE_OF_WRONG_INPUT, FILES, all_files, say
from spoilt_records import make_records
from wrong_values import RIGHT, TAKES, Parameter, parameters, words_with, wrong_values

from stimulus.contracts.exams import INVENTED, record

ALL = parameters()
FLAGS = [param for param in ALL if param.is_flag]
CASES = [(param, value) for param in ALL if not param.is_flag for value in wrong_values(param)]
LINE = re.compile(r"error: (?P<name>.+?): got (?P<given>.+?); allowed: (?P<allowed>.+?)\. .+")

OBSERVERS = "observer,age_years,eye,x_deg,y_deg,sensitivity_db\n" + "".join(
    f"a,45,right,{place},20\n" for place in ("0,8", "-8,0", "0,-8")
)


PLAN = """
format = 1
name = "small"
seed = 5
people = 100
prevalence = 0.05

[[protocols]]
protocol = "screen-19"

[robustness]
people = 100
"""
TEXTS = {
    **FILES, "truth.csv": OBSERVERS, "text": "hello\n", "text.csv": "hello\n",
    "text.wav": "hello\n", "short": "word\n", "empty-file": "", "empty.csv": "", "source.toml": "",
    "measured.toml": "format = 1\n", "steps.csv": "0,1\n", "plan.toml": PLAN,
}  # fmt: skip


@pytest.fixture(scope="module")
def desk() -> Iterator[Path]:
    """The folder commands run in, made once: nothing may change it. Its path is short.

    There is no display: nothing wrong may get as far as a window.
    """
    before = os.environ.pop("DISPLAY", None), Path.cwd()
    with tempfile.TemporaryDirectory(prefix="desk-") as name:
        folder = Path(name)
        _furnish(folder)
        os.chdir(folder)
        yield folder
        os.chdir(before[1])
    if before[0] is not None:
        os.environ["DISPLAY"] = before[0]


@pytest.fixture(scope="module")
def furnished(desk: Path) -> dict[str, bytes | None]:
    return all_files(desk)


def _furnish(folder: Path) -> None:
    make_records(folder)
    record(folder / "both", sitting=replace(INVENTED, eyes=("right", "left")))
    _certificate(folder)
    for name, text in TEXTS.items():
        (folder / name).write_text(text)
    for name in ("binary", "binary.csv"):
        (folder / name).write_bytes(bytes(range(256)) * 8)
    for name in ("folder", "folder.csv", "folder.toml"):
        (folder / name).mkdir()
    _key(folder / "key.pem")
    _tls(folder)


def _certificate(folder: Path) -> None:
    (folder / "certificates").mkdir()
    wrong_certificates.make_certificates(folder / "certificates")
    shutil.copy(folder / "certificates" / "good.json", folder / "good.json")
    shutil.rmtree(folder / "certificates")


def _key(path: Path) -> None:
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    plain = form.PrivateFormat.PKCS8, form.NoEncryption()
    path.write_bytes(Ed25519PrivateKey.generate().private_bytes(form.Encoding.PEM, *plain))


def _tls(folder: Path) -> None:
    """A certificate that its own key signed."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric import ec

    key, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(timezone.utc)
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "station.invalid")])
    made = x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number(), now,
                                   now + timedelta(days=1)).sign(key, hashes.SHA256())  # fmt: skip
    (folder / "cert.pem").write_bytes(made.public_bytes(form.Encoding.PEM))
    plain = form.PrivateFormat.PKCS8, form.NoEncryption()
    (folder / "tls.pem").write_bytes(key.private_bytes(form.Encoding.PEM, *plain))


def test_every_parameter_is_tried():
    keys = {param.key for param in ALL}
    assert set(TAKES) <= keys
    assert {param.command for param in ALL} <= {*RIGHT, "protocols"}
    print(f"{len(keys)} parameters, {len(CASES)} wrong values, {len(FLAGS)} flags")
    assert len(CASES) > 300


def label(case: object) -> str:
    return case.key if isinstance(case, Parameter) else str(case)[:30] or "nothing"


@pytest.mark.parametrize(("param", "value"), CASES, ids=label)
def test_one_clear_line(
    param: Parameter,
    value: str,
    desk: Path,
    furnished: dict[str, bytes | None],
    capsys: pytest.CaptureFixture[str],
):
    said = say(words_with(param, value), capsys)
    assert said.errors.count("\n") == 1, said
    line = LINE.fullmatch(said.errors.strip())
    assert line, said.errors
    assert (said.code, said.output) == (CODE_OF_WRONG_INPUT, "")
    assert _names(param, value, said.errors), said.errors
    assert _changes(desk, furnished) == []


def _changes(desk: Path, furnished: dict[str, bytes | None]) -> list[str]:
    """Names of what was made, changed or lost; all is put back, for the cases to come."""
    now = all_files(desk)
    changed = [name for name in now.keys() | furnished.keys()
               if now.get(name, b"none") != furnished.get(name, b"none")]  # fmt: skip
    for name in sorted(changed, reverse=True):
        if name not in furnished:
            path = desk / name
            path.rmdir() if path.is_dir() and not path.is_symlink() else path.unlink()
        elif furnished[name] is not None:
            (desk / name).write_bytes(furnished[name] or b"")
    return sorted(changed)


def _names(param: Parameter, value: str, error: str) -> bool:
    """The line says which parameter is wrong, or which file that was named by it."""
    file = Path(value.rpartition(":")[2] or value).name
    name = param.name.rstrip(".").partition(".")[0].lower()
    return name in error.lower() or (value and value in error) or (len(file) > 2 and file in error)


@pytest.mark.parametrize("param", FLAGS, ids=label)
def test_a_flag_takes_no_value(param: Parameter, desk: Path, capsys: pytest.CaptureFixture[str]):
    words = [*param.command.split(), f"{param.name}=yes"]
    said = say(words, capsys)
    assert said.code == CODE_OF_WRONG_INPUT
    assert said.errors.startswith(f'error: {param.name}: got "a value"; allowed: {param.name} ')


@pytest.mark.parametrize("param", [p for p in ALL if p.name.startswith("--") and not p.is_flag],
                         ids=label)  # fmt: skip
def test_an_option_without_its_value(
    param: Parameter, desk: Path, capsys: pytest.CaptureFixture[str]
):
    said = say([*param.command.split(), param.name], capsys)
    assert said.code == CODE_OF_WRONG_INPUT
    assert said.errors.startswith(f"error: {param.name}: got nothing; allowed: ")
    assert f"Write the value after {param.name}." in said.errors
