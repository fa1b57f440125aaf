"""A scrolled canvas in device pixels that keeps what does not move as a picture.

While something is dragged over it only that is painted anew; while it is scrolled only what comes
into view; and while nothing happens the next picture is painted ahead.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRect, Qt, QTimer
from PySide6.QtGui import QFont, QPainter, QPaintEvent, QPixmap, QRegion
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QWidget

from stavelight.window.page_scrolling import Glide

_IDLE_MILLISECONDS = 120


class PageCanvas(QAbstractScrollArea):
    """Paints a still layer and what moves above it, pixel for pixel at any device pixel ratio."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._layer: QPixmap | None = None
        self._ahead: tuple[object, QPixmap] | None = None
        self._idle = QTimer(self)
        self._idle.setSingleShot(True)
        self._idle.setInterval(_IDLE_MILLISECONDS)
        self._idle.timeout.connect(self.use_idle_time)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._glide_x = Glide(self.horizontalScrollBar())
        self._glide_y = Glide(self.verticalScrollBar())

    @property
    def _ratio(self) -> float:
        return float(self.devicePixelRatioF())

    def _device(self, point: QPointF) -> tuple[float, float]:
        return point.x() * self._ratio, point.y() * self._ratio

    def _window(self) -> QRect:
        """Return what is seen of the desk, in device pixels."""
        size = self.viewport().size()
        return QRect(0, 0, round(size.width() * self._ratio), round(size.height() * self._ratio))

    def text_font(self) -> QFont:
        """Return the widget's font for painting in device pixels."""
        font = QFont(self.font())
        font.setPixelSize(max(8, round(self.fontInfo().pixelSize() * self._ratio)))
        return font

    def scroll_by(self, across: float, down: float) -> None:
        """Scroll at once by so many logical pixels."""
        self._glide_x.jump(self.horizontalScrollBar().value() + round(across))
        self._glide_y.jump(self.verticalScrollBar().value() + round(down))

    def paint_still(self, painter: QPainter, window: QRect, bare: QRect) -> None:
        """Paint what does not move, in device pixels.

        Parameters
        ----------
        painter
            Clipped to what has to be painted.
        window
            What is seen of the canvas.
        bare
            A rectangle around what has to be painted.
        """
        raise NotImplementedError

    def paint_above(self, painter: QPainter) -> None:
        """Paint what moves, above all else, in device pixels; nothing here."""

    def still_key(self) -> object:
        """Return what tells one still picture from another, as long as nothing is redrawn."""
        raise NotImplementedError

    def use_idle_time(self) -> None:
        """Do what may be useful next; called when nothing has happened for a moment."""

    def _redraw_layer(self) -> None:
        """Forget all that was painted: what is on the canvas has changed."""
        self._ahead = None
        self._replace_layer()

    def _replace_layer(self) -> None:
        """Show another still picture: something else is looked at."""
        self._layer = None
        self._idle.start()
        self.viewport().update()

    def _new_layer(self) -> QPixmap:
        layer = QPixmap(self._window().size())
        self._paint_layer(layer, QRegion(layer.rect()))
        return layer

    def _paint_layer(self, layer: QPixmap, bare: QRegion) -> None:
        painter = QPainter(layer)
        painter.setClipRegion(bare)
        self.paint_still(painter, layer.rect(), bare.boundingRect())
        painter.end()

    def _shift_layer(self, layer: QPixmap | None, across: int, down: int) -> None:
        """Keep a layer that was painted before scrolling; paint only what has come into view."""
        window = self._window()
        if layer is not None and layer.size() == window.size():
            layer.scroll(across, down, window)
            self._paint_layer(layer, QRegion(window) - QRegion(window.translated(across, down)))
            self._layer = layer

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the still layer and what moves above it."""
        if self._layer is None:
            ahead, self._ahead = self._ahead, None
            is_there = ahead is not None and ahead[0] == self.still_key()
            self._layer = ahead[1] if ahead and is_there else self._new_layer()
        painter = QPainter(self.viewport())
        painter.scale(1 / self._ratio, 1 / self._ratio)
        painter.drawPixmap(0, 0, self._layer)
        self.paint_above(painter)
        painter.end()

    def event(self, event: QEvent) -> bool:
        """Notice other colours and fonts."""
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange):
            self._redraw_layer()
        return super().event(event)
