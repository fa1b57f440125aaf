"""Slides as one PDF document, a page a slide, drawn in vectors."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QMarginsF, QSizeF, QUuid
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from stavelight.delivery.safe_writing import cannot_write
from stavelight.delivery.slide_frame import SLIDE_HEIGHT, SLIDE_WIDTH
from stavelight.delivery.slide_model import TitleSlide
from stavelight.delivery.slide_picture import paint_slide, paint_title_slide
from stavelight.delivery.slide_plan import Slide
from stavelight.engraving.page_maker import EngravedPage

_RESOLUTION = 1200
"""Dots an inch: places are rounded to that."""

_NAMESPACE = QUuid("{5f1c3d0e-7b64-4d1a-9a43-0f6f1f0c8a11}")
_DATE = re.compile(
    rb"/(?:CreationDate|ModDate) ?\(D:\d{14}[^)]*\)|xmp:(?:Create|Modify|Metadata)Date=\"[^\"]*\""
)
_LETTERS = re.compile(rb"begincmap.*?endcmap", re.DOTALL)


_GLYPH = re.compile(
    rb'<use xlink:href="#(E[0-9A-F]{3})" transform="translate\((-?[\d.]+), (-?[\d.]+)\) '
    rb'scale\((-?[\d.]+), \4\)"/>'
)
_UNITS_OF_EM = 1000
"""Of the music font, in whose units the drawings of its glyphs are."""


def with_glyphs_as_text(page: EngravedPage) -> EngravedPage:
    """Return a page on which the signs of the music are letters of the music font.

    In a PDF a letter is a few bytes, and its drawing is there once; as drawings, the signs of a
    page of orchestral score take most of a megabyte.
    """

    def letter(glyph: re.Match[bytes]) -> bytes:
        size = round(float(glyph[4]) * _UNITS_OF_EM)
        return (b'<text x="%s" y="%s" font-family="Leipzig" font-size="%d">&#x%s;</text>') % (
            glyph[2],
            glyph[3],
            size,
            glyph[1],
        )

    return replace(page, svg=_GLYPH.sub(letter, page.svg))


class PdfDocument:
    """A PDF document that is painted page by page; the painter's unit is the millimetre.

    Parameters
    ----------
    path
        The file to write.
    title, author
        For the document's properties.
    """

    def __init__(self, path: Path, title: str, author: str = "") -> None:
        self._path = path
        self._writer = QPdfWriter(str(path))
        self._writer.setResolution(_RESOLUTION)
        self._writer.setTitle(title)
        self._writer.setCreator("Stavelight")
        if hasattr(self._writer, "setAuthor"):  # from Qt 6.9 on
            self._writer.setAuthor(author)
        if hasattr(self._writer, "setDocumentId"):  # from Qt 6.8 on
            self._writer.setDocumentId(QUuid.createUuidV5(_NAMESPACE, title.encode()))
        self._painter = QPainter()

    def page(self, width: float, height: float) -> QPainter:
        """Begin a page of a size in millimetres; return the painter for it.

        Raises
        ------
        DeliveryError
            If the file cannot be written.
        """
        size = QPageSize(
            QSizeF(width, height),
            QPageSize.Unit.Millimeter,
            "",
            QPageSize.SizeMatchPolicy.ExactMatch,
        )
        layout = QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF())
        self._writer.setPageLayout(layout)
        if self._painter.isActive():
            self._painter.resetTransform()
            started = self._writer.newPage()
        else:
            started = self._painter.begin(self._writer)
        if not started:
            raise cannot_write(self._path)
        self._painter.scale(_RESOLUTION / 25.4, _RESOLUTION / 25.4)
        return self._painter

    def close(self) -> None:
        """Complete the file.

        Raises
        ------
        DeliveryError
            If it cannot be written.
        """
        if not self._painter.end():
            raise cannot_write(self._path)
        _mend(self._path)

    def release(self) -> None:
        """Let go of the file, complete or not."""
        if self._painter.isActive():
            self._painter.end()


def _mend(path: Path) -> None:
    """Mend what Qt has written; every place in the file stays where it is.

    When the file was made is blanked out, so that the same slides give the same bytes. And where
    the fonts' tables say which letter a glyph stands for, a blank is said to be a tab, because the
    font has one glyph for both: then no two words in a row would be found by a search.
    """
    data = path.read_bytes()
    data = _DATE.sub(lambda found: b" " * len(found[0]), data)
    data = _LETTERS.sub(lambda found: found[0].replace(b"<0009>", b"<0020>"), data)
    path.write_bytes(data)


class PdfSlides:
    """Writes slides into one PDF file.

    Parameters
    ----------
    path
        The file.
    title, author
        For the document's properties.
    """

    def __init__(self, path: Path, title: str, author: str) -> None:
        self._document = PdfDocument(path, title, author)

    def add_title(self, slide: TitleSlide) -> None:
        """Paint the title slide."""
        paint_title_slide(self._document.page(SLIDE_WIDTH, SLIDE_HEIGHT), slide)

    def add(self, slide: Slide) -> None:
        """Paint any other slide."""
        if slide.excerpt is not None:
            slide = replace(slide, excerpt=with_glyphs_as_text(slide.excerpt))
        paint_slide(self._document.page(SLIDE_WIDTH, SLIDE_HEIGHT), slide)

    def finish(self) -> None:
        """Complete the file."""
        self._document.close()

    def release(self) -> None:
        """Let go of the file, complete or not."""
        self._document.release()
