from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from stavelight.annotation.commentary import OnRegion, OnScore, OnSpans
from stavelight.window.main_window import MainWindow
from window.whole_window.test_marking import CELLO, FLUTE, OBOE, mark, save, tag

Key = Qt.Key


def begin(qtbot: QtBot, window: MainWindow, text: str) -> str:
    """Begin an entry with the keys, type a text, and return the entry's id."""
    window.view.setFocus()
    qtbot.keyClick(window.view, Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    panel = window.display.commentary_panel
    qtbot.waitUntil(panel.text.hasFocus)
    qtbot.keyClicks(panel.text, text)
    panel.text.hand_over()
    entry = window.session.desk.chosen_entry
    assert entry is not None
    return entry.id


def give_times(qtbot: QtBot, window: MainWindow, start: str, end: str) -> None:
    panel = window.display.commentary_panel
    for field, typed in ((panel.start, start), (panel.end, end)):
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, typed)
        qtbot.keyClick(field, Key.Key_Return)


def about(window: MainWindow, typed: str) -> None:
    """Type what the entry is about."""
    field = window.display.commentary_panel.about
    field.setEditText(typed)
    field.hand_over()


def headings(window: MainWindow) -> list[str]:
    entries = window.display.commentary_panel.list
    return [entries.topLevelItem(row).text(1) for row in range(entries.topLevelItemCount())]


def test_an_entry_about_the_selected_region_with_times(qtbot: QtBot, window: MainWindow) -> None:
    region = mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window, "melody")
    begin(qtbot, window, "The flute leads.")
    give_times(qtbot, window, "1:02.5", "1:10")
    [entry] = save(qtbot, window)["entries"]
    assert entry["target"] == {"on": "region", "region": region.id}
    assert entry["text"] == "The flute leads."
    assert (entry["start_seconds"], entry["end_seconds"]) == (62.5, 70.0)
    assert window.display.commentary_panel.start.text() == "01:02.500"


def test_without_a_selection_an_entry_is_about_the_whole_score(
    qtbot: QtBot, window: MainWindow
) -> None:
    begin(qtbot, window, "A study.")
    assert window.session.desk.chosen_entry.target == OnScore()
    assert window.display.commentary_panel.about.currentText() == "The whole score"


def test_times_that_are_none_are_refused_beside_the_field(qtbot: QtBot, window: MainWindow) -> None:
    begin(qtbot, window, "Text")
    panel = window.display.commentary_panel
    for typed in ("abc", "1:75", "-3", "1:2:3:4"):
        give_times(qtbot, window, typed, "")
        assert panel.fault.isVisible(), typed
        assert typed in panel.fault.text()
        assert window.session.desk.chosen_entry.start_seconds is None
    give_times(qtbot, window, "0:20", "0:10")
    assert "before it begins" in panel.fault.text()
    assert window.session.desk.chosen_entry.end_seconds is None
    give_times(qtbot, window, "0:20", "0:30")
    assert not panel.fault.isVisible()
    assert window.session.desk.chosen_entry.end_seconds == 30.0


def test_the_order_of_the_score_and_that_of_the_recording(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (3, 0, FLUTE), (4, 0, FLUTE))
    tag(qtbot, window)
    begin(qtbot, window, "late in the score")
    give_times(qtbot, window, "0:05", "")
    mark(qtbot, window, (0, 0, CELLO), (1, 0, CELLO))
    tag(qtbot, window)
    begin(qtbot, window, "early in the score")
    give_times(qtbot, window, "1:00", "")
    window.actions_["select_nothing"].trigger()
    begin(qtbot, window, "of the whole")
    panel = window.display.commentary_panel
    assert headings(window) == ["of the whole", "early in the score", "late in the score"]
    panel.order.setCurrentIndex(1)
    panel.order.activated.emit(1)
    assert headings(window) == ["late in the score", "early in the score", "of the whole"]
    times = [panel.list.topLevelItem(row).text(0) for row in range(3)]
    assert times == ["0:05", "1:00", ""]


def test_a_click_on_an_entry_goes_there_and_selects_its_region(
    qtbot: QtBot, window: MainWindow
) -> None:
    region = mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window)
    first = begin(qtbot, window, "about the region")
    window.actions_["select_nothing"].trigger()
    last = len(window.session.engraved.plan.result().pages)
    window.view.go_to_page(last)
    qtbot.waitUntil(lambda: window.view.is_settled)
    panel = window.display.commentary_panel
    where = panel.list.visualItemRect(panel.list.topLevelItem(0)).center() + QPoint(20, 0)
    qtbot.mouseClick(panel.list.viewport(), Qt.MouseButton.LeftButton, pos=where)
    assert window.session.desk.chosen_entry.id == first
    assert window.session.desk.selected.id == region.id
    assert window.view.page_number == 1


def test_an_entry_is_tied_to_bars_by_typing_them(qtbot: QtBot, window: MainWindow) -> None:
    begin(qtbot, window, "Text")
    about(window, "5-8")
    target = window.session.desk.chosen_entry.target
    assert isinstance(target, OnSpans)
    [span] = target.spans
    # Bars 5 to 8 as printed are the indices 4 to 7; the end is that of the last of them.
    assert (span.start.bar, span.start.offset, span.start.printed) == (4, "0", "5")
    assert (span.end.bar, span.end.offset, span.end.printed) == (7, "1", "8")
    assert len(span.staves) == 4
    panel = window.display.commentary_panel
    about(window, "90-95")
    assert "no bar 90" in panel.fault.text()
    assert window.session.desk.chosen_entry.target == target
    about(window, "The whole score")
    assert window.session.desk.chosen_entry.target == OnScore()
    assert not panel.fault.isVisible()


def test_an_entry_is_tied_to_another_region_by_choosing_it(
    qtbot: QtBot, window: MainWindow
) -> None:
    begin(qtbot, window, "Text")
    region = mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window, "melody")
    panel = window.display.commentary_panel
    at = next(
        index for index in range(panel.about.count()) if "elody" in panel.about.itemText(index)
    )
    panel.about.setCurrentIndex(at)
    panel.about.activated.emit(at)
    assert window.session.desk.chosen_entry.target == OnRegion(region=region.id)


def test_what_is_written_about_a_region_survives_it(qtbot: QtBot, window: MainWindow) -> None:
    region = mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window)
    begin(qtbot, window, "Text")
    window.view.setFocus()
    qtbot.keyClick(window.view, Key.Key_Delete)
    assert window.session.desk.regions() == ()
    assert window.session.desk.chosen_entry.target == OnSpans(spans=region.spans)
    window.actions_["undo"].trigger()
    assert window.session.desk.chosen_entry.target == OnRegion(region=region.id)


def test_an_entry_can_be_deleted_and_brought_back(qtbot: QtBot, window: MainWindow) -> None:
    begin(qtbot, window, "Text")
    panel = window.display.commentary_panel
    qtbot.mouseClick(panel.delete_button, Qt.MouseButton.LeftButton)
    assert window.session.desk.layer.entries == ()
    assert not panel.editor.isVisible()
    assert panel.hint.isVisible()
    window.actions_["undo"].trigger()
    assert headings(window) == ["Text"]


def test_a_heading_goes_before_the_text_in_the_list(qtbot: QtBot, window: MainWindow) -> None:
    begin(qtbot, window, "# **Light** *and* shade")
    assert headings(window) == ["Light and shade"]
    panel = window.display.commentary_panel
    panel.heading.setFocus()
    qtbot.keyClicks(panel.heading, "On colour")
    qtbot.keyClick(panel.heading, Key.Key_Return)
    assert headings(window) == ["On colour"]


def test_a_text_that_is_being_typed_is_not_lost_to_another_edit(
    qtbot: QtBot, window: MainWindow
) -> None:
    begin(qtbot, window, "Begin")
    panel = window.display.commentary_panel
    panel.text.setFocus()
    qtbot.keyClicks(panel.text, " and go on")
    window.session.desk.layer_changed.emit()  # whatever else may change meanwhile
    assert panel.text.toPlainText() == "Begin and go on"
    [entry] = save(qtbot, window)["entries"]
    assert entry["text"] == "Begin and go on"
