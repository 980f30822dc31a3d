"""What a bench can do: show light, and say what instruments make of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from calibration.card import LitSize
from calibration.certificate import GammaPart, Identity, Instrument, Quantity
from calibration.instruments.interface import Photometer
from calibration.traces import Trace
from calibration.warmup import WarmUp
from protocols.field import Floats

Progress = Callable[[str, int, int], None]
"""Told what is measured, how much is done, of how much."""


@dataclass(frozen=True)
class Size:
    """Lit size and distance, each with its uncertainty, and how the distance was found."""

    lit: LitSize
    distance_cm: Quantity
    distance_method: str


@dataclass(frozen=True)
class Delays:
    """Times of a loop-back rig, seconds on one clock, ascending: causes and what followed."""

    flips_s: Floats
    photons_s: Floats
    contacts_s: Floats
    stamps_s: Floats


@dataclass(frozen=True)
class Grids:
    """Luminance over the screen, cd/m2, shape (rows, columns) each, rows from the bottom.

    `full_and_none` are the same points at full and at no light, where they were read.
    """

    grey_cd_m2: Floats
    full_and_none_cd_m2: tuple[Floats, Floats] | None = None


class Bench(Protocol):
    """A display before instruments. Methods raise InputError for what the bench cannot measure."""

    @property
    def identity(self) -> Identity:
        """Machine and display."""

    @property
    def bits(self) -> int:
        """Bits of one channel."""

    @property
    def display_locked(self) -> bool:
        """Whether flips wait for the display."""

    @property
    def settle_s(self) -> float:
        """How long the display needs after a change of light, seconds."""

    @property
    def passes(self) -> int:
        """How often every code is read for gamma."""

    def size(self) -> Size:
        """Lit size and viewing distance."""

    def photometer(self) -> Photometer:
        """The photometer, started."""

    def by_eye(self, progress: Progress) -> tuple[GammaPart, Instrument] | None:
        """Luminance matched by eye; None where a photometer measures it."""

    def show(self, codes: tuple[int, int, int]) -> None:
        """Show one colour all over."""

    def flips_s(self, count: int, under_load: bool) -> Floats:
        """Times of so many flips, seconds, shape (count,)."""

    def steps_trace(self) -> tuple[Trace, Instrument]:
        """Photodiode trace of steps between dark and light."""

    def delays(self, count: int) -> tuple[Delays, Instrument]:
        """So many loop-back delays of light and of presses."""

    def grids(self, rows: int, columns: int, progress: Progress) -> Grids:
        """Luminance of mean grey on a grid, and of full and no light where that was asked for."""

    def warm_up(self, progress: Progress) -> WarmUp | None:
        """Luminance since the display was switched on; None where nobody watched."""
