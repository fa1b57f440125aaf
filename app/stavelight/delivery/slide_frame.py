"""Where things stand on a slide, in millimetres; text sizes in points.

A slide is 13.333 by 7.5 inches, the wide format (16:9) of the usual slide programs. Its excerpt is
as large as can be: under it a band for few staves, beside it a column for many.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

SLIDE_WIDTH = 338.0 + 2.0 / 3.0
SLIDE_HEIGHT = 190.5

MILLIMETRES_PER_POINT = 25.4 / 72.0

HEADING_SIZES = (30.0, 26.0, 22.0, 20.0)
BODY_SIZES = (26.0, 24.0, 22.0, 20.0)
"""Tried in turn. 20 points are 1/27 of the slide's height, as is the staff of an excerpt."""

TEXT_SLIDE_SIZES = (32.0, 28.0, 24.0, 22.0, 20.0)
PLACE_SIZES = (20.0, 18.0, 16.0, 14.0)
KEY_SIZES = (18.0, 16.0, 14.0)
FOOT_SIZES = (11.0, 10.0, 9.0)

INK = "#1c2126"
QUIET_INK = "#59636d"
PALE_LINE = "#ccd2d8"
"""Colour belongs to regions alone: all else is grey."""

_SIDE = 13.0
_TOP = 8.0
_HEADING_HEIGHT = 18.0
_PLACE_WIDTH = 88.0
_PLACE_WIDTH_WITHOUT_TIME = 48.0
_CONTENT_TOP = 28.5
_CONTENT_BOTTOM = 177.5
_FOOT_TOP = 180.0
_FOOT_HEIGHT = 8.6
_NUMBER_WIDTH = 16.0
_GAP = 8.0
_COLUMN_WIDTH = 98.0
LEAST_BAND_HEIGHT = 48.0
_LEAST_EXCERPT_HEIGHT = 62.0
_STAFF_ROOM = 17.8
"""Height that a staff takes in an excerpt that is still easy to read."""

_BAND_KEY_WIDTH = 100.0
_KEY_GAP = 4.0

KEY_SAMPLE_WIDTH = 11.0
KEY_SAMPLE_HEIGHT = 5.6
KEY_TEXT_LEFT = KEY_SAMPLE_WIDTH + 3.0
KEY_ROW_GAP = 2.2

MOST_STAVES_OVER_BAND = 6


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on a slide, in millimetres."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right side."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Its lower side."""
        return self.top + self.height

    def contains(self, other: Box, tolerance: float = 0.01) -> bool:
        """Tell whether another box lies within."""
        return (
            other.left >= self.left - tolerance
            and other.top >= self.top - tolerance
            and other.right <= self.right + tolerance
            and other.bottom <= self.bottom + tolerance
        )


WHOLE_SLIDE = Box(0.0, 0.0, SLIDE_WIDTH, SLIDE_HEIGHT)


class Arrangement(Enum):
    """How a slide is divided."""

    BAND = "text and key under the excerpt"
    COLUMN = "text and key beside the excerpt"
    EXCERPT = "no text, the key under the excerpt"
    TEXT = "no excerpt"


@dataclass(frozen=True, slots=True)
class SlideFrame:
    """The places of one slide.

    Attributes
    ----------
    arrangement
        How it is divided.
    heading, place, foot, number
        Above: what it is about, and which bars; below: the credit line and the slide's number.
    excerpt, text, key
        What lies between; a box without height where there is no such thing.
    """

    arrangement: Arrangement
    heading: Box
    place: Box
    excerpt: Box
    text: Box
    key: Box
    foot: Box
    number: Box


_WIDTH = SLIDE_WIDTH - 2 * _SIDE
_HEIGHT = _CONTENT_BOTTOM - _CONTENT_TOP
_NOTHING = Box(_SIDE, _CONTENT_BOTTOM, _WIDTH, 0.0)
_FOOT = Box(_SIDE, _FOOT_TOP, _WIDTH - _NUMBER_WIDTH - _GAP, _FOOT_HEIGHT)
_NUMBER = Box(SLIDE_WIDTH - _SIDE - _NUMBER_WIDTH, _FOOT_TOP, _NUMBER_WIDTH, _FOOT_HEIGHT)


def arrangement_for(staff_count: int, *, has_text: bool) -> Arrangement:
    """Return how a slide with so many staves is best divided."""
    if not staff_count:
        return Arrangement.TEXT
    if not has_text:
        return Arrangement.EXCERPT
    return Arrangement.BAND if staff_count <= MOST_STAVES_OVER_BAND else Arrangement.COLUMN


def key_columns(arrangement: Arrangement) -> int:
    """Return in how many columns the key stands."""
    return 3 if arrangement is Arrangement.EXCERPT else 1


def key_width(arrangement: Arrangement) -> float:
    """Return the width of one column of the key."""
    if arrangement is Arrangement.EXCERPT:
        return (_WIDTH - 2 * _GAP) / key_columns(arrangement)
    return _BAND_KEY_WIDTH if arrangement is Arrangement.BAND else _COLUMN_WIDTH


def largest_key_height(arrangement: Arrangement) -> float:
    """Return how high the key may become."""
    return {
        Arrangement.BAND: LEAST_BAND_HEIGHT,
        Arrangement.COLUMN: 0.45 * _HEIGHT,
        Arrangement.EXCERPT: 26.0,
        Arrangement.TEXT: 0.0,
    }[arrangement]


def band_text_width(*, has_key: bool) -> float:
    """Return the width of the text in a band under the excerpt."""
    return _WIDTH - (_BAND_KEY_WIDTH + _GAP if has_key else 0.0)


def largest_band_height(staff_count: int) -> float:
    """Return how high a band may become under so many staves."""
    excerpt = max(_LEAST_EXCERPT_HEIGHT, staff_count * _STAFF_ROOM)
    return max(LEAST_BAND_HEIGHT, _HEIGHT - _KEY_GAP - excerpt)


def slide_frame(
    arrangement: Arrangement,
    key_height: float,
    *,
    has_time: bool = True,
    band_height: float = LEAST_BAND_HEIGHT,
) -> SlideFrame:
    """Return the places of a slide.

    Parameters
    ----------
    arrangement
        How it is divided.
    key_height
        How high the key is, without gaps around it; 0 if there is none.
    has_time
        Whether a time stands beside the bars; else there is more room for the heading.
    band_height
        Of the band under the excerpt, if there is one.
    """
    gap = _KEY_GAP if key_height else 0.0
    key = _NOTHING
    if arrangement is Arrangement.TEXT:
        excerpt = _NOTHING
        text = Box(_SIDE, _CONTENT_TOP + 6.0, _WIDTH, _HEIGHT - 6.0)
    elif arrangement is Arrangement.EXCERPT:
        excerpt = Box(_SIDE, _CONTENT_TOP, _WIDTH, _HEIGHT - key_height - gap)
        text = _NOTHING
        key = Box(_SIDE, _CONTENT_BOTTOM - key_height, _WIDTH, key_height)
    elif arrangement is Arrangement.BAND:
        top = _CONTENT_BOTTOM - band_height
        excerpt = Box(_SIDE, _CONTENT_TOP, _WIDTH, _HEIGHT - band_height - _KEY_GAP)
        text = Box(_SIDE, top, band_text_width(has_key=key_height > 0), band_height)
        if key_height:
            left = SLIDE_WIDTH - _SIDE - _BAND_KEY_WIDTH
            key = Box(left, top, _BAND_KEY_WIDTH, key_height)
    else:
        left = SLIDE_WIDTH - _SIDE - _COLUMN_WIDTH
        excerpt = Box(_SIDE, _CONTENT_TOP, left - _GAP - _SIDE, _HEIGHT)
        text = Box(left, _CONTENT_TOP, _COLUMN_WIDTH, _HEIGHT - key_height - 2 * gap)
        if key_height:
            key = Box(left, _CONTENT_BOTTOM - key_height, _COLUMN_WIDTH, key_height)
    place_width = _PLACE_WIDTH if has_time else _PLACE_WIDTH_WITHOUT_TIME
    heading = Box(_SIDE, _TOP, _WIDTH - place_width - _GAP, _HEADING_HEIGHT)
    place = Box(SLIDE_WIDTH - _SIDE - place_width, _TOP, place_width, _HEADING_HEIGHT)
    return SlideFrame(arrangement, heading, place, excerpt, text, key, _FOOT, _NUMBER)


TITLE_BOX = Box(26.0, 52.0, SLIDE_WIDTH - 52.0, 44.0)
SUBTITLE_BOX = Box(26.0, 100.0, SLIDE_WIDTH - 52.0, 46.0)
TITLE_FOOT_BOX = Box(26.0, 158.0, SLIDE_WIDTH - 52.0, 20.0)
TITLE_SIZES = (54.0, 46.0, 40.0, 34.0, 28.0)
COMPOSER_SIZE = 30.0
LESSON_SIZE = 24.0
TITLE_FOOT_SIZES = (14.0, 12.0, 10.0)

TITLE_STAFF = Box(0.0, 22.0, SLIDE_WIDTH, 16.0)
"""Five pale lines across the title slide: an empty staff."""
