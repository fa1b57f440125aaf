"""Who plays when, bar by bar: the whole score at a glance."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stavelight.score.structure import Score


def sounding_share(score: Score) -> npt.NDArray[np.float32]:
    """Return how much of each bar each part sounds.

    Returns
    -------
    numpy.ndarray
        Shape (parts, bars), float32, 0 to 1: the part of the bar's length during which at least one
        note of the part is held. Grace notes do not count.
    """
    shares = np.zeros((len(score.parts), len(score.bars)), np.float32)
    rows = score.notes.rows
    rows = rows[rows["grace"] == 0]
    if not len(rows):
        return shares
    part, bar = rows["part"].astype(np.int64), rows["bar"].astype(np.int64)
    start = rows["offset_ticks"]
    end = start + rows["duration_ticks"]
    order = np.lexsort((start, bar, part))
    part, bar, start, end = part[order], bar[order], start[order], end[order]
    # Within a cell, a note adds what it reaches beyond all that began before it.
    cell = part * len(score.bars) + bar
    length = int(end.max()) + 1
    shifted_end = end + cell * length
    reached = np.maximum.accumulate(shifted_end)
    before = np.empty_like(reached)
    before[0] = 0
    before[1:] = reached[:-1]
    begins = np.maximum(start + cell * length, before)
    added = np.maximum(shifted_end - begins, 0)
    totals = np.bincount(cell, weights=added, minlength=shares.size).reshape(shares.shape)
    lengths = np.array([max(bar.length_ticks, 1) for bar in score.bars], np.float64)
    return np.minimum(totals / lengths, 1.0).astype(np.float32)


FAMILY_BY_SOUND = (
    ("wind.flutes", "woodwind"),
    ("wind.reed", "woodwind"),
    ("wind", "woodwind"),
    ("brass", "brass"),
    ("drum", "percussion"),
    ("metal", "percussion"),
    ("wood", "percussion"),
    ("rattle", "percussion"),
    ("effect", "percussion"),
    ("pitched-percussion", "percussion"),
    ("keyboard", "keyboards and plucked strings"),
    ("pluck", "keyboards and plucked strings"),
    ("voice", "voices"),
    ("strings", "strings"),
)
"""Families by the beginnings of W3C MusicXML 4.0 standard sound ids."""


def families_by_sound(score: Score) -> tuple[str, ...]:
    """Return the family of each part as its sound id tells it, or ""."""
    found = []
    for part in score.parts:
        sound = part.instrument_sound or ""
        found.append(
            next((family for begin, family in FAMILY_BY_SOUND if sound.startswith(begin)), "")
        )
    return tuple(found)
