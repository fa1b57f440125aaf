from __future__ import annotations

import logging
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMessageLogContext, QtMsgType
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from stavelight.window import faults
from stavelight.window.faults import FaultDesk


@pytest.fixture
def desk(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[FaultDesk, Path]]:
    window = QWidget()
    qtbot.addWidget(window)
    folder = tmp_path / "recovery"

    def rescue(into: Path) -> Path:
        copy = into / "copy.layer.json"
        copy.write_text("{}", encoding="utf-8")
        return copy

    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    made = FaultDesk(folder, rescue, window)
    made.install()
    yield made, folder
    if made.box is not None:
        made.box.close()


def happen(message: str) -> None:
    """Let the interpreter report an exception that nobody caught."""
    try:
        raise ZeroDivisionError(message)
    except ZeroDivisionError as error:
        sys.excepthook(type(error), error, error.__traceback__)


def test_a_fault_leaves_a_copy_and_a_report(
    qtbot: QtBot, desk: tuple[FaultDesk, Path], caplog: pytest.LogCaptureFixture
) -> None:
    made, folder = desk
    happen("boom")
    qtbot.waitUntil(lambda: made.box is not None)
    assert (folder / "copy.layer.json").is_file()
    [report] = folder.glob("report-*.txt")
    text = report.read_text(encoding="utf-8")
    assert "ZeroDivisionError: boom" in text
    assert "Stavelight" in text.splitlines()[0]
    assert str(folder / "copy.layer.json") in made.box.informativeText()
    assert not made.box.isModal()
    assert "boom" in caplog.text
    [copy] = [one for one in made.box.buttons() if one.text() == "Copy the report"]
    copy.click()
    assert "ZeroDivisionError: boom" in QGuiApplication.clipboard().text()


def test_faults_in_other_threads_come_to_the_same_desk(
    qtbot: QtBot, desk: tuple[FaultDesk, Path]
) -> None:
    made, folder = desk
    thread = threading.Thread(target=lambda: 1 // 0)
    thread.start()
    thread.join()
    qtbot.waitUntil(lambda: made.box is not None)
    assert len(list(folder.glob("report-*.txt"))) == 1


def test_the_same_fault_again_and_again_is_offered_once(
    qtbot: QtBot, desk: tuple[FaultDesk, Path]
) -> None:
    made, folder = desk
    for _ in range(5):
        happen("again")
    qtbot.waitUntil(lambda: made.box is not None)
    qtbot.wait(50)
    assert len(list(folder.glob("report-*.txt"))) == 1


def test_a_folder_that_cannot_be_made_does_not_hide_the_fault(
    qtbot: QtBot, desk: tuple[FaultDesk, Path]
) -> None:
    made, folder = desk
    folder.write_text("a file where the folder should be", encoding="utf-8")
    happen("nowhere to write")
    qtbot.waitUntil(lambda: made.box is not None)
    assert "could not be copied" in made.box.informativeText()


def test_what_qt_says_goes_to_the_log_and_harmless_things_do_not_disturb(
    caplog: pytest.LogCaptureFixture,
) -> None:
    caplog.set_level(logging.DEBUG)
    context = QMessageLogContext()
    faults._log_qt_message(QtMsgType.QtCriticalMsg, context, "no paint device")
    faults._log_qt_message(
        QtMsgType.QtWarningMsg, context, "This plugin does not support propagateSizeHints()"
    )
    assert [record.levelno for record in caplog.records] == [logging.ERROR, logging.DEBUG]
