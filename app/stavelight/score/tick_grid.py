"""The grid of ticks on which every duration of a score is a whole number."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from fractions import Fraction

FINEST_GRID = 50_000_000
"""Most ticks to a quarter note; a file that needs more is rounded to a coarser grid."""

_ROUNDED_GRID = 2**5 * 3**3 * 5 * 7 * 11 * 13
_DIVISIONS = re.compile(rb"<divisions>\s*(\d{1,9}(?:\.\d{1,9})?)\s*<")
_BEAT_TYPE = re.compile(rb"<beat-type>\s*(\d{1,5})\s*<")
_DECIMAL_DURATION = re.compile(rb"<duration>\s*(\d{1,9}\.\d{1,9})\s*<")


def tick_grid(data: bytes) -> tuple[int, bool]:
    """Return how many ticks to a quarter note a MusicXML document needs.

    Parameters
    ----------
    data
        The document in UTF-8.

    Returns
    -------
    tuple
        Ticks to a quarter note, and whether every duration is exact on that grid.
    """
    divisions = {_fraction(text) for text in set(_DIVISIONS.findall(data))} - {Fraction(0)}
    units = {_fraction(text) for text in set(_BEAT_TYPE.findall(data))} - {Fraction(0)}
    durations = {_fraction(text) for text in set(_DECIMAL_DURATION.findall(data))}
    lengths = {1 / unit for unit in divisions} | {4 / unit for unit in units}
    for unit in divisions or {Fraction(1)}:
        lengths |= {duration / unit for duration in durations}
    return common_grid(lengths)


def common_grid(lengths: Iterable[Fraction]) -> tuple[int, bool]:
    """Return how many ticks to a quarter note some lengths in quarter notes need.

    Returns
    -------
    tuple
        As in `tick_grid`.
    """
    grid = 1
    for length in lengths:
        grid = math.lcm(grid, length.denominator)
        if grid > FINEST_GRID:
            return _ROUNDED_GRID, False
    return grid, True


def _fraction(text: bytes) -> Fraction:
    return Fraction(text.decode("ascii"))
