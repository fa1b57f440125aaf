"""The program with a window."""

from __future__ import annotations

import logging
import sys
from pathlib import Path

import platformdirs
from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication

from stavelight.engraving.engraver import Engraver
from stavelight.engraving.page_store import PageStore, default_folder
from stavelight.window.appearance import Appearance
from stavelight.window.dialogs import sample_project
from stavelight.window.faults import FaultDesk, take_qt_messages
from stavelight.window.interruption import Interruption
from stavelight.window.main_window import MainWindow

_NAME = "Stavelight"


def run_window(path: Path | None) -> int:
    """Open the window and stay until it is closed.

    Parameters
    ----------
    path
        A score, a layer or a folder to open; None: the sample project.

    Returns
    -------
    int
        The exit code; 130 if Ctrl+C closed it.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    take_qt_messages()
    application = QApplication(sys.argv[:1])
    application.setApplicationName(_NAME)
    application.setOrganizationName(_NAME)
    application.setDesktopFileName("stavelight")
    settings = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, _NAME, _NAME)
    appearance = Appearance(application, settings)
    window = MainWindow(settings, Engraver(store=PageStore(default_folder())), appearance)
    folder = platformdirs.user_state_path(_NAME.lower()) / "recovery"
    FaultDesk(folder, window.session.rescue, window).install()
    window.show()
    wanted = path if path is not None else sample_project()
    if wanted is not None:
        QTimer.singleShot(0, lambda: window.open(wanted))
    interruption = Interruption(window)
    interruption.came.connect(window.close)
    code = application.exec()
    interruption.release()
    return 130 if interruption.has_come else code
