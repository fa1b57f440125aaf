"""Take regions in hand on the page: draw, click, drag edges, move.

The mouse, where regions may be changed:

==================================  ==========================================================
drag over the page                  draw a region from one staff and beat to another
... with Shift                      over whole bars
... with Ctrl                       by parts of beats; also begins within the selected region
click                               select the smallest region there; again: the next one there
double click                        open the region (the window decides what that means)
drag an edge of the selected one    to another beat, or to another staff
drag within the selected one        move it in time
Esc                                 break off
==================================  ==========================================================
"""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter
from PySide6.QtWidgets import QWidget

from stavelight.engraving.hatching import PLAIN
from stavelight.engraving.page_picture import AreaStyle
from stavelight.score.structure import Span
from stavelight.window.region_drag import Drag, Drawing, Moving, PagePoint, Reshaping, cell_at
from stavelight.window.region_shapes import Edge, pieces_of
from stavelight.window.region_view import RegionView
from stavelight.window.snapping import Snap
from stavelight.window.span_text import beat_text, span_text

STILL_READING = "still reading the notes …"

_CLICK_REACH = 4
"""Logical pixels that a click may slip."""

_AUTOSCROLL_MILLISECONDS = 30
_AUTOSCROLL_STEP = 18
_NEW_STYLE = AreaStyle("#3b4654", PLAIN, 0.18)
_Modifier = Qt.KeyboardModifier
_CURSORS = {
    Edge.START: Qt.CursorShape.SizeHorCursor,
    Edge.END: Qt.CursorShape.SizeHorCursor,
    Edge.TOP: Qt.CursorShape.SizeVerCursor,
    Edge.BOTTOM: Qt.CursorShape.SizeVerCursor,
}


class RegionHandling(RegionView):
    """Lets regions be drawn, selected and reshaped with the mouse.

    It changes nothing itself: it says what the user wants, and shows what it is given.

    Signals
    -------
    region_drawn
        (Span) A new region is wanted.
    region_reshaped
        (id, tuple of Span) A region is wanted elsewhere.
    region_activated
        (id) A region is to be opened.
    read_out
        (text) What is under the pointer, or what a drag would make.
    """

    region_drawn = Signal(object)
    region_reshaped = Signal(str, object)
    region_activated = Signal(str)
    read_out = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._editable = True
        self._press: QPointF | None = None
        self._press_modifiers = _Modifier.NoModifier
        self._modifiers = _Modifier.NoModifier
        self._drag: Drag | None = None
        self._reshaped: str | None = None
        self._ghost: tuple[Span, ...] = ()
        self._pointer = QPointF(-1, -1)
        self._said = ""
        self._bubble = ""
        self._overlay = QRectF()
        self._last_click: tuple[QPointF, int] | None = None
        self._autoscroll = QTimer(self)
        self._autoscroll.setInterval(_AUTOSCROLL_MILLISECONDS)
        self._autoscroll.timeout.connect(self._scroll_while_dragging)

    def set_editable(self, editable: bool) -> None:
        """Say whether regions may be drawn and reshaped."""
        self._editable = editable
        if not editable:
            self.break_off()
        self._redraw_layer()

    @property
    def shows_handles(self) -> bool:
        """Whether the selected region has handles."""
        return self._editable and self.grid is not None

    # Dragging

    def press_on_page(self, event: QMouseEvent) -> None:
        """Begin what may become a click or a drag."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        if event.button() == Qt.MouseButton.LeftButton and self._supply.engraved:
            self._press = event.position()
            self._press_modifiers = event.modifiers()

    def move_on_page(self, event: QMouseEvent) -> None:
        """Go on with a drag, begin one, or tell what is under the pointer."""
        self._pointer, self._modifiers = event.position(), event.modifiers()
        if self._press is None:
            if not event.buttons():
                self.show_cursor()
                self._say(self._spot_text())
            return
        if self._drag is None:
            slip = (event.position() - self._press).manhattanLength()
            if slip < _CLICK_REACH or not self._editable:
                return
            if self.grid is None:
                self._bubble = STILL_READING
                self._say(STILL_READING)
                self._update_overlay()
                return
            self._begin_drag(self._press)
        self._go_on_dragging()

    def _begin_drag(self, at: QPointF) -> None:
        x, y = self._device(at)
        found = self.page_at(at)
        if self.grid is None or found is None or not found[0].holds(x, y):
            return
        self.drag_begins()
        point = PagePoint(*found[1:])
        region = self.shapes.get(self.selected_region)
        afresh = bool(self._press_modifiers & _Modifier.ControlModifier)
        grip = self.grip_under(at)
        self._reshaped = None
        if region and grip and not afresh:
            self._drag = Reshaping(self.grid, region.spans, grip, point)
            self._reshaped = region.id
        elif region and not afresh and self._is_in_selected(at):
            self._drag = Moving(self.grid, region.spans, point)
            self._reshaped = region.id
        else:
            self._drag = Drawing(self.grid, point)
        if self._reshaped:
            self._redraw_layer()
        self._autoscroll.start()
        self.show_cursor()

    def _is_in_selected(self, at: QPointF) -> bool:
        found = self.page_at(at)
        shape = self._selected_on(*found[:2]) if found else None
        return bool(found and shape and shape.holds(*found[2:]))

    def _snap(self) -> Snap:
        if self._modifiers & _Modifier.ShiftModifier:
            return Snap.BARS
        by_parts = self._modifiers & _Modifier.ControlModifier
        return Snap.PARTS_OF_BEATS if by_parts else Snap.BEATS

    def _go_on_dragging(self) -> None:
        found = self.page_at(self._pointer)
        if self._drag is None or self.grid is None or found is None:
            return
        self._ghost = self._drag.spans_at(PagePoint(*found[1:]), self._snap())
        self._bubble = "; ".join(span_text(self.grid, span) for span in self._ghost)
        self._say(self._bubble)
        self._update_overlay()

    def release_on_page(self, event: QMouseEvent) -> None:
        """End a drag: say what is wanted; or take it for a click."""
        if event.button() != Qt.MouseButton.LeftButton or self._press is None:
            return
        pressed_at, dragged, ghost = self._press, self._drag is not None, self._ghost
        reading = self._bubble == STILL_READING
        reshaped = self._reshaped
        self._pointer = event.position()
        self._end_drag()
        if not dragged:
            slip = (event.position() - pressed_at).manhattanLength()
            if slip < _CLICK_REACH and not reading:
                self._click(pressed_at)
            return
        self._send(ghost, reshaped)

    def _send(self, spans: tuple[Span, ...], reshaped: str | None) -> None:
        """Say what region is wanted, if it is anything new."""
        if not spans or not all(span.staves for span in spans):
            return
        if reshaped is None:
            self.region_drawn.emit(spans[0])
            return
        region = self.shapes.get(reshaped)
        if region is not None and region.spans != spans:
            self.region_reshaped.emit(reshaped, spans)

    def break_off(self) -> None:
        """Give up what is being drawn or reshaped."""
        self._end_drag()
        self._redraw_layer()

    def drag_begins(self) -> None:
        """Do what a drag puts an end to; nothing here."""

    def _end_drag(self) -> None:
        self._autoscroll.stop()
        if self._reshaped:
            self._redraw_layer()
        self._press = self._drag = self._reshaped = None
        self._ghost, self._bubble = (), ""
        self._update_overlay()
        self.show_cursor()

    def _scroll_while_dragging(self) -> None:
        """Scroll on while the mouse is held beyond the edge of the window."""
        room = QRectF(self.viewport().rect())
        x, y = self._pointer.x(), self._pointer.y()
        across = (x > room.right() - 2) - (x < room.left() + 2)
        down = (y > room.bottom() - 2) - (y < room.top() + 2)
        if across or down:
            self.scroll_by(across * _AUTOSCROLL_STEP, down * _AUTOSCROLL_STEP)

    def desk_moved(self) -> None:
        """Let a drag follow when the pages move below it."""
        if self._drag is not None:
            self._go_on_dragging()

    # Clicking

    def _click(self, at: QPointF) -> None:
        """Select the smallest region at a point, or the next one there if it was clicked before."""
        hits = self.regions_at(at)
        turn = 0
        if self._last_click and (at - self._last_click[0]).manhattanLength() < _CLICK_REACH:
            turn = self._last_click[1] + 1
        self._last_click = (at, turn)
        self.choose_region(hits[turn % len(hits)] if hits else None)
        self.show_cursor()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Open the region."""
        self._press = None
        if event.button() == Qt.MouseButton.LeftButton:
            hits = self.regions_at(event.position())
            if hits:
                chosen = self.selected_region if self.selected_region in hits else hits[0]
                self.choose_region(chosen)
                self.region_activated.emit(chosen)

    def leaveEvent(self, event: QEvent) -> None:
        """Say nothing any more."""
        super().leaveEvent(event)
        if self._drag is None:
            self._say("")

    # What is told

    def _say(self, text: str) -> None:
        if text != self._said:
            self._said = text
            self.read_out.emit(text)

    def _spot_text(self) -> str:
        """Return what is under the pointer: bar, beat, part, and the region's label."""
        found = self.page_at(self._pointer)
        if found is None or not found[0].holds(*self._device(self._pointer)):
            return ""
        if self.grid is None:
            return STILL_READING
        cell = cell_at(self.grid, PagePoint(*found[1:]), Snap.BEATS)
        point = self.grid.point(cell.start)
        bar = self.grid.score.bars[point.bar].printed_number
        text = f"b. {bar}.{beat_text(self.grid.beat_at(point))}, "
        text += self.grid.score.staff_name(cell.staff)
        hits = self.regions_at(self._pointer)
        region = self.shapes.get(hits[0]) if hits else None
        return f"{text} – {region.label}" if region and region.label else text

    def show_cursor(self) -> None:
        """Set the pointer's shape: it tells what a drag would do."""
        super().show_cursor()
        if self._pan_from is not None or self._space_held or self._drag is not None:
            return
        at = self._pointer
        found = self.page_at(at)
        if found is None or not found[0].holds(*self._device(at)):
            return
        grip = self.grip_under(at) if self.shows_handles else None
        if grip:
            shape = _CURSORS[grip.edge]
        elif self.shows_handles and self._is_in_selected(at):
            shape = Qt.CursorShape.SizeAllCursor
        elif self.regions_at(at):
            shape = Qt.CursorShape.PointingHandCursor
        elif self._editable and self.grid is not None:
            shape = Qt.CursorShape.CrossCursor
        else:
            return
        self.viewport().setCursor(shape)

    # Painting

    def use_idle_time(self) -> None:
        """Paint ahead, but not while something is held with the mouse."""
        if self._press is None:
            super().use_idle_time()

    def shown_ghost(self) -> tuple[Span, ...]:
        """Return the spans that are being drawn."""
        return self._ghost

    def paint_above(self, painter: QPainter) -> None:
        """Paint the selected region, what is being drawn, and what it would be."""
        ghost = self.shown_ghost()
        if not self._reshaped or not ghost:
            self.paint_selected(painter)
        region = self.shapes.get(self._reshaped)
        style = replace(region.style, hatch=PLAIN) if region else _NEW_STYLE
        for sheet, geometry in self.pages_seen() if ghost else ():
            pieces = pieces_of(geometry, ghost)
            self.paint_pieces(painter, sheet, pieces, style, self._window(), selected=True)
        if self._bubble:
            self._paint_bubble(painter)

    def _bubble_place(self) -> QRectF:
        metrics = QFontMetricsF(self.text_font())
        pad = 6 * self._ratio
        x, y = self._device(self._pointer)
        place = QRectF(
            x + 14 * self._ratio,
            y + 18 * self._ratio,
            metrics.horizontalAdvance(self._bubble) + 2 * pad,
            metrics.height() + pad,
        )
        window = QRectF(self._window())
        if place.bottom() > window.bottom():
            place.moveBottom(y - 8 * self._ratio)
        place.moveRight(min(place.right(), window.right() - pad))
        place.moveLeft(max(place.left(), window.left() + pad))
        place.moveTop(max(place.top(), window.top() + pad))
        return place

    def _paint_bubble(self, painter: QPainter) -> None:
        place = self._bubble_place()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(32, 36, 42, 232))
        painter.drawRoundedRect(place, 4 * self._ratio, 4 * self._ratio)
        painter.setPen(QColor("#f4f3ef"))
        painter.setFont(self.text_font())
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, self._bubble)

    def _update_overlay(self) -> None:
        """Have painted anew only what moves: where it was and where it is."""
        now = self._bubble_place() if self._bubble else QRectF()
        ghost = self.shown_ghost()
        for sheet, geometry in self.pages_seen() if ghost else ():
            for piece in pieces_of(geometry, ghost):
                left, top = sheet.to_desk(piece.rectangle.left, piece.rectangle.top)
                right, bottom = sheet.to_desk(piece.rectangle.right, piece.rectangle.bottom)
                now = now.united(QRectF(left, top, right - left, bottom - top))
        both = now.united(self._overlay)
        self._overlay = now
        if not both.isEmpty():
            edge = 4 + round(max((sheet.scale for sheet in self._sheets), default=1))
            ratio = self._ratio
            dirty = QRectF(
                both.left() / ratio, both.top() / ratio, both.width() / ratio, both.height() / ratio
            )
            self.viewport().update(dirty.toAlignedRect().adjusted(-edge, -edge, edge, edge))
