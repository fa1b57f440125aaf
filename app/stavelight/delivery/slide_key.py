"""The key of a slide: a sample of each colour and hatch, and what it stands for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from stavelight.delivery.slide_frame import (
    KEY_ROW_GAP,
    KEY_SAMPLE_HEIGHT,
    KEY_SAMPLE_WIDTH,
    KEY_SIZES,
    KEY_TEXT_LEFT,
    Arrangement,
    Box,
    key_columns,
    key_width,
    largest_key_height,
)
from stavelight.delivery.slide_model import MarkedRegion
from stavelight.delivery.text_layout import fitted

_COLUMN_GAP = 8.0
_MOST_LINES = 2


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """One line of the key, in millimetres.

    Attributes
    ----------
    colour, hatch
        Of the sample; the last entry has none where it only counts what found no room.
    text, size
        Beside it, set to fit; points.
    sample, words
        Their places.
    """

    colour: str
    hatch: str
    text: str
    size: float
    sample: Box
    words: Box


def set_key(regions: Iterable[MarkedRegion], arrangement: Arrangement) -> tuple[KeyEntry, ...]:
    """Return the key, set from the upper left corner (0, 0).

    Regions that look the same share an entry, whatever they are called: a key has one meaning for
    a look. What finds no room is counted in a last line: the speaker's notes list all regions.
    """
    texts: dict[tuple[str, str], dict[str, None]] = {}
    for one in regions:
        texts.setdefault((one.colour, one.hatch), {})[one.key_text] = None
    looks = [(colour, hatch, "; ".join(names)) for (colour, hatch), names in texts.items()]
    rooms = largest_key_height(arrangement)
    rows: list[KeyEntry] = []
    for size in KEY_SIZES:
        rows = _set_at(looks, arrangement, size, _MOST_LINES)
        if key_height(rows) <= rooms:
            return tuple(rows)
    rows = _set_at(looks, arrangement, KEY_SIZES[-1], 1)
    if key_height(rows) <= rooms:
        return tuple(rows)
    kept = [row for row in rows if max(row.sample.bottom, row.words.bottom) <= rooms]
    left_out = len(rows) - len(kept) + 1
    last = kept[-1]
    kept[-1] = replace(last, colour="", hatch="", text=f"and {left_out} more")
    return tuple(kept)


def _set_at(
    looks: Sequence[tuple[str, str, str]], arrangement: Arrangement, size: float, most_lines: int
) -> list[KeyEntry]:
    """Set all entries at one size, row by row."""
    columns, width = key_columns(arrangement), key_width(arrangement)
    rows: list[KeyEntry] = []
    top = 0.0
    for first in range(0, len(looks), columns):
        lowest = top
        for column, (colour, hatch, text) in enumerate(looks[first : first + columns]):
            left = column * (width + _COLUMN_GAP)
            words_width = width - KEY_TEXT_LEFT
            block = fitted(text, words_width, (size,), most_lines=most_lines)
            middle = max(block.line_height, KEY_SAMPLE_HEIGHT) / 2
            words = Box(
                left + KEY_TEXT_LEFT,
                top + middle - block.line_height / 2,
                words_width,
                block.height,
            )
            sample = Box(
                left, top + middle - KEY_SAMPLE_HEIGHT / 2, KEY_SAMPLE_WIDTH, KEY_SAMPLE_HEIGHT
            )
            rows.append(KeyEntry(colour, hatch, block.paragraphs[0].text, size, sample, words))
            lowest = max(lowest, words.bottom, sample.bottom)
        top = lowest + KEY_ROW_GAP
    return rows


def key_height(key: Sequence[KeyEntry]) -> float:
    """Return the height of a key that was set from the upper left corner."""
    return max((max(one.sample.bottom, one.words.bottom) for one in key), default=0.0)


def moved_key(key: Iterable[KeyEntry], place: Box) -> tuple[KeyEntry, ...]:
    """Return a key moved to its place on the slide."""
    return tuple(
        replace(
            one,
            sample=replace(
                one.sample, left=one.sample.left + place.left, top=one.sample.top + place.top
            ),
            words=replace(
                one.words, left=one.words.left + place.left, top=one.words.top + place.top
            ),
        )
        for one in key
    )
