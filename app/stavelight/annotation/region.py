"""Regions: stretches of time on some staves, marked by a person.

Places and staves are stored so that a person, or a later version, can find them again when the
edition is revised: beside the bar's index stands what the edition prints, beside the part's id
stands its name.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Annotated, Literal

import msgspec

from stavelight.annotation.record import IdentifiedRecord, Moment, Record, new_id, utc_now
from stavelight.score.structure import Point, Score, Span

Certainty = Literal["sure", "likely", "open"]
Offset = Annotated[
    str,
    msgspec.Meta(
        pattern=r"^[0-9]+(/0*[1-9][0-9]*)?$",
        description="Whole notes from the beginning of the bar: 3/8 is three quavers.",
    ),
]


class StaffRef(Record, kw_only=True, frozen=True):
    """One staff of one part.

    Attributes
    ----------
    part
        The part's id in the score file.
    staff
        Number of the staff within its part, from 1.
    name
        The part's name, to find it again when ids have changed.
    """

    part: str
    staff: Annotated[int, msgspec.Meta(ge=1)] = 1
    name: str = ""


class Place(Record, kw_only=True, frozen=True):
    """A place in the score.

    Attributes
    ----------
    bar
        Index of the bar, from 0 in written order (a pickup bar is 0).
    offset
        Whole notes from the beginning of the bar, as an exact fraction such as ``3/8``.
    printed
        The bar number that the edition prints: shown, never computed with.
    """

    bar: Annotated[int, msgspec.Meta(ge=0)]
    offset: Offset = "0"
    printed: str = ""

    @property
    def point(self) -> Point:
        """The same place as a point that can be compared and computed with."""
        return Point(self.bar, _fraction(self.offset))


@cache
def _fraction(offset: str) -> Fraction:
    return Fraction(offset)


class SpanRecord(Record, kw_only=True, frozen=True):
    """A stretch of time on some staves, not necessarily neighbours.

    Attributes
    ----------
    start, end
        Where it begins and where it ends; the end does not belong to it.
    staves
        Its staves, from above.
    """

    start: Place
    end: Place
    staves: tuple[StaffRef, ...]


class NoteRecord(IdentifiedRecord, kw_only=True, frozen=True):
    """One note that belongs to a region.

    Attributes
    ----------
    id
        The note's id in the note table of the score.
    place, staff
        Where it stands, and
    pitch
        its written pitch, such as ``Bb3``, to find it again when ids have changed.
    """

    place: Place
    staff: StaffRef
    pitch: str = ""


class Region(IdentifiedRecord, kw_only=True, frozen=True):
    """What a person marked in the score.

    Attributes
    ----------
    id
        Never changes, and stands for the region in entries, lessons and citations.
    spans
        One or more. A region of single notes has the span that covers them, too.
    notes
        The single notes, where the region is about notes rather than about all of its span.
    tags
        Ids of tags, of the vocabulary that ships or of the layer's own.
    colour, pattern
        Ids from `stavelight.annotation.palette`.
    label
        A short name in the person's own words.
    author, created, changed
        Who made it, and when it was made and last changed, in UTC.
    certainty
        How sure the author is.
    memo
        Free text for the author, not part of the commentary.
    """

    spans: tuple[SpanRecord, ...]
    notes: tuple[NoteRecord, ...] = ()
    tags: tuple[str, ...] = ()
    colour: str = "orange"
    pattern: str = "rising"
    label: str = ""
    author: str = ""
    created: Moment = ""
    changed: Moment = ""
    certainty: Certainty = "sure"
    memo: str = ""

    @property
    def note_ids(self) -> tuple[str, ...]:
        """Ids of the single notes that belong to it."""
        return tuple(note.id for note in self.notes)

    @property
    def start(self) -> Point | None:
        """Where its first span begins."""
        return min((span.start.point for span in self.spans), default=None)

    @property
    def end(self) -> Point | None:
        """Where its last span ends."""
        return max((span.end.point for span in self.spans), default=None)


def new_region(
    spans: Iterable[SpanRecord],
    *,
    tags: Iterable[str] = (),
    colour: str = "orange",
    pattern: str = "rising",
    label: str = "",
    author: str = "",
    certainty: Certainty = "sure",
) -> Region:
    """Return a region with a new id, made now."""
    now = utc_now()
    return Region(
        id=new_id(),
        spans=tuple(spans),
        tags=tuple(tags),
        colour=colour,
        pattern=pattern,
        label=label,
        author=author,
        created=now,
        changed=now,
        certainty=certainty,
    )


def staff_ref(staff: int, score: Score) -> StaffRef:
    """Return the record of the staff with this index in the score."""
    part = score.part_of_staff(staff)
    return StaffRef(part=part.id, staff=score.staves[staff].number, name=part.name)


def place_at(point: Point, score: Score) -> Place:
    """Return the record of a point in the score."""
    return Place(
        bar=point.bar, offset=str(point.offset), printed=score.bars[point.bar].printed_number
    )


def span_record(span: Span, score: Score) -> SpanRecord:
    """Return the record of a span of the score."""
    return SpanRecord(
        start=place_at(span.start, score),
        end=place_at(span.end, score),
        staves=tuple(staff_ref(staff, score) for staff in span.staves),
    )


@dataclass(frozen=True, slots=True)
class FoundStaff:
    """Where a recorded staff stands in a score.

    Attributes
    ----------
    staff
        Its index in the score, or None if it is not there.
    doubt
        Why it may not be the one that was meant, as a sentence; "" if id and name both agree.
    """

    staff: int | None
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class FoundSpan:
    """Where a recorded span stands in a score.

    The record itself stays as it is, whatever could not be found.

    Attributes
    ----------
    span
        The part of it that is there, or None if no staff or no bar of it is.
    missing
        Its staves that the score does not have.
    doubts
        What was found, but not quite as recorded; a sentence each.
    """

    span: Span | None
    missing: tuple[StaffRef, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def is_certain(self) -> bool:
        """Whether all of it is where the record says."""
        return self.span is not None and not self.missing and not self.doubts


class StaffFinder:
    """Finds recorded staves and spans in one score.

    A part is looked for by its id. Where the part of that id bears another name, but a single
    other part bears the recorded name, that one is taken: programs that write scores number the
    ids anew when a part is inserted, whereas names stay. Where no part bears the id, a single
    part of the recorded name is taken. Every answer that does not rest on both says so.

    Parameters
    ----------
    score
        The score to look in.
    """

    def __init__(self, score: Score) -> None:
        self._score = score
        self._by_id = {part.id: part for part in score.parts}
        names = [part.name for part in score.parts if part.name]
        self._by_name = {
            part.name: part for part in score.parts if part.name and names.count(part.name) == 1
        }

    def find_staff(self, staff: StaffRef) -> FoundStaff:
        """Return where a recorded staff is."""
        by_id = self._by_id.get(staff.part)
        by_name = self._by_name.get(staff.name)
        doubt = ""
        part = by_id
        if by_id is not None and by_id.name != staff.name:
            if by_name is not None:
                part = by_name
                doubt = f"The part {staff.name!r} was {staff.part} and is {by_name.id} now."
            elif staff.name:
                doubt = f"The part {staff.part} was called {staff.name!r}, now {by_id.name!r}."
        elif by_id is None and by_name is not None:
            part = by_name
            doubt = f"The part {staff.name!r} was {staff.part} and is {by_name.id} now."
        if part is None or staff.staff > part.staff_count:
            return FoundStaff(None)
        return FoundStaff(part.first_staff + staff.staff - 1, doubt)

    def find_point(self, place: Place) -> tuple[Point | None, str]:
        """Return where a recorded place is, or None if its bar is not there; and any doubt.

        A place beyond the end of its bar is moved to that end, and said to be. The beginning of
        the bar after the last one is the end of the last one.
        """
        bars = self._score.bars
        point = place.point
        if bars and point == Point(len(bars)):
            return Point(len(bars) - 1, self._score.bar_length(len(bars) - 1)), ""
        if point.bar >= len(bars):
            return None, f"The score has no bar of index {point.bar}: it has {len(bars)} bars."
        printed = bars[point.bar].printed_number
        doubt = ""
        if place.printed and place.printed != printed:
            doubt = f"The bar of index {point.bar} was printed {place.printed}, now {printed}."
        length = self._score.bar_length(point.bar)
        if point.offset > length:
            doubt = f"Bar {printed} is {length} whole notes long: {point.offset} is beyond it."
            point = Point(point.bar, length)
        return point, doubt

    def find_span(self, record: SpanRecord) -> FoundSpan:
        """Return where a recorded span is."""
        staves: set[int] = set()
        missing: list[StaffRef] = []
        doubts: list[str] = []
        for staff in record.staves:
            found = self.find_staff(staff)
            if found.staff is None:
                missing.append(staff)
            else:
                staves.add(found.staff)
                doubts.append(found.doubt)
        start, start_doubt = self.find_point(record.start)
        end, end_doubt = self.find_point(record.end)
        doubts += [start_doubt, end_doubt]
        if end is None and start is not None:
            last = len(self._score.bars) - 1
            end = Point(last, self._score.bar_length(last))
        span = None
        if start is not None and end is not None and staves and start < end:
            span = Span(start, end, tuple(sorted(staves)))
        said = tuple(dict.fromkeys(doubt for doubt in doubts if doubt))
        return FoundSpan(span, tuple(missing), said)

    def find_region(self, region: Region) -> tuple[FoundSpan, ...]:
        """Return where the spans of a region are, one answer for each."""
        return tuple(self.find_span(span) for span in region.spans)
