"""A detached signature over a record, for labs that need proof of who vouched for it.

Two files in the exam's folder, both readable without this program:
- `record.sha256` lists the record's files with their SHA-256, as `sha256sum --check` reads it;
- `record.sig` is the Ed25519 signature (RFC 8032) of that list, 64 bytes, as
  `openssl pkeyutl -verify -rawin` checks it.
Results, tables and pages are not signed: they can be made anew from the record.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from protocols.errors import InputError
from protocols.files import sha256_hex
from protocols.folder import CERTIFICATE
from protocols.journal import HEAD, JOURNAL, require_not_running
from protocols.verify import require_sound
from protocols.verify_record import PROTOCOL_FILES, REFERENCE_FILE, verify_record
from protocols.write import write_whole

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (
        Ed25519PrivateKey,
        Ed25519PublicKey,
    )

LIST = "record.sha256"
SIGNATURE = "record.sig"
SIGNED_ALWAYS = (JOURNAL, HEAD, *PROTOCOL_FILES, REFERENCE_FILE)
MAKE_KEY = "Make one: openssl genpkey -algorithm ed25519 -out lab.pem"
MAKE_PUBLIC = "Make it from the key: openssl pkey -in lab.pem -pubout -out lab-public.pem"
INSTALL = "Install it: pip install cryptography"


def sign(folder: Path, key: Ed25519PrivateKey) -> None:
    """Sign a record; a signature that was there is replaced.

    Raises InputError for a record that is running, not closed, or not sound.
    """
    require_not_running(folder)
    found = verify_record(folder)
    require_sound(found, "DIR", folder)
    if not found.closed:
        todo = f"End the exam first: ripplefield run --resume {folder}"
        raise InputError("DIR", str(folder), "a record that is closed", todo)
    content = _list_of(folder)
    write_whole(folder / LIST, content)
    write_whole(folder / SIGNATURE, key.sign(content))


def verify_signature(folder: Path, key: Ed25519PublicKey) -> list[str]:
    """What is wrong with a record's signature, empty if nothing is."""
    from cryptography.exceptions import InvalidSignature

    missing = [name for name in (LIST, SIGNATURE) if not (folder / name).is_file()]
    if missing:
        return [f"{name} is missing: the record was not signed" for name in missing[:1]]
    content = (folder / LIST).read_bytes()
    try:
        key.verify((folder / SIGNATURE).read_bytes(), content)
    except InvalidSignature:
        return [f"the signature does not fit: another key, or {LIST} was changed"]
    try:
        signed = _by_name(content.decode())
    except ValueError:  # of text and of its lines
        return [f"{LIST} is signed, but no list that sha256sum writes for text files"]
    return _differences(signed, _by_name(_list_of(folder).decode()))


def private_key_of(path: Path) -> Ed25519PrivateKey:
    """The private key in a PEM file without a passphrase; raises InputError."""
    _require_library("--key")
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    allowed = "an Ed25519 private key in a PEM file"
    try:
        key = load_pem_private_key(_bytes_of(path, "--key", allowed, MAKE_KEY), password=None)
    except TypeError:
        todo = "Take the passphrase off a copy: openssl pkey -in FILE -out COPY"
        raise InputError("--key", str(path), f"{allowed}, without a passphrase", todo) from None
    except ValueError:
        raise InputError("--key", str(path), allowed, MAKE_KEY) from None
    if not isinstance(key, Ed25519PrivateKey):
        raise InputError("--key", str(path), allowed, MAKE_KEY)
    return key


def public_key_of(path: Path) -> Ed25519PublicKey:
    """The public key in a PEM file; raises InputError."""
    _require_library("--public-key")
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    allowed = "an Ed25519 public key in a PEM file"
    try:
        key = load_pem_public_key(_bytes_of(path, "--public-key", allowed, MAKE_PUBLIC))
    except ValueError:
        raise InputError("--public-key", str(path), allowed, MAKE_PUBLIC) from None
    if not isinstance(key, Ed25519PublicKey):
        raise InputError("--public-key", str(path), allowed, MAKE_PUBLIC)
    return key


def _list_of(folder: Path) -> bytes:
    """The record's files as sha256sum lists them, sorted by name."""
    torn = [path.name for path in folder.glob("journal.torn-*")]
    there = [name for name in (*SIGNED_ALWAYS, CERTIFICATE, *torn) if (folder / name).is_file()]
    lines = [f"{sha256_hex((folder / name).read_bytes())}  {name}\n" for name in sorted(there)]
    return "".join(lines).encode()


def _differences(before: dict[str, str], after: dict[str, str]) -> list[str]:
    return [
        *(f"{name} is missing; it was signed" for name in before if name not in after),
        *(f"{name} was changed after signing" for name in before if _differs(name, before, after)),
        *(f"{name} was added after signing" for name in after if name not in before),
    ]


def _by_name(listed: str) -> dict[str, str]:
    pairs = [line.split("  ", 1) for line in listed.splitlines()]
    return {name: digest for digest, name in pairs}


def _differs(name: str, before: dict[str, str], after: dict[str, str]) -> bool:
    return name in after and before[name] != after[name]


def _bytes_of(path: Path, option: str, allowed: str, todo: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        says = f"The system says: {error.strerror}. {todo}"
        raise InputError(option, str(path), allowed, says) from None


def _require_library(option: str) -> None:
    try:
        import cryptography  # noqa: F401
    except ImportError:
        raise InputError(
            option, "no library for signatures", "the library cryptography", INSTALL
        ) from None
