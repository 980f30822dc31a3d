"""A display that exists in numbers only: known truth for demonstrations, teaching and tests.

Light of channel c at code v of n bits, u = v / (2^n - 1):

    L_c(v) = black_c + (peak_c - black_c) * max(0, (u - offset_c) / (1 - offset_c)) ^ gamma_c

White is the sum of the channels plus nothing else: stray light belongs to the channels' blacks.
The panel follows a change of light exponentially, with one time constant up and another down.
Towards the corners light is missing as a share, and a glow that obeys no code is added.

`library/*.toml` are a few such displays; a name or a path is accepted wherever one is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import msgspec
import numpy as np
from msgspec import Meta
from numpy.typing import ArrayLike

from protocols.errors import InputError
from protocols.field import Floats
from protocols.files import decode_toml, read_text

_LIBRARY = Path(__file__).parent / "library"

Share = Annotated[float, Meta(ge=0.0, lt=1.0)]
Seconds = Annotated[float, Meta(ge=0.0, le=10.0)]
Triple = Annotated[list[float], Meta(min_length=3, max_length=3)]


class DisplayFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A simulated display as its TOML file holds it. Lists are red, green, blue."""

    about: str
    bits: Annotated[int, Meta(ge=6, le=12)] = 8
    width_px: Annotated[int, Meta(ge=100, le=20000)] = 1280
    height_px: Annotated[int, Meta(ge=100, le=20000)] = 720
    width_cm: Annotated[float, Meta(ge=1.0, le=500.0)] = 53.0
    peak_cd_m2: Triple = msgspec.field(default_factory=lambda: [52.0, 175.0, 18.0])
    black_cd_m2: Triple = msgspec.field(default_factory=lambda: [0.08, 0.2, 0.05])
    gamma: Triple = msgspec.field(default_factory=lambda: [2.2, 2.2, 2.2])
    code_offset: Triple = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    refresh_hz: Annotated[float, Meta(ge=20.0, le=500.0)] = 60.0
    refresh_sd_s: Annotated[float, Meta(ge=0.0, le=0.01)] = 2e-5
    dropped_rate: Share = 0.0
    rise_s: Seconds = 0.004
    fall_s: Seconds = 0.004
    corner_drop: Share = 0.08
    glow_cd_m2: Annotated[float, Meta(ge=0.0, le=100.0)] = 0.0
    warm_up_drop: Share = 0.06
    warm_up_s: Annotated[float, Meta(ge=0.0, le=7200.0)] = 400.0
    noise_relative: Share = 0.005
    noise_cd_m2: Annotated[float, Meta(ge=0.0, le=10.0)] = 0.01
    photon_delay_s: Seconds = 0.012
    press_delay_s: Seconds = 0.004
    delay_sd_s: Annotated[float, Meta(ge=0.0, le=0.1)] = 0.0006


@dataclass(frozen=True)
class SimulatedDisplay:
    """A simulated display at work; raises InputError where the file contradicts itself."""

    file: DisplayFile

    def __post_init__(self) -> None:
        for channel, (black, peak) in enumerate(
            zip(self.file.black_cd_m2, self.file.peak_cd_m2, strict=True)
        ):
            if not 0 <= black < peak:
                raise InputError(
                    f"black_cd_m2[{channel}]", black, f"0 to below {peak:g}, the peak", "Change it."
                )

    @property
    def top_code(self) -> int:
        """The highest code value."""
        return int(2**self.file.bits - 1)

    def channel_cd_m2(self, channel: int, codes: ArrayLike) -> Floats:
        """Luminance of one channel (0 red, 1 green, 2 blue) at codes, whole or not; any shape.

        Codes between two whole ones give what dithering between them gives: a straight line.
        """
        whole = np.arange(self.top_code + 1) / self.top_code
        offset, gamma = self.file.code_offset[channel], self.file.gamma[channel]
        low, high = self.file.black_cd_m2[channel], self.file.peak_cd_m2[channel]
        table = low + (high - low) * np.clip((whole - offset) / (1 - offset), 0, 1) ** gamma
        steps = np.arange(self.top_code + 1)
        return np.asarray(np.interp(np.asarray(codes, float), steps, table), float)

    def cd_m2(self, codes: ArrayLike) -> Floats:
        """Luminance of colours, codes of shape (..., 3), when warm and at the middle."""
        given = np.asarray(codes, float)
        channels = [self.channel_cd_m2(c, given[..., c]) for c in range(3)]
        return np.asarray(np.sum(channels, axis=0), float)

    def place_share(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Light at a place as a share of the middle's; x, y from -1 (left, bottom) to 1."""
        square = np.asarray(x, float) ** 2 + np.asarray(y, float) ** 2
        return np.asarray(1 - self.file.corner_drop * square / 2, float)

    def glow_cd_m2(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Light added at a place whatever is shown, cd/m2; x, y from -1 (left, bottom) to 1."""
        square = np.asarray(x, float) ** 2 + np.asarray(y, float) ** 2
        return np.asarray(self.file.glow_cd_m2 * square / 2, float)

    def warm_share(self, after_s: ArrayLike) -> Floats:
        """Light so many seconds after switching on, as a share of that when warm. Any shape."""
        if self.file.warm_up_s == 0:
            return np.ones_like(np.asarray(after_s, float))
        fading = np.exp(-np.asarray(after_s, float) / self.file.warm_up_s)
        return 1 - self.file.warm_up_drop * fading

    def measured(self, truth_cd_m2: ArrayLike, rng: np.random.Generator) -> Floats:
        """What a photometer of this file's noise reads; never below zero. Any shape."""
        truth = np.asarray(truth_cd_m2, float)
        spread = np.hypot(self.file.noise_relative * truth, self.file.noise_cd_m2)
        return np.maximum(truth + spread * rng.standard_normal(truth.shape), 0.0)

    def panel_follows(self, wanted: Floats, step_s: float) -> Floats:
        """Light over time of a panel told to show `wanted` (n,), sampled every `step_s`.

        Light in cd/m2 or shares, as it is wanted.
        """
        out = np.empty(len(wanted))
        light = float(wanted[0])
        for i, target in enumerate(np.asarray(wanted, float)):
            constant_s = self.file.rise_s if target > light else self.file.fall_s
            keep = np.exp(-step_s / constant_s) if constant_s > 0 else 0.0
            light = target + (light - target) * keep
            out[i] = light
        return out


def bundled_displays() -> list[str]:
    """Names of the bundled simulated displays, sorted.

    >>> "office" in bundled_displays()
    True
    """
    return sorted(path.stem for path in _LIBRARY.glob("*.toml"))


def load_simulated(name_or_path: str | Path) -> SimulatedDisplay:
    """Read a simulated display by bundled name or by path; raises InputError for anything wrong.

    >>> load_simulated("ten-bit").top_code
    1023
    """
    path = _located(str(name_or_path))
    text = read_text(path, "simulated display")
    return SimulatedDisplay(decode_toml(DisplayFile, text, str(name_or_path)))


def _located(name_or_path: str) -> Path:
    known = bundled_displays()
    if name_or_path in known:
        return _LIBRARY / f"{name_or_path}.toml"
    path = Path(name_or_path)
    if path.is_file():
        return path
    raise InputError(
        "simulated display",
        name_or_path,
        f"{', '.join(known)}, or the path of a .toml file",
        "Check the spelling or the path.",
    )
