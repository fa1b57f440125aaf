"""The line at the foot of the window: where one is, what is under the pointer, what is going on."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QAction, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QSizePolicy,
    QToolButton,
    QWidget,
)


class ElidedLabel(QWidget):
    """A line of text that is shortened where there is too little room.

    Parameters
    ----------
    mode
        Where it is shortened.
    """

    def __init__(
        self,
        mode: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._text = ""
        self._mode = mode
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)

    def text(self) -> str:
        """Return the whole text."""
        return self._text

    def setText(self, text: str) -> None:  # noqa: N802 - as Qt's labels have it
        """Show another text."""
        if text != self._text:
            self._text = text
            self.setAccessibleName(text)
            self.setToolTip(text)
            self.update()

    def sizeHint(self) -> QSize:
        """Return the room for the whole text."""
        metrics = QFontMetrics(self.font())
        return QSize(metrics.horizontalAdvance(self._text) + 2, metrics.height())

    def minimumSizeHint(self) -> QSize:
        """Return the room for a few letters."""
        metrics = QFontMetrics(self.font())
        return QSize(metrics.horizontalAdvance("mmm…"), metrics.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint what fits."""
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        shown = QFontMetrics(self.font()).elidedText(self._text, self._mode, self.width())
        painter.drawText(
            self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, shown
        )


class StatusLine(QFrame):
    """The line at the foot.

    Parameters
    ----------
    previous_page, next_page, zoom_out, zoom_in, go_to
        The actions behind its buttons.

    Signals
    -------
    stop_wanted
        The user gives up what is going on.
    """

    stop_wanted = Signal()

    def __init__(
        self,
        *,
        previous_page: QAction,
        next_page: QAction,
        zoom_out: QAction,
        zoom_in: QAction,
        go_to: QAction,
    ) -> None:
        super().__init__()
        self.setObjectName("status_line")
        self.setStyleSheet("#status_line { border-top: 1px solid palette(mid); }")
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 3, 8, 3)
        row.setSpacing(4)
        self.page = self._button(go_to, "", "Page")
        self.bars = QLabel()
        self.read_out = ElidedLabel()
        self.message = ElidedLabel()
        self._progress = QProgressBar()
        self._progress.setTextVisible(False)
        self._progress.setFixedSize(120, 8)
        self._stop = QToolButton()
        self._stop.setText("Stop")
        self._stop.setAccessibleName("Stop what is going on")
        self._stop.clicked.connect(self.stop_wanted)
        self.zoom = QLabel()
        self.zoom.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.zoom.setMinimumWidth(self.fontMetrics().horizontalAdvance("0000 %"))
        row.addWidget(self._button(previous_page, "‹", "Previous page"))
        row.addWidget(self.page)
        row.addWidget(self._button(next_page, "›", "Next page"))
        row.addSpacing(8)
        row.addWidget(self.bars)
        row.addSpacing(16)
        row.addWidget(self.read_out, 1)
        row.addWidget(self.message, 1)
        row.addWidget(self._progress)
        row.addWidget(self._stop)
        row.addSpacing(8)
        row.addWidget(self._button(zoom_out, "−", "Zoom out"))
        row.addWidget(self.zoom)
        row.addWidget(self._button(zoom_in, "+", "Zoom in"))
        self.message.setForegroundRole(self.palette().ColorRole.PlaceholderText)
        self.show_progress(None, "")
        self.show_page(0, 0, 0)

    def _button(self, action: QAction, text: str, name: str) -> QToolButton:
        button = QToolButton()
        button.setAutoRaise(True)
        button.setText(text)
        button.setAccessibleName(name)
        button.setToolTip(f"{name} ({action.shortcut().toString()})")
        button.clicked.connect(action.trigger)
        button.setEnabled(action.isEnabled())
        action.enabledChanged.connect(button.setEnabled)
        return button

    def show_page(self, first: int, last: int, count: int) -> None:
        """Show which pages of how many are in view; a count of 0 while it is not known."""
        if not first:
            self.page.setText("No page")
        elif not count:
            self.page.setText(f"Page {first}")
        elif first == last:
            self.page.setText(f"Page {first} of {count}")
        else:
            self.page.setText(f"Pages {first}–{last} of {count}")

    def show_zoom(self, factor: float) -> None:
        """Show the size; 1.0 is true size."""
        self.zoom.setText(f"{factor:.0%}".replace("%", " %") if factor else "")

    def show_progress(self, fraction: float | None, text: str) -> None:
        """Show how far some work is: below 0 if that is not known, None if there is none."""
        working = fraction is not None
        self._progress.setVisible(working)
        self._stop.setVisible(working)
        self.message.setVisible(bool(text))
        self.message.setText(text)
        if fraction is not None:
            self._progress.setRange(0, 0 if fraction < 0 else 1000)
            self._progress.setValue(int(fraction * 1000))
            self._progress.setAccessibleName(text or "Progress")

    @property
    def is_working(self) -> bool:
        """Whether some work is shown."""
        return not self._stop.isHidden()
