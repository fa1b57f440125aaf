from __future__ import annotations

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from stavelight.annotation.commentary import Entry, OnRegion, OnScore, OnSpans
from stavelight.annotation.editing import (
    add_entry,
    add_region,
    add_regions,
    attach_to,
    change_entry,
    change_region,
    change_regions,
    move_edges,
    put_lesson,
    put_own_tag,
    remove_entry,
    remove_region,
    remove_regions,
    replace_entry,
    replace_region,
    retag,
)
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_text import encode_layer
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.region import Place, Region, StaffRef
from stavelight.annotation.tags import Tag
from stavelight.score.structure import Score

LATER = "2031-06-01T00:00:00Z"

EDITS: dict[str, Callable[[Layer], Layer]] = {
    "add_region": lambda layer: add_region(layer, Region(id="new", spans=())),
    "change_region": lambda layer: change_region(layer, "r-first", label="New"),
    "move_edges": lambda layer: move_edges(layer, "r-first", end=Place(bar=5)),
    "retag": lambda layer: retag(layer, ["r-first", "r-second"], add=["bass"]),
    "remove_region": lambda layer: remove_region(layer, "r-second"),
    "add_entry": lambda layer: add_entry(layer, Entry(id="new")),
    "change_entry": lambda layer: change_entry(layer, "e-one", text="New"),
    "remove_entry": lambda layer: remove_entry(layer, "e-two"),
    "put_lesson": lambda layer: put_lesson(layer, Lesson(id="l-all", title="New")),
    "put_own_tag": lambda layer: put_own_tag(layer, Tag(id="own-new", label="New")),
}


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_an_edit_makes_another_layer_and_leaves_the_first_alone(
    rich_layer: Layer, edit: Callable[[Layer], Layer]
):
    before = encode_layer(rich_layer)
    after = edit(rich_layer)
    assert after != rich_layer
    assert encode_layer(rich_layer) == before


def test_added_regions_come_last(rich_layer: Layer):
    new = [Region(id="x", spans=()), Region(id="y", spans=())]
    layer = add_regions(rich_layer, new)
    assert layer.regions == (*rich_layer.regions, *new)
    assert layer.region("y") is new[1]


@pytest.mark.parametrize("ids", [["r-first"], ["x", "x"]])
def test_an_id_is_not_given_twice(rich_layer: Layer, ids: list[str]):
    with pytest.raises(ValueError, match="twice"):
        add_regions(rich_layer, [Region(id=one, spans=()) for one in ids])
    with pytest.raises(ValueError, match="twice"):
        add_entry(rich_layer, Entry(id="e-one"))


def test_a_change_is_dated_and_leaves_the_others_alone(rich_layer: Layer):
    layer = change_region(rich_layer, "r-first", colour="blue", label="New", when=LATER)
    assert layer.regions[0] is rich_layer.regions[0]
    assert layer.regions[1] == replace(rich_layer.regions[1], label="New", changed=LATER)
    assert layer.entries is rich_layer.entries


def test_what_changes_nothing_is_not_dated(rich_layer: Layer):
    assert change_region(rich_layer, "r-first", colour="blue", when=LATER) == rich_layer
    assert change_entry(rich_layer, "e-one", kind="commentary", when=LATER) is rich_layer


def test_an_id_never_changes(rich_layer: Layer):
    layer = change_region(rich_layer, "r-first", id="other", label="x")
    assert [region.id for region in layer.regions] == ["r-second", "r-first"]
    assert change_entry(rich_layer, "e-one", id="other", text="x").entries[0].id == "e-one"


def test_a_region_is_replaced_in_its_place(rich_layer: Layer):
    new = Region(id="r-second", spans=(), label="Other")
    layer = replace_region(rich_layer, new, when=LATER)
    assert layer.regions == (replace(new, changed=LATER), rich_layer.regions[1])


def test_unknown_ids_are_a_fault_of_the_caller(rich_layer: Layer):
    with pytest.raises(KeyError):
        change_region(rich_layer, "gone", label="x")
    with pytest.raises(KeyError):
        change_entry(rich_layer, "gone", text="x")
    assert remove_regions(rich_layer, ["gone"]) == rich_layer


def test_several_regions_change_at_once(rich_layer: Layer):
    layer = change_regions(
        rich_layer, ["r-first", "r-second"], lambda one: replace(one, author="B"), when=LATER
    )
    assert {(one.author, one.changed) for one in layer.regions} == {("B", LATER)}


def test_edges_move_alone_or_together(rich_layer: Layer):
    old = rich_layer.regions[0].spans
    start, end = Place(bar=4, offset="1/2"), Place(bar=5, offset="3/4")
    staff = StaffRef(part="P2", staff=1, name="Clarinet in B flat")
    moved = move_edges(rich_layer, "r-second", span=1, start=start)
    assert moved.regions[0].spans == (old[0], replace(old[1], start=start))
    moved = move_edges(rich_layer, "r-second", span=1, start=start, end=end, staves=[staff])
    assert moved.regions[0].spans[1] == replace(old[1], start=start, end=end, staves=(staff,))


def test_tags_are_added_once_and_removed(rich_layer: Layer):
    layer = retag(rich_layer, ["r-second", "r-first"], add=["bass", "melody"], remove=["octave"])
    assert layer.regions[0].tags == ("melody", "own-shimmer", "bass")
    assert layer.regions[1].tags == ("bass", "melody")
    layer = retag(layer, ["r-second"], remove=["melody", "bass"])
    assert layer.regions[0].tags == ("own-shimmer",)


def test_entries_outlive_their_region_and_keep_its_spans(rich_layer: Layer):
    layer = remove_region(rich_layer, "r-second", when=LATER)
    assert [region.id for region in layer.regions] == ["r-first"]
    spans = rich_layer.regions[0].spans
    assert layer.entries[0].target == OnSpans(spans=spans)
    assert layer.entries[0].changed == LATER
    assert layer.entries[1:] == rich_layer.entries[1:]
    assert layer.spans_of(layer.entries[0]) == spans


def test_entries_of_a_region_without_spans_are_about_the_score_then(rich_layer: Layer):
    layer = add_region(rich_layer, Region(id="bare", spans=()))
    layer = add_entry(layer, Entry(id="e-bare", target=OnRegion(region="bare")))
    assert remove_region(layer, "bare").entries[-1].target == OnScore()


def test_lessons_lose_what_is_removed(rich_layer: Layer):
    assert remove_region(rich_layer, "r-first").lessons[1].items == ("e-two",)
    assert remove_entry(rich_layer, "e-two").lessons[1].items == ("r-first",)
    assert remove_entry(rich_layer, "e-two").lessons[0] is rich_layer.lessons[0]


def test_entries_are_changed_replaced_and_removed(rich_layer: Layer):
    layer = change_entry(rich_layer, "e-two", start_seconds=1.5, when=LATER)
    assert layer.entries[1] == replace(rich_layer.entries[1], start_seconds=1.5, changed=LATER)
    new = Entry(id="e-one", text="All new")
    layer = replace_entry(rich_layer, new, when=LATER)
    assert layer.entries[0] == replace(new, changed=LATER)
    assert [one.id for one in remove_entry(rich_layer, "e-two").entries] == ["e-one", "e-three"]


def test_lessons_and_own_tags_are_added_or_put_in_place(rich_layer: Layer):
    lesson = Lesson(id="l-all", title="New")
    assert put_lesson(rich_layer, lesson).lessons == (lesson, rich_layer.lessons[1])
    other = Lesson(id="l-three")
    assert put_lesson(rich_layer, other).lessons == (*rich_layer.lessons, other)
    tag = Tag(id="own-shimmer", label="Glitter")
    assert put_own_tag(rich_layer, tag).own_tags == (tag,)


def test_a_layer_is_attached_to_another_score(rich_layer: Layer, score: Score):
    import dataclasses

    revised = dataclasses.replace(score, sha256="cd" * 32, title="Evening Walk, revised")
    layer = attach_to(rich_layer, revised)
    assert layer.score.sha256 == "cd" * 32
    assert layer.regions == rich_layer.regions
