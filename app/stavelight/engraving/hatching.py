"""The marks of a hatch: lines and dots that fill a rectangle, for whoever draws them.

They are told apart by direction and by mark, not by colour; so regions stay apart for those who
see no colours, and in a black-and-white print.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stavelight.engraving.geometry import Rectangle

PLAIN = "plain"
"""A hatch without marks."""

LINES: dict[str, tuple[float, ...]] = {
    "rising": (45.0,),
    "falling": (-45.0,),
    "level": (0.0,),
    "upright": (90.0,),
    "grid": (0.0, 90.0),
    "lattice": (45.0, -45.0),
}
"""The angles of the lines of each hatch, in degrees, counter-clockwise from level."""

DISTANCE = 2.6
"""Millimetres between the lines of a hatch, or between its dots."""

_ROW_SHARE = 0.87
"""Distance between rows of dots or dashes, in distances within a row."""

_DASH_SHARE = 0.55
"""Length of a dash, in distances between the beginnings of two of them."""

Line = tuple[float, float, float, float]
"""From (x, y) to (x, y)."""


_LIGHT = 0.7
_DARKENED = 0.74


def line_colour(colour: str) -> str:
    """Return the colour of outlines and marks: darker where the colour would be lost on white.

    Parameters
    ----------
    colour
        As ``#rrggbb``.
    """
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    # Relative luminance as in ITU-R BT.709, of the coded values, which is near enough.
    if 0.2126 * red + 0.7152 * green + 0.0722 * blue <= _LIGHT * 255:
        return colour.lower()
    return "#" + "".join(f"{round(value * _DARKENED):02x}" for value in (red, green, blue))


@dataclass(frozen=True, slots=True)
class Marks:
    """What a hatch consists of in one rectangle; all of it lies within.

    Attributes
    ----------
    lines
        (x, y, x, y) each.
    dots
        Middles, (x, y) each.
    """

    lines: tuple[Line, ...] = ()
    dots: tuple[tuple[float, float], ...] = ()


def hatch_marks(area: Rectangle, hatch: str, distance: float = DISTANCE) -> Marks:
    """Return the marks of a hatch in a rectangle; none for one that is not known.

    Parameters
    ----------
    area
        The rectangle.
    hatch
        ``dots``, ``dashes``, or a key of `LINES`.
    distance
        Between lines or dots.
    """
    if hatch == "dots":
        return Marks(dots=tuple(_staggered(area, distance)))
    if hatch == "dashes":
        length = distance * _DASH_SHARE
        return Marks(
            lines=tuple(
                (max(x - length, area.left), y, min(x + length, area.right), y)
                for x, y in _staggered(area, distance * 2)
            )
        )
    lines: list[Line] = []
    for angle in LINES.get(hatch, ()):
        lines += _parallels(area, angle, distance)
    return Marks(lines=tuple(lines))


def _staggered(area: Rectangle, distance: float) -> list[tuple[float, float]]:
    """Return points in rows, every other row moved by half a distance."""
    points = []
    row_distance = min(distance, DISTANCE) * _ROW_SHARE
    row_count = int(area.height / row_distance + 0.5)
    for row in range(row_count):
        y = area.top + (row + 0.5) * row_distance
        x = area.left + distance * (0.25 if row % 2 else 0.75)
        while x < area.right and y < area.bottom:
            points.append((x, y))
            x += distance
    return points


def _parallels(area: Rectangle, angle: float, distance: float) -> list[Line]:
    """Return parallel lines through a rectangle, cut at its edges."""
    if angle == 0.0:
        ys = _steps(area.top, area.bottom, distance)
        return [(area.left, y, area.right, y) for y in ys]
    if angle == 90.0:
        xs = _steps(area.left, area.right, distance)
        return [(x, area.top, x, area.bottom) for x in xs]
    lines = []
    # A line at 45 degrees is told by where it meets the lower (rising) or upper (falling) edge.
    for x in _steps(area.left - area.height, area.right, distance * math.sqrt(2)):
        before = max(area.left - x, 0.0)
        after = min(area.right - x, area.height)
        if after > before:
            start, end = area.bottom - before, area.bottom - after
            if angle < 0:
                start, end = area.top + before, area.top + after
            lines.append((x + before, start, x + after, end))
    return lines


def _steps(first: float, last: float, distance: float) -> list[float]:
    """Return places from half a distance after the first on."""
    return [first + (i + 0.5) * distance for i in range(int((last - first) / distance + 0.5))]
