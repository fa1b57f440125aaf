from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from stavelight.annotation.commentary import Entry, OnRegion, OnScore
from stavelight.annotation.layer import FORMAT_VERSION, Layer, new_layer
from stavelight.annotation.lesson import Lesson, new_lesson
from stavelight.score.structure import Score


def test_a_new_layer_names_its_score_and_has_a_lesson(score: Score):
    layer = new_layer(score)
    assert layer.score.file_name == "evening.musicxml"
    assert layer.score.sha256 == score.sha256
    assert layer.score.title == "Evening Walk"
    assert layer.format_version == FORMAT_VERSION
    assert layer.credits == ("Edition made for these tests",)
    assert [lesson.order for lesson in layer.lessons] == ["score"]
    assert layer.lesson is layer.lessons[0]


def test_a_score_name_that_is_no_text_can_still_be_stored(score: Score):
    strange = Path(b"caf\xe9.mxl".decode("utf-8", "surrogateescape"))
    name = new_layer(replace_path(score, strange)).score.file_name
    assert name.encode() == b"caf?.mxl"


def replace_path(score: Score, path: Path) -> Score:
    import dataclasses

    return dataclasses.replace(score, path=path, credit="")


def test_records_are_found_by_id(rich_layer: Layer):
    assert rich_layer.region("r-first") is rich_layer.regions[1]
    assert rich_layer.entry("e-three") is rich_layer.entries[2]
    assert rich_layer.region("e-three") is None
    assert rich_layer.entry("r-first") is None
    assert rich_layer.entries_on("r-second") == (rich_layer.entries[0],)
    assert rich_layer.entries_on("r-first") == ()
    assert rich_layer.spans_of(rich_layer.entries[0]) == rich_layer.regions[0].spans


def test_a_layer_cannot_be_changed(rich_layer: Layer):
    with pytest.raises(AttributeError):
        rich_layer.regions = ()  # type: ignore[misc]


def test_score_order(rich_layer: Layer):
    assert [one.id for one in rich_layer.regions_in_score_order()] == ["r-first", "r-second"]
    entries = [one.id for one in rich_layer.entries_in_score_order()]
    assert entries == ["e-three", "e-one", "e-two"]
    assert [one.id for one in rich_layer.entries_in_time_order()] == ["e-two", "e-three", "e-one"]


def ids(layer: Layer, lesson: Lesson | None = None) -> list[str]:
    return [item.id for item in layer.lesson_items(lesson)]


def test_a_lesson_in_score_order_shows_entries_and_regions_without_one(rich_layer: Layer):
    assert ids(rich_layer) == ["e-three", "r-first", "e-one", "e-two"]


def test_a_lesson_in_time_order_begins_with_what_has_a_time(rich_layer: Layer):
    timed = new_lesson("Timed", "time")
    assert ids(rich_layer, timed) == ["e-two", "e-three", "r-first", "e-one"]


def test_a_listed_lesson_shows_what_is_listed_and_still_there(rich_layer: Layer):
    assert ids(rich_layer, rich_layer.lessons[1]) == ["e-two", "r-first"]
    gone = Lesson(id="x", order="listed", items=("gone", "r-second"))
    assert ids(rich_layer, gone) == ["r-second"]


def test_a_layer_without_lessons_shows_everything(rich_layer: Layer):
    assert ids(replace(rich_layer, lessons=())) == ["e-three", "r-first", "e-one", "e-two"]


def test_an_entry_about_a_lost_region_is_shown_last(rich_layer: Layer):
    lost = Entry(id="e-lost", target=OnRegion(region="gone"))
    layer = replace(rich_layer, entries=(lost, *rich_layer.entries))
    assert ids(layer)[-1] == "e-lost"
    assert layer.entries[-1].target == OnScore()
