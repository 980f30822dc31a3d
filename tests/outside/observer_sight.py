"""What the invented participant sees: the pixels of a virtual screen, and regions that differ.

Part of `observer_program.py`; like it, imports nothing from the project.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

STEP = 4  # a glance looks at every fourth pixel of every fourth row
CELL = 32  # pixels of one region lie in touching cells of this side
MARGIN = 2 * STEP  # a glance may miss this much of a region's edge

Image = NDArray[Any]


@dataclass(frozen=True)
class Spot:
    """A disc on the screen. In `blind`, flicker of `until_code` codes or more is seen after all."""

    x_px: float
    y_px: float
    radius_px: float
    until_code: float = float("inf")

    def holds(self, x_px: float, y_px: float) -> bool:
        return bool(np.hypot(x_px - self.x_px, y_px - self.y_px) <= self.radius_px)


class Screen:
    """The pixels of an X server started with -fbdir: an X window dump, mapped into memory."""

    def __init__(self, path: Path) -> None:
        head = struct.unpack(">25I", path.read_bytes()[:100])
        size, self.width, self.height, colours = head[0], head[4], head[5], head[19]
        bits, line_bytes = head[11], head[12]
        if bits != 32:
            raise SystemExit(f"{path}: {bits} bits a pixel; start Xvfb with a 24-bit screen")
        raw = np.memmap(
            path, np.uint8, "r", offset=size + 12 * colours, shape=(self.height, line_bytes)
        )
        self._words = raw.view("<u4")[:, : self.width]
        self.pixels: Image = raw[:, : 4 * self.width].reshape(self.height, self.width, 4)[..., :3]

    def glance(self) -> Image:
        """A copy of every STEP-th pixel of every STEP-th row, as one number each."""
        return np.asarray(self._words[::STEP, ::STEP] & 0x00FFFFFF)


class Picture:
    """The still picture that everything is compared with."""

    def __init__(self, screen: Screen, glance: Image, ignored: Spot) -> None:
        self.glance = glance
        self.full = np.array(screen.pixels)
        rows, columns = np.ogrid[: screen.height, : screen.width]
        self.heeded = np.hypot(columns - ignored.x_px, rows - ignored.y_px) > ignored.radius_px
        self._heeded_glance = self.heeded[::STEP, ::STEP]

    def code(self) -> int:
        return int(np.bincount(self.full[::STEP, ::STEP, 1].ravel(), minlength=256).argmax())

    def changed(self, glance: Image) -> Image:
        return np.asarray((glance != self.glance) & self._heeded_glance)

    def difference(self, pixels: Image, box: tuple[slice, slice]) -> Image:
        """Largest difference in code values over the colours, in a box of the screen."""
        now, then = pixels[box].astype(np.int16), self.full[box].astype(np.int16)
        return np.asarray(np.abs(now - then).max(axis=2) * self.heeded[box], np.uint8)


def largest_region(mask: Image, cell: int) -> Image:
    """The part of a mask that lies in the fullest group of touching cells."""
    shape = tuple(-(-side // cell) for side in mask.shape)
    rows, columns = np.nonzero(mask)
    count = np.bincount(rows // cell * shape[1] + columns // cell, minlength=shape[0] * shape[1])
    count = count.reshape(shape)
    full = {(int(row), int(column)) for row, column in np.argwhere(count)}
    best = max(groups(full), key=lambda group: sum(int(count[c]) for c in group))
    kept = np.zeros(shape, bool)
    kept[tuple(zip(*best, strict=True))] = True
    grown = kept.repeat(cell, 0).repeat(cell, 1)[: mask.shape[0], : mask.shape[1]]
    return mask & grown


def groups(cells: set[tuple[int, int]]) -> Iterator[set[tuple[int, int]]]:
    """Cells in groups that touch, corners included."""
    left = set(cells)
    while left:
        group, edge = set(), [left.pop()]
        while edge:
            row, column = edge.pop()
            group.add((row, column))
            near = {(row + i, column + j) for i in (-1, 0, 1) for j in (-1, 0, 1)} & left
            left -= near
            edge += near
        yield group


def extent(mask: Image) -> int:
    """Longer side of the box around a mask, in its own pixels."""
    return max(int(np.ptp(index)) + 1 for index in np.nonzero(mask))


def around(region: Image) -> tuple[slice, slice]:
    """The box of the full screen around a region of a glance."""
    rows, columns = np.nonzero(region)
    return (
        slice(max(0, int(rows.min()) * STEP - MARGIN), (int(rows.max()) + 1) * STEP + MARGIN),
        slice(max(0, int(columns.min()) * STEP - MARGIN), (int(columns.max()) + 1) * STEP + MARGIN),
    )
