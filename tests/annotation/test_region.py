from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import msgspec
import pytest

from stavelight.annotation.region import (
    NoteRecord,
    Place,
    Region,
    SpanRecord,
    StaffFinder,
    StaffRef,
    new_region,
    place_at,
    span_record,
    staff_ref,
)
from stavelight.score.structure import Point, Score, Span

PARTS = [("P1", "Flute", 1), ("P2", "Clarinet", 1), ("P3", "Harp", 2), ("P4", "Violin", 1)]
QUARTER = 12
BARS = [QUARTER, *[3 * QUARTER] * 5]


def test_staves_and_places_are_recorded_with_what_a_person_reads(score: Score):
    assert staff_ref(3, score) == StaffRef(part="P3", staff=2, name="Harp")
    point = Point(2, Fraction(3, 8))
    assert place_at(point, score) == Place(bar=2, offset="3/8", printed="2")
    assert place_at(point, score).point == point


def test_a_span_comes_back_as_it_went(score: Score):
    finder = StaffFinder(score)
    for staves in [(0,), (3,), (0, 2, 3), tuple(range(6))]:
        span = Span(Point(0, Fraction(1, 12)), Point(4, Fraction(3, 4)), staves)
        found = finder.find_span(span_record(span, score))
        assert found.span == span
        assert found.is_certain


def test_a_part_is_found_by_its_name_when_ids_were_numbered_anew(make_score: Callable[..., Score]):
    # An oboe was put in below the flute: what was P2 is P3 now.
    parts = [PARTS[0], ("P2", "Oboe", 1), ("P3", "Clarinet", 1), ("P4", "Harp", 2)]
    finder = StaffFinder(make_score(parts, BARS))
    clarinet = finder.find_staff(StaffRef(part="P2", staff=1, name="Clarinet"))
    harp = finder.find_staff(StaffRef(part="P3", staff=2, name="Harp"))
    assert (clarinet.staff, harp.staff) == (2, 4)
    assert clarinet.doubt == "The part 'Clarinet' was P2 and is P3 now."
    # And a part whose id is gone altogether.
    assert finder.find_staff(StaffRef(part="X9", staff=1, name="Flute")).staff == 0
    assert finder.find_staff(StaffRef(part="X9", staff=1, name="Flute")).doubt


def test_a_renamed_part_is_found_by_its_id_and_doubted(make_score: Callable[..., Score]):
    finder = StaffFinder(make_score([("P1", "Flauto", 1)], BARS))
    found = finder.find_staff(StaffRef(part="P1", staff=1, name="Flute"))
    assert found.staff == 0
    assert found.doubt == "The part P1 was called 'Flute', now 'Flauto'."


def test_a_record_without_a_name_rests_on_the_id_alone(make_score: Callable[..., Score]):
    finder = StaffFinder(make_score(PARTS, BARS))
    assert finder.find_staff(StaffRef(part="P2", staff=1)).staff == 1
    assert finder.find_staff(StaffRef(part="P2", staff=1)).doubt == ""


def test_a_name_that_several_parts_bear_decides_nothing(score: Score):
    finder = StaffFinder(score)
    assert finder.find_staff(StaffRef(part="P5", staff=1, name="Violin")).staff == 5
    assert finder.find_staff(StaffRef(part="P9", staff=1, name="Violin")).staff is None
    assert finder.find_staff(StaffRef(part="P9", staff=1, name="")).staff is None


def test_a_staff_that_its_part_does_not_have_is_missing(score: Score):
    finder = StaffFinder(score)
    assert finder.find_staff(StaffRef(part="P3", staff=3, name="Harp")).staff is None


def test_what_is_missing_is_named_and_the_rest_found(score: Score):
    gong = StaffRef(part="P17", staff=1, name="Gong")
    flute = StaffRef(part="P1", staff=1, name="Flute")
    record = SpanRecord(start=Place(bar=1), end=Place(bar=2), staves=(gong, flute))
    found = StaffFinder(score).find_span(record)
    assert found.span == Span(Point(1), Point(2), (0,))
    assert found.missing == (gong,)
    assert not found.is_certain
    lost = StaffFinder(score).find_span(msgspec.structs.replace(record, staves=(gong,)))
    assert lost.span is None
    assert lost.missing == (gong,)


def span_of(start: Place, end: Place) -> SpanRecord:
    flute = StaffRef(part="P1", staff=1, name="Flute")
    return SpanRecord(start=start, end=end, staves=(flute,))


def test_a_place_beyond_its_bar_is_brought_back_and_doubted(score: Score):
    found = StaffFinder(score).find_span(span_of(Place(bar=1), Place(bar=2, offset="4/4")))
    assert found.span is not None
    assert found.span.end == Point(2, Fraction(3, 4))
    assert found.doubts == ("Bar 2 is 3/4 whole notes long: 1 is beyond it.",)


def test_the_end_of_the_score_may_be_written_in_two_ways(score: Score):
    finder = StaffFinder(score)
    for end in (Place(bar=5, offset="3/4"), Place(bar=6)):
        found = finder.find_span(span_of(Place(bar=1), end))
        assert found.is_certain
        assert found.span is not None
        assert found.span.end == Point(5, Fraction(3, 4))
    assert finder.find_span(span_of(Place(bar=6), Place(bar=6))).span is None


def test_a_span_that_runs_out_of_the_score_ends_with_it(score: Score):
    found = StaffFinder(score).find_span(span_of(Place(bar=4), Place(bar=40)))
    assert found.span == Span(Point(4), Point(5, Fraction(3, 4)), (0,))
    assert found.doubts == ("The score has no bar of index 40: it has 6 bars.",)


def test_a_span_outside_the_score_is_not_found_but_told(score: Score):
    found = StaffFinder(score).find_span(span_of(Place(bar=30), Place(bar=40)))
    assert found.span is None
    assert len(found.doubts) == 2


def test_a_span_that_has_no_length_is_not_found(score: Score):
    finder = StaffFinder(score)
    assert finder.find_span(span_of(Place(bar=3), Place(bar=3))).span is None
    assert finder.find_span(span_of(Place(bar=3), Place(bar=2))).span is None


def test_another_printed_number_is_doubted(score: Score):
    found = StaffFinder(score).find_span(span_of(Place(bar=1, printed="7"), Place(bar=3)))
    assert found.span is not None
    assert found.doubts == ("The bar of index 1 was printed 7, now 1.",)


def test_a_score_without_bars_has_no_places(make_score: Callable[..., Score]):
    finder = StaffFinder(make_score(PARTS, []))
    assert finder.find_point(Place(bar=0))[0] is None


def test_a_region_begins_with_its_first_span_and_ends_with_its_last(score: Score):
    region = new_region(
        [span_of(Place(bar=4), Place(bar=5)), span_of(Place(bar=1, offset="1/3"), Place(bar=2))]
    )
    assert region.start == Point(1, Fraction(1, 3))
    assert region.end == Point(5)
    assert region.created == region.changed != ""
    assert [found.span is not None for found in StaffFinder(score).find_region(region)] == [
        True,
        True,
    ]
    assert Region(id="r", spans=()).start is None
    assert Region(id="r", spans=()).end is None


def test_a_region_gives_the_ids_of_its_notes():
    flute = StaffRef(part="P1", staff=1, name="Flute")
    notes = tuple(NoteRecord(id=f"n{n}", place=Place(bar=n), staff=flute) for n in range(3))
    assert Region(id="r", spans=(), notes=notes).note_ids == ("n0", "n1", "n2")


@pytest.mark.parametrize("offset", ["0", "3/8", "12/5", "10/02"])
def test_offsets_are_exact_fractions(offset: str):
    place = msgspec.convert({"bar": 0, "offset": offset}, Place)
    assert place.point.offset == Fraction(offset)


@pytest.mark.parametrize("offset", ["", "-1/8", "0.5", "1/0", "1/00", "3 / 8", "a", "１/8"])
def test_other_offsets_are_refused(offset: str):
    with pytest.raises(msgspec.ValidationError, match=r"\$.offset"):
        msgspec.convert({"bar": 0, "offset": offset}, Place)


@pytest.mark.parametrize("name", ["bwv66.6", "haydn/opus74no1/movement3"])
def test_places_of_corpus_notes_against_music21(name: str):
    """Staves, printed bars and offsets of all notes as music21 gives them, there and back."""
    music21 = pytest.importorskip("music21")
    reading = pytest.importorskip("stavelight.score.reading")
    path = Path(music21.corpus.getWork(name))
    score = reading.read_score(path)
    finder = StaffFinder(score)
    ours = set()
    for row in score.notes.rows:
        offset = Fraction(int(row["offset_ticks"]), 4 * score.ticks_per_quarter)
        point = Point(int(row["bar"]), offset)
        end = Point(point.bar, score.bar_length(point.bar))
        record = span_record(Span(point, end, (int(row["staff"]),)), score)
        assert finder.find_span(record).is_certain
        part = score.part_of_staff(int(row["staff"])).index
        ours.add((part, record.start.printed, record.start.point.offset))
    theirs = set()
    for index, part in enumerate(music21.converter.parse(path).parts):
        for note in part.recurse().notes:
            measure = note.getContextByClass("Measure")
            offset = Fraction(note.getOffsetInHierarchy(measure)).limit_denominator(1000) / 4
            theirs.add((index, measure.measureNumberWithSuffix(), offset))
    assert ours == theirs
    assert len(ours) > 100
