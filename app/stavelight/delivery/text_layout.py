"""Set text in a box, with Qt: to know whether it fits, and to paint it.

The font is the serif that ships with the engraver, whose letters are as wide as those of Times New
Roman; so what fits here fits in a slide program too. Lengths are millimetres. Qt rounds small font
sizes, so text is set at `UNITS` to the millimetre and painted through a scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QTextCharFormat,
    QTextLayout,
    QTextOption,
)

from stavelight.delivery.commentary_text import Paragraph, Run
from stavelight.delivery.slide_frame import MILLIMETRES_PER_POINT

UNITS = 20.0
FAMILY = "Liberation Serif"

LINE_SPACING = 1.12
"""From line to line, in heights of a line of the font."""

PARAGRAPH_GAP = 0.35
"""Between paragraphs, in heights of a line."""

BULLET_INDENT = 0.8
"""Of the items of a list, in heights of a line."""


def text_font(size: float, *, bold: bool = False, italic: bool = False) -> QFont:
    """Return the text font at a size in points, to be used at `UNITS` to the millimetre."""
    font = QFont(FAMILY)
    font.setPixelSize(max(1, round(size * MILLIMETRES_PER_POINT * UNITS)))
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    font.setBold(bold)
    font.setItalic(italic)
    return font


class TextBlock:
    """Paragraphs set at a size in a width.

    Parameters
    ----------
    paragraphs
        The text.
    width
        In millimetres.
    size
        In points.
    right_aligned
        Whether lines end at the right side.
    """

    def __init__(
        self,
        paragraphs: Sequence[Paragraph],
        width: float,
        size: float,
        *,
        right_aligned: bool = False,
    ) -> None:
        self.paragraphs = tuple(paragraphs)
        self.width = width
        self.size = size
        self._font = text_font(size)
        self._line = QFontMetricsF(self._font).height()
        align = Qt.AlignmentFlag.AlignRight if right_aligned else Qt.AlignmentFlag.AlignLeft
        self._option = QTextOption(align)
        self._option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)

    @cached_property
    def _set(self) -> tuple[list[tuple[QTextLayout, float, float]], float, int]:
        """Set all: layouts with their left and top, the whole height, and the count of lines."""
        layouts: list[tuple[QTextLayout, float, float]] = []
        top, lines = 0.0, 0
        for paragraph in self.paragraphs:
            if layouts:
                top += self._line * PARAGRAPH_GAP
            indent = self._line * BULLET_INDENT if paragraph.bullet else 0.0
            layout = self._layout(paragraph)
            layout.beginLayout()
            at = 0.0
            while (line := layout.createLine()).isValid():
                line.setLineWidth(max(self.width * UNITS - indent, 1.0))
                line.setPosition(QPointF(0.0, at))
                at += self._line * LINE_SPACING
                lines += 1
            layout.endLayout()
            layouts.append((layout, indent, top))
            top += at
        height = top - self._line * (LINE_SPACING - 1) if layouts else 0.0
        return layouts, height / UNITS, lines

    def _layout(self, paragraph: Paragraph) -> QTextLayout:
        layout = QTextLayout(paragraph.text, self._font)
        layout.setTextOption(self._option)
        ranges = []
        start = 0
        for run in paragraph.runs:
            # Qt counts in units of UTF-16.
            length = len(run.text.encode("utf-16-le")) // 2
            if run.bold or run.italic:
                piece = QTextLayout.FormatRange()
                style = QTextCharFormat()
                if run.bold:
                    style.setFontWeight(QFont.Weight.Bold)
                style.setFontItalic(run.italic)
                piece.start, piece.length, piece.format = start, length, style
                ranges.append(piece)
            start += length
        layout.setFormats(ranges)
        return layout

    @property
    def height(self) -> float:
        """In millimetres."""
        return self._set[1]

    @property
    def line_count(self) -> int:
        """How many lines it has."""
        return self._set[2]

    @property
    def line_height(self) -> float:
        """Height of one line, in millimetres."""
        return self._line / UNITS

    def paint(self, painter: QPainter, left: float, top: float, colour: str) -> None:
        """Paint the text; the painter's unit is the millimetre."""
        painter.save()
        painter.translate(left, top)
        painter.scale(1 / UNITS, 1 / UNITS)
        painter.setPen(QColor(colour))
        for layout, indent, at in self._set[0]:
            if indent:
                painter.setFont(self._font)
                painter.drawText(QPointF(0.0, at + QFontMetricsF(self._font).ascent()), "•")
            layout.draw(painter, QPointF(indent, at))
        painter.restore()


def one_style(text: str, *, bold: bool = False, italic: bool = False) -> tuple[Paragraph, ...]:
    """Return a text in one style as one paragraph; none if it is empty."""
    return (Paragraph((Run(text, bold, italic),)),) if text else ()


def fitted(
    text: str,
    width: float,
    sizes: Sequence[float],
    *,
    height: float = 1e9,
    most_lines: int = 1,
    bold: bool = False,
    right_aligned: bool = False,
    suffix: str = "",
) -> TextBlock:
    """Return a text at the first size at which it fits; shortened if it fits at none.

    Parameters
    ----------
    text
        In one style.
    width, height
        Of the space, in millimetres.
    sizes
        In points, the largest first.
    most_lines
        How many lines it may have at the smallest size; at the others it has one.
    suffix
        Stands behind it, however short it gets.
    """

    def block(words: str, size: float) -> TextBlock:
        return TextBlock(one_style(words, bold=bold), width, size, right_aligned=right_aligned)

    for size in sizes:
        lines = most_lines if size == sizes[-1] else 1
        whole = block(text + suffix, size)
        if whole.line_count <= lines and whole.height <= height:
            return whole
    shortest, longest = 0, len(text)
    while shortest < longest:
        middle = (shortest + longest + 1) // 2
        trial = block(text[:middle].rstrip() + "…" + suffix, sizes[-1])
        if trial.line_count <= most_lines and trial.height <= height:
            shortest = middle
        else:
            longest = middle - 1
    return block(text[:shortest].rstrip() + "…" + suffix, sizes[-1])


def largest_fitting_size(
    paragraphs: Sequence[Paragraph], width: float, height: float, sizes: Sequence[float]
) -> float:
    """Return the first size at which a text fits a space; the last one if it fits at none."""
    for size in sizes:
        if TextBlock(paragraphs, width, size).height <= height:
            return size
    return sizes[-1]
