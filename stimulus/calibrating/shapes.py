"""Shapes made of tiles, on whole pixels: field, disc, ring, marker square, half-tone."""

from __future__ import annotations

from math import isqrt

from calibration.instruments.eye_match import Request, half_tone
from calibration.instruments.interface import Target
from stimulus.tiles import Codes, Tile

WHITE: Codes = (255, 255, 255)
BLACK: Codes = (0, 0, 0)
Size = tuple[int, int]
Point = tuple[int, int]


def whole(size_px: Size, codes: Codes) -> Tile:
    """The whole window. Codes of shape (3,)."""
    return Tile(0, 0, *size_px, codes)


def disc(centre_px: Point, radius_px: int, codes: Codes) -> list[Tile]:
    """A disc, row by row.

    >>> sum(tile.width_px for tile in disc((50, 50), 10, WHITE))
    316
    """
    return [
        Tile(centre_px[0] - half, centre_px[1] + row, 2 * half, 1, codes)
        for row in range(-radius_px, radius_px)
        if (half := _half_chord(radius_px, row)) > 0
    ]


def ring(centre_px: Point, outer_px: int, inner_px: int, codes: Codes, inside: Codes) -> list[Tile]:
    """A ring of `codes` filled with `inside`. Codes of shape (3,) both."""
    return disc(centre_px, outer_px, codes) + disc(centre_px, inner_px, inside)


def square(size_px: Size, codes: Codes) -> Tile:
    """The marker square: in the middle, where patches are, a quarter of the height wide.

    Codes of shape (3,).
    """
    side = size_px[1] // 4
    return Tile((size_px[0] - side) // 2, (size_px[1] - side) // 2, side, side, codes)


def half_tone_beside_solid(shown: Request, size_px: Size) -> list[Tile]:
    """A half-tone of lines on the left and a solid patch on the right, touching in the middle."""
    rows, columns = size_px[1] // 4 * 2, size_px[0] // 4
    left, bottom = size_px[0] // 2 - columns, size_px[1] - rows - size_px[1] // 8
    codes = half_tone(shown.low, shown.high, (rows, columns), "lines")[:, 0]
    lines = [
        Tile(left, bottom + row, columns, 1, Target(shown.channel, int(code)).codes)
        for row, code in enumerate(codes)
    ]
    solid = Target(shown.channel, shown.solid).codes
    return [*lines, Tile(left + columns, bottom, columns, rows, solid)]


def _half_chord(radius_px: int, row: int) -> int:
    """Half a row's length, from the middle of the row: whole pixels."""
    square_4 = 4 * radius_px**2 - (2 * row + 1) ** 2
    return (isqrt(max(square_4, 0)) + 1) // 2
