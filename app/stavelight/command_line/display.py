"""Find out before Qt does whether a window can be opened: Qt would end the process with a dump."""

from __future__ import annotations

import ctypes
import os
import sys

from stavelight.errors import StavelightError

X11_LIBRARIES = (
    "libxcb-cursor.so.0",
    "libxcb-icccm.so.4",
    "libxcb-image.so.0",
    "libxcb-keysyms.so.1",
    "libxcb-render-util.so.0",
    "libxkbcommon-x11.so.0",
)
"""What Qt's plugin for X11 needs and not every Linux desktop has installed. Source: what the file
``plugins/platforms/libqxcb.so`` of PySide6-Essentials 6.10 to 6.11 lists as needed."""


def require_display() -> None:
    """Do nothing if a window can be opened.

    Raises
    ------
    StavelightError
        If there is no display, or if a system library is missing.
    """
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return
    if os.environ.get("WAYLAND_DISPLAY"):
        return
    if not os.environ.get("DISPLAY"):
        raise StavelightError(
            "There is no display to open a window on.",
            remedy="Start it in a desktop session, or use a command: see stavelight --help.",
        )
    for library in X11_LIBRARIES:
        try:
            ctypes.CDLL(library)
        except OSError as error:
            raise missing_library(library) from error


def missing_library(name: str) -> StavelightError:
    """Return the error for a system library that cannot be loaded."""
    return StavelightError(
        f"The system library {name} is missing.",
        remedy="Install the package of your system that brings it; in a checkout, "
        "python3 app/start.py does so on Debian and Ubuntu.",
    )
