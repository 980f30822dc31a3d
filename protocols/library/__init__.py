"""Bundled protocols, patterns and invented participants, and how names are looked up."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from protocols.errors import InputError
from protocols.files import decode_toml, read_text, sha256_hex
from protocols.pattern import (
    Pattern,
    PatternFile,
    pattern_of,
    refuse_blind_spot,
    refuse_overlap,
)
from protocols.protocol import ProtocolFile, decode_protocol

_HERE = Path(__file__).parent


@dataclass(frozen=True)
class Protocol:
    """A checked protocol with its pattern, the text it came from and that text's SHA-256."""

    settings: ProtocolFile
    pattern: Pattern
    text: str
    pattern_text: str

    @property
    def name(self) -> str:
        """The protocol's name."""
        return self.settings.name

    @property
    def sha256(self) -> str:
        """SHA-256 over the protocol's and the pattern's text."""
        return sha256_hex((self.text + "\n" + self.pattern_text).encode())


def bundled_protocols() -> list[str]:
    """Names of the bundled protocols, sorted."""
    return sorted(path.stem for path in _HERE.glob("*.toml"))


def bundled_patterns() -> list[str]:
    """Names of the bundled patterns, sorted."""
    return sorted(path.stem for path in (_HERE / "patterns").glob("*.toml"))


def load_protocol(name_or_path: str) -> Protocol:
    """Read and check a protocol by bundled name or by path; raises InputError."""
    path = _located(name_or_path, _HERE, "protocol", bundled_protocols())
    text = read_text(path, "protocol")
    return parse_protocol(text, path.name, path.parent)


def parse_protocol(
    text: str, source: str, folder: Path, pattern_text: str | None = None
) -> Protocol:
    """Check protocol text; its pattern is text, a bundled name, or a path from `folder`."""
    settings = decode_protocol(text, source)
    if pattern_text is None:
        pattern_text = _pattern_text(settings.pattern, source, folder)
    layout = decode_toml(PatternFile, pattern_text, settings.pattern, "pattern")
    pattern = pattern_of(layout, settings.pattern)
    refuse_overlap(pattern.places, settings.stimulus.outer_radius_deg, source)
    refuse_blind_spot(pattern.places, source)
    return Protocol(settings, pattern, text, pattern_text)


def _pattern_text(name: str, source: str, folder: Path) -> str:
    beside = folder / name
    if name.endswith(".toml") and beside.is_file():
        return read_text(beside, f"{source}, pattern")
    path = _located(name, _HERE / "patterns", f"{source}, pattern", bundled_patterns())
    return read_text(path, f"{source}, pattern")


def _located(name_or_path: str, folder: Path, what: str, known: list[str]) -> Path:
    if name_or_path in known:
        return folder / f"{name_or_path}.toml"
    path = Path(name_or_path)
    if path.is_file():
        return path
    raise InputError(
        what,
        name_or_path,
        f"{', '.join(known)}, or the path of a .toml file",
        "Check the spelling or the path.",
    )


def bundled_observers() -> list[str]:
    """Names of the bundled invented participants, sorted."""
    return sorted(path.stem for path in (_HERE / "observers").glob("*.toml"))


def bundled_observer(name: str) -> Path:
    """Path of a bundled invented participant."""
    return _HERE / "observers" / f"{name}.toml"
