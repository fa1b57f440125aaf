"""A field for a time on the recording."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from stavelight.annotation.commentary import TimeTextError, format_time, parse_time


class TimeField(QLineEdit):
    """Minutes and seconds, or nothing; see `stavelight.annotation.commentary.parse_time`.

    Parameters
    ----------
    name
        What the time is.

    Signals
    -------
    finished
        A time in seconds, or None, was typed that is another one than before.
    refused
        What was typed is no time: an error with its three parts. None when that is over.
    """

    finished = Signal(object)
    refused = Signal(object)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._known: float | None = None
        self.setAccessibleName(name)
        self.setPlaceholderText("mm:ss.mmm")
        self.setToolTip(f"{name} on the recording, such as 2:05 or 02:05.250")
        self.setFixedWidth(self.fontMetrics().horizontalAdvance("0:00:00.0000") + 16)
        self.returnPressed.connect(self.hand_over)

    @property
    def seconds(self) -> float | None:
        """The last time that was shown or handed over."""
        return self._known

    def show_time(self, seconds: float | None) -> None:
        """Show another time, or none."""
        self._known = seconds
        self.setText("" if seconds is None else format_time(seconds))
        self.refused.emit(None)

    def hand_over(self) -> None:
        """Read what was typed and hand it over now."""
        if not self.isModified():
            return
        typed = self.text().strip()
        try:
            seconds = parse_time(typed) if typed else None
        except TimeTextError as error:
            self.refused.emit(error)
            return
        self.setModified(False)
        self.setText("" if seconds is None else format_time(seconds))
        self.refused.emit(None)
        if seconds != self._known:
            self._known = seconds
            self.finished.emit(seconds)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Hand over."""
        super().focusOutEvent(event)
        self.hand_over()
