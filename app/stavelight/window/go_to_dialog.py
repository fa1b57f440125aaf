"""Ask for a bar or a rehearsal mark, and show while typing what is meant."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.score.structure import Score
from stavelight.window.appearance import muted
from stavelight.window.panel_parts import closing_buttons, plain_list
from stavelight.window.places import find_places
from stavelight.window.stepping_line import SteppingLine


class GoToDialog(QDialog):
    """A line to type in, and the places below that it may mean.

    Parameters
    ----------
    score
        Where to look.
    page_of_bar
        Gives the number of the page that a bar stands on, or None while that is not known.

    Signals
    -------
    place_chosen
        The index of a bar.
    """

    place_chosen = Signal(int)

    def __init__(
        self, score: Score, page_of_bar: Callable[[int], int | None], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._score = score
        self._page_of_bar = page_of_bar
        self.setWindowTitle("Go to")
        self.resize(420, 360)
        column = QVBoxLayout(self)
        column.setSpacing(8)
        self.places = plain_list("Places found", 3, 1)
        label = QLabel("&Bar number or rehearsal mark")
        self.text = SteppingLine(self.places)
        has_marks = any(bar.rehearsal_mark for bar in score.bars)
        self.text.setPlaceholderText("41, or C, or C+3" if has_marks else "41")
        self.text.setClearButtonEnabled(True)
        label.setBuddy(self.text)
        self._nothing = QLabel("No such bar or mark in this score.")
        muted(self._nothing)
        buttons = closing_buttons(QDialogButtonBox.StandardButton.Cancel)
        self._go = buttons.addButton("Go", QDialogButtonBox.ButtonRole.AcceptRole)
        for widget in (label, self.text, self.places, self._nothing, buttons):
            column.addWidget(widget)
        self._go.setDefault(True)
        self.text.textChanged.connect(self._show_places)
        self.places.itemDoubleClicked.connect(lambda *_: self.accept())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self._show_places("")

    def _show_places(self, text: str) -> None:
        self.places.clear()
        for place in find_places(self._score, text):
            page = self._page_of_bar(place.bar)
            item = QTreeWidgetItem([place.title, place.detail, f"page {page}" if page else ""])
            item.setData(0, Qt.ItemDataRole.UserRole, place.bar)
            item.setForeground(1, self.palette().placeholderText())
            item.setForeground(2, self.palette().placeholderText())
            self.places.addTopLevelItem(item)
        first = self.places.topLevelItem(0)
        found = first is not None
        if first is not None:
            self.places.setCurrentItem(first)
        self._nothing.setVisible(bool(text.strip()) and not found)
        self._go.setEnabled(found)

    def accept(self) -> None:
        """Go to the chosen place."""
        item = self.places.currentItem()
        if item is None:
            return
        super().accept()
        self.place_chosen.emit(int(item.data(0, Qt.ItemDataRole.UserRole)))
