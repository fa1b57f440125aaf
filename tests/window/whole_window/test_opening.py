from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from stavelight.resource_files import sample_projects_folder
from stavelight.window.main_window import MainWindow
from window.conftest import small_score_text
from window.whole_window.conftest import WAIT, wait_for_score


def refused(qtbot: QtBot, window: MainWindow, path: Path) -> list[str]:
    """Open something that cannot be opened, and return what was told."""
    window.open(path)
    qtbot.waitUntil(lambda: bool(window.notices.shown), timeout=WAIT)
    qtbot.waitUntil(lambda: not window.session.is_opening, timeout=WAIT)
    qtbot.wait(100)  # nothing more may come
    return [notice.what for notice in window.notices.shown]


def test_a_score_opens_with_pages_notes_and_a_new_layer(window: MainWindow) -> None:
    session = window.session
    assert window.windowTitle().startswith("study.musicxml")
    assert not window.isWindowModified()
    assert session.score is not None
    assert [part.name for part in session.score.parts] == [
        "Flute",
        "Oboe",
        "Clarinet in B flat",
        "Violoncello",
    ]
    assert len(session.score.bars) == 24
    assert session.desk.layer is not None
    assert session.desk.layer.regions == ()
    assert not window.notices.shown


def test_the_line_below_says_where_one_is(window: MainWindow) -> None:
    pages = window.session.engraved.plan.result().pages
    last = pages[0].bars.stop  # the printed numbers count from 1
    assert window.status.page.text() == f"Page 1 of {len(pages)}"
    assert window.status.bars.text() == f"bb. 1-{last}"


def test_opening_leaves_the_folder_as_it_was(window: MainWindow, small_score: Path) -> None:
    assert small_score.read_text(encoding="utf-8") == small_score_text()
    assert [path.name for path in small_score.parent.iterdir()] == ["study.musicxml"]


def test_a_folder_opens_as_a_project(
    open_score: Callable[[Path], MainWindow], small_score: Path
) -> None:
    window = open_score(small_score.parent)
    assert window.session.score_path == small_score


def test_opened_scores_are_among_the_recent_ones(window: MainWindow, small_score: Path) -> None:
    assert window.recent.paths() == (small_score,)
    window.actions_.recent_menu.aboutToShow.emit()
    first = window.actions_.recent_menu.actions()[0]
    assert first.text().replace("&&", "&") == str(small_score)


BROKEN = {
    "not xml.musicxml": b"This is no score at all.",
    "not a score.xml": b"<?xml version='1.0'?><recipe><egg/></recipe>",
    "cut off.musicxml": small_score_text().encode()[:900],
    "empty.mxl": b"",
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_told_once_and_nothing_else_changes(
    qtbot: QtBot, window: MainWindow, small_score: Path, tmp_path: Path, name: str
) -> None:
    broken = tmp_path / name
    broken.write_bytes(BROKEN[name])
    told = refused(qtbot, window, broken)
    assert len(told) == 1
    notice = window.notices.shown[0]
    assert name in notice.where
    assert notice.remedy
    assert window.session.score_path == small_score
    assert window.view.is_settled
    assert window.recent.paths() == (small_score,)


def test_a_truncated_archive_is_told_once(
    qtbot: QtBot, empty_window: MainWindow, tmp_path: Path
) -> None:
    whole = tmp_path / "whole.mxl"
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", small_score_text())
    cut = tmp_path / "cut.mxl"
    cut.write_bytes(whole.read_bytes()[:-200])
    assert len(refused(qtbot, empty_window, cut)) == 1
    assert empty_window.session.score_path is None


def test_a_folder_without_a_score_and_a_path_that_is_not_there(
    qtbot: QtBot, empty_window: MainWindow, tmp_path: Path
) -> None:
    folder = tmp_path / "no music"
    folder.mkdir()
    [first] = refused(qtbot, empty_window, folder)
    empty_window.notices.clear()
    [second] = refused(qtbot, empty_window, tmp_path / "gone.mxl")
    assert "no score" in first
    assert "no such file" in second


def test_the_last_score_asked_for_is_the_one_that_opens(
    qtbot: QtBot, empty_window: MainWindow, small_score: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.musicxml"
    other.write_text(small_score_text(8, "Another"), encoding="utf-8")
    empty_window.open(small_score)
    empty_window.open(other)
    wait_for_score(qtbot, empty_window, other)
    qtbot.wait(200)
    assert empty_window.session.score_path == other
    assert empty_window.session.score.title == "Another"
    assert len(empty_window.session.score.bars) == 8


def test_opening_can_be_stopped_and_what_was_open_stays(
    qtbot: QtBot, window: MainWindow, small_score: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.musicxml"
    other.write_text(small_score_text(200, "Another"), encoding="utf-8")
    window.open(other)
    [stop] = [one for one in window.status.findChildren(QToolButton) if one.text() == "Stop"]
    assert stop.isVisible()
    qtbot.mouseClick(stop, Qt.MouseButton.LeftButton)
    assert not window.session.is_opening
    assert not stop.isVisible()
    qtbot.wait(500)
    assert window.session.score_path == small_score
    assert not window.notices.shown


def test_reading_that_was_stopped_can_be_taken_up_again(
    qtbot: QtBot, empty_window: MainWindow, small_score: Path
) -> None:
    session = empty_window.session
    with qtbot.waitSignal(session.pages_opened, timeout=WAIT):
        session.open(small_score)
    if session.score is not None:
        pytest.skip("the notes were there before the page")
    session.cancel_opening()
    assert not session.desk.is_editable
    [notice] = empty_window.notices.shown
    assert "not read" in notice.what
    session.read_again()
    wait_for_score(qtbot, empty_window, small_score)
    assert session.desk.is_editable
    assert not empty_window.notices.shown


def test_a_score_dropped_on_the_window_opens(
    qtbot: QtBot, empty_window: MainWindow, small_score: Path
) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(small_score))])
    action, button = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    none = Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(50, 50), action, data, button, none)
    empty_window.dragEnterEvent(enter)
    assert enter.isAccepted()
    empty_window.dropEvent(QDropEvent(QPointF(50, 50), action, data, button, none))
    wait_for_score(qtbot, empty_window, small_score)


def test_closing_the_score_leaves_an_empty_window(window: MainWindow) -> None:
    window.actions_["close"].trigger()
    assert window.session.score is None
    assert window.windowTitle() == "Stavelight"
    assert window.status.page.text() == "No page"
    assert not window.actions_["save"].isEnabled()
    assert not window.actions_["go_to"].isEnabled()


def test_the_sample_project_opens_with_its_regions(
    open_score: Callable[[Path], MainWindow],
) -> None:
    folders = [path for path in sample_projects_folder().iterdir() if path.is_dir()]
    window = open_score(folders[0])
    assert len(window.session.desk.regions()) >= 12
    assert not window.isWindowModified()
    assert window.display.region_panel.list.topLevelItemCount() >= 12
    assert window.display.commentary_panel.list.topLevelItemCount() > 0
    spans = [window.session.desk.spans(region) for region in window.session.desk.regions()]
    assert all(spans)


def test_a_score_of_the_music21_corpus_opens(open_score: Callable[[Path], MainWindow]) -> None:
    corpus = pytest.importorskip("music21.corpus")
    path = Path(corpus.getWork("schoenberg/opus19", 2))
    expected = corpus.parse("schoenberg/opus19", 2)
    window = open_score(path)
    bars = len(expected.parts[0].getElementsByClass("Measure"))  # counted by music21
    assert len(window.session.score.bars) == bars
    assert len(window.session.score.staves) == len(expected.parts)
