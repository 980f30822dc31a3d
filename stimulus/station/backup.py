"""A copy of the day on another drive, read back and compared before it counts as one."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path

from protocols.errors import InputError
from protocols.write import write_whole

SUMS = "SHA256SUMS"
SKIPPED_ENDS = (".sock", ".press")
SPARE_BYTES = 50_000_000


@dataclass(frozen=True)
class Backup:
    """What was copied and read back.

    `left_out` are exams that were running, `links` names that lead elsewhere and were not followed.
    """

    folder: Path
    files: int
    size_bytes: int
    left_out: tuple[str, ...]
    links: tuple[str, ...]
    wrong: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What happened, in words."""
        if self.wrong:
            return (
                f"NOT SAFE: {len(self.wrong)} of {self.files} files read back other than they are "
                f"here, the first is {self.wrong[0]}. Use another drive."
            )
        left = f" Left out, since it was running: {', '.join(self.left_out)}." \
            if self.left_out else ""  # fmt: skip
        if self.links:
            left += (
                f" NOT COPIED, since links are not followed: {', '.join(self.links)}. Copy what "
                "they lead to by hand."
            )
        return (
            f"{self.files} files, {self.size_bytes / 1e6:.1f} MB, copied to {self.folder} and "
            f"read back: all the same.{left}"
        )


def back_up(data: Path, target: Path, running: str | None) -> Backup:
    """Copy the data folder below `target`, which must exist, and compare every file.

    Raises InputError for a target that cannot take it; nothing there is written over.
    """
    data, target = data.resolve(), _checked_target(data, target)
    paths = sorted(_paths(data, running))
    size = sum(path.stat().st_size for path in paths)
    if shutil.disk_usage(target).free < size + SPARE_BYTES:
        raise InputError(
            "folder", str(target), f"{(size + SPARE_BYTES) / 1e6:.0f} MB free", "Use another drive."
        )
    folder = _new_folder(target)
    try:
        sums = {path.relative_to(data).as_posix(): _copy(path, data, folder) for path in paths}
        text = "".join(_line_of(name, digest) for name, digest in sums.items())
        write_whole(folder / SUMS, os.fsencode(text))
        wrong = check(folder)
    except OSError as error:
        raise InputError(
            "folder", str(target), "a drive that takes the whole copy",
            f"The system says: {error.strerror}. The copy in {folder.name} is not whole.",
        ) from None  # fmt: skip
    links = tuple(str(p.relative_to(data)) for p in sorted(data.rglob("*")) if p.is_symlink())
    return Backup(folder, len(paths), size, (running,) if running else (), links, tuple(wrong))


def check(folder: Path) -> list[str]:
    """Names in a backup whose content is not what its `SHA256SUMS` says."""
    wrong = []
    for line in os.fsdecode((folder / SUMS).read_bytes()).split("\n")[:-1]:
        name, digest = _listed(line)
        if not (folder / name).is_file() or _sum_of(folder / name) != digest:
            wrong.append(name)
    return wrong


def _line_of(name: str, digest: str) -> str:
    """A file as sha256sum lists it: one whose name holds a line break is escaped."""
    if "\n" not in name:
        return f"{digest}  {name}\n"
    escaped = name.replace("\\", "\\\\").replace("\n", "\\n")
    return f"\\{digest}  {escaped}\n"


def _listed(line: str) -> tuple[str, str]:
    digest, _, name = line.partition("  ")
    if not digest.startswith("\\"):
        return name, digest
    return re.sub(r"\\(.)", lambda found: found[1].replace("n", "\n"), name), digest[1:]


def _new_folder(target: Path) -> Path:
    stamp = datetime.now(timezone.utc).strftime("%Y%m%dT%H%M%SZ")
    folder = target / f"ripplefield-{stamp}"
    try:
        folder.mkdir()
    except OSError as error:
        raise InputError(
            "folder", str(folder), "a folder that can be made",
            f"The system says: {error.strerror}. Nothing was copied.",
        ) from None  # fmt: skip
    return folder


def _checked_target(data: Path, target: Path) -> Path:
    todo = "Plug the drive in and name its folder, such as /media/day."
    if not target.is_absolute() or not os.path.isdir(target):
        raise InputError("folder", str(target), "a folder that exists, from the root on", todo)
    found = target.resolve()
    if found == data.resolve() or data.resolve() in found.parents:
        raise InputError("folder", str(target), "a folder outside the station's own", todo)
    return found


def _paths(data: Path, running: str | None) -> Iterator[Path]:
    for path in data.rglob("*"):
        parts = path.relative_to(data).parts
        if path.is_symlink() or not path.is_file() or path.name.endswith(SKIPPED_ENDS):
            continue
        if running is not None and parts[:2] == ("exams", running):
            continue
        yield path


def _copy(path: Path, data: Path, folder: Path) -> str:
    """Copy one file, sync it, drop it from the cache, and return the original's SHA-256."""
    to = folder / path.relative_to(data)
    to.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with open(path, "rb") as source, open(to, "xb") as copy:
        while block := source.read(1 << 20):
            digest.update(block)
            copy.write(block)
        copy.flush()
        os.fsync(copy.fileno())
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(copy.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    return digest.hexdigest()


def _sum_of(path: Path) -> str:
    digest = hashlib.sha256()
    with open(path, "rb") as file:
        while block := file.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()
