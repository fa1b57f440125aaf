"""Slides as numbered PNG pictures in a folder."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPainter

from stavelight.delivery.safe_writing import cannot_write, folder_to_fill
from stavelight.delivery.slide_frame import SLIDE_HEIGHT, SLIDE_WIDTH
from stavelight.delivery.slide_model import TitleSlide
from stavelight.delivery.slide_picture import paint_slide, paint_title_slide
from stavelight.delivery.slide_plan import Slide

LEAST_WIDTH = 640
LARGEST_WIDTH = 7680

OWN_NAMES = re.compile(r"slide-\d{3,}\.png")


class PngFolder:
    """Writes slides into a folder, numbered from ``slide-001.png``.

    Parameters
    ----------
    folder
        An existing folder.
    width
        Of the pictures, in pixels.
    """

    def __init__(self, folder: Path, width: int) -> None:
        self._folder = folder
        self._width = min(max(width, LEAST_WIDTH), LARGEST_WIDTH)
        self._count = 0

    def add_title(self, slide: TitleSlide) -> None:
        """Write the title slide."""
        self._write(lambda painter: paint_title_slide(painter, slide))

    def add(self, slide: Slide) -> None:
        """Write any other slide."""
        self._write(lambda painter: paint_slide(painter, slide))

    def finish(self) -> None:
        """Everything is written already."""

    def _write(self, paint: Callable[[QPainter], None]) -> None:
        self._count += 1
        height = round(self._width * SLIDE_HEIGHT / SLIDE_WIDTH)
        image = QImage(self._width, height, QImage.Format.Format_RGB32)
        image.fill(Qt.GlobalColor.white)
        image.setDotsPerMeterX(round(self._width / SLIDE_WIDTH * 1000))
        image.setDotsPerMeterY(round(self._width / SLIDE_WIDTH * 1000))
        painter = QPainter(image)
        painter.scale(self._width / SLIDE_WIDTH, self._width / SLIDE_WIDTH)
        paint(painter)
        painter.end()
        path = self._folder / f"slide-{self._count:03}.png"
        if not image.save(str(path)):
            raise cannot_write(path)


def open_png_folder(folder: Path) -> AbstractContextManager[Path]:
    """Give a temporary folder whose pictures replace those in `folder` if all goes well."""
    return folder_to_fill(folder, OWN_NAMES)
