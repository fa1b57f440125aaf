"""What the panels at the right are made of: a heading, a hint where there is nothing yet."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QIcon
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialogButtonBox,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTreeWidget,
    QVBoxLayout,
    QWidget,
)

from stavelight.window.appearance import heading_font, muted


class Panel(QFrame):
    """A panel with a heading and room for buttons beside it.

    Parameters
    ----------
    title
        The heading.
    """

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(title)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(12, 10, 12, 10)
        self.column.setSpacing(8)
        self.head = QHBoxLayout()
        self.head.setSpacing(4)
        self.title = QLabel(title)
        self.title.setFont(heading_font(self))
        self.head.addWidget(self.title)
        self.head.addStretch(1)
        self.column.addLayout(self.head)

    def take_keyboard(self) -> None:
        """Give the keyboard to the first widget of the panel that takes it."""
        widget = self.nextInFocusChain()
        while widget is not None and self.isAncestorOf(widget):
            if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible():
                widget.setFocus(Qt.FocusReason.TabFocusReason)
                return
            widget = widget.nextInFocusChain()


class Hint(QLabel):
    """A few words on what can be done, where there is nothing yet."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAlignment(Qt.AlignmentFlag.AlignTop)
        muted(self)


class RoomyRows(QStyledItemDelegate):
    """Rows of a list with some room above and below the text."""

    _ROOM = 8

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        """Return the size of one cell."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + 4, size.height() + self._ROOM)


def plain_list(
    name: str, columns: int, stretched: int, *, narrow: int | None = None
) -> QTreeWidget:
    """Return an empty list of lines with several columns.

    Parameters
    ----------
    name
        What it lists.
    columns
        How many columns.
    stretched
        Which of them takes the room that is left.
    narrow
        Which of them keeps to a few words' width, and cuts off what is longer.
    """
    lines = QTreeWidget()
    lines.setColumnCount(columns)
    lines.setHeaderHidden(True)
    lines.setRootIsDecorated(False)
    lines.setUniformRowHeights(True)
    lines.setItemDelegate(RoomyRows(lines))
    lines.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    lines.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    lines.setTextElideMode(Qt.TextElideMode.ElideRight)
    lines.setAccessibleName(name)
    header = lines.header()
    header.setStretchLastSection(False)
    header.setMinimumSectionSize(8)
    for column in range(columns):
        mode = QHeaderView.ResizeMode
        header.setSectionResizeMode(
            column, mode.Stretch if column == stretched else mode.ResizeToContents
        )
    if narrow is not None:
        header.setSectionResizeMode(narrow, QHeaderView.ResizeMode.Fixed)
        header.resizeSection(narrow, lines.fontMetrics().horizontalAdvance("bb. 00.0-00.00"))
    return lines


def closing_buttons(kind: QDialogButtonBox.StandardButton) -> QDialogButtonBox:
    """Return the buttons of a dialog, with one to close it, without pictures on them."""
    buttons = QDialogButtonBox(kind)
    for button in buttons.buttons():
        button.setIcon(QIcon())
        if isinstance(button, QPushButton):
            button.setAutoDefault(False)  # Enter never closes a dialog
    return buttons


class ProseField(QPlainTextEdit):
    """Several lines of text, handed over when the keyboard leaves them.

    Parameters
    ----------
    name
        What is written here.
    hint
        Shown while nothing is.

    Signals
    -------
    finished
        The text, if it was changed since it was shown or handed over.
    """

    finished = Signal(str)

    def __init__(self, name: str, hint: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._known = ""
        self.setAccessibleName(name)
        self.setPlaceholderText(hint)
        self.setTabChangesFocus(True)

    def show_text(self, text: str) -> None:
        """Show another text; the place of the cursor is kept where the text is the same."""
        self._known = text
        if text != self.toPlainText():
            self.setPlainText(text)

    @property
    def is_pending(self) -> bool:
        """Whether something was typed that is not handed over yet."""
        return self.toPlainText() != self._known

    def hand_over(self) -> None:
        """Hand the text over now."""
        text = self.toPlainText()
        if text != self._known:
            self._known = text
            self.finished.emit(text)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Hand the text over."""
        super().focusOutEvent(event)
        self.hand_over()
