"""The score in the middle of the window: pages, regions on them, and what hand and keys do there.

The tables of keys and gestures stand in `stavelight.window.region_handling` (mouse),
`stavelight.window.region_keys` and `stavelight.window.page_browser`.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QKeyEvent
from PySide6.QtWidgets import QWidget

from stavelight.engraving.engraver import EngravedScore
from stavelight.score.structure import Point, Score, Span
from stavelight.window.region_drag import Cell
from stavelight.window.region_handling import STILL_READING, RegionHandling
from stavelight.window.region_keys import ARROWS, KeyDrawing, reshaped_by_key
from stavelight.window.region_shapes import ShownRegion
from stavelight.window.span_text import span_text

__all__ = ["ScoreView", "ShownRegion"]

_Key = Qt.Key
_Modifier = Qt.KeyboardModifier
_PLAIN_KEYS = (
    *ARROWS,
    _Key.Key_PageDown,
    _Key.Key_PageUp,
    _Key.Key_Home,
    _Key.Key_End,
    _Key.Key_Space,
    _Key.Key_Insert,
    _Key.Key_Return,
    _Key.Key_Enter,
)
_MODIFIER_KEYS = {
    _Key.Key_Shift: _Modifier.ShiftModifier,
    _Key.Key_Control: _Modifier.ControlModifier,
}


class ScoreView(RegionHandling):
    """Shows a score, and regions that can be drawn, selected and reshaped by mouse and keys.

    Signals
    -------
    context_menu_wanted
        (id or "", global position) A menu is wanted for a region, or for the page.
    """

    context_menu_wanted = Signal(str, QPoint)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._key_drawing: KeyDrawing | None = None
        self.setAccessibleName("Score")
        self.page_shown.connect(self._describe)
        self.region_selected.connect(self._describe)

    def set_score(self, engraved: EngravedScore | None, score: Score | None) -> None:
        """Show a score: see `RegionView.set_score`; what is being drawn is given up."""
        if engraved is not self._supply.engraved:
            self.break_off()
            self._last_click = None
        super().set_score(engraved, score)
        self.show_cursor()
        self._describe()

    def select_region(self, region_id: str | None) -> None:
        """Select a region, or none, without going there and without a signal."""
        super().select_region(region_id)
        self._describe()

    @property
    def is_drawing(self) -> bool:
        """Whether a region is being drawn or reshaped."""
        return self._drag is not None or self._key_drawing is not None

    def break_off(self) -> None:
        """Give up what is being drawn or reshaped."""
        self._key_drawing = None
        super().break_off()

    def drag_begins(self) -> None:
        """Give up what is being drawn with the keys."""
        self._key_drawing = None

    def shown_ghost(self) -> tuple[Span, ...]:
        """Return the spans that are being drawn."""
        return (self._key_drawing.span,) if self._key_drawing else super().shown_ghost()

    def _describe(self, *_: object) -> None:
        """Tell screen readers what is shown."""
        plan, region = self._supply.plan, self.shapes.get(self.selected_region)
        if plan is None:
            self.setAccessibleDescription("No page is there yet.")
            return
        numbers = [number for number in self.opening if number]
        text = f"Page {numbers[0]} of {self._supply.page_count or 'unknown'}."
        if region and self.grid:
            spans = "; ".join(span_text(self.grid, span) for span in region.spans)
            text += f" Selected region: {region.label or 'without label'}, {spans}."
        self.setAccessibleDescription(text)

    # Keys

    def event(self, event: QEvent) -> bool:
        """Take the keys that mean something here before the menus do."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            modifiers = event.modifiers() & ~_Modifier.KeypadModifier
            key = _Key(event.key())
            mine = key in _PLAIN_KEYS and not modifiers
            mine = mine or (key in ARROWS and self._arrows_reshape(modifiers))
            mine = mine or (key == _Key.Key_Escape and self._has_to_break_off())
            if mine and self._supply.engraved is not None:
                event.accept()
                return True
        return super().event(event)

    def _arrows_reshape(self, modifiers: Qt.KeyboardModifier) -> bool:
        if self._key_drawing:
            return True
        wanted = _Modifier.ShiftModifier | _Modifier.ControlModifier
        return self.selected_region is not None and bool(modifiers & wanted)

    def _has_to_break_off(self) -> bool:
        return self.is_drawing or self.selected_region is not None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Draw and reshape regions; what is left over browses."""
        key, modifiers = _Key(event.key()), event.modifiers() & ~_Modifier.KeypadModifier
        if self._drag is not None and key in _MODIFIER_KEYS:
            self._modifiers = modifiers | _MODIFIER_KEYS[key]
            self._go_on_dragging()
        elif key == _Key.Key_Escape and self._has_to_break_off():
            self._escape()
        elif key in (_Key.Key_Return, _Key.Key_Enter) and not modifiers:
            self._enter()
        elif key == _Key.Key_Insert and not modifiers:
            self.begin_key_drawing()
        elif key in ARROWS and self._arrows_reshape(modifiers):
            self._arrow(key, modifiers)
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Go on with a drag without the modifier."""
        key = _Key(event.key())
        if self._drag is not None and key in _MODIFIER_KEYS:
            self._modifiers = event.modifiers() & ~_MODIFIER_KEYS[key]
            self._go_on_dragging()
        super().keyReleaseEvent(event)

    def _escape(self) -> None:
        if self.is_drawing:
            self.break_off()
            self._say("")
        else:
            self.choose_region(None)
            self.show_cursor()

    def _enter(self) -> None:
        if self._key_drawing is not None:
            span = self._key_drawing.span
            self.break_off()
            self.region_drawn.emit(span)
        elif self.selected_region is not None:
            self.region_activated.emit(self.selected_region)

    def begin_key_drawing(self) -> None:
        """Begin to draw a region with the keyboard: at the selected one, or atop the page."""
        if not self._editable or self._supply.engraved is None or self._drag is not None:
            return
        if self.grid is None:
            self._say(STILL_READING)
            return
        region = self.shapes.get(self.selected_region)
        place = region.spans[0] if region and region.spans else None
        point = place.start if place else Point(self.first_bar)
        staff = place.staves[0] if place and place.staves else 0
        start = self.grid.time(point)
        cell = Cell(start, self.grid.after(start), staff)
        self._show_key_drawing(KeyDrawing(self.grid, cell, cell))

    def _show_key_drawing(self, drawing: KeyDrawing) -> None:
        self._key_drawing = drawing
        corner = drawing.corner
        place = Span(
            drawing.grid.point(corner.start),
            drawing.grid.point(corner.end, ending=True),
            (corner.staff,),
        )
        self.show_span(place)
        self._say(span_text(drawing.grid, drawing.span))
        self._redraw_layer()

    def _arrow(self, key: Qt.Key, modifiers: Qt.KeyboardModifier) -> None:
        if self._key_drawing is not None:
            self._show_key_drawing(self._key_drawing.after_key(key, modifiers))
            return
        region = self.shapes.get(self.selected_region)
        if region is None or self.grid is None or not self._editable or self._drag is not None:
            return
        if not region.spans or not all(span.staves for span in region.spans):
            return  # lost in another edition: there is nothing to take hold of
        spans = reshaped_by_key(self.grid, region.spans, key, modifiers)
        if spans is not None:
            self._say("; ".join(span_text(self.grid, span) for span in spans))
            self._send(spans, region.id)

    def focusNextPrevChild(self, forwards: bool) -> bool:  # noqa: N802 - Qt's name
        """Go to the next region on the page; after the last, out of the view."""
        order = [
            region_id
            for sheet, geometry in self.pages_seen()
            for region_id in self.shapes.in_order(sheet.number, geometry)
        ]
        order = list(dict.fromkeys(order if forwards else order[::-1]))
        if self.selected_region in order:
            order = order[order.index(self.selected_region) + 1 :]
        if not order or self.is_drawing:
            return super().focusNextPrevChild(forwards)
        self.choose_region(order[0])
        region = self.shapes.get(order[0])
        if region and self.grid:
            self.show_span(region.spans[0])
            self._say("; ".join(span_text(self.grid, span) for span in region.spans))
        return True

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Ask for a menu: for the region under the pointer, or for the selected one."""
        if self._supply.engraved is None or self._drag is not None:
            return
        event.accept()
        position = event.globalPos()
        if event.reason() == QContextMenuEvent.Reason.Mouse:
            hits = self.regions_at(QPointF(self.viewport().mapFromGlobal(position)))
            if self.selected_region not in hits:
                self.choose_region(hits[0] if hits else None)
        else:
            position = self.viewport().mapToGlobal(self._corner_of_selected())
        self.context_menu_wanted.emit(self.selected_region or "", position)

    def _corner_of_selected(self) -> QPoint:
        """Return where the selected region begins, in the viewport; else the viewport's middle."""
        for sheet, geometry in self.pages_seen():
            shape = self._selected_on(sheet, geometry)
            if shape is not None:
                first = shape.pieces[0].rectangle
                x, y = sheet.to_desk(first.left, first.top)
                return QPoint(round(x / self._ratio), round(y / self._ratio))
        return self.viewport().rect().center()
