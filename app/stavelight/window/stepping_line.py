"""A line to type in whose arrow keys walk through a list beside it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QTreeWidget, QWidget

_STEPS = {
    Qt.Key.Key_Up: -1,
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_PageUp: -8,
    Qt.Key.Key_PageDown: 8,
}


class SteppingLine(QLineEdit):
    """A line to type in.

    Parameters
    ----------
    places
        The list that the arrow keys walk through.
    """

    def __init__(self, places: QTreeWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._list = places
        places.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walk, or type."""
        step = _STEPS.get(Qt.Key(event.key()))
        count = self._list.topLevelItemCount()
        if step is None or not count:
            super().keyPressEvent(event)
            return
        current = self._list.currentItem()
        before = self._list.indexOfTopLevelItem(current) if current is not None else -1
        row = max(0, min(count - 1, before + step if before >= 0 or step > 0 else 0))
        item = self._list.topLevelItem(0 if before < 0 else row)
        if item is not None:
            self._list.setCurrentItem(item)
            self._list.scrollToItem(item)
