from __future__ import annotations

import errno
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtWidgets import QFileDialog, QMessageBox, QPushButton
from pytestqt.qtbot import QtBot

from stavelight.annotation import layer_file
from stavelight.annotation.layer import FORMAT_VERSION
from stavelight.window.main_window import MainWindow
from window.conftest import small_score_text
from window.view_score import drag, place
from window.whole_window.conftest import wait_for_score
from window.whole_window.test_marking import FLUTE, OBOE, mark, save, tag


def answer(qtbot: QtBot, box: MainWindow | QMessageBox | None, text: str) -> None:
    """Press a button of a question."""
    assert isinstance(box, QMessageBox)
    assert box.isVisible()
    [button] = [one for one in box.buttons() if text in one.text().replace("&", "")]
    button.click()


def change(qtbot: QtBot, window: MainWindow) -> None:
    mark(qtbot, window, (0, 0, FLUTE), (1, 0, OBOE))
    tag(qtbot, window, "melody")


def press(qtbot: QtBot, window: MainWindow, text: str) -> None:
    """Press a button on the newest notice."""
    [button] = [
        one for one in window.notices.shown[0].findChildren(QPushButton) if one.text() == text
    ]
    button.click()


def test_closing_asks_and_cancel_stays(qtbot: QtBot, window: MainWindow) -> None:
    change(qtbot, window)
    window.close()
    answer(qtbot, window.question, "Cancel")
    assert window.isVisible()
    assert window.session.desk.has_unsaved


def test_closing_asks_and_saves(qtbot: QtBot, window: MainWindow, small_score: Path) -> None:
    change(qtbot, window)
    window.close()
    answer(qtbot, window.question, "Save")
    qtbot.waitUntil(lambda: not window.isVisible())
    layer = json.loads(small_score.with_name("study.layer.json").read_text(encoding="utf-8"))
    assert len(layer["regions"]) == 1


def test_closing_asks_and_does_not_save(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    change(qtbot, window)
    window.close()
    answer(qtbot, window.question, "Don't save")
    qtbot.waitUntil(lambda: not window.isVisible())
    assert not small_score.with_name("study.layer.json").exists()


def test_closing_does_not_ask_when_all_is_saved(qtbot: QtBot, window: MainWindow) -> None:
    change(qtbot, window)
    save(qtbot, window)
    window.close()
    assert window.question is None
    qtbot.waitUntil(lambda: not window.isVisible())


def test_opening_another_score_asks_first(
    qtbot: QtBot, window: MainWindow, small_score: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.musicxml"
    other.write_text(small_score_text(8), encoding="utf-8")
    change(qtbot, window)
    window.open(other)
    assert window.session.score_path == small_score
    answer(qtbot, window.question, "Save")
    wait_for_score(qtbot, window, other)
    assert small_score.with_name("study.layer.json").exists()
    assert window.session.desk.regions() == ()


def test_a_half_typed_memo_counts_as_unsaved(qtbot: QtBot, window: MainWindow) -> None:
    change(qtbot, window)
    save(qtbot, window)
    memo = window.display.region_panel.memo
    memo.setFocus()
    qtbot.keyClicks(memo, "wait")
    window.close()
    answer(qtbot, window.question, "Cancel")
    assert window.session.desk.selected.memo == "wait"


def test_a_folder_that_cannot_be_written_offers_another_place(
    qtbot: QtBot, window: MainWindow, small_score: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The refusal is played: whoever runs the tests may be allowed to write everywhere.
    write = layer_file._write_whole

    def refuse(target: Path, data: bytes, mode: int | None) -> None:
        if target.parent == small_score.parent:
            raise PermissionError(errno.EACCES, "Permission denied")
        write(target, data, mode)

    monkeypatch.setattr(layer_file, "_write_whole", refuse)
    elsewhere = small_score.parent.parent / "mine.layer.json"
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda *_, **__: (str(elsewhere.with_suffix("")), "")
    )
    change(qtbot, window)
    layer = window.session.desk.layer
    window.actions_["save"].trigger()
    qtbot.waitUntil(lambda: bool(window.notices.shown))
    assert "cannot be written" in window.notices.shown[0].what
    assert window.session.desk.has_unsaved
    with qtbot.waitSignal(window.session.saved):
        press(qtbot, window, "Save elsewhere…")
    assert elsewhere.is_file()
    assert not window.session.desk.has_unsaved
    assert not window.notices.shown
    # The next time the layer is found where it was saved.
    window.actions_["close"].trigger()
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    assert window.session.desk.layer == layer
    assert window.session.layer_path == elsewhere


def test_closing_waits_for_the_other_place(
    qtbot: QtBot, window: MainWindow, small_score: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = layer_file._write_whole

    def refuse(target: Path, data: bytes, mode: int | None) -> None:
        if target.parent == small_score.parent:
            raise PermissionError(errno.EACCES, "Permission denied")
        write(target, data, mode)

    monkeypatch.setattr(layer_file, "_write_whole", refuse)
    elsewhere = small_score.parent.parent / "mine.layer.json"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, **__: (str(elsewhere), ""))
    change(qtbot, window)
    window.close()
    answer(qtbot, window.question, "Save")
    qtbot.waitUntil(lambda: bool(window.notices.shown))
    assert window.isVisible()
    press(qtbot, window, "Save elsewhere…")
    qtbot.waitUntil(lambda: not window.isVisible())
    assert elsewhere.is_file()


def with_layer(qtbot: QtBot, window: MainWindow, small_score: Path) -> Path:
    """Write a layer with one region beside the score, close the score, and return the layer."""
    change(qtbot, window)
    save(qtbot, window)
    window.actions_["close"].trigger()
    return small_score.with_name("study.layer.json")


def edited(path: Path, **values: object) -> bytes:
    raw = json.loads(path.read_text(encoding="utf-8"))
    raw.update(values)
    path.write_text(json.dumps(raw), encoding="utf-8")
    return path.read_bytes()


def test_a_newer_layer_is_shown_and_never_written(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    path = with_layer(qtbot, window, small_score)
    before = edited(path, format_version=FORMAT_VERSION + 1, sections=[{"name": "A"}])
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    [notice] = window.notices.shown
    assert str(FORMAT_VERSION + 1) in notice.what
    assert len(window.session.desk.regions()) == 1
    for name in ("save", "save_elsewhere", "undo", "comment_region", "tag_region"):
        assert not window.actions_[name].isEnabled(), name
    drag(qtbot, window.view, place(window.view, 2, 0, FLUTE), place(window.view, 3, 0, OBOE))
    assert len(window.session.desk.regions()) == 1
    window.session.save()
    qtbot.wait(200)
    assert path.read_bytes() == before


def test_a_layer_of_another_score_is_changed_only_when_said_to_belong(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    path = with_layer(qtbot, window, small_score)
    before = path.read_bytes()
    small_score.write_text(small_score_text(title="Revised"), encoding="utf-8")
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    assert not window.session.desk.is_editable
    assert not window.actions_["save"].isEnabled()
    press(qtbot, window, "It belongs to this score")
    assert window.session.desk.is_editable
    assert not window.notices.shown
    assert path.read_bytes() == before
    saved = save(qtbot, window)
    assert saved["score"]["title"] == "Revised"
    assert saved["score"]["sha256"] == window.session.score.sha256
    assert len(saved["regions"]) == 1


def test_a_broken_layer_is_told_and_left_alone(
    qtbot: QtBot, window: MainWindow, small_score: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = small_score.with_name("study.layer.json")
    path.write_text('{"format_version": 1, "regions": [', encoding="utf-8")
    before = path.read_bytes()
    window.actions_["close"].trigger()
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    told = [notice.where for notice in window.notices.shown]
    assert any("study.layer.json" in where for where in told)
    assert not window.session.desk.is_editable
    fresh = small_score.with_name("fresh.layer.json")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, **__: (str(fresh), ""))
    standing = next(n for n in window.notices.shown if "left as it is" in n.what)
    standing.findChildren(QPushButton)[0].click()
    assert window.session.desk.is_editable
    change(qtbot, window)
    save(qtbot, window)
    assert fresh.is_file()
    assert path.read_bytes() == before


@pytest.fixture
def changed_outside(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> tuple[MainWindow, Path, bytes]:
    """A window with unsaved changes over a layer file that somebody else has changed."""
    change(qtbot, window)
    save(qtbot, window)
    path = small_score.with_name("study.layer.json")
    theirs = edited(path, credits=["Somebody else"])
    mark(qtbot, window, (2, 0, FLUTE), (3, 0, OBOE))
    tag(qtbot, window)
    window.actions_["save"].trigger()
    qtbot.waitUntil(lambda: window.storage.question is not None)
    return window, path, theirs


def test_a_file_that_others_changed_is_not_overwritten_unasked(
    qtbot: QtBot, changed_outside: tuple[MainWindow, Path, bytes]
) -> None:
    window, path, theirs = changed_outside
    answer(qtbot, window.storage.question, "Cancel")
    assert path.read_bytes() == theirs
    assert window.session.desk.has_unsaved


def test_a_file_that_others_changed_is_overwritten_when_told_to(
    qtbot: QtBot, changed_outside: tuple[MainWindow, Path, bytes]
) -> None:
    window, path, _ = changed_outside
    with qtbot.waitSignal(window.session.saved):
        answer(qtbot, window.storage.question, "Overwrite it")
    assert len(json.loads(path.read_bytes())["regions"]) == 2


def test_a_file_that_others_changed_can_be_loaded(
    qtbot: QtBot, changed_outside: tuple[MainWindow, Path, bytes]
) -> None:
    window, path, theirs = changed_outside
    answer(qtbot, window.storage.question, "Load it")
    qtbot.waitUntil(lambda: window.session.desk.layer.credits == ("Somebody else",))
    assert len(window.session.desk.regions()) == 1
    assert not window.session.desk.has_unsaved
    assert path.read_bytes() == theirs


def test_saving_twice_at_once_saves_the_last_state(qtbot: QtBot, window: MainWindow) -> None:
    change(qtbot, window)
    session = window.session
    session.save()
    mark(qtbot, window, (2, 0, FLUTE), (3, 0, OBOE))
    session.save()
    qtbot.waitUntil(lambda: not session.desk.has_unsaved)
    regions = json.loads(session.layer_path.read_bytes())["regions"]
    assert len(regions) == 2


def test_unknown_fields_of_the_file_survive_a_save(
    qtbot: QtBot, window: MainWindow, small_score: Path
) -> None:
    path = with_layer(qtbot, window, small_score)
    edited(path, sketch={"by": "a later version"})
    window.open(small_score)
    wait_for_score(qtbot, window, small_score)
    change(qtbot, window)
    assert save(qtbot, window)["sketch"] == {"by": "a later version"}


def test_settings_keep_the_layout(
    qtbot: QtBot, open_score: Callable[[Path], MainWindow], small_score: Path
) -> None:
    window = open_score(small_score)
    window.actions_["show_commentary_panel"].trigger()
    assert not window.display.commentary_panel.isVisible()
    window.close()
    qtbot.waitUntil(lambda: not window.isVisible())
    again = MainWindow(window._settings, window._engraver)
    qtbot.addWidget(again)
    again.show()
    assert not again.display.commentary_panel.isVisible()
    assert again.display.region_panel.isVisible()
    again.close()
