from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from stavelight.annotation import editing
from stavelight.annotation.commentary import Entry
from stavelight.annotation.history import History
from stavelight.annotation.layer import Layer
from stavelight.annotation.region import Region


def relabelled(layer: Layer, label: str) -> Layer:
    return editing.change_region(layer, "r-first", label=label, when="")


def test_undo_and_redo_go_back_and_forth_by_name(rich_layer: Layer):
    history = History(rich_layer)
    assert (history.undo_name, history.redo_name) == (None, None)
    second = relabelled(rich_layer, "Second")
    history.record(second, "Rename region 'Second'")
    third = editing.remove_region(second, "r-second", when="")
    history.record(third, "Delete region")
    assert (history.undo_name, history.redo_name) == ("Delete region", None)
    assert history.undo() == second
    assert (history.undo_name, history.redo_name) == ("Rename region 'Second'", "Delete region")
    assert history.undo() == rich_layer
    assert history.undo_name is None
    assert history.redo() == second
    assert history.redo() == third == history.layer


def test_there_is_nothing_before_the_first_and_after_the_last(rich_layer: Layer):
    history = History(rich_layer)
    with pytest.raises(IndexError):
        history.undo()
    with pytest.raises(IndexError):
        history.redo()


def test_a_new_edit_forgets_what_was_undone(rich_layer: Layer):
    history = History(rich_layer)
    history.record(relabelled(rich_layer, "A"), "A")
    history.undo()
    history.record(relabelled(rich_layer, "B"), "B")
    assert history.redo_name is None
    assert history.undo() == rich_layer


def test_what_changes_nothing_is_no_step(rich_layer: Layer):
    history = History(rich_layer)
    assert not history.record(rich_layer, "Nothing")
    assert not history.record(replace(rich_layer, regions=(*rich_layer.regions,)), "Nothing")
    same = tuple(replace(region) for region in rich_layer.regions)
    assert not history.record(replace(rich_layer, regions=same), "Nothing")
    assert history.undo_name is None


def test_unsaved_is_what_differs_from_the_last_save(rich_layer: Layer):
    history = History(rich_layer)
    assert not history.has_unsaved
    history.record(relabelled(rich_layer, "A"), "A")
    assert history.has_unsaved
    history.mark_saved()
    assert not history.has_unsaved
    assert history.undo_name == "A"
    history.undo()
    assert history.has_unsaved
    history.redo()
    assert not history.has_unsaved


def test_a_saved_state_that_can_no_longer_be_reached_stays_unsaved(rich_layer: Layer):
    history = History(rich_layer)
    history.record(relabelled(rich_layer, "A"), "A")
    history.mark_saved()
    history.undo()
    history.record(relabelled(rich_layer, "B"), "B")
    assert history.has_unsaved
    history.undo()
    assert history.has_unsaved


def test_a_layer_that_was_never_saved_is_unsaved(rich_layer: Layer):
    assert History(rich_layer, saved=False).has_unsaved


def type_letters(history: History, letters: str) -> None:
    for letter in letters:
        region = history.layer.region("r-first")
        assert region is not None
        layer = relabelled(history.layer, region.label + letter)
        history.record(layer, f"Rename region {region.label + letter!r}", gesture="label r-first")


def test_letters_typed_one_after_the_other_are_one_step(rich_layer: Layer):
    history = History(rich_layer)
    type_letters(history, "theme")
    assert history.undo_name == "Rename region 'theme'"
    assert history.undo() == rich_layer
    assert history.undo_name is None
    region = history.redo().region("r-first")
    assert region is not None
    assert region.label == "theme"


def test_another_edit_between_parts_a_gesture(rich_layer: Layer):
    history = History(rich_layer)
    type_letters(history, "the")
    history.record(editing.retag(history.layer, ["r-first"], add=["bass"], when=""), "Tag")
    type_letters(history, "me")
    history.undo()
    assert history.undo_name == "Tag"


@pytest.mark.parametrize("between", ["save", "undo and redo", "end"])
def test_a_save_an_undo_and_an_end_part_a_gesture(rich_layer: Layer, between: str):
    history = History(rich_layer)
    type_letters(history, "the")
    if between == "save":
        history.mark_saved()
    elif between == "end":
        history.end_gesture()
    else:
        history.undo()
        history.redo()
    middle = history.layer
    type_letters(history, "me")
    assert history.undo() == middle
    assert history.undo() == rich_layer


def test_a_gesture_that_comes_back_to_its_beginning_leaves_no_step(rich_layer: Layer):
    history = History(rich_layer)
    type_letters(history, "x")
    assert history.has_unsaved
    assert history.record(rich_layer, "Rename region", gesture="label r-first")
    assert history.undo_name is None
    assert not history.has_unsaved
    assert history.layer == rich_layer


def test_fields_that_are_no_lists_come_back_too(rich_layer: Layer):
    history = History(rich_layer)
    reference = replace(rich_layer.score, sha256="cd" * 32)
    after = replace(rich_layer, score=reference, unknown_fields='{"a": 1}', credits=())
    history.record(after, "Attach to another score")
    assert history.undo() == rich_layer
    assert history.redo() == after


@pytest.mark.parametrize("number", range(8))
def test_any_walk_back_and_forth_finds_every_state(rich_layer: Layer, number: int):
    chance = random.Random(number)
    history = History(rich_layer)
    states, at, saved = [rich_layer], 0, 0
    for step in range(150):
        choice = chance.random()
        if choice < 0.25 and at > 0:
            at -= 1
            history.undo()
        elif choice < 0.45 and at < len(states) - 1:
            at += 1
            history.redo()
        elif choice < 0.5:
            saved = at
            history.mark_saved()
        else:
            after = random_edit(history.layer, chance, step)
            if history.record(after, str(step)):
                if saved > at:
                    saved = -1
                states[at + 1 :] = [after]
                at += 1
        assert history.layer == states[at]
        assert history.has_unsaved == (saved != at)


def random_edit(layer: Layer, chance: random.Random, step: int) -> Layer:
    regions = [region.id for region in layer.regions]
    some = chance.sample(regions, chance.randrange(len(regions) + 1))
    kind = chance.randrange(6)
    if kind == 0:
        return editing.remove_regions(layer, some[:2])
    if kind == 1:
        return editing.retag(layer, some, add=[f"t{step}"], when="")
    if kind == 2:
        mixed = chance.sample(layer.regions, len(layer.regions))
        return replace(layer, regions=tuple(mixed), credits=(str(step),))
    if kind == 3:
        return editing.add_entry(layer, Entry(id=f"x{step}"))
    new = [Region(id=f"n{step}-{n}", spans=()) for n in range(chance.randrange(4))]
    return editing.add_regions(layer, new)
