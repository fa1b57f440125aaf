"""Paint engraved pages, and coloured areas over them, with Qt: on screen and in exports alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QByteArray, QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen
from PySide6.QtSvg import QSvgRenderer

from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_maker import EngravedPage


@dataclass(frozen=True, slots=True)
class AreaStyle:
    """How an area is painted.

    Attributes
    ----------
    colour
        As ``#rrggbb``.
    hatch
        The name of a hatch: see `HATCHES`.
    opacity
        Of the tint, 0 to 1; hatch and outline are stronger.
    """

    colour: str
    hatch: str = "plain"
    opacity: float = 0.22


HATCHES: dict[str, tuple[float, ...]] = {
    "plain": (),
    "rising": (45.0,),
    "falling": (-45.0,),
    "level": (0.0,),
    "upright": (90.0,),
    "crossed": (45.0, -45.0),
    "grid": (0.0, 90.0),
    "dots": (),
}
"""The angles of the lines of each hatch, in degrees, counter-clockwise from level."""

HATCH_DISTANCE = 2.6
"""Millimetres between the lines of a hatch."""


class PagePainter:
    """Paints one page; made once for a page, it can be used in any one thread at a time.

    Parameters
    ----------
    page
        The page.
    """

    def __init__(self, page: EngravedPage) -> None:
        self.page = page
        self._renderer = QSvgRenderer(QByteArray(page.svg))

    def paint(self, painter: QPainter, target: QRectF) -> None:
        """Paint the notes into a rectangle of the painter's coordinates."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        self._renderer.render(painter, target)

    def image(self, pixels_per_millimetre: float, part: QRectF | None = None) -> QImage:
        """Return the page, or a rectangle of it in millimetres, as a picture on white."""
        area = part or QRectF(0, 0, self.page.width, self.page.height)
        image = QImage(
            max(1, round(area.width() * pixels_per_millimetre)),
            max(1, round(area.height() * pixels_per_millimetre)),
            QImage.Format.Format_RGB32,
        )
        image.fill(Qt.GlobalColor.white)
        painter = QPainter(image)
        painter.scale(pixels_per_millimetre, pixels_per_millimetre)
        painter.translate(-area.left(), -area.top())
        self.paint(painter, QRectF(0, 0, self.page.width, self.page.height))
        painter.end()
        return image


def paint_area(
    painter: QPainter, rectangle: Rectangle, style: AreaStyle, *, selected: bool = False
) -> None:
    """Paint a coloured area; the painter's unit is the millimetre."""
    area = QRectF(rectangle.left, rectangle.top, rectangle.width, rectangle.height)
    colour = QColor(style.colour)
    tint = QColor(colour)
    tint.setAlphaF(style.opacity)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(area, tint)
    line = QColor(colour)
    line.setAlphaF(min(1.0, style.opacity * 2.2))
    painter.setClipRect(area, Qt.ClipOperation.IntersectClip)
    painter.setPen(QPen(line, 0.3))
    if style.hatch == "dots":
        painter.setPen(QPen(line, 0.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        _dots(painter, area)
    for angle in HATCHES.get(style.hatch, ()):
        painter.drawLines(_hatch_lines(area, angle))
    painter.restore()
    painter.setPen(QPen(colour, 0.8 if selected else 0.4))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(area)


def _hatch_lines(area: QRectF, angle: float) -> Sequence[QLineF]:
    if angle == 0.0:
        count = int(area.height() / HATCH_DISTANCE) + 1
        return [
            QLineF(area.left(), y, area.right(), y)
            for y in (area.top() + (i + 0.5) * HATCH_DISTANCE for i in range(count))
        ]
    if angle == 90.0:
        count = int(area.width() / HATCH_DISTANCE) + 1
        return [
            QLineF(x, area.top(), x, area.bottom())
            for x in (area.left() + (i + 0.5) * HATCH_DISTANCE for i in range(count))
        ]
    height = area.height()
    step = HATCH_DISTANCE * 1.4142
    count = int((area.width() + height) / step) + 1
    lines = []
    for index in range(count):
        x = area.left() - height + (index + 0.5) * step
        if angle > 0:
            lines.append(QLineF(x, area.bottom(), x + height, area.top()))
        else:
            lines.append(QLineF(x, area.top(), x + height, area.bottom()))
    return lines


def _dots(painter: QPainter, area: QRectF) -> None:
    y, row = area.top() + HATCH_DISTANCE / 2, 0
    while y < area.bottom():
        x = area.left() + HATCH_DISTANCE * (0.5 if row % 2 else 1.0)
        while x < area.right():
            painter.drawPoint(QLineF(x, y, x, y).p1())
            x += HATCH_DISTANCE
        y += HATCH_DISTANCE * 0.87
        row += 1
