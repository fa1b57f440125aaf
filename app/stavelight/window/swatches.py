"""Small pictures of colour and pattern, and a row of them to choose from."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QPainter, QPixmap
from PySide6.QtWidgets import QButtonGroup, QGridLayout, QToolButton, QWidget

from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_picture import AreaStyle, paint_area
from stavelight.window.appearance import CHOICE_STYLE

_PIXELS_PER_MILLIMETRE = 2.6
"""Scale at which a swatch shows two or three lines of a hatch."""

_SHARP = 3
"""Pixels of a swatch per pixel of the screen at 100 %: enough for the finest screens."""


def swatch(style: AreaStyle, width: int, height: int) -> QIcon:
    """Return a small picture of an area on paper.

    Parameters
    ----------
    style
        How the area looks.
    width, height
        In pixels of a screen at 100 %.
    """
    pixmap = QPixmap(width * _SHARP, height * _SHARP)
    pixmap.fill(QColor("white"))
    painter = QPainter(pixmap)
    scale = _PIXELS_PER_MILLIMETRE * _SHARP
    painter.scale(scale, scale)
    inset = 0.25
    area = Rectangle(inset, inset, pixmap.width() / scale - inset, pixmap.height() / scale - inset)
    paint_area(painter, area, AreaStyle(style.colour, style.hatch, 0.34))
    painter.end()
    pixmap.setDevicePixelRatio(_SHARP)
    icon = QIcon(pixmap)
    for mode in (QIcon.Mode.Disabled, QIcon.Mode.Selected):
        icon.addPixmap(pixmap, mode)
    return icon


class SwatchRow(QWidget):
    """Swatches, one of which is chosen; the arrow keys walk through them.

    Parameters
    ----------
    name
        What is chosen here, for those who hear the screen.
    choices
        (value, readable name) of each.

    Signals
    -------
    chosen
        A value; only when the user chooses.
    """

    chosen = Signal(str)

    def __init__(
        self, name: str, choices: Sequence[tuple[str, str]], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setStyleSheet(CHOICE_STYLE.replace("padding: 3px 8px", "padding: 0px"))
        self._values = [value for value, _ in choices]
        self._group = QButtonGroup(self)
        row = QGridLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(1)
        for index, (_, readable) in enumerate(choices):
            button = QToolButton()
            button.setCheckable(True)
            button.setIconSize(QSize(20, 16))
            button.setFixedSize(28, 26)
            button.setToolTip(readable)
            button.setAccessibleName(f"{name}: {readable}")
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            self._group.addButton(button, index)
            row.addWidget(button, 0, index)
        row.setColumnStretch(len(choices), 1)
        self._group.idClicked.connect(lambda index: self.chosen.emit(self._values[index]))

    def paint_as(self, styles: Sequence[AreaStyle]) -> None:
        """Give each swatch its picture."""
        for index, style in enumerate(styles):
            button = self._group.button(index)
            size = button.iconSize()
            button.setIcon(swatch(style, size.width(), size.height()))

    def show_choice(self, value: str | None) -> None:
        """Mark a value as the chosen one; one that is not among them marks none."""
        self._group.setExclusive(False)
        for index, button in enumerate(self._group.buttons()):
            button.setChecked(self._values[index] == value)
        self._group.setExclusive(True)
