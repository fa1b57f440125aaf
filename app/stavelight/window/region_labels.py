"""The plates that bear the regions' labels: where they go, and how they stay readable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from stavelight.window.page_desk import Sheet
from stavelight.window.region_shapes import RegionOnPage

_SMALLEST_PIXELS = 10.5
_LARGEST_PIXELS = 15.0
_MILLIMETRES = 2.9
"""Height of the letters: this size on the page, within limits in logical pixels on the screen."""

_LEAST_WIDTH = 110.0
"""Logical pixels that a plate may take even where its region is narrower."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A label on its plate, in device pixels."""

    region_id: str
    text: str
    place: QRectF


def label_font(font: QFont, sheet: Sheet, ratio: float) -> QFont:
    """Return the font of the plates on a page."""
    size = min(max(_MILLIMETRES * sheet.scale / ratio, _SMALLEST_PIXELS), _LARGEST_PIXELS)
    made = QFont(font)
    made.setPixelSize(round(size * ratio))
    made.setWeight(QFont.Weight.DemiBold)
    return made


def place_plates(
    shapes: Sequence[RegionOnPage], sheet: Sheet, font: QFont, ratio: float, reach: float
) -> tuple[Plate, ...]:
    """Return the plates of the regions on a page, so that they do not cover each other.

    Parameters
    ----------
    shapes
        The regions.
    sheet
        Where the page lies.
    font
        From `label_font`.
    ratio
        Device pixels to a logical one.
    reach
        Millimetres between the edge of an area and the staff in it: a plate stands there first.
    """
    metrics = QFontMetricsF(font)
    page = QRectF(sheet.left, sheet.top, sheet.width, sheet.height)
    placed: list[Plate] = []
    pad = 4 * ratio
    height = metrics.height() + ratio
    for shape in sorted(shapes, key=lambda shape: _corner(shape)[::-1]):
        region = shape.region
        if not region.label:
            continue
        first = shape.pieces[0].rectangle
        left, top = sheet.to_desk(first.left, first.top)
        right, bottom = sheet.to_desk(first.right, first.bottom)
        most = max(right - left, _LEAST_WIDTH * ratio)
        text = metrics.elidedText(
            region.label, Qt.TextElideMode.ElideRight, min(most, page.width() / 2) - 2 * pad
        )
        width = metrics.horizontalAdvance(text) + 2 * pad
        area = QRectF(left, top, right - left, bottom - top)
        above = top + min(reach * sheet.scale, height * 0.5) - height
        place = _free_place(QRectF(left, above, width, height), area, page, placed)
        placed.append(Plate(region.id, text, place))
    return tuple(placed)


def _corner(shape: RegionOnPage) -> tuple[float, float]:
    first = shape.pieces[0].rectangle
    return first.left, first.top


def _free_place(wished: QRectF, area: QRectF, page: QRectF, placed: Sequence[Plate]) -> QRectF:
    """Return the first place, beginning with the one wished for, that covers no other plate."""
    gap = wished.height() * 0.15
    inside = QRectF(wished)
    inside.moveTop(area.top())
    below = QRectF(wished)
    below.moveTop(area.bottom() - gap)
    rows = [wished, inside, below, wished.translated(0, -wished.height() - gap)]
    for row in rows:
        candidate = _within(row, page)
        for _ in range(6):
            hit = next((p.place for p in placed if p.place.intersects(candidate)), None)
            if hit is None:
                return candidate
            candidate = _within(QRectF(candidate), page)
            candidate.moveLeft(hit.right() + gap)
            if candidate.left() > area.right() - gap or candidate.right() > page.right():
                break
    return _within(wished, page)


def _within(place: QRectF, page: QRectF) -> QRectF:
    """Return a place moved so that it lies on the page."""
    moved = QRectF(place)
    moved.moveLeft(min(max(moved.left(), page.left()), page.right() - moved.width()))
    moved.moveTop(min(max(moved.top(), page.top()), page.bottom() - moved.height()))
    return moved


def paint_plate(painter: QPainter, plate: Plate, colour: str, font: QFont, ratio: float) -> None:
    """Paint a label on its plate, in device pixels."""
    ground = QColor(colour)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(255, 255, 255, 220), ratio))
    painter.setBrush(ground)
    painter.drawRoundedRect(plate.place, 2.5 * ratio, 2.5 * ratio)
    painter.setPen(ink_on(ground))
    painter.setFont(font)
    painter.drawText(plate.place, Qt.AlignmentFlag.AlignCenter, plate.text)


def ink_on(ground: QColor) -> QColor:
    """Return black or white, whichever is read more easily on a colour.

    Luminance and contrast ratio as W3C Web Content Accessibility Guidelines 2.1 define them.
    """
    light = luminance(ground)
    return QColor("#ffffff") if 1.05 / (light + 0.05) > (light + 0.05) / 0.05 else QColor("#000000")


def luminance(colour: QColor) -> float:
    """Return the relative luminance of a colour, 0 for black to 1 for white.

    Source: W3C Web Content Accessibility Guidelines 2.1, "relative luminance".
    """
    parts = [
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in (colour.redF(), colour.greenF(), colour.blueF())
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]
