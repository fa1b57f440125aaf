"""Browse through a score: turn, scroll, zoom and pan by keys, wheel, touch pad and mouse.

Keys, while the view has the keyboard:

=========================  ===================================================================
PageDown, PageUp           a windowful down or up; at the end of the page, the next or last page
Down, Up, Right, Left      a little further; where there is nothing to scroll, to another page
Home, End                  to the first page, to the last page
Space, held                the hand: drag to move the page (so does the middle mouse button)
=========================  ===================================================================

The wheel scrolls and goes on to the next page at the end; with Ctrl it zooms at the pointer.
"""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QEvent, QPointF, Qt, QTimer
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from stavelight.engraving.engraver import EngravedScore
from stavelight.window.page_desk import ZOOM_STEPS
from stavelight.window.page_scrolling import PageTurner, wheel_distance
from stavelight.window.page_view import LINE, PageView

_WHEEL_ZOOM = 1.18
"""How much a notch of the wheel zooms."""

_QUICK_TURN_MILLISECONDS = 150
_WAIT_MILLISECONDS = 90
"""Who turns pages quicker than the first gets them engraved after resting for the second."""

_Key = Qt.Key
_TURNING_KEYS = {
    _Key.Key_PageDown: (0, 1),
    _Key.Key_PageUp: (0, -1),
    _Key.Key_Down: (0, 1),
    _Key.Key_Up: (0, -1),
    _Key.Key_Right: (1, 0),
    _Key.Key_Left: (-1, 0),
}


class PageBrowser(PageView):
    """A view of pages that one can browse through."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pan_from: QPointF | None = None
        self._space_held = False
        self._turner = PageTurner()
        self._since_turn = QElapsedTimer()
        self._late_asking = QTimer(self)
        self._late_asking.setSingleShot(True)
        self._late_asking.setInterval(_WAIT_MILLISECONDS)
        self._late_asking.timeout.connect(self._ask_pages)

    def open_pages(self, engraved: EngravedScore | None) -> None:
        """Show the pages of a score, from the first; None: an empty desk."""
        self._late_asking.stop()
        super().open_pages(engraved)

    # Turning pages

    def go_to_page(self, number: int) -> None:
        """Show a page, from its top."""
        self.turn_to(number)

    def next_page(self) -> None:
        """Show the next page, or the next two."""
        self.turn_to(max(self.opening) + 1)

    def previous_page(self) -> None:
        """Show the page before, or the two before."""
        self.turn_to(min(number for number in self.opening if number) - 1)

    def turn_to(self, number: int, *, at_end: bool = False) -> bool:
        """Show a page from its top or its foot; return whether there is one."""
        if not 1 <= number <= max(self._supply.page_count, 1):
            return False
        is_new = number not in self.opening
        self._number = number
        if is_new:
            quick = self._since_turn.isValid()
            quick = quick and self._since_turn.elapsed() < _QUICK_TURN_MILLISECONDS
            self._since_turn.start()
            self.update_desk(ask=not quick)
            if quick:
                self._late_asking.start()
        self._glide_y.jump(self.verticalScrollBar().maximum() if at_end else 0)
        return True

    def _turn(self, direction: int) -> bool:
        """Go to the next page's top (1) or the last page's foot (-1)."""
        here = [number for number in self.opening if number]
        if direction > 0:
            return self.turn_to(here[-1] + 1)
        return self.turn_to(here[0] - 1, at_end=True)

    # Zoom

    def zoom_in(self) -> None:
        """Go to the next larger step."""
        larger = [step for step in ZOOM_STEPS if step > self.zoom * 1.02]
        self.set_zoom(larger[0] if larger else ZOOM_STEPS[-1])

    def zoom_out(self) -> None:
        """Go to the next smaller step."""
        smaller = [step for step in ZOOM_STEPS if step < self.zoom * 0.98]
        self.set_zoom(smaller[-1] if smaller else ZOOM_STEPS[0])

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Scroll, go on to the next page at the end, or zoom."""
        event.accept()
        if self._supply.engraved is None:
            return
        angle = event.angleDelta()
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            notches = angle.y() / 120
            if notches:
                self.zoom_to(self.zoom * _WHEEL_ZOOM**notches, event.position())
            return
        across, down = wheel_distance(event.pixelDelta(), angle, LINE)
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and not across:
            across, down = down, 0.0
        if across and self._glide_x.can_move(across):
            self._glide_x.move(across)
        if not down:
            return
        if self._glide_y.can_move(down):
            self._glide_y.move(down)
            self._turner.scrolled()
        elif turned := self._turner.push(angle.y()):
            self._turn(turned)

    def viewportEvent(self, event: QEvent) -> bool:
        """Zoom by pinching."""
        if (
            isinstance(event, QNativeGestureEvent)
            and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture
        ):
            self.zoom_to(self.zoom * (1 + event.value()), event.position())
            return True
        return super().viewportEvent(event)

    # Keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Scroll and turn pages."""
        key, plain = event.key(), event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if key == _Key.Key_Space and not plain:
            if not event.isAutoRepeat():
                self._space_held = True
                self.show_cursor()
        elif plain or self._supply.engraved is None:
            event.ignore()
        elif key == _Key.Key_Home:
            self.go_to_page(1)
        elif key == _Key.Key_End:
            self.go_to_page(self._supply.page_count)
        elif key in _TURNING_KEYS:
            self._go_on(_Key(key))
        else:
            event.ignore()

    def _go_on(self, key: Qt.Key) -> None:
        across, down = _TURNING_KEYS[key]
        glide = self._glide_x if across else self._glide_y
        bar = self.horizontalScrollBar() if across else self.verticalScrollBar()
        step = LINE
        if key in (_Key.Key_PageDown, _Key.Key_PageUp):
            step = round(bar.pageStep() * 0.9)
        direction = across or down
        if glide.can_move(direction):
            glide.move(direction * step)
        else:
            self._turn(direction)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Put the hand away."""
        if event.key() == _Key.Key_Space and not event.isAutoRepeat():
            self._space_held = False
            self.show_cursor()
        else:
            super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Put the hand away."""
        self._space_held = False
        super().focusOutEvent(event)

    # The mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the page, or of what lies on it."""
        button = event.button()
        by_hand = self._space_held and button == Qt.MouseButton.LeftButton
        if self._supply.engraved is not None and (by_hand or button == Qt.MouseButton.MiddleButton):
            self._glide_x.stop()
            self._glide_y.stop()
            self._pan_from = event.position()
            self.show_cursor()
        else:
            self.press_on_page(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the page, or what lies on it."""
        if self._pan_from is None:
            self.move_on_page(event)
            return
        moved = event.position() - self._pan_from
        self._pan_from = event.position()
        self.scroll_by(-moved.x(), -moved.y())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        if self._pan_from is None:
            self.release_on_page(event)
            return
        self._pan_from = None
        self.show_cursor()

    def press_on_page(self, event: QMouseEvent) -> None:
        """Take a press that is not for the hand; nothing here."""

    def move_on_page(self, event: QMouseEvent) -> None:
        """Take a move that is not for the hand; nothing here."""

    def release_on_page(self, event: QMouseEvent) -> None:
        """Take a release that is not for the hand; nothing here."""

    def show_cursor(self) -> None:
        """Set the pointer's shape: the hand while the page can be dragged."""
        if self._pan_from is not None:
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
        elif self._space_held:
            self.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
        else:
            self.viewport().unsetCursor()
