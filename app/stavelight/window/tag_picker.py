"""Tags of what is selected: chips, and a line to type in that finds tags by any of their names."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QFocusEvent, QIcon, QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QToolButton,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.window.appearance import muted
from stavelight.window.flow_layout import FlowLayout
from stavelight.window.panel_parts import plain_list
from stavelight.window.stepping_line import SteppingLine

_ROWS_SHOWN = 9
_LETTERS_SHOWN = 48


@dataclass(frozen=True, slots=True)
class TagOffer:
    """A tag as the picker shows it.

    Attributes
    ----------
    id
        Of the tag.
    label
        Its preferred label.
    found_by
        The alternative label by which it was found, or "".
    group
        The readable name of its group.
    definition
        What it means.
    icon
        Its default colour and pattern.
    """

    id: str
    label: str
    found_by: str
    group: str
    definition: str
    icon: QIcon


class _Offers(QFrame):
    """The tags that fit, below the line, over whatever else is in the window."""

    def __init__(self) -> None:
        super().__init__()
        self.setFrameShape(QFrame.Shape.Box)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.palette().ColorRole.Base)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(0)
        self.list = plain_list("Tags found", 2, 0)
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.definition = QLabel()
        self.definition.setWordWrap(True)
        self.definition.setTextFormat(Qt.TextFormat.PlainText)
        self.definition.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.definition.setContentsMargins(10, 6, 10, 8)
        muted(self.definition)
        column.addWidget(self.list)
        column.addWidget(self.definition)
        self.hide()


class _TagLine(SteppingLine):
    """The line to type in: it says when it is left or gone back in."""

    given_up = Signal()
    backed = Signal()
    entered = Signal()
    left = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.given_up.emit()
        elif event.key() == Qt.Key.Key_Backspace and not self.text():
            self.backed.emit()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.entered.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()


class TagPicker(QWidget):
    """Chips of the tags that are given, and the line that finds more.

    Parameters
    ----------
    search
        Returns the tags that fit a text, the best first; for an empty text, those to offer first.

    Signals
    -------
    added, removed
        The id of a tag.
    finished
        The user is done with tags and goes back to the page.
    """

    added = Signal(str)
    removed = Signal(str)
    finished = Signal()

    def __init__(
        self, search: Callable[[str], Sequence[TagOffer]], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._search = search
        self._given: tuple[str, ...] = ()
        self._offers = _Offers()
        self._chips = QWidget()
        self._flow = FlowLayout(self._chips)
        self.line = _TagLine(self._offers.list)
        self.line.setPlaceholderText("Type a tag: melody, unison, divisi…")
        self.line.setAccessibleName("Find a tag")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self._chips)
        column.addWidget(self.line)
        self._chips.hide()
        self.line.textEdited.connect(lambda _: self._offer())
        self.line.returnPressed.connect(self._take_current)
        self.line.entered.connect(self._offer)
        self.line.left.connect(self._offers.hide)
        self.line.given_up.connect(self._give_up)
        self.line.backed.connect(self._remove_last)
        self._offers.list.itemClicked.connect(lambda item, _: self._take(item))
        self._offers.list.currentItemChanged.connect(lambda *_: self._define())

    @property
    def offered(self) -> tuple[str, ...]:
        """The labels of the tags that are offered at the moment, from above."""
        offered = self._offers.list
        rows = range(offered.topLevelItemCount() if self._offers.isVisible() else 0)
        return tuple(str(offered.topLevelItem(row).text(0)) for row in rows)  # type: ignore[union-attr]

    def show_tags(self, tags: Sequence[TagOffer]) -> None:
        """Show the tags that are given."""
        self._given = tuple(tag.id for tag in tags)
        while (item := self._flow.takeAt(0)) is not None:
            chip = item.widget()
            if chip is not None:
                chip.hide()
                chip.deleteLater()
        for tag in tags:
            self._flow.addWidget(self._chip(tag))
        self._chips.setVisible(bool(tags))
        self._chips.updateGeometry()

    def set_editable(self, editable: bool) -> None:
        """Allow tags to be given and taken, or forbid it."""
        self.line.setVisible(editable)
        self._chips.setEnabled(editable)

    def start(self, text: str = "") -> None:
        """Give the line the keyboard, with a text in it."""
        self.line.setText(text)
        self.line.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self._offer()

    def _chip(self, tag: TagOffer) -> QToolButton:
        chip = QToolButton()
        chip.setText(f"{tag.label}  ✕")
        chip.setIcon(tag.icon)
        chip.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        chip.setToolTip(f"{tag.definition}\nPress to remove.")
        chip.setAccessibleName(f"Tag {tag.label}: press to remove")
        chip.clicked.connect(lambda: self.removed.emit(tag.id))
        return chip

    def _offer(self) -> None:
        text = self.line.text().strip()
        offers = [tag for tag in self._search(text) if tag.id not in self._given]
        self._offers.list.clear()
        for tag in offers:
            label = f"{tag.label} ({tag.found_by})" if tag.found_by else tag.label
            item = QTreeWidgetItem([label, tag.group])
            item.setIcon(0, tag.icon)
            item.setData(0, Qt.ItemDataRole.UserRole, (tag.id, tag.definition))
            item.setForeground(1, self.palette().placeholderText())
            self._offers.list.addTopLevelItem(item)
        first = self._offers.list.topLevelItem(0)
        if text and first is not None:
            self._offers.list.setCurrentItem(first)
        self._define()
        self._place_offers(found=first is not None, asked=bool(text))

    def _define(self) -> None:
        item = self._offers.list.currentItem()
        if item is not None:
            self._offers.definition.setText(item.data(0, Qt.ItemDataRole.UserRole)[1])
        elif self._offers.list.topLevelItemCount():
            self._offers.definition.setText("↑ ↓ choose, Enter gives the tag, Esc goes back.")
        else:
            self._offers.definition.setText("No tag has that name.")

    def _place_offers(self, *, found: bool, asked: bool) -> None:
        if not self.line.hasFocus() or not (found or asked):
            self._offers.hide()
            return
        window = self.window()
        if self._offers.parentWidget() is not window:
            self._offers.setParent(window)
        rows = min(self._offers.list.topLevelItemCount(), _ROWS_SHOWN)
        row_height = max(self._offers.list.sizeHintForRow(0), self.fontMetrics().height() + 4)
        self._offers.list.setFixedHeight(rows * row_height + (4 if rows else 0))
        self._offers.list.setVisible(found)
        width = max(self.line.width(), self.fontMetrics().averageCharWidth() * _LETTERS_SHOWN)
        definition = 3 * self.fontMetrics().lineSpacing() + 14
        self._offers.definition.setFixedHeight(definition)
        height = self._offers.list.height() * found + definition + 4
        left = self.line.width() - width
        corner = self.line.mapTo(window, QPoint(left, self.line.height() + 2))
        above = corner.y() + height > window.height()
        if above:
            corner = self.line.mapTo(window, QPoint(left, -height - 2))
        self._offers.setGeometry(max(0, corner.x()), max(0, corner.y()), width, height)
        self._offers.show()
        self._offers.raise_()

    def _take_current(self) -> None:
        item = self._offers.list.currentItem() if self._offers.isVisible() else None
        if item is not None:
            self._take(item)
        elif not self.line.text().strip():
            self._offers.hide()
            self.finished.emit()

    def _take(self, item: QTreeWidgetItem) -> None:
        tag_id = str(item.data(0, Qt.ItemDataRole.UserRole)[0])
        self.line.clear()
        self.added.emit(tag_id)
        self._offer()

    def _give_up(self) -> None:
        self.line.clear()
        self._offers.hide()
        self.finished.emit()

    def _remove_last(self) -> None:
        if self._given:
            self.removed.emit(self._given[-1])
            self._offer()
