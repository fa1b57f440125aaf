"""A layout that sets widgets one after the other and breaks lines where they are full."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class FlowLayout(QLayout):
    """Lines of widgets, like words on a page.

    Parameters
    ----------
    parent
        The widget that is laid out.
    spacing
        Pixels between widgets and between lines.
    """

    def __init__(self, parent: QWidget | None = None, *, spacing: int = 4) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(spacing)

    def addItem(self, item: QLayoutItem) -> None:  # noqa: N802 - Qt calls it
        """Take one more."""
        self._items.append(item)

    def count(self) -> int:
        """Return how many there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:  # noqa: N802 - Qt calls it
        """Return one of them."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # noqa: N802 - Qt calls it
        """Give one of them away."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:  # noqa: N802 - Qt calls it
        """Take no more room than is needed."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt calls it
        """Narrow means high."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt calls it
        """Return how high the lines come out."""
        return self._set(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, rectangle: QRect) -> None:  # noqa: N802 - Qt calls it
        """Set the lines into a rectangle."""
        super().setGeometry(rectangle)
        self._set(rectangle, move=True)

    def sizeHint(self) -> QSize:
        """Return the size of the largest widget: lines may break anywhere."""
        return self.minimumSize()

    def minimumSize(self) -> QSize:  # noqa: N802 - Qt calls it
        """Return the size of the largest widget."""
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.minimumSize())
        return size

    def _set(self, rectangle: QRect, *, move: bool) -> int:
        x, y, line = rectangle.x(), rectangle.y(), 0
        for item in self._items:
            size = item.sizeHint()
            if line and x + size.width() > rectangle.right() + 1:
                x, y, line = rectangle.x(), y + line + self.spacing(), 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), size))
            x += size.width() + self.spacing()
            line = max(line, size.height())
        return y + line - rectangle.y()
