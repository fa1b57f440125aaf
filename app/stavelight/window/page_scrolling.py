"""Scroll softly, and turn the page when the wheel goes on at the end."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QObject, QPoint, QTimer
from PySide6.QtWidgets import QScrollBar

_FRAME_MILLISECONDS = 12
_SHARE_A_FRAME = 0.3
"""How much of the way that is left is gone in one frame."""

_NOTCH = 120
"""What a wheel reports for one notch, in eighths of a degree: Qt's documentation of QWheelEvent."""

_PAUSE_MILLISECONDS = 220
"""How long the wheel must rest at the end of a page before it turns it."""


class Glide(QObject):
    """Brings a scroll bar to a value in a few frames.

    Parameters
    ----------
    bar
        The scroll bar.
    """

    def __init__(self, bar: QScrollBar) -> None:
        super().__init__(bar)
        self._bar = bar
        self._goal = float(bar.value())
        self._now = float(bar.value())
        self._timer = QTimer(self)
        self._timer.setInterval(_FRAME_MILLISECONDS)
        self._timer.timeout.connect(self._step)

    @property
    def is_moving(self) -> bool:
        """Whether it is on its way."""
        return self._timer.isActive()

    def can_move(self, distance: float) -> bool:
        """Tell whether there is anything left to scroll in a direction."""
        where = self._goal if self.is_moving else self._bar.value()
        return where < self._bar.maximum() if distance > 0 else where > self._bar.minimum()

    def move(self, distance: float) -> None:
        """Go so many pixels further, softly."""
        if not self.is_moving:
            self._goal = self._now = float(self._bar.value())
        goal = self._goal + distance
        self._goal = min(max(goal, self._bar.minimum()), self._bar.maximum())
        self._timer.start()

    def jump(self, value: int) -> None:
        """Go somewhere at once."""
        self._timer.stop()
        self._bar.setValue(value)

    def stop(self) -> None:
        """Stay where it is."""
        self._timer.stop()

    def _step(self) -> None:
        rest = self._goal - self._now
        if abs(rest) < 1:
            self._timer.stop()
            self._bar.setValue(round(self._goal))
            return
        self._now += rest * _SHARE_A_FRAME
        self._bar.setValue(round(self._now))


class PageTurner:
    """Decides when a wheel that goes on at the end of a page turns it."""

    def __init__(self) -> None:
        self._gathered = 0
        self._since_scrolled = QElapsedTimer()

    def scrolled(self) -> None:
        """Note that the wheel has just moved the page."""
        self._gathered = 0
        self._since_scrolled.start()

    def push(self, angle: int) -> int:
        """Take the wheel's angle at the end of a page; return 1, -1 or 0: pages to turn."""
        if self._since_scrolled.isValid() and self._since_scrolled.elapsed() < _PAUSE_MILLISECONDS:
            self._since_scrolled.start()  # the same sweep still
            return 0
        if self._gathered * angle < 0:
            self._gathered = 0
        self._gathered += angle
        if abs(self._gathered) < _NOTCH:
            return 0
        turned = -1 if self._gathered > 0 else 1
        self._gathered = 0
        return turned


def wheel_distance(pixels: QPoint, angle: QPoint, line: int) -> tuple[float, float]:
    """Return how far a turn of the wheel scrolls, across and down.

    Parameters
    ----------
    pixels
        What a touch pad reports; null for a wheel with notches.
    angle
        What a wheel reports.
    line
        How far a notch goes.
    """
    if not pixels.isNull():
        return float(-pixels.x()), float(-pixels.y())
    return -angle.x() / _NOTCH * line, -angle.y() / _NOTCH * line
