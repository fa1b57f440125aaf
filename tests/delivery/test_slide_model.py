"""Which passages are shown, in which order, and what they say."""

from __future__ import annotations

import msgspec
import pytest

from delivery.lecture import entry_on, layer_of, region, span
from stavelight.annotation.commentary import OnSpans, new_entry
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.region import span_record
from stavelight.annotation.tags import load_vocabulary
from stavelight.delivery.slide_model import (
    SlideOptions,
    bar_text,
    foot_line,
    is_on,
    marked_regions,
    passages,
    title_slide,
)


def headings(score, layer, options=SlideOptions()):  # noqa: B008 - a frozen value
    return [one.heading for one in passages(score, layer, load_vocabulary(), options)]


@pytest.fixture
def score(quartet):
    return quartet.score


def test_entries_and_lone_regions_stand_in_score_order(score):
    late = region(score, span(30, 32, 0), label="Late")
    early = region(score, span(2, 4, 1), label="Early")
    told = region(score, span(10, 12, 0, 1), label="Told")
    entries = [
        entry_on(told, "Once.", title="First word"),
        entry_on(told, "Twice.", title="Second word"),
        new_entry(text="All of it.", title="Whole"),
        new_entry(
            OnSpans(spans=(span_record(span(20, 21, 2), score),)), text="Here.", title="Unmarked"
        ),
    ]
    layer = layer_of(score, [late, early, told], entries)
    assert headings(score, layer) == [
        "Whole",
        "Early",
        "First word",
        "Second word",
        "Unmarked",
        "Late",
    ]


def test_a_lesson_chooses_and_orders(score):
    one = region(score, span(2, 4, 1), label="One")
    two = region(score, span(10, 12, 0), label="Two")
    layer = layer_of(score, [one, two])
    lesson = Lesson(id="x", order="listed", items=(two.id, "lost", one.id))
    assert headings(score, layer, SlideOptions(lesson=lesson)) == ["Two", "One"]


def test_headings_fall_back_on_label_then_on_tags(score):
    layer = layer_of(
        score,
        [
            region(score, span(2, 4, 1), label="A label", tags=("melody",)),
            region(score, span(6, 8, 1), tags=("melody", "octave")),
            region(score, span(9, 10, 1)),
        ],
    )
    words = load_vocabulary()
    both = f"{words.label('melody')}, {words.label('octave')}"
    assert headings(score, layer) == ["A label", both, "Region"]


def test_a_passage_knows_its_stretches_and_the_regions_beside_it(score):
    returning = region(score, span(4, 6, 0), span(5, 7, 2), span(40, 41, 1), label="Returning")
    near = region(score, span(6, 9, 3), label="Near")
    far = region(score, span(60, 61, 0), label="Far")
    layer = layer_of(score, [returning, near, far])
    shown = passages(score, layer, load_vocabulary(), SlideOptions())
    first = shown[0]
    assert [(one.bars, set(one.staves)) for one in first.stretches] == [
        (range(4, 7), {0, 2}),
        (range(40, 41), {1}),
    ]
    assert [one.name for one in first.regions] == ["Returning", "Near"]
    assert first.own_regions == {returning.id}
    alone = passages(score, layer, load_vocabulary(), SlideOptions(other_regions=False))
    assert [one.name for one in alone[0].regions] == ["Returning"]


def test_a_span_that_ends_on_a_barline_does_not_take_the_next_bar(score):
    layer = layer_of(
        score, [region(score, span(4, 6, 0)), region(score, span(8, 9, 0, until="1/8"))]
    )
    shown = passages(score, layer, load_vocabulary(), SlideOptions())
    assert [one.stretches[0].bars for one in shown] == [range(4, 6), range(8, 10)]


def test_times_are_told_as_players_show_them(score):
    one = region(score, span(4, 6, 0))
    times = [(62.9, 75.0), (3725.0, None), (None, None)]
    entries = [entry_on(one, "x", start_seconds=a, end_seconds=b) for a, b in times]
    shown = passages(score, layer_of(score, [one], entries), load_vocabulary(), SlideOptions())
    assert {passage.time for passage in shown} == {"1:02\u20131:15", "1:02:05", ""}


def test_bars_are_told_by_printed_numbers(chorale):
    # The chorale begins with a pickup, which music21's edition numbers 0.
    assert bar_text(chorale.score, range(0, 1)) == "b. 0"
    assert bar_text(chorale.score, range(0, 3)) == "bb. 0\u20132"
    assert bar_text(chorale.score, range(0)) == ""


def test_the_title_slide_says_who_and_what(orchestra):
    one = region(orchestra.score, span(0, 1, 0), author="R. Quill")
    layer = layer_of(orchestra.score, [one], [entry_on(one, "x", author="P. Marten")], "On hills")
    title = title_slide(orchestra.score, layer, SlideOptions())
    assert (title.title, title.composer, title.lesson) == ("Seven Hills", "Ada Ferrow", "On hills")
    assert title.author == "P. Marten, R. Quill"
    assert "Edition of the Lantern Press, 2031" in title.credit
    assert title.changed.endswith("Z")


def test_a_score_without_title_bears_its_file_name(chorale):
    layer = layer_of(chorale.score, [])
    assert title_slide(chorale.score, layer, SlideOptions()).title == "bwv66.6"
    assert foot_line(chorale.score, layer).startswith("bwv66.6.")


def test_the_foot_names_all_credits_of_the_layer(orchestra):
    layer = layer_of(orchestra.score, [])
    layer = msgspec.structs.replace(layer, credits=("Edition: Lantern Press", "Marks: R. Quill."))
    foot = foot_line(orchestra.score, layer)
    assert foot == "Ada Ferrow: Seven Hills. Edition: Lantern Press. Marks: R. Quill."


def test_own_tags_and_lost_colours_are_understood(score):
    one = region(score, span(4, 6, 0), tags=("no-such-tag",), colour="no-such-colour")
    (marked,) = marked_regions(score, layer_of(score, [one]), load_vocabulary())
    assert marked.tags == ("no-such-tag",)
    assert marked.colour.startswith("#")
    assert len(marked.colour) == 7


def test_where_a_region_shows(score):
    one = region(score, span(4, 6, 0, 3))
    (marked,) = marked_regions(score, layer_of(score, [one]), load_vocabulary())
    assert is_on(marked, range(5, 9), (3,))
    assert not is_on(marked, range(6, 9), (3,))
    assert not is_on(marked, range(0, 4), (3,))
    assert not is_on(marked, range(5, 9), (1, 2))
