"""Signed with a real key, checked by this program, by openssl and by sha256sum."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from records import record

from protocols.journal import JOURNAL
from stimulus.cli import run

pytest.importorskip("cryptography")


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a signed exam, and the keys of two labs, made by openssl."""
    folder = tmp_path_factory.mktemp("lab")
    for name in ("ours", "theirs"):
        openssl("genpkey", "-algorithm", "ed25519", "-out", str(folder / f"{name}.pem"))
        make_public(folder, name)
    record(folder / "exam")
    assert run(["sign", str(folder / "exam"), "--key", str(folder / "ours.pem")]) == 0
    return folder


def openssl(*words: str) -> str:
    done = subprocess.run(["openssl", *words], capture_output=True, text=True, check=True)
    return done.stdout


def make_public(folder: Path, name: str) -> None:
    private, public = str(folder / f"{name}.pem"), str(folder / f"{name}-public.pem")
    openssl("pkey", "-in", private, "-pubout", "-out", public)


@pytest.fixture
def exam(lab: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(lab / "exam", tmp_path / "exam"))


def verified(lab, exam, capsys, key="ours") -> list[str]:
    """Exit code and the lines that are printed."""
    capsys.readouterr()
    code = run(["verify", str(exam), "--public-key", str(lab / f"{key}-public.pem")])
    out = capsys.readouterr()
    assert out.err == ""
    return [str(code), *out.out.splitlines()]


def test_signed_and_sound(lab, exam, capsys):
    code, said = verified(lab, exam, capsys)
    assert code == "0"
    assert said.startswith("exam: sound, ")


def test_other_programs_check_it(lab, exam):
    """sha256sum for the files, openssl for the list: Ed25519 of RFC 8032 by another library."""
    listed = subprocess.run(
        ["sha256sum", "--check", "record.sha256"], cwd=exam, capture_output=True, text=True
    )
    assert listed.returncode == 0
    assert listed.stdout.splitlines() == [
        f"{name}: OK"
        for name in ("journal.head", JOURNAL, "pattern.toml", "protocol.toml", "reference.toml")
    ]
    said = openssl(
        *("pkeyutl", "-verify", "-pubin", "-inkey", str(lab / "ours-public.pem"), "-rawin"),
        *("-in", str(exam / "record.sha256"), "-sigfile", str(exam / "record.sig")),
    )
    assert said == "Signature Verified Successfully\n"


def test_a_signature_that_openssl_made_is_taken(lab, exam, capsys):
    (exam / "record.sig").unlink()
    openssl(
        *("pkeyutl", "-sign", "-inkey", str(lab / "ours.pem"), "-rawin"),
        *("-in", str(exam / "record.sha256"), "-out", str(exam / "record.sig")),
    )
    assert verified(lab, exam, capsys)[0] == "0"


@pytest.mark.parametrize(
    "content",
    [b"\xff\xfe", b"abc\n", b"0" * 64 + b" *journal.jsonl\n"],
    ids=["bytes", "word", "-b"],
)
def test_a_signed_list_of_another_form_is_said_to_be_one(lab, exam, capsys, content):
    (exam / "record.sha256").write_bytes(content)
    (exam / "record.sig").unlink()
    openssl(
        *("pkeyutl", "-sign", "-inkey", str(lab / "ours.pem"), "-rawin"),
        *("-in", str(exam / "record.sha256"), "-out", str(exam / "record.sig")),
    )
    code, _, problem = verified(lab, exam, capsys)
    words = "  record.sha256 is signed, but no list that sha256sum writes for text files"
    assert (code, problem) == ("1", words)


NO_FIT = "  the signature does not fit: another key, or record.sha256 was changed"


def test_wrong_key(lab, exam, capsys):
    code, _, problem = verified(lab, exam, capsys, "theirs")
    assert (code, problem) == ("1", NO_FIT)


@pytest.mark.parametrize("name", ["record.sha256", "record.sig"])
def test_a_changed_signature(lab, exam, capsys, name):
    content = bytearray((exam / name).read_bytes())
    content[5] ^= 1
    (exam / name).write_bytes(content)
    code, _, problem = verified(lab, exam, capsys)
    assert (code, problem) == ("1", NO_FIT)


@pytest.mark.parametrize("name", ["record.sha256", "record.sig"])
def test_not_signed(lab, exam, capsys, name):
    (exam / name).unlink()
    code, _, problem = verified(lab, exam, capsys)
    assert (code, problem) == ("1", f"  {name} is missing: the record was not signed")


def test_a_forged_record_with_a_sound_chain_is_found(lab, exam, capsys):
    """Another exam under the same name is sound by itself; only the signature tells."""
    shutil.rmtree(exam)
    record(exam, seed=2)
    shutil.copy(lab / "exam" / "record.sha256", exam)
    shutil.copy(lab / "exam" / "record.sig", exam)
    assert verified(lab, exam, capsys) == [
        "1",
        f"exam: NOT SOUND, {len((exam / JOURNAL).read_bytes().splitlines())} lines, closed",
        "  journal.head was changed after signing",
        f"  {JOURNAL} was changed after signing",
    ]


def test_files_changed_missing_and_added_after_signing(lab, exam, capsys):
    (exam / "reference.toml").unlink()
    (exam / "protocol.toml").write_text((exam / "protocol.toml").read_text() + "\n")
    (exam / "display.json").write_text("{}")
    assert verified(lab, exam, capsys)[2:] == [
        "  protocol.toml or pattern.toml is not the one the exam was opened with",
        "  reference.toml is missing",
        "  reference.toml is missing; it was signed",
        "  protocol.toml was changed after signing",
        "  display.json was added after signing",
    ]


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert run(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


MAKE_KEY = "Make one: openssl genpkey -algorithm ed25519 -out lab.pem"
MAKE_PUBLIC = "Make it from the key: openssl pkey -in lab.pem -pubout -out lab-public.pem"


def test_a_key_that_is_none(lab, exam, tmp_path, capsys):
    path = tmp_path / "none.pem"
    path.write_text("no key")
    assert refused(["sign", str(exam), "--key", str(path)], capsys) == (
        f'error: --key: got "{path}"; allowed: an Ed25519 private key in a PEM file. {MAKE_KEY}\n'
    )
    assert refused(["verify", str(exam), "--public-key", str(path)], capsys) == (
        f'error: --public-key: got "{path}"; allowed: an Ed25519 public key in a PEM file. '
        f"{MAKE_PUBLIC}\n"
    )


def test_a_key_of_another_kind(lab, exam, tmp_path, capsys):
    path = tmp_path / "other.pem"
    openssl("genpkey", "-algorithm", "X25519", "-out", str(path))
    assert refused(["sign", str(exam), "--key", str(path)], capsys) == (
        f'error: --key: got "{path}"; allowed: an Ed25519 private key in a PEM file. {MAKE_KEY}\n'
    )
    make_public(tmp_path, "other")
    public = tmp_path / "other-public.pem"
    assert refused(["verify", str(exam), "--public-key", str(public)], capsys) == (
        f'error: --public-key: got "{public}"; allowed: an Ed25519 public key in a PEM file. '
        f"{MAKE_PUBLIC}\n"
    )


def test_a_key_with_a_passphrase(lab, exam, tmp_path, capsys):
    path = tmp_path / "locked.pem"
    words = ["pkey", "-in", str(lab / "ours.pem"), "-aes256", "-passout", "pass:word"]
    openssl(*words, "-out", str(path))
    assert refused(["sign", str(exam), "--key", str(path)], capsys) == (
        f'error: --key: got "{path}"; allowed: an Ed25519 private key in a PEM file, without a '
        "passphrase. Take the passphrase off a copy: openssl pkey -in FILE -out COPY\n"
    )


def test_a_key_that_is_not_there(lab, exam, capsys):
    assert refused(["sign", str(exam), "--key", "gone.pem"], capsys) == (
        'error: --key: got "gone.pem"; allowed: an Ed25519 private key in a PEM file. '
        f"The system says: No such file or directory. {MAKE_KEY}\n"
    )


def test_a_record_that_is_not_closed_or_not_sound_is_not_signed(lab, exam, capsys):
    key = ["--key", str(lab / "ours.pem")]
    lines = (exam / JOURNAL).read_bytes().splitlines(keepends=True)
    (exam / JOURNAL).write_bytes(b"".join(lines[:-1]))
    assert refused(["sign", str(exam), *key], capsys) == (
        f'error: DIR: got "{exam}"; allowed: a record that was not changed. '
        f"ripplefield verify says: 1 line(s) were lost after line {len(lines) - 1}.\n"
    )
    (exam / "journal.head").unlink()
    assert refused(["sign", str(exam), *key], capsys) == (
        f'error: DIR: got "{exam}"; allowed: a record that is closed. '
        f"End the exam first: ripplefield run --resume {exam}\n"
    )


def test_without_the_library(lab, exam, capsys, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "cryptography", None)
    assert refused(["sign", str(exam), "--key", str(lab / "ours.pem")], capsys) == (
        'error: --key: got "no library for signatures"; allowed: the library cryptography. '
        "Install it: pip install cryptography\n"
    )
