"""The real window, with a real score in it, driven by real events."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from pytestqt.qtbot import QtBot

from stavelight.engraving.engraver import Engraver
from stavelight.window.main_window import MainWindow

WAIT = 30_000
"""Milliseconds that opening may take on a busy machine."""


class LastingEngraver(Engraver):
    """Outlives the windows that close it: its process takes time to start."""

    def close(self) -> None:
        pass

    def close_for_good(self) -> None:
        super().close()


@pytest.fixture(scope="session")
def engraver() -> Iterator[LastingEngraver]:
    made = LastingEngraver()
    yield made
    made.close_for_good()


@pytest.fixture
def empty_window(
    qtbot: QtBot, settings: QSettings, engraver: LastingEngraver
) -> Iterator[MainWindow]:
    """A window with no score in it."""
    window = MainWindow(settings, engraver)
    window.resize(1400, 900)
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    window.session.desk.clear()  # nothing to be asked about
    window.close()
    window.deleteLater()


@pytest.fixture
def open_score(qtbot: QtBot, empty_window: MainWindow) -> Callable[[Path], MainWindow]:
    """Opens a score in the window and waits until it is there and sharp."""

    def opened(path: Path) -> MainWindow:
        window = empty_window
        window.open(path)
        wait_for_score(qtbot, window, path)
        return window

    return opened


def wait_for_score(qtbot: QtBot, window: MainWindow, path: Path) -> None:
    """Wait until a score is open with all that belongs to it."""

    def is_there() -> bool:
        session = window.session
        here = session.score_path
        return (
            here is not None
            and (here == path.resolve() or here.parent == path.resolve() or path.suffix == ".json")
            and not session.is_opening
            and session.desk.layer is not None
            and window.view.is_settled
            and window.view._supply.page_count > 0
        )

    qtbot.waitUntil(is_there, timeout=WAIT)


@pytest.fixture
def window(open_score: Callable[[Path], MainWindow], small_score: Path) -> MainWindow:
    """The window with the small score in it."""
    return open_score(small_score)
