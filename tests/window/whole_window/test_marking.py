from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from stavelight.annotation.region import Region
from stavelight.annotation.tags import load_vocabulary
from stavelight.window.main_window import MainWindow
from window.conftest import small_score_text
from window.view_score import drag, place
from window.whole_window.conftest import wait_for_score

FLUTE, OBOE, CLARINET, CELLO = range(4)
QUARTER = Fraction(1, 4)
Key = Qt.Key


def mark(
    qtbot: QtBot,
    window: MainWindow,
    start: tuple[int, Fraction | float, int],
    end: tuple[int, Fraction | float, int],
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
) -> Region:
    """Drag from one bar, moment and staff to another, and return the region."""
    aside = QPoint(2, 0)  # just after the moment
    here, there = place(window.view, *start) + aside, place(window.view, *end) + aside
    drag(qtbot, window.view, here, there, modifiers)
    selected = window.session.desk.selected
    assert selected is not None
    return selected


def tag(qtbot: QtBot, window: MainWindow, *words: str) -> None:
    """Type tags into the line that has the keyboard, and leave it."""
    line = window.display.region_panel.tags.line
    qtbot.waitUntil(line.hasFocus)
    for word in words:
        qtbot.keyClicks(line, word)
        qtbot.keyClick(line, Key.Key_Return)
    qtbot.keyClick(line, Key.Key_Escape)
    assert window.view.hasFocus()


def save(qtbot: QtBot, window: MainWindow) -> dict[str, Any]:
    """Save with the menu, and return what lies on disk."""
    with qtbot.waitSignal(window.session.saved):
        window.actions_["save"].trigger()
    return json.loads(window.session.layer_path.read_text(encoding="utf-8"))


def selected(window: MainWindow) -> Region:
    region = window.session.desk.selected
    assert region is not None
    return region


def test_what_is_dragged_tagged_and_saved_is_what_lies_on_disk(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    before = small_score.read_bytes()
    mark(qtbot, window, (1, QUARTER, FLUTE), (3, 2 * QUARTER, CLARINET))
    tag(qtbot, window, "melody", "octave")
    on_disk = save(qtbot, window)
    [region] = on_disk["regions"]
    [span] = region["spans"]
    # Second beat of bar 2 to the third beat of bar 4, that beat included: written by hand.
    assert span["start"] == {"bar": 1, "offset": "1/4", "printed": "2"}
    assert span["end"] == {"bar": 3, "offset": "3/4", "printed": "4"}
    assert [(staff["part"], staff["name"]) for staff in span["staves"]] == [
        ("P1", "Flute"),
        ("P2", "Oboe"),
        ("P3", "Clarinet in B flat"),
    ]
    labels = [load_vocabulary().label(one) for one in region["tags"]]
    assert [label.casefold() for label in labels] == ["melody", "octave"]
    assert on_disk["score"]["file_name"] == "study.musicxml"
    assert window.session.layer_path == small_score.with_name("study.layer.json")
    assert small_score.read_bytes() == before


def test_a_layer_opens_again_as_it_was_saved(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 3 * QUARTER, OBOE))
    tag(qtbot, window, "unison")
    mark(qtbot, window, (2, 0, CELLO), (3, 0, CELLO), Qt.KeyboardModifier.ShiftModifier)
    tag(qtbot, window, "pedal")
    first = save(qtbot, window)
    layer = window.session.desk.layer
    window.actions_["close"].trigger()
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    assert window.session.desk.layer == layer
    assert not window.isWindowModified()
    names = [
        window.display.region_panel.list.topLevelItem(row).text(0).casefold() for row in range(2)
    ]
    assert names == ["unison", "pedal"]
    assert save(qtbot, window) == first


def test_whole_bars_with_shift(qtbot: QtBot, window: MainWindow) -> None:
    mark(
        qtbot,
        window,
        (1, QUARTER, FLUTE),
        (2, QUARTER, FLUTE),
        Qt.KeyboardModifier.ShiftModifier,
    )
    [span] = window.session.desk.spans(selected(window))
    assert (span.start.bar, span.start.offset) == (1, 0)
    assert (span.end.bar, span.end.offset) == (2, 1)


def test_the_title_tells_what_is_unsaved(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (0, QUARTER, FLUTE))
    assert window.isWindowModified()
    save(qtbot, window)
    assert not window.isWindowModified()
    window.actions_["undo"].trigger()
    assert window.isWindowModified()
    window.actions_["redo"].trigger()
    assert not window.isWindowModified()


def test_all_of_it_can_be_undone_and_done_again(qtbot: QtBot, window: MainWindow) -> None:
    desk = window.session.desk
    panel = window.display.region_panel
    layers = [desk.layer]
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    layers.append(desk.layer)
    tag(qtbot, window, "melody")
    layers.append(desk.layer)
    panel.label.setFocus()
    qtbot.keyClicks(panel.label, "Opening call")
    qtbot.keyClick(panel.label, Key.Key_Return)
    layers.append(desk.layer)
    window.view.setFocus()
    qtbot.keyClick(window.view, Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    layers.append(desk.layer)
    qtbot.keyClick(window.view, Key.Key_Delete)
    layers.append(desk.layer)
    assert desk.regions() == ()
    assert len(set(map(id, layers))) == 6
    undo, redo = window.actions_["undo"], window.actions_["redo"]
    for before in reversed(layers[:-1]):
        assert undo.isEnabled()
        undo.trigger()
        assert desk.layer == before
    assert not undo.isEnabled()
    for after in layers[1:]:
        redo.trigger()
        assert desk.layer == after
    assert not redo.isEnabled()


def test_the_menu_names_what_is_undone(qtbot: QtBot, window: MainWindow) -> None:
    assert window.actions_["undo"].text() == "&Undo"
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    assert window.actions_["undo"].text() == "&Undo: Mark a region"
    tag(qtbot, window, "melody")
    assert window.actions_["undo"].text().casefold() == "&undo: tag: melody"


def test_a_tag_is_found_by_its_other_names(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    picker = window.display.region_panel.tags
    qtbot.waitUntil(picker.line.hasFocus)
    # "con sordino" is Italian for muted (common usage in scores, no source).
    qtbot.keyClicks(picker.line, "con sord")
    assert picker.offered[0].casefold().startswith("mute")
    assert "(con sord" in picker.offered[0].casefold()
    picker.line.clear()
    qtbot.keyClicks(picker.line, "zzzz")
    assert picker.offered == ()
    qtbot.keyClick(picker.line, Key.Key_Return)
    assert selected(window).tags == ()


def test_a_first_tag_brings_its_look_and_a_hand_keeps_it(qtbot: QtBot, window: MainWindow) -> None:
    vocabulary = load_vocabulary()
    melody = next(tag for tag in vocabulary.tags if tag.label.casefold() == "melody")
    bass = next(tag for tag in vocabulary.tags if tag.label.casefold() == "bass")
    panel = window.display.region_panel
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    tag(qtbot, window, "bass")
    assert (selected(window).colour, selected(window).pattern) == (bass.colour, bass.pattern)
    # The next one looks like the tag that was used last, until it has one of its own.
    mark(qtbot, window, (2, 0, OBOE), (3, 0, OBOE))
    assert (selected(window).colour, selected(window).pattern) == (bass.colour, bass.pattern)
    tag(qtbot, window, "melody")
    assert (selected(window).colour, selected(window).pattern) == (melody.colour, melody.pattern)
    # Chosen by hand, the look stays whatever the tags.
    mark(qtbot, window, (2, 0, CELLO), (3, 0, CELLO))
    names = [b for b in panel.colours.findChildren(QToolButton) if "purple" in b.toolTip()]
    qtbot.mouseClick(names[0], Qt.MouseButton.LeftButton)
    assert selected(window).colour == "reddish-purple"
    panel.tags.line.setFocus()
    tag(qtbot, window, "melody")
    assert selected(window).colour == "reddish-purple"


def test_tagging_like_the_one_before(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    tag(qtbot, window, "ostinato", "pizzicato")
    tagged = selected(window)
    mark(qtbot, window, (2, 0, CELLO), (3, 0, CELLO))
    qtbot.keyClick(window.display.region_panel.tags.line, Key.Key_Escape)
    qtbot.keyClick(window.view, Key.Key_T, Qt.KeyboardModifier.ShiftModifier)
    again = selected(window)
    assert again.id != tagged.id
    assert (again.tags, again.colour, again.pattern) == (
        tagged.tags,
        tagged.colour,
        tagged.pattern,
    )


def test_a_letter_on_a_selected_region_begins_a_tag(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    line = window.display.region_panel.tags.line
    qtbot.keyClick(line, Key.Key_Escape)
    qtbot.keyClick(window.view, "m")
    assert line.hasFocus()
    assert line.text() == "m"
    qtbot.keyClick(line, Key.Key_Escape)
    qtbot.keyClick(window.view, Key.Key_T)
    assert line.hasFocus()
    assert line.text() == ""


def test_tags_are_taken_away_by_their_chip_and_by_backspace(
    qtbot: QtBot, window: MainWindow
) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    tag(qtbot, window, "melody", "unison", "octave")
    panel = window.display.region_panel

    def visible_chips() -> list[QToolButton]:
        return [one for one in panel.tags.findChildren(QToolButton) if one.isVisible()]

    qtbot.waitUntil(lambda: len(visible_chips()) == 3)
    chips = visible_chips()
    assert [chip.text().split()[0].casefold() for chip in chips] == ["melody", "unison", "octave"]
    qtbot.mouseClick(chips[1], Qt.MouseButton.LeftButton)
    panel.tags.line.setFocus()
    qtbot.keyClick(panel.tags.line, Key.Key_Backspace)
    assert [load_vocabulary().label(one).casefold() for one in selected(window).tags] == ["melody"]


def test_label_memo_and_certainty_are_saved(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    panel = window.display.region_panel
    panel.label.setFocus()
    qtbot.keyClicks(panel.label, "Call")
    panel.memo.setFocus()
    qtbot.keyClicks(panel.memo, "Ask about the grace notes")
    [likely] = [one for one in panel.findChildren(QToolButton) if one.text() == "Likely"]
    qtbot.mouseClick(likely, Qt.MouseButton.LeftButton)
    [region] = save(qtbot, window)["regions"]
    assert region["label"] == "Call"
    assert region["memo"] == "Ask about the grace notes"
    assert region["certainty"] == "likely"


def test_what_is_half_typed_is_saved_too(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    panel = window.display.region_panel
    panel.memo.setFocus()
    qtbot.keyClicks(panel.memo, "half a thou")
    [region] = save(qtbot, window)["regions"]
    assert region["memo"] == "half a thou"


def test_half_typed_labels_stay_with_their_region(qtbot: QtBot, window: MainWindow) -> None:
    first = mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    tag(qtbot, window)
    panel = window.display.region_panel
    panel.label.setFocus()
    qtbot.keyClicks(panel.label, "the first")
    second = mark(qtbot, window, (2, 0, CELLO), (3, 0, CELLO))
    desk = window.session.desk
    assert desk.region(first.id).label == "the first"
    assert desk.region(second.id).label == ""
    assert panel.label.text() == ""


def test_stepping_from_region_to_region(qtbot: QtBot, window: MainWindow) -> None:
    ids = [
        mark(qtbot, window, (bar, 0, staff), (bar, 2 * QUARTER, staff)).id
        for bar, staff in ((4, OBOE), (0, FLUTE), (2, CELLO))
    ]
    window.actions_["select_nothing"].trigger()
    seen = []
    for _ in range(4):
        window.actions_["next_region"].trigger()
        seen.append(selected(window).id)
    assert seen == [ids[1], ids[2], ids[0], ids[0]]
    window.actions_["previous_region"].trigger()
    assert selected(window).id == ids[2]


def test_the_list_of_regions_selects_and_goes_there(
    qtbot: QtBot, open_score: Callable[[Path], MainWindow], tmp_path: Path
) -> None:
    path = tmp_path / "long.musicxml"
    path.write_text(small_score_text(120), encoding="utf-8")
    window = open_score(path)
    region = mark(qtbot, window, (0, 0, FLUTE), (1, 0, FLUTE))
    tag(qtbot, window)
    window.actions_["select_nothing"].trigger()
    pages = window.session.engraved.plan.result().pages
    assert len(pages) > 2
    window.view.go_to_page(len(pages))
    qtbot.waitUntil(lambda: window.view.is_settled)
    panel = window.display.region_panel
    item = panel.list.topLevelItem(0)
    where = panel.list.visualItemRect(item).center()
    qtbot.mouseClick(panel.list.viewport(), Qt.MouseButton.LeftButton, pos=where)
    assert selected(window).id == region.id
    assert window.view.page_number == 1
