"""Tell what went wrong, once: what happened, where, and what to do. Never in the way of the work.

Notices stand in a strip above the page until they are closed or no longer true.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStyle,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from stavelight.errors import StavelightError
from stavelight.window.appearance import heading_font

_MOST = 3
"""How many notices stand there at most; older ones go."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A button on a notice.

    Attributes
    ----------
    text
        On the button.
    do
        Called when it is pressed; the notice is closed then.
    """

    text: str
    do: Callable[[], None]


class Notice(QFrame):
    """One notice.

    Signals
    -------
    closed
        The user has read it.
    """

    closed = Signal()

    def __init__(
        self, what: str, where: str, remedy: str, buttons: Sequence[Remedy], *, is_fault: bool
    ) -> None:
        super().__init__()
        self.what, self.where, self.remedy = what, where, remedy
        self.setObjectName("notice")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(self.palette().ColorRole.ToolTipBase)
        self.setAccessibleName(" ".join(text for text in (what, where, remedy) if text))
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 10, 8, 10)
        row.setSpacing(12)
        sign = QLabel()
        kind = (
            QStyle.StandardPixmap.SP_MessageBoxWarning
            if is_fault
            else QStyle.StandardPixmap.SP_MessageBoxInformation
        )
        size = self.style().pixelMetric(QStyle.PixelMetric.PM_ButtonIconSize) + 8
        sign.setPixmap(self.style().standardIcon(kind).pixmap(size, size))
        row.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(self._texts(), 1)
        for button in buttons:
            row.addWidget(self._button(button), 0, Qt.AlignmentFlag.AlignVCenter)
        close = QToolButton()
        close.setAutoRaise(True)
        close.setText("✕")
        close.setForegroundRole(self.palette().ColorRole.ToolTipText)
        close.setStyleSheet("QToolButton { color: palette(tool-tip-text); padding: 2px 6px; }")
        close.setToolTip("Close this notice")
        close.setAccessibleName("Close this notice")
        close.clicked.connect(self.closed)
        row.addWidget(close, 0, Qt.AlignmentFlag.AlignTop)

    def _texts(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(2)
        for text, is_heading in ((self.what, True), (self.where, False), (self.remedy, False)):
            if not text:
                continue
            label = QLabel(text)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            label.setForegroundRole(self.palette().ColorRole.ToolTipText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            if is_heading:
                label.setFont(heading_font(self))
            column.addWidget(label)
        return column

    def _button(self, remedy: Remedy) -> QPushButton:
        button = QPushButton(remedy.text)

        def press() -> None:
            self.closed.emit()
            remedy.do()

        button.clicked.connect(press)
        return button

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Close on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)


class Notices(QWidget):
    """The strip of notices, the newest above."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(1)
        self._standing: dict[str, Notice] = {}
        self._shown: list[Notice] = []
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.hide()

    @property
    def shown(self) -> tuple[Notice, ...]:
        """What stands there, the newest first."""
        return tuple(self._shown)

    def tell(self, error: StavelightError, buttons: Sequence[Remedy] = ()) -> Notice:
        """Show an expected failure, once: the same one is not repeated below itself."""
        return self._show(error.what, error.where, error.remedy, buttons, is_fault=True)

    def say(
        self, what: str, where: str = "", remedy: str = "", buttons: Sequence[Remedy] = ()
    ) -> Notice:
        """Show a remark that is no failure."""
        return self._show(what, where, remedy, buttons, is_fault=False)

    def keep(
        self, name: str, what: str, remedy: str = "", buttons: Sequence[Remedy] = ()
    ) -> Notice:
        """Show a remark that stays true for a while; a new one of that name replaces it."""
        self.lift(name)
        notice = self._show(what, "", remedy, buttons, is_fault=False)
        self._standing[name] = notice
        return notice

    def lift(self, name: str) -> None:
        """Take away a remark that is true no longer."""
        notice = self._standing.pop(name, None)
        if notice is not None:
            self._remove(notice)

    def clear(self) -> None:
        """Take away all of them."""
        self._standing.clear()
        for notice in list(self._shown):
            self._remove(notice)

    def _show(
        self, what: str, where: str, remedy: str, buttons: Sequence[Remedy], *, is_fault: bool
    ) -> Notice:
        for standing in list(self._shown):
            if (standing.what, standing.where, standing.remedy) == (what, where, remedy):
                self._remove(standing)
        notice = Notice(what, where, remedy, buttons, is_fault=is_fault)
        notice.closed.connect(lambda: self._remove(notice))
        self._column.insertWidget(0, notice)
        self._shown.insert(0, notice)
        passing = [one for one in self._shown if one not in self._standing.values()]
        for old in passing[_MOST:]:
            self._remove(old)
        self.show()
        QAccessible.updateAccessibility(QAccessibleEvent(notice, QAccessible.Event.Alert))
        return notice

    def _remove(self, notice: Notice) -> None:
        if notice in self._shown:
            self._shown.remove(notice)
            self._column.removeWidget(notice)
            notice.hide()
            notice.deleteLater()
        self.setVisible(bool(self._shown))
