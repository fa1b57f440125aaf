"""A field that says what a commentary entry is about: chosen from a list, or typed."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget


class AboutField(QComboBox):
    """A list of regions and bars, with a line to type other bars in.

    Signals
    -------
    finished
        Another text was chosen or typed.
    """

    finished = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._known = ""
        self._line = QLineEdit()
        self._line.setPlaceholderText("A region, or bars such as 41-44")
        self.setEditable(True)
        self.setLineEdit(self._line)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(10)
        self.setAccessibleName("What the entry is about")
        self.setToolTip("Choose a region or the whole score, or type bars such as 41-44")
        self.activated.connect(lambda _: self.hand_over())
        self._line.editingFinished.connect(self.hand_over)

    def show_about(self, text: str, choices: Sequence[str]) -> None:
        """Show another text and other choices."""
        self._known = text
        self.clear()
        self.addItems(list(choices))
        self.setCurrentIndex(self.findText(text))
        self.setEditText(text)
        self._line.setCursorPosition(0)

    def hand_over(self) -> None:
        """Hand over what was typed, if it is another text than before."""
        typed = self.currentText().strip()
        if typed and typed != self._known:
            self._known = typed
            self.finished.emit(typed)
