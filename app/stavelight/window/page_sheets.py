"""Paint the desk: pages with a soft edge, pages that are still to come, and an empty desk."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPalette, QPen

from stavelight.errors import StavelightError
from stavelight.window.page_desk import Sheet

_SHADOW_STEPS = 7
_EDGE = QColor("#bdbbb5")
_INK = QColor("#5a5f66")
_TITLE_INK = QColor("#30343a")


def desk_colour(palette: QPalette) -> QColor:
    """Return the colour of the desk: a little darker than the window, in light and in dark."""
    window = palette.color(QPalette.ColorRole.Window)
    return window.darker(106) if window.lightnessF() > 0.5 else window.darker(118)


def paint_edge(painter: QPainter, sheet: Sheet, ratio: float) -> None:
    """Paint the soft edge of a page."""
    page = QRect(sheet.left, sheet.top, sheet.width, sheet.height)
    steps = round(_SHADOW_STEPS * ratio)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for step in range(1, steps + 1):
        painter.setPen(QColor(0, 0, 0, round(26 * (1 - step / (steps + 1)) ** 2)))
        ring = page.adjusted(-step, -step + steps // 4, step - 1, step - 1 + steps // 4)
        painter.drawRoundedRect(ring, step, step)
    edge = max(1, round(ratio))
    for line in range(1, edge + 1):
        painter.setPen(_EDGE)
        painter.drawRect(page.adjusted(-line, -line, line - 1, line - 1))


def paint_paper(painter: QPainter, sheet: Sheet) -> None:
    """Paint an empty page."""
    painter.fillRect(sheet.left, sheet.top, sheet.width, sheet.height, Qt.GlobalColor.white)


def paint_waiting(painter: QPainter, sheet: Sheet, font: QFont, window: QRect) -> None:
    """Paint what stands on a page that is being engraved."""
    _lines(painter, sheet, font, window, f"Engraving page {sheet.number} …", "")


def paint_failure(
    painter: QPainter, sheet: Sheet, font: QFont, window: QRect, error: StavelightError
) -> None:
    """Paint why a page cannot be shown, above the middle of it."""
    remedy = f"{error.where}. {error.remedy}" if error.where else error.remedy
    _lines(painter, sheet, font, window, error.what, remedy)


def paint_hint(
    painter: QPainter, window: QRect, font: QFont, palette: QPalette, title: str, text: str
) -> None:
    """Paint a hint in the middle of an empty desk."""
    large = QFont(font)
    large.setPixelSize(round(font.pixelSize() * 1.6))
    middle = window.center().y()
    flags = Qt.AlignmentFlag.AlignHCenter | Qt.TextFlag.TextWordWrap
    painter.setPen(palette.color(QPalette.ColorRole.WindowText))
    painter.setFont(large)
    room = round(font.pixelSize() * 3)
    upper = QRect(window.left(), middle - room, window.width(), room)
    painter.drawText(upper, flags | Qt.AlignmentFlag.AlignBottom, title)
    colour = palette.color(QPalette.ColorRole.PlaceholderText)
    painter.setPen(colour)
    painter.setFont(font)
    below = QRect(window.left(), middle + font.pixelSize(), window.width(), room * 2)
    painter.drawText(below, flags | Qt.AlignmentFlag.AlignTop, text)


def _lines(
    painter: QPainter, sheet: Sheet, font: QFont, window: QRect, title: str, text: str
) -> None:
    """Write a title and a text above the middle of what is seen of a page."""
    seen = QRect(sheet.left, sheet.top, sheet.width, sheet.height).intersected(window)
    space = font.pixelSize()
    room = QRect(seen.left() + space, seen.top(), seen.width() - 2 * space, seen.height() // 2)
    flags = int(Qt.AlignmentFlag.AlignHCenter | Qt.TextFlag.TextWordWrap)
    flags |= int(Qt.AlignmentFlag.AlignBottom)
    painter.setPen(QPen(_INK))
    painter.setFont(font)
    if text:
        taken = painter.boundingRect(room, flags, text)
        painter.drawText(room, flags, text)
        room.setBottom(taken.top() - space // 2)
        bold = QFont(font)
        bold.setWeight(QFont.Weight.DemiBold)
        painter.setPen(QPen(_TITLE_INK))
        painter.setFont(bold)
    painter.drawText(room, flags, title)
