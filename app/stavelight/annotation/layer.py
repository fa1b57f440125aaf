"""The layer: all that people add to one score, as one frozen value.

It is never changed; the functions of `stavelight.annotation.editing` make new layers of it.

Room for what comes later: regions have several spans and notes, a certainty and an author, so
that the layers of two annotators can be put together and still be told apart; several lessons
share one layer; entries can be edition notes; tags of the project's own lie in ``own_tags``.
A new kind of record, such as the sections of a form, becomes a new field with an empty default;
older versions of the program keep it as an unknown field.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Annotated

import msgspec

from stavelight.annotation.commentary import (
    Entry,
    OnRegion,
    in_score_order,
    in_time_order,
    score_order_key,
    spans_of,
)
from stavelight.annotation.lesson import Lesson, new_lesson
from stavelight.annotation.record import IdentifiedRecord, Record
from stavelight.annotation.region import Region, SpanRecord
from stavelight.annotation.tags import Tag
from stavelight.score.structure import Score

FORMAT_VERSION = 1
"""The version of the layer file that this program writes."""


class ScoreReference(Record, kw_only=True, frozen=True):
    """Which score a layer belongs to.

    Attributes
    ----------
    file_name
        Name of the score file, without folders.
    sha256
        Hexadecimal SHA-256 of that file's bytes, as they lie on disk.
    title
        The score's title.
    """

    file_name: str
    sha256: str
    title: str = ""


class Layer(Record, kw_only=True, frozen=True, dict=True):
    """All that people add to one score.

    Attributes
    ----------
    format_version
        Version of the file format that it was written in.
    score
        The score that it belongs to.
    regions, entries, lessons
        In the order in which they were made.
    own_tags
        Tags that the project adds to the vocabulary.
    credits
        Whom to name wherever it is shown: the edition, the authors; a line each.
    """

    format_version: Annotated[int, msgspec.Meta(ge=1)] = FORMAT_VERSION
    score: ScoreReference
    regions: tuple[Region, ...] = ()
    entries: tuple[Entry, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    own_tags: tuple[Tag, ...] = ()
    credits: tuple[str, ...] = ()

    @cached_property
    def region_positions(self) -> dict[str, int]:
        """Where in `regions` each id stands."""
        return _positions(self.regions)

    @cached_property
    def entry_positions(self) -> dict[str, int]:
        """Where in `entries` each id stands."""
        return _positions(self.entries)

    @cached_property
    def _entries_by_region(self) -> dict[str, list[Entry]]:
        found: dict[str, list[Entry]] = {}
        for entry in self.entries:
            if isinstance(entry.target, OnRegion):
                found.setdefault(entry.target.region, []).append(entry)
        return found

    def region(self, region_id: str) -> Region | None:
        """Return the region of this id, or None."""
        position = self.region_positions.get(region_id)
        return None if position is None else self.regions[position]

    def entry(self, entry_id: str) -> Entry | None:
        """Return the entry of this id, or None."""
        position = self.entry_positions.get(entry_id)
        return None if position is None else self.entries[position]

    def entries_on(self, region_id: str) -> tuple[Entry, ...]:
        """Return the entries about a region, in the order in which they were made."""
        return tuple(self._entries_by_region.get(region_id, ()))

    def spans_of(self, entry: Entry) -> tuple[SpanRecord, ...]:
        """Return the spans that an entry is about; none for the whole score."""
        return spans_of(entry, self.region)

    @property
    def lesson(self) -> Lesson:
        """The first lesson; where there is none, one that shows everything in score order."""
        return self.lessons[0] if self.lessons else Lesson(id="default")

    def regions_in_score_order(self) -> tuple[Region, ...]:
        """Return all regions by where they begin, then by where they end."""
        return tuple(sorted(self.regions, key=lambda one: score_order_key(one, self.region)))

    def entries_in_score_order(self) -> tuple[Entry, ...]:
        """Return all entries by where what they are about begins; the whole score comes first."""
        return in_score_order(self.entries, self.region)

    def entries_in_time_order(self) -> tuple[Entry, ...]:
        """Return all entries by their times; those without one come last, in score order."""
        return in_time_order(self.entries, self.region)

    def lesson_items(self, lesson: Lesson | None = None) -> tuple[Entry | Region, ...]:
        """Return what a lesson shows, one after the other.

        In score order and in time order these are all entries, and all regions that no entry is
        about; regions without a time come after what has one. In a listed order these are the
        items of the list that the layer still has.
        """
        lesson = lesson if lesson is not None else self.lesson
        if lesson.order == "listed":
            listed = (self.entry(one) or self.region(one) for one in lesson.items)
            return tuple(item for item in listed if item is not None)
        lone = [one for one in self.regions if one.id not in self._entries_by_region]
        if lesson.order == "time":
            timed = [one for one in self.entries_in_time_order() if one.start_seconds is not None]
            rest = [one for one in self.entries if one.start_seconds is None]
            return (*timed, *self._in_score_order([*lone, *rest]))
        return self._in_score_order([*lone, *self.entries])

    def _in_score_order(self, items: Iterable[Entry | Region]) -> tuple[Entry | Region, ...]:
        return tuple(sorted(items, key=lambda item: score_order_key(item, self.region)))


def _positions(items: Sequence[IdentifiedRecord]) -> dict[str, int]:
    return {item.id: position for position, item in enumerate(items)}


def score_reference(score: Score) -> ScoreReference:
    """Return which score this is, as a layer stores it."""
    # A file name may hold bytes that are no text; JSON can only hold text.
    name = score.path.name.encode("utf-8", "replace").decode("utf-8")
    return ScoreReference(file_name=name, sha256=score.sha256, title=score.title)


def new_layer(score: Score) -> Layer:
    """Return an empty layer for a score, with one lesson and the edition's credit."""
    credits_ = (score.credit,) if score.credit else ()
    return Layer(score=score_reference(score), lessons=(new_lesson(),), credits=credits_)
