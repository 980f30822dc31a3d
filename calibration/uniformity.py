"""Uniformity: luminance over the screen, what it does to a grating, and when it is too uneven.

Let the screen show g(x, y) * L0 * (1 + C * m) + s(x, y): g a slow factor (backlight, viewing
angle), s light that is added whatever is asked for (glow, reflections).

- The factor g leaves local *contrast* alone: it scales bright and dark bars alike. No contrast
  correction belongs to it. It changes the mean luminance, and sensitivity with it: where
  sensitivity follows the square root of luminance (De Vries-Rose), a share of 0.75 of the middle
  costs 1.25 dB; where contrast is what counts (Weber) it costs nothing. So at worst 1.25 dB, which
  is `LOWEST_SHARE`; brighter than 1 / 0.75 is refused alike.
- A gradient of g across one patch adds a still luminance ramp to the grating. Being odd about the
  patch's centre it adds nothing to the flickering fundamental to first order; but a steep one is
  a pattern of its own. `STEEPEST` limits the change across a patch to 20 % of its middle.
- The added light s lowers contrast to C * g * L0 / (g * L0 + s). It shows when the grid is read
  twice, at full and at no light: the contrast of the two readings against that in the middle is
  the share of contrast left (`contrast_map`), its inverse the correction. Below `LEAST_CONTRAST`
  it is refused rather than corrected.

The limits are ours; there is no published standard for such a pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import RegularGridInterpolator

from calibration.certificate import ContrastMapPart, UniformityPart
from calibration.warmup import RULE, WarmUp
from protocols.errors import InputError, require_within
from protocols.field import Floats

LEAST_POINTS = 3
LOWEST_SHARE = 0.75
STEEPEST = 0.2
LEAST_CONTRAST = 0.9


@dataclass(frozen=True)
class ContrastMap:
    """Contrast left at each grid point as a share of the middle's, and what it is from.

    Shapes (rows, columns); `bright_cd_m2` read at full light, `dark_cd_m2` at none.
    """

    shares: Floats = field(repr=False)
    bright_cd_m2: Floats = field(repr=False)
    dark_cd_m2: Floats = field(repr=False)

    @property
    def correction(self) -> Floats:
        """What nominal contrast has to be multiplied by to be as in the middle."""
        return 1 / self.shares

    @property
    def worst(self) -> float:
        """The lowest share."""
        return float(np.min(self.shares))


def uniformity_part(
    grid_cd_m2: ArrayLike,
    spacing_cm: tuple[float, float],
    patch_cm: float,
    warm_up: WarmUp | None = None,
    contrast: ContrastMap | None = None,
) -> UniformityPart:
    """The certificate's uniformity from luminance at mid grey on a grid, shape (rows, columns).

    Rows from the bottom, columns from the left, both odd, so that one point is the middle.
    `spacing_cm` is the distance between columns and between rows, `patch_cm` a patch's width on
    the screen. Raises InputError for a grid of another shape, for readings that are no luminance,
    and above the limits named in the module's text.
    """
    grid = _grid("grid_cd_m2", grid_cd_m2, lowest=0.0)
    shares = grid / grid[grid.shape[0] // 2, grid.shape[1] // 2]
    worst = worst_share(shares)
    require_within(
        "grid_cd_m2, share of the middle",
        worst,
        LOWEST_SHARE,
        round(1 / LOWEST_SHARE, 4),
        "The screen is too uneven: keep the pattern to its even part, or use another screen.",
    )
    _refuse_steep(shares, spacing_cm, patch_cm)
    return UniformityPart(
        columns=grid.shape[1],
        rows=grid.shape[0],
        shares=shares.tolist(),
        worst_share=worst,
        stable_after_s=warm_up.stable_after_s if warm_up else None,
        warm_up_s=warm_up.time_s.tolist() if warm_up else [],
        warm_up_cd_m2=warm_up.cd_m2.tolist() if warm_up else [],
        rule=f"{RULE}; every share of the middle from {LOWEST_SHARE:g} to "
        f"{1 / LOWEST_SHARE:.4g}; change across a patch up to {STEEPEST:.0%}",
        contrast=_contrast_part(contrast) if contrast else None,
    )


def worst_share(shares: Floats) -> float:
    """The share furthest from 1 as a ratio, above or below.

    Any shape.

    >>> worst_share(np.array([[0.9, 1.0], [1.2, 0.95]]))
    1.2
    """
    flat = shares.ravel()
    return float(flat[np.argmax(np.abs(np.log(flat)))])


def change_across_patch(shares: Floats, spacing_cm: tuple[float, float], patch_cm: float) -> float:
    """Greatest change of luminance across a patch, as a share of that in its middle.

    Shares of shape (rows, columns).
    """
    down, across = (
        np.gradient(shares, spacing_cm[1], axis=0),
        np.gradient(shares, spacing_cm[0], axis=1),
    )
    return float(np.max(np.hypot(down, across) / shares) * patch_cm)


def contrast_map(bright_cd_m2: ArrayLike, dark_cd_m2: ArrayLike) -> ContrastMap:
    """Contrast left over the grid, from readings at full and at no light, (rows, columns) each.

    Raises InputError for grids that do not match, a dark reading not below the bright one, and
    contrast below 0.9 of the middle's.
    """
    bright, dark = _grid("bright_cd_m2", bright_cd_m2, 0.0), _grid("dark_cd_m2", dark_cd_m2, -1e-9)
    if bright.shape != dark.shape or np.any(dark >= bright):
        raise InputError(
            "dark_cd_m2",
            f"a grid of {dark.shape}, up to {np.max(dark):g}",
            f"a grid of {bright.shape}, each value below the bright one",
            "Read both at the same points.",
        )
    contrast = (bright - dark) / (bright + dark)
    middle = contrast[bright.shape[0] // 2, bright.shape[1] // 2]
    found = ContrastMap(contrast / middle, bright, dark)
    if found.worst < LEAST_CONTRAST:
        raise InputError(
            "dark_cd_m2, contrast left as a share of the middle's",
            found.worst,
            f"{LEAST_CONTRAST:g} or more",
            "Darken the room and keep reflections off the screen, or use another screen.",
        )
    return found


def _contrast_part(found: ContrastMap) -> ContrastMapPart:
    return ContrastMapPart(
        bright_cd_m2=found.bright_cd_m2.tolist(),
        dark_cd_m2=found.dark_cd_m2.tolist(),
        shares=found.shares.tolist(),
        worst_share=found.worst,
    )


def share_at(shares: ArrayLike, x: ArrayLike, y: ArrayLike) -> Floats:
    """Share between grid points, by straight lines; x, y from -1 to 1 over the grid, any shape.

    Raises InputError outside the grid: nothing is extrapolated.

    >>> round(float(share_at([[1.0, 0.8], [1.0, 0.8]], 0.0, 0.0)), 9)
    0.9
    """
    table = np.asarray(shares, float)
    for name, value in (("x", x), ("y", y)):
        for end in (np.min(value), np.max(value)):
            require_within(name, float(end), -1.0, 1.0, "Read the grid out to the pattern's edge.")
    axes = [np.linspace(-1, 1, points) for points in table.shape]
    at = np.stack(np.broadcast_arrays(np.asarray(y, float), np.asarray(x, float)), axis=-1)
    return np.asarray(RegularGridInterpolator(axes, table)(at).reshape(at.shape[:-1]), float)


def _refuse_steep(shares: Floats, spacing_cm: tuple[float, float], patch_cm: float) -> None:
    for name, length in (("spacing_cm", min(spacing_cm)), ("patch_cm", patch_cm)):
        require_within(name, length, 0.1, 500.0, "Give it in centimetres.")
    steepest = change_across_patch(shares, spacing_cm, patch_cm)
    if steepest > STEEPEST:
        raise InputError(
            "grid_cd_m2, change across a patch",
            f"{steepest:.1%}",
            f"up to {STEEPEST:.0%}",
            "The luminance falls off too steeply: keep the pattern away from the edge, or use "
            "another screen.",
        )


def _grid(name: str, values: ArrayLike, lowest: float) -> Floats:
    todo = "Read the grid again, row by row."
    try:
        grid = np.asarray(values, float)
    except (TypeError, ValueError):
        given = "rows of different lengths, or a value that is no number"
        raise InputError(name, given, "a luminance at every point", todo) from None
    if grid.ndim != 2 or min(grid.shape) < LEAST_POINTS or any(n % 2 == 0 for n in grid.shape):
        raise InputError(
            name, f"shape {grid.shape}", "rows and columns, both odd and 3 or more", todo
        )
    if not np.all(np.isfinite(grid)) or np.min(grid) <= lowest:
        allowed = "cd/m2 above 0" if lowest == 0 else "cd/m2, 0 or more"
        raise InputError(name, "a value that is no luminance", allowed, todo)
    return grid
