"""Paint slides: the same code for pictures and for PDF.

The painter's unit is the millimetre, and a slide lies at its origin. Regions are painted under the
notes, so that the notes stay black.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from stavelight.delivery.slide_frame import (
    COMPOSER_SIZE,
    FOOT_SIZES,
    HEADING_SIZES,
    INK,
    LESSON_SIZE,
    PALE_LINE,
    PLACE_SIZES,
    QUIET_INK,
    SLIDE_HEIGHT,
    SLIDE_WIDTH,
    SUBTITLE_BOX,
    TITLE_BOX,
    TITLE_FOOT_BOX,
    TITLE_FOOT_SIZES,
    TITLE_SIZES,
    TITLE_STAFF,
    Box,
)
from stavelight.delivery.slide_key import KeyEntry
from stavelight.delivery.slide_model import TitleSlide
from stavelight.delivery.slide_plan import Slide
from stavelight.delivery.text_layout import TextBlock, fitted
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_picture import AreaStyle, PagePainter, paint_area

OWN_OPACITY = 0.24
OTHER_OPACITY = 0.13
KEY_OPACITY = 0.3

CONTINUED = " (continued)"


def heading_block(slide: Slide, box: Box) -> TextBlock:
    """Return the heading, set to fit its box."""
    return fitted(
        slide.heading,
        box.width,
        HEADING_SIZES,
        height=box.height,
        most_lines=2,
        bold=True,
        suffix=CONTINUED if slide.is_continued else "",
    )


def place_block(text: str, box: Box) -> TextBlock:
    """Return bars and time, set to fit their box."""
    return fitted(text, box.width, PLACE_SIZES, height=box.height, right_aligned=True)


def foot_block(text: str, box: Box) -> TextBlock:
    """Return the credit line, set to fit its box."""
    return fitted(text, box.width, FOOT_SIZES, height=box.height, most_lines=2)


def number_block(number: int, box: Box) -> TextBlock:
    """Return the slide's number, set to fit its box."""
    return fitted(str(number), box.width, FOOT_SIZES, right_aligned=True)


def title_blocks(slide: TitleSlide) -> tuple[TextBlock, list[TextBlock], TextBlock | None]:
    """Return the title, what stands below it, and the credit at the foot, each set to fit."""
    title = fitted(
        slide.title, TITLE_BOX.width, TITLE_SIZES, height=TITLE_BOX.height, most_lines=3, bold=True
    )
    below = [
        fitted(text, SUBTITLE_BOX.width, (size, size * 0.8, size * 0.65), most_lines=2)
        for text, size in (
            (slide.subtitle, LESSON_SIZE),
            (slide.composer, COMPOSER_SIZE),
            (slide.lesson, LESSON_SIZE),
        )
        if text
    ]
    lines = " ".join(
        part
        for part in (f"Commentary: {slide.author}." if slide.author else "", slide.credit)
        if part
    )
    box = TITLE_FOOT_BOX
    foot = None
    if lines:
        foot = fitted(lines, box.width, TITLE_FOOT_SIZES, height=box.height, most_lines=5)
    return title, below, foot


def paint_title_slide(painter: QPainter, slide: TitleSlide) -> None:
    """Paint the title slide."""
    _background(painter)
    painter.setPen(QPen(QColor(PALE_LINE), 0.4))
    for line in range(5):
        y = TITLE_STAFF.top + TITLE_STAFF.height * line / 4
        painter.drawLine(QLineF(TITLE_STAFF.left, y, TITLE_STAFF.right, y))
    title, below, foot = title_blocks(slide)
    title.paint(painter, TITLE_BOX.left, TITLE_BOX.bottom - title.height, INK)
    top = SUBTITLE_BOX.top
    for block in below:
        block.paint(painter, SUBTITLE_BOX.left, top, QUIET_INK)
        top += block.height + block.line_height * 0.3
    if foot is not None:
        box = TITLE_FOOT_BOX
        foot.paint(painter, box.left, box.bottom - foot.height, QUIET_INK)


def paint_slide(painter: QPainter, slide: Slide) -> None:
    """Paint any other slide."""
    _background(painter)
    frame = slide.frame
    heading = heading_block(slide, frame.heading)
    heading.paint(painter, frame.heading.left, frame.heading.top, INK)
    if slide.place:
        place = place_block(slide.place, frame.place)
        place.paint(painter, frame.place.left, frame.place.top + 1.5, QUIET_INK)
    if slide.excerpt is not None:
        for area in slide.areas:
            style = area_style(area.region.colour, area.region.hatch, is_own=area.is_own)
            for rectangle in area.rectangles:
                paint_area(painter, rectangle, style)
        box = slide.excerpt_box
        PagePainter(slide.excerpt).paint(painter, QRectF(box.left, box.top, box.width, box.height))
    if slide.text:
        text = TextBlock(slide.text, frame.text.width, slide.text_size)
        text.paint(painter, frame.text.left, frame.text.top, INK)
    _paint_key(painter, slide.key)
    foot_block(slide.foot, frame.foot).paint(painter, frame.foot.left, frame.foot.top, QUIET_INK)
    number = number_block(slide.number, frame.number)
    number.paint(painter, frame.number.left, frame.number.top, QUIET_INK)


def area_style(colour: str, hatch: str, *, is_own: bool) -> AreaStyle:
    """Return how a region is painted: what a slide is not about is paler."""
    return AreaStyle(colour, hatch, OWN_OPACITY if is_own else OTHER_OPACITY)


def _paint_key(painter: QPainter, key: Sequence[KeyEntry]) -> None:
    for entry in key:
        if entry.colour:
            box = entry.sample
            paint_area(
                painter,
                Rectangle(box.left, box.top, box.right, box.bottom),
                AreaStyle(entry.colour, entry.hatch, KEY_OPACITY),
            )
        words = fitted(entry.text, entry.words.width, (entry.size,), most_lines=3)
        words.paint(painter, entry.words.left, entry.words.top, INK)


def _background(painter: QPainter) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    painter.fillRect(QRectF(0, 0, SLIDE_WIDTH, SLIDE_HEIGHT), Qt.GlobalColor.white)
