"""Where beats stand, checked against music21's time signatures, and what is counted in a pickup."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from music21 import meter

from stavelight.score.note_table import COLUMNS, NoteTable
from stavelight.score.structure import Bar, Part, Point, Score, Span, Staff
from stavelight.window.snapping import BeatGrid, Snap, beat_lengths
from stavelight.window.span_text import span_text, staves_text

TICKS = 24  # to a quarter


def score_of(*bars: tuple[str, int, Fraction | None]) -> Score:
    """Return a score of bars given as (beats, beat type, length in whole notes or None: full)."""
    made, start = [], 0
    for index, (beats, beat_type, length) in enumerate(bars):
        full = sum(int(group) for group in beats.split("+")) * 4 * TICKS // beat_type
        ticks = full if length is None else int(length * 4 * TICKS)
        number = str(index + 1)
        made.append(Bar(index, f"b{index}", number, start, ticks, full, beats, beat_type))
        start += ticks
    part_list = (
        Part(0, "P1", "Flute", "", 0),
        Part(1, "P2", "Oboe", "", 1),
        Part(2, "P3", "Harp", "", 2, staff_count=2),
    )
    staves = tuple(
        Staff(part.first_staff + number, part.index, number + 1)
        for part in part_list
        for number in range(part.staff_count)
    )
    notes = NoteTable(np.empty(0, COLUMNS), (), ())
    return Score(
        Path("x"), "", "musicxml", "", "", "", "", TICKS, part_list, staves, tuple(made), notes
    )


@pytest.mark.parametrize(
    "signature",
    ["2/2", "3/2", "2/4", "3/4", "4/4", "6/8", "9/8", "12/8", "6/16", "12/16", "2/8", "4/8"],
)
def test_beats_are_those_of_music21(signature):
    """music21's `TimeSignature.beatDuration` is the outside reference.

    Left out where practice is divided, and told in the module: 3/8, 6/4 and 9/4, which music21
    counts in dotted notes.
    """
    theirs = meter.TimeSignature(signature)
    beats, beat_type = signature.split("/")
    ours = beat_lengths(beats, int(beat_type))
    assert len(ours) == theirs.beatCount
    assert {length * 4 for length, _ in ours} == {
        Fraction(theirs.beatDuration.quarterLength).limit_denominator(64)
    }


def test_additive_signatures_are_counted_in_their_groups():
    """Gardner Read, "Music Notation" (1979), chapter on compound metres (from memory)."""
    assert [length for length, _ in beat_lengths("2+3", 8)] == [Fraction(1, 4), Fraction(3, 8)]
    assert [length for length, _ in beat_lengths("3+2", 4)] == [Fraction(1, 4)] * 5


def test_what_cannot_be_read_is_counted_in_quarters():
    assert beat_lengths("senza misura", 4)[0] == (Fraction(1, 4), 2)


def test_offsets_of_beats_and_their_parts():
    grid = BeatGrid(score_of(("4", 4, None), ("6", 8, None)))
    assert grid.offsets(0) == tuple(Fraction(n, 4) for n in range(4))
    assert grid.offsets(0, Snap.PARTS_OF_BEATS) == tuple(Fraction(n, 8) for n in range(8))
    assert grid.offsets(1) == (0, Fraction(3, 8))
    assert grid.offsets(1, Snap.PARTS_OF_BEATS) == tuple(Fraction(n, 8) for n in range(6))
    assert grid.offsets(1, Snap.BARS) == (0,)


def test_a_pickup_holds_the_last_beats():
    grid = BeatGrid(score_of(("4", 4, Fraction(3, 8)), ("4", 4, None)))
    assert grid.offsets(0) == (0, Fraction(1, 8))
    assert grid.beat_at(Point(0)) == Fraction(7, 2)
    assert grid.beat_at(Point(0, Fraction(1, 8))) == 4


def test_the_halves_of_a_bar_that_a_repeat_cuts_in_two():
    half = Fraction(1, 2)
    grid = BeatGrid(score_of(("4", 4, None), ("4", 4, half), ("4", 4, half), ("4", 4, half)))
    assert [grid.beat_at(Point(bar)) for bar in range(4)] == [1, 1, 3, 3]
    last = BeatGrid(score_of(("4", 4, None), ("4", 4, half)))
    assert last.beat_at(Point(1)) == 1  # a last bar that is short begins on its first beat


def test_a_bar_that_is_longer_than_its_signature_goes_on_in_beats():
    grid = BeatGrid(score_of(("2", 4, Fraction(5, 4))))
    assert grid.offsets(0) == tuple(Fraction(n, 4) for n in range(5))


def test_steps_go_over_barlines_and_stop_at_the_ends():
    grid = BeatGrid(score_of(("3", 4, None), ("6", 8, None)))
    quarter, dotted = Fraction(1, 4), Fraction(3, 8)
    assert grid.after(2 * quarter) == 3 * quarter
    assert grid.after(3 * quarter) == 3 * quarter + dotted
    assert grid.after(Fraction(3, 2)) == Fraction(3, 2) == grid.total
    assert grid.before(3 * quarter) == 2 * quarter
    assert grid.before(3 * quarter + Fraction(1, 8)) == 3 * quarter
    assert grid.before(Fraction(0)) == 0
    assert grid.before(grid.total, Snap.BARS) == 3 * quarter
    assert grid.nearest(Fraction(30, 100)) == quarter
    assert grid.nearest(Fraction(40, 100)) == 2 * quarter
    assert grid.nearest(grid.total + 1) == grid.total


def test_a_point_on_a_barline_begins_a_bar_or_ends_one():
    grid = BeatGrid(score_of(("3", 4, None), ("3", 4, None)))
    time = Fraction(3, 4)
    assert grid.point(time) == Point(1)
    assert grid.point(time, ending=True) == Point(0, time)
    assert grid.point(grid.total) == Point(1, time)


def q(count: int) -> Fraction:
    return Fraction(count, 4)


@pytest.mark.parametrize(
    ("start", "end", "text"),
    [
        ((0, q(0)), (0, q(4)), "b. 1"),
        ((0, q(0)), (1, q(4)), "bb. 1-2"),
        ((0, q(0)), (2, q(0)), "bb. 1-2"),
        ((0, q(2)), (3, q(1)), "bb. 1.3-4.1"),
        ((0, q(1)), (0, q(3)), "b. 1.2-3"),
        ((0, q(1)), (0, q(2)), "b. 1.2"),
        ((0, q(1) + Fraction(1, 8)), (0, q(2)), "b. 1.2½"),
        ((0, q(1)), (2, q(0)), "bb. 1.2-2.4"),
        ((0, q(2)), (3, q(0) + Fraction(1, 8)), "bb. 1.3 to before 4.1½"),
    ],
)
def test_spans_in_words(start, end, text):
    grid = BeatGrid(score_of(*[("4", 4, None)] * 4))
    assert span_text(grid, Span(Point(*start), Point(*end), (0,))) == f"{text}, Flute"


def test_staves_in_words():
    score = score_of(("4", 4, None))
    assert staves_text(score, (0, 1)) == "Flute, Oboe"
    assert staves_text(score, (3,)) == "Harp (staff 2)"
    assert staves_text(score, (1, 2, 3)) == "Oboe, Harp"
    assert staves_text(score, (0, 1, 2, 3)) == "all parts"


def test_desks_of_one_instrument_are_put_together():
    names = ("Fl. 1", "Ob. 1", "Ob. 2", "Cl. 2", "Cl. 3", "Hn. 4", "Timp.", "Vn.", "Va.")
    parts = tuple(Part(i, f"P{i}", name, name, i) for i, name in enumerate(names))
    staves = tuple(Staff(i, i, 1) for i in range(len(names)))
    score = replace(score_of(("4", 4, None)), parts=parts, staves=staves)
    assert staves_text(score, (0, 1, 2)) == "Fl. 1, Ob. 1-2"
    assert staves_text(score, (1, 3, 5, 6)) == "Ob. 1, Cl. 2, Hn. 4, Timp."
    assert staves_text(score, range(8)) == "Fl. 1 to Vn. (8 parts)"
    assert staves_text(score, (1, 2, 3, 4)) == "Ob. 1-2, Cl. 2-3"
