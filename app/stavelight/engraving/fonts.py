"""The fonts that ship with verovio, made known to Qt: so no font of the system is needed."""

from __future__ import annotations

import base64
import re
from functools import cache
from importlib.resources import files

from PySide6.QtCore import QByteArray
from PySide6.QtGui import QFontDatabase

from stavelight.engraving.drawing import TEXT_FAMILY

_FONT = re.compile(r"base64,([A-Za-z0-9+/=]+)")
_loaded: list[int] = []


def load_fonts() -> None:
    """Load the text and music fonts, once; a QGuiApplication must exist."""
    if _loaded:
        return
    for sheet in ("Liberation.css", "Leipzig.css"):
        content = files("verovio").joinpath("data", sheet).read_text(encoding="utf-8")
        for found in _FONT.finditer(content):
            data = QByteArray(base64.b64decode(found[1]))
            _loaded.append(QFontDatabase.addApplicationFontFromData(data))


@cache
def style_sheet(*, with_music: bool) -> str:
    """Return the fonts as CSS, so that an SVG document can carry them along.

    Parameters
    ----------
    with_music
        Whether the music font is needed, too: for texts with musical signs in them.
    """
    folder = files("verovio").joinpath("data")
    text = folder.joinpath("Liberation.css").read_text(encoding="utf-8")
    text = text.replace('"Liberation"', f'"{TEXT_FAMILY}"')
    music = folder.joinpath("Leipzig.css").read_text(encoding="utf-8") if with_music else ""
    return text + music
