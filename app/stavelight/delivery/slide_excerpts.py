"""Engrave a passage so that it can be read from the back of a hall.

The rule: the staff of an excerpt is no lower than 1/28 of the slide (common practice, no source:
text on slides is asked to be no smaller than 20 points, which is 1/27). Where a passage would need
smaller staves its bars are divided among slides; where it has too many staves, those are divided.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from stavelight.delivery.slide_frame import (
    BODY_SIZES,
    LEAST_BAND_HEIGHT,
    SLIDE_HEIGHT,
    Arrangement,
    Box,
    arrangement_for,
    band_text_width,
    largest_band_height,
    slide_frame,
)
from stavelight.delivery.slide_key import key_height, set_key
from stavelight.delivery.slide_model import Passage, SlideOptions, Stretch
from stavelight.delivery.text_layout import TextBlock
from stavelight.engraving.page_maker import EngravedPage, ExcerptRequest
from stavelight.errors import Cancelled
from stavelight.score.structure import Score

LEAST_STAFF_HEIGHT = SLIDE_HEIGHT / 28
LEAST_STAFF_HEIGHT_OF_MANY = SLIDE_HEIGHT / 34
"""Accepted for ten or eleven staves, before the staves of one moment are divided."""

_LARGEST_STAFF_HEIGHT = 12.5
_MOST_STAVES = 11
_STAVES_AT_ONCE = 10
_MOST_BARS = 12
EDGE = 2.0
"""Kept free above and below an excerpt, for what is drawn a little beyond its own edge."""


class ExcerptSource(Protocol):
    """Who engraves: `stavelight.engraving.engraver.EngravedScore` does."""

    def excerpt(self, request: ExcerptRequest) -> Future[EngravedPage]:
        """Return an excerpt."""


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The notes of one slide: some bars of some parts.

    Attributes
    ----------
    bars
        Half-open range of bar indices.
    page
        The engraved notes.
    """

    bars: range
    page: EngravedPage

    @property
    def staves(self) -> tuple[int, ...]:
        """Indices of the staves that are shown, from above."""
        return self.page.geometry.systems[0].staves


@dataclass(frozen=True, slots=True)
class PassageExcerpts:
    """The notes of all slides of a passage.

    Attributes
    ----------
    arrangement
        How its slides are divided.
    band_height
        Of the band under the excerpt, if there is one; millimetres.
    excerpts
        In the order in which they are shown.
    is_complete
        Whether all bars are there; else the passage is longer than slides may be many.
    """

    arrangement: Arrangement
    band_height: float
    excerpts: tuple[Excerpt, ...]
    is_complete: bool


class _TooLowError(Exception):
    """The space is too low for the staves of a passage."""


class ExcerptMaker:
    """Engraves passages.

    Parameters
    ----------
    score
        The score.
    engraved
        Who engraves it.
    options
        What the user chose.
    cancelled
        Tells whether the user wants to stop.
    """

    def __init__(
        self,
        score: Score,
        engraved: ExcerptSource,
        options: SlideOptions,
        cancelled: Callable[[], bool],
    ) -> None:
        self._score = score
        self._engraved = engraved
        self._options = options
        self._cancelled = cancelled

    def make(self, passage: Passage) -> PassageExcerpts:
        """Return the notes of a passage that has a place in the score.

        Raises
        ------
        EngravingError
            If they cannot be engraved.
        Cancelled
            If the user stopped.
        """
        groups = [self._part_groups(self._parts(one)) for one in passage.stretches]
        staves = max(self._staff_count(parts) for group in groups for parts in group)
        arrangement = arrangement_for(staves, has_text=bool(passage.text))
        try:
            return self._arranged(passage, groups, arrangement, _band_height(passage, staves))
        except _TooLowError:
            return self._arranged(passage, groups, Arrangement.COLUMN, 0.0)

    def _arranged(
        self,
        passage: Passage,
        groups: Sequence[list[tuple[int, ...]]],
        arrangement: Arrangement,
        band_height: float,
    ) -> PassageExcerpts:
        """Engrave a passage for slides that are divided in one way."""
        key = key_height(set_key(passage.regions, arrangement))
        space = slide_frame(arrangement, key, band_height=band_height).excerpt
        excerpts: list[Excerpt] = []
        is_complete = True
        for stretch, parts in zip(passage.stretches, groups, strict=True):
            room = self._options.most_slides - len(excerpts)
            if excerpts and room < len(parts):
                return PassageExcerpts(arrangement, band_height, tuple(excerpts), False)
            made, whole = self._of_stretch(
                stretch.bars, parts, space, room, can_be_higher=arrangement is Arrangement.BAND
            )
            excerpts += made
            is_complete = is_complete and whole
        return PassageExcerpts(arrangement, band_height, tuple(excerpts), is_complete)

    def _of_stretch(
        self,
        bars: range,
        groups: list[tuple[int, ...]],
        space: Box,
        room: int,
        *,
        can_be_higher: bool,
    ) -> tuple[list[Excerpt], bool]:
        """Engrave successive bars, as few at a time as it takes; tell whether all found room.

        Raises
        ------
        _TooLowError
            If staves become too low, and there can be a higher space.
        """
        excerpts: list[Excerpt] = []
        waiting = divided(bars, math.ceil(len(bars) / _MOST_BARS))
        while waiting:
            if excerpts and len(excerpts) + len(groups) > room:
                return excerpts, False
            run = waiting.pop(0)
            made = [Excerpt(run, self._engrave(run, parts, space)) for parts in groups]
            too_tall = [_is_too_tall(excerpt, space) for excerpt in made]
            if any(too_tall) and can_be_higher:
                raise _TooLowError
            if any(tall and len(parts) > 1 for tall, parts in zip(too_tall, groups, strict=True)):
                groups = self._smaller_groups(groups, too_tall)
                waiting.insert(0, run)
                continue
            share = min(_share_of_least(excerpt, space) for excerpt in made)
            if share < 1.0 and len(run) > 1:
                waiting[:0] = divided(run, min(len(run), max(2, math.ceil(1 / share))))
            else:
                excerpts += made
        return excerpts, True

    def _smaller_groups(
        self, groups: Sequence[tuple[int, ...]], too_tall: Sequence[bool]
    ) -> list[tuple[int, ...]]:
        """Divide those groups of parts that are too tall."""
        smaller: list[tuple[int, ...]] = []
        for parts, tall in zip(groups, too_tall, strict=True):
            if tall and len(parts) > 1:
                at = self._best_cut(parts, self._staff_count(parts) / 2)
                smaller += [parts[:at], parts[at:]]
            else:
                smaller.append(parts)
        return smaller

    def _engrave(self, bars: range, parts: tuple[int, ...], space: Box) -> EngravedPage:
        request = ExcerptRequest(
            bars,
            parts,
            space.width,
            space.height - 2 * EDGE,
            largest_staff_height=_LARGEST_STAFF_HEIGHT,
            sounding_pitch=self._options.sounding_pitch,
        )
        future = self._engraved.excerpt(request)
        while True:
            if self._cancelled():
                future.cancel()
                raise Cancelled
            try:
                return future.result(timeout=0.1)
            except TimeoutError:
                continue
            except CancelledError as error:
                raise Cancelled from error

    def _parts(self, stretch: Stretch) -> tuple[int, ...]:
        """Return the parts to show: those with staves in the stretch, or all that play.

        Of more parts than one slide can hold, those that rest throughout are left out.
        """
        score = self._score
        own = {score.staves[staff].part for staff in stretch.staves}
        rows = score.notes.rows
        bars = stretch.bars
        inside = rows[(rows["bar"] >= bars.start) & (rows["bar"] < bars.stop)]
        playing = {int(part) for part in inside["part"]}
        if self._options.all_parts:
            return tuple(sorted(own | playing))
        if self._staff_count(tuple(own)) > _MOST_STAVES and own & playing:
            own &= playing
        return tuple(sorted(own))

    def _staff_count(self, parts: Sequence[int]) -> int:
        return sum(self._score.parts[part].staff_count for part in parts)

    def _part_groups(self, parts: tuple[int, ...]) -> list[tuple[int, ...]]:
        """Divide parts so that the staves of each group can be read on one slide.

        The groups are about equal; rather than two players of one instrument, different
        instruments are parted.
        """
        total = self._staff_count(parts)
        if total <= _MOST_STAVES:
            return [parts]
        groups: list[tuple[int, ...]] = []
        rest = parts
        for left in range(math.ceil(total / _STAVES_AT_ONCE), 1, -1):
            at = self._best_cut(rest, self._staff_count(rest) / left)
            groups.append(rest[:at])
            rest = rest[at:]
        return [*groups, rest]

    def _best_cut(self, parts: tuple[int, ...], wanted: float) -> int:
        """Return where to cut parts so that about as many staves as wanted stand before it."""

        def cost(at: int) -> float:
            off = abs(self._staff_count(parts[:at]) - wanted)
            return off + (1.6 if self._name(parts[at - 1]) == self._name(parts[at]) else 0.0)

        return min(range(1, len(parts)), key=cost, default=1)

    def _name(self, part: int) -> str:
        """Return an instrument's name without the numbers of its players."""
        return re.sub(r"\b(?:\d+|[IVX]+)\b\.?", "", self._score.parts[part].name).strip()


def _band_height(passage: Passage, staff_count: int) -> float:
    """Return how high a band has to be for the text of a passage, within bounds."""
    largest = largest_band_height(staff_count)
    width = band_text_width(has_key=bool(passage.regions))
    height = LEAST_BAND_HEIGHT
    for size in BODY_SIZES[-2:]:
        height = max(LEAST_BAND_HEIGHT, TextBlock(passage.text, width, size).height)
        if height <= largest:
            return height
    return min(height, largest)


def _fills_height(excerpt: Excerpt, space: Box) -> bool:
    """Tell whether it is the height of the space that keeps staves small, not its width."""
    one_system = len(excerpt.page.geometry.systems) == 1
    return one_system and excerpt.page.height > 0.92 * (space.height - 2 * EDGE)


def _is_too_tall(excerpt: Excerpt, space: Box) -> bool:
    """Tell whether the staves stand too close for so many of them to be read."""
    height = excerpt.page.geometry.staff_space * 4
    return height < LEAST_STAFF_HEIGHT_OF_MANY and _fills_height(excerpt, space)


def _share_of_least(excerpt: Excerpt, space: Box) -> float:
    """Return how high staves are in relation to the least; 1 if fewer bars would not help.

    Fewer bars make staves larger only where it is the width that keeps them small.
    """
    if _fills_height(excerpt, space):
        return 1.0
    many = len(excerpt.staves) >= _STAVES_AT_ONCE
    least = LEAST_STAFF_HEIGHT_OF_MANY if many else LEAST_STAFF_HEIGHT
    return excerpt.page.geometry.staff_space * 4 / least


def divided(bars: range, count: int) -> list[range]:
    """Divide bars into runs about equally long, the longer ones first."""
    edges = [bars.start + math.ceil(len(bars) * i / count) for i in range(count + 1)]
    return [range(first, last) for first, last in pairwise(edges)]
