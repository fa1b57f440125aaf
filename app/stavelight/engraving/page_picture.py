"""Paint engraved pages, and coloured areas over them, with Qt: on screen and in exports alike."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QByteArray, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen
from PySide6.QtSvg import QSvgRenderer

from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.hatching import PLAIN, hatch_marks, line_colour
from stavelight.engraving.page_maker import EngravedPage


@dataclass(frozen=True, slots=True)
class AreaStyle:
    """How an area is painted.

    Attributes
    ----------
    colour
        As ``#rrggbb``.
    hatch
        The name of a hatch: see `stavelight.engraving.hatching`.
    opacity
        Of the tint, 0 to 1; hatch and outline are stronger.
    """

    colour: str
    hatch: str = PLAIN
    opacity: float = 0.22


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
    painter: QPainter,
    rectangle: Rectangle,
    style: AreaStyle,
    *,
    selected: bool = False,
    outline: float | None = None,
) -> None:
    """Paint a coloured area; the painter's unit is the millimetre.

    Parameters
    ----------
    painter, rectangle, style
        Where and how.
    selected
        Whether its outline is stronger.
    outline
        Width of the outline in millimetres; None: as suits a page on paper.
    """
    area = QRectF(rectangle.left, rectangle.top, rectangle.width, rectangle.height)
    colour = QColor(style.colour)
    tint = QColor(colour)
    tint.setAlphaF(style.opacity)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # the outline hides the steps
    painter.fillRect(area, tint)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    line = QColor(line_colour(style.colour))
    line.setAlphaF(min(1.0, style.opacity * 2.2))
    marks = hatch_marks(rectangle, style.hatch)
    painter.setPen(QPen(line, 0.3, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
    painter.drawLines([QLineF(*ends) for ends in marks.lines])
    painter.setPen(QPen(line, 0.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawPoints([QPointF(*dot) for dot in marks.dots])
    painter.restore()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    if outline is None:
        outline = 0.8 if selected else 0.4
    painter.setPen(QPen(QColor(line_colour(style.colour)), outline))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(area)
