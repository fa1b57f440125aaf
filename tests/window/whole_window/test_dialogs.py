from __future__ import annotations

from pathlib import Path

import pptx
import pypdf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QComboBox,
    QInputDialog,
    QLabel,
    QLineEdit,
    QMenu,
    QTextBrowser,
    QWidget,
)
from pytestqt.qtbot import QtBot

from stavelight.window.actions import MENUS
from stavelight.window.export_dialog import ExportDialog
from stavelight.window.go_to_dialog import GoToDialog
from stavelight.window.main_window import MainWindow
from stavelight.window.score_information import ScoreInformation
from window.whole_window.test_marking import FLUTE, OBOE, mark, save, tag

Key = Qt.Key


def go_to(qtbot: QtBot, window: MainWindow) -> GoToDialog:
    window.actions_["go_to"].trigger()
    dialog = window.dialogs.shown
    assert isinstance(dialog, GoToDialog)
    return dialog


def test_going_to_a_bar(qtbot: QtBot, window: MainWindow) -> None:
    pages = window.session.engraved.plan.result()
    dialog = go_to(qtbot, window)
    qtbot.keyClicks(dialog.text, "24")
    assert dialog.places.topLevelItem(0).text(0) == "Bar 24"
    assert dialog.places.topLevelItem(0).text(2) == f"page {pages.page_of_bar(23)}"
    qtbot.keyClick(dialog.text, Key.Key_Return)
    qtbot.waitUntil(lambda: window.view.page_number == pages.page_of_bar(23))


def test_going_to_a_rehearsal_mark_with_the_arrow_keys(qtbot: QtBot, window: MainWindow) -> None:
    gone: list[int] = []
    dialog = go_to(qtbot, window)
    dialog.place_chosen.connect(gone.append)
    qtbot.keyClick(dialog.text, Key.Key_Down)
    qtbot.keyClick(dialog.text, Key.Key_Return)
    assert gone == [12]  # mark B, at bar 13


def test_a_bar_that_is_not_there_cannot_be_gone_to(qtbot: QtBot, window: MainWindow) -> None:
    dialog = go_to(qtbot, window)
    qtbot.keyClicks(dialog.text, "999")
    labels = [label.text() for label in dialog.findChildren(QLabel) if label.isVisible()]
    assert any("No such bar" in text for text in labels)
    qtbot.keyClick(dialog.text, Key.Key_Return)
    assert dialog.isVisible()
    qtbot.keyClick(dialog, Key.Key_Escape)
    assert not dialog.isVisible()


def test_the_information_names_parts_and_their_transpositions(
    qtbot: QtBot, window: MainWindow
) -> None:
    window.actions_["score_information"].trigger()
    dialog = window.dialogs.shown
    assert isinstance(dialog, ScoreInformation)
    texts = [label.text() for label in dialog.findChildren(QLabel)]
    assert "Study for Four" in texts
    assert "A. Nyone" in texts
    assert "24 bars, 4 staves, 384 notes" in texts  # 4 parts of 24 bars with 4 notes each


@pytest.fixture
def export(qtbot: QtBot, window: MainWindow) -> ExportDialog:
    """The export dialog over a score with a region."""
    mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window, "melody")
    save(qtbot, window)
    window.actions_["export_slides"].trigger()
    dialog = window.dialogs.shown
    assert isinstance(dialog, ExportDialog)
    return dialog


def finish(qtbot: QtBot, dialog: ExportDialog) -> None:
    qtbot.mouseClick(dialog.export_button, Qt.MouseButton.LeftButton)
    assert dialog.is_working
    qtbot.waitUntil(lambda: not dialog.is_working, timeout=60_000)


def test_slides_for_a_presentation(
    qtbot: QtBot, export: ExportDialog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    output = tmp_path / "lesson.pptx"
    export.output.setText(str(output))
    finish(qtbot, export)
    deck = pptx.Presentation(str(output))
    assert len(deck.slides) == 2  # the title, and the region
    opened: list[str] = []
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(url.toLocalFile()))
    assert export.show_button.isVisible()
    export.show_button.click()
    assert opened == [str(output)]


def test_slides_as_pdf_and_as_pictures(qtbot: QtBot, export: ExportDialog, tmp_path: Path) -> None:
    export.output.setText(str(tmp_path / "lesson"))
    export.formats.button(1).click()
    assert export.output.text() == str(tmp_path / "lesson.pdf")
    finish(qtbot, export)
    assert len(pypdf.PdfReader(tmp_path / "lesson.pdf").pages) == 2
    export.formats.button(2).click()
    assert export.output.text() == str(tmp_path / "lesson")
    finish(qtbot, export)
    assert len(list((tmp_path / "lesson").glob("*.png"))) == 2


def test_a_place_that_cannot_be_written_is_told_in_the_dialog(
    qtbot: QtBot, export: ExportDialog, tmp_path: Path
) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("", encoding="utf-8")
    export.output.setText(str(blocked / "lesson.pptx"))
    finish(qtbot, export)
    assert str(blocked) in export.outcome.text()
    assert not export.show_button.isVisible()
    assert export.isVisible()


def test_stopping_an_export_writes_nothing(
    qtbot: QtBot, export: ExportDialog, tmp_path: Path
) -> None:
    output = tmp_path / "lesson.pptx"
    export.output.setText(str(output))
    qtbot.mouseClick(export.export_button, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(export.export_button, Qt.MouseButton.LeftButton)
    assert not export.is_working
    qtbot.wait(1500)
    assert not output.exists()
    assert "nothing was written" in export.outcome.text()


def test_a_name_is_written_into_what_is_made(qtbot: QtBot, window: MainWindow) -> None:
    window.actions_["your_name"].trigger()
    dialog = window.dialogs.shown
    assert isinstance(dialog, QInputDialog)
    dialog.setTextValue("A. Nyone")
    dialog.accept()
    mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    assert window.session.desk.selected.author == "A. Nyone"
    assert window._settings.value("author/name") == "A. Nyone"


def test_every_action_does_something(window: MainWindow) -> None:
    assert window.actions_.unconnected() == ()


def test_no_keys_mean_two_things(window: MainWindow) -> None:
    seen: dict[str, str] = {}
    for entries in MENUS.values():
        for entry in entries:
            action = window.actions_[entry.name] if entry.name not in ("", "recent") else None
            for sequence in action.shortcuts() if action is not None else ():
                keys = sequence.toString()
                assert keys not in seen, f"{keys}: {entry.name} and {seen[keys]}"
                seen[keys] = entry.name


def test_no_letter_of_a_menu_is_given_twice(window: MainWindow) -> None:
    for menu_action in window.menuBar().actions():
        menu = menu_action.menu()
        assert isinstance(menu, QMenu)
        letters: dict[str, str] = {}
        for action in menu.actions():
            text = action.text().replace("&&", "")
            if "&" in text:
                letter = text[text.index("&") + 1].casefold()
                assert letter not in letters, f"{letter}: {text} and {letters[letter]}"
                letters[letter] = text


def test_the_keys_are_listed(qtbot: QtBot, window: MainWindow) -> None:
    window.actions_["keys"].trigger()
    [text] = window.dialogs.shown.findChildren(QTextBrowser)
    shown = text.toPlainText()
    assert "Tag the region" in shown
    assert "Insert, then arrows, Enter" in shown


def name_of(widget: QWidget) -> str:
    """Return what a screen reader says of a widget."""
    if widget.accessibleName():
        return widget.accessibleName()
    if isinstance(widget, QAbstractButton) and widget.text():
        return widget.text()
    for label in widget.window().findChildren(QLabel):
        if label.buddy() is widget:
            return label.text()
    return ""


def nameless(window: QWidget) -> list[str]:
    """Return the widgets that take the keyboard and have no name."""
    inner = (QComboBox, QAbstractSpinBox)
    return [
        f"{type(one).__name__} in {type(one.parentWidget()).__name__}"
        for one in window.findChildren(QWidget)
        if one.focusPolicy() & Qt.FocusPolicy.TabFocus
        and not (isinstance(one, QLineEdit) and isinstance(one.parentWidget(), inner))
        and not one.objectName().startswith("qt_")
        and one.window() is window  # not the lists that boxes drop down
        and not name_of(one)
    ]


def test_whatever_takes_the_keyboard_has_a_name(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    window.display.begin_entry()
    assert nameless(window) == []
    for name in ("go_to", "score_information", "export_slides", "keys", "your_name"):
        window.actions_[name].trigger()
        dialog = window.dialogs.shown
        assert dialog is not None
        assert nameless(dialog) == [], name
        dialog.close()


def test_the_panes_are_walked_through_by_keyboard(qtbot: QtBot, window: MainWindow) -> None:
    window.view.setFocus()
    mark(qtbot, window, (1, 0, FLUTE), (2, 0, OBOE))
    tag(qtbot, window)
    seen = []
    for _ in range(6):
        focus = window.focusWidget()
        for name, pane in (
            ("page", window.view),
            ("regions", window.display.region_panel),
            ("commentary", window.display.commentary_panel),
            ("map", window.whole.map),
        ):
            if pane is focus or pane.isAncestorOf(focus):
                seen.append(name)
        window.actions_["next_pane"].trigger()
    assert seen[0] == "page"
    assert {"page", "regions", "commentary"} <= set(seen)
    assert seen.count("page") == 2
