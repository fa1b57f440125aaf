"""What painting with Qt needs: an application object, and the fonts."""

from __future__ import annotations

import os
import sys

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QGuiApplication

from stavelight.engraving.fonts import load_fonts

_kept: list[QGuiApplication] = []


def ensure_gui() -> None:
    """Make sure that a QGuiApplication exists and knows the fonts.

    Where there is none, one is made in the calling thread, which should be the main thread;
    without a display, it paints into memory only.
    """
    if QCoreApplication.instance() is None:
        headless = sys.platform.startswith("linux") and not (
            os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
        )
        if headless:
            os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        _kept.append(QGuiApplication(["stavelight"]))
    load_fonts()
