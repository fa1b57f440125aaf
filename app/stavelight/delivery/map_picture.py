"""The orchestra map: a whole movement as one picture, bars across and parts down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPen

from stavelight.score.activity import sounding_share
from stavelight.score.structure import Score, Span

MARK_ROOM = 16.0
"""Height of the line of rehearsal marks and bar numbers above the map."""

SECTION_ROOM = 14.0
"""Height of the band of sections, where there are any."""


@dataclass(frozen=True, slots=True)
class MapColours:
    """The colours that the map is drawn in."""

    ground: str = "#ffffff"
    silent: str = "#f1f1ee"
    sounding: str = "#22313f"
    line: str = "#b9b9b4"
    text: str = "#444444"
    frame: str = "#0072B2"


@dataclass(frozen=True, slots=True)
class MapArea:
    """A region on the map: its spans, and its colour as ``#rrggbb``."""

    spans: tuple[Span, ...]
    colour: str
    selected: bool = False


@dataclass(frozen=True, slots=True)
class MapSection:
    """A section of the form: its first bar, the bar after its last, its name and colour."""

    first_bar: int
    stop_bar: int
    name: str
    colour: str


@dataclass(frozen=True)
class OrchestraMap:
    """What the map of a score shows.

    Attributes
    ----------
    score
        The score.
    shades
        Array of shape (parts, bars), 0 (silent) to 1 (darkest).
    families
        The family of each part, or "": parts of different families are set apart.
    """

    score: Score
    shades: npt.NDArray[np.float32]
    families: tuple[str, ...]
    _images: dict[tuple[str, str], QImage] = field(default_factory=dict, compare=False)

    @classmethod
    def of(
        cls,
        score: Score,
        families: Sequence[str],
        loudness: npt.NDArray[np.float32] | None = None,
    ) -> OrchestraMap:
        """Return the map of a score.

        Parameters
        ----------
        score
            The score.
        families
            One name a part.
        loudness
            Shape (parts, bars), 0 (softest) to 1 (loudest), where dynamics are written.
        """
        share = sounding_share(score)
        weight = 0.75 if loudness is None else 0.45 + 0.55 * loudness
        shades = np.where(share > 0, (0.35 + 0.65 * share) * weight, 0.0).astype(np.float32)
        return cls(score, shades, tuple(families))

    def image(self, colours: MapColours) -> QImage:
        """Return the map with one pixel a bar and part."""
        key = (colours.silent, colours.sounding)
        if key not in self._images:
            low = _rgb(colours.silent)
            high = _rgb(colours.sounding)
            pixels = low + self.shades[:, :, None] * (high - low)
            rgb = np.zeros((*self.shades.shape, 4), np.uint8)
            rgb[:, :, :3] = pixels[:, :, ::-1]
            rgb[:, :, 3] = 255
            height, width = self.shades.shape
            data = np.ascontiguousarray(rgb)
            image = QImage(data.data, width, height, width * 4, QImage.Format.Format_RGB32)
            self._images[key] = image.copy()
        return self._images[key]


def _rgb(name: str) -> npt.NDArray[np.float32]:
    colour = QColor(name)
    return np.array([colour.red(), colour.green(), colour.blue()], np.float32)


@dataclass(frozen=True, slots=True)
class MapFrame:
    """Where the parts of a drawn map lie, in the painter's units.

    Attributes
    ----------
    field
        The bars and parts themselves.
    bars
        How many bars there are.
    tops
        The upper edge of each part, and the lower edge of the last one.
    """

    field: QRectF
    bars: int
    tops: tuple[float, ...]

    def bar_at(self, x: float) -> int:
        """Return the bar at an x, the nearest one where x is outside."""
        share = (x - self.field.left()) / max(self.field.width(), 1e-9)
        return min(max(int(share * self.bars), 0), self.bars - 1)

    def part_at(self, y: float) -> int:
        """Return the part at a y, the nearest one where y is outside."""
        for part, bottom in enumerate(self.tops[1:]):
            if y < bottom:
                return part
        return len(self.tops) - 2

    def rectangle(self, first_bar: int, stop_bar: int, first_part: int, last_part: int) -> QRectF:
        """Return the rectangle of some bars and parts."""
        width = self.field.width() / self.bars
        left = self.field.left() + first_bar * width
        right = self.field.left() + stop_bar * width
        top, bottom = self.tops[first_part], self.tops[last_part + 1]
        return QRectF(left, top, right - left, bottom - top)


def lay_out(plan: OrchestraMap, area: QRectF, *, names: float, sections: bool) -> MapFrame:
    """Return where everything lies when a map is drawn into an area.

    Parameters
    ----------
    plan
        The map.
    area
        The whole area.
    names
        Width of the column of part names at the left; 0 for none.
    sections
        Whether a band of sections stands above.
    """
    head = MARK_ROOM + (SECTION_ROOM if sections else 0.0)
    field_ = area.adjusted(names, head, 0, 0)
    count = len(plan.score.parts)
    gaps = [
        0.4 if part and plan.families[part] != plan.families[part - 1] else 0.0
        for part in range(count)
    ]
    step = field_.height() / max(count + sum(gaps), 1)
    tops, y = [], field_.top()
    for gap in gaps:
        y += gap * step
        tops.append(y)
        y += step
    return MapFrame(field_, len(plan.score.bars), (*tops, field_.bottom()))


def paint_map(
    painter: QPainter,
    area: QRectF,
    plan: OrchestraMap,
    areas: Sequence[MapArea] = (),
    sections: Sequence[MapSection] = (),
    *,
    visible: tuple[int, int] | None = None,
    names: float = 0.0,
    colours: MapColours | None = None,
) -> MapFrame:
    """Paint a map, and return where everything lies.

    Parameters
    ----------
    painter, area
        Where to.
    plan
        The map.
    areas, sections
        Regions and sections of the form.
    visible
        First and last bar of the pages in sight, to be framed.
    names
        Width of the column of part names; 0 for none.
    colours
        What to draw it in.
    """
    colours = colours or MapColours()
    frame = lay_out(plan, area, names=names, sections=bool(sections))
    painter.save()
    painter.fillRect(area, QColor(colours.ground))
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, False)
    image = plan.image(colours)
    for part in range(len(plan.score.parts)):
        row = QRectF(frame.rectangle(0, frame.bars, part, part))
        row.setHeight(min(row.height(), frame.tops[part] + _step(frame) - row.top()))
        painter.drawImage(row, image, QRectF(0, part, image.width(), 1))
    _paint_areas(painter, frame, plan, areas)
    _paint_marks(painter, frame, plan, sections, colours)
    if names:
        _paint_names(painter, frame, plan, area, colours)
    if visible is not None:
        framed = frame.rectangle(visible[0], visible[1] + 1, 0, len(plan.score.parts) - 1)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(colours.frame), 2))
        painter.drawRect(framed.adjusted(-1, -1, 1, 1))
    painter.restore()
    return frame


def _step(frame: MapFrame) -> float:
    """Return the height of one part without the gap that follows it."""
    return min(after - before for before, after in zip(frame.tops, frame.tops[1:], strict=False))


def _paint_areas(
    painter: QPainter, frame: MapFrame, plan: OrchestraMap, areas: Sequence[MapArea]
) -> None:
    for area in areas:
        tint = QColor(area.colour)
        tint.setAlphaF(0.55)
        painter.setPen(QPen(QColor(area.colour), 2) if area.selected else Qt.PenStyle.NoPen)
        painter.setBrush(tint)
        for span in area.spans:
            stop = span.end.bar + (1 if span.end.offset > 0 else 0)
            parts = sorted({plan.score.staves[staff].part for staff in span.staves})
            for part in parts:
                box = frame.rectangle(span.start.bar, max(stop, span.start.bar + 1), part, part)
                box.setHeight(min(box.height(), _step(frame)))
                painter.drawRect(box)


def _paint_marks(
    painter: QPainter,
    frame: MapFrame,
    plan: OrchestraMap,
    sections: Sequence[MapSection],
    colours: MapColours,
) -> None:
    """Paint rehearsal marks, bar numbers and sections above the map."""
    font = QFont(painter.font())
    font.setPixelSize(10)
    painter.setFont(font)
    metrics = QFontMetricsF(font)
    base = frame.field.top() - 4
    width = frame.field.width() / frame.bars
    taken = -1e9
    painter.setPen(QColor(colours.text))
    marks = [(bar.index, bar.rehearsal_mark) for bar in plan.score.bars if bar.rehearsal_mark]
    if not marks:
        every = next((step for step in (1, 5, 10, 20, 50, 100, 200) if step * width >= 46), 500)
        marks = [
            (bar.index, bar.printed_number)
            for bar in plan.score.bars
            if bar.printed_number.isdigit() and int(bar.printed_number) % every == 0
        ]
    for bar, text in marks:
        x = frame.field.left() + bar * width
        if x < taken or x + metrics.horizontalAdvance(text) > frame.field.right():
            continue
        painter.setPen(QColor(colours.line))
        painter.drawLine(QPointF(x, base - 9), QPointF(x, frame.field.top()))
        painter.setPen(QColor(colours.text))
        painter.drawText(QPointF(x + 2, base), text)
        taken = x + metrics.horizontalAdvance(text) + 8
    for section in sections:
        left = frame.field.left() + section.first_bar * width
        box = QRectF(
            left,
            frame.field.top() - MARK_ROOM - SECTION_ROOM + 1,
            (section.stop_bar - section.first_bar) * width - 1,
            SECTION_ROOM - 2,
        )
        painter.fillRect(box, QColor(section.colour))
        painter.drawText(
            box.adjusted(3, 0, -2, 0),
            Qt.AlignmentFlag.AlignVCenter,
            metrics.elidedText(section.name, Qt.TextElideMode.ElideRight, box.width() - 5),
        )


def _paint_names(
    painter: QPainter, frame: MapFrame, plan: OrchestraMap, area: QRectF, colours: MapColours
) -> None:
    step = _step(frame)
    font = QFont(painter.font())
    font.setPixelSize(max(5, min(11, int(step * 0.9))))
    if step < 6:
        return
    painter.setFont(font)
    metrics = QFontMetricsF(font)
    painter.setPen(QColor(colours.text))
    for part in plan.score.parts:
        box = QRectF(
            area.left(), frame.tops[part.index], frame.field.left() - area.left() - 6, step
        )
        name = part.name if metrics.horizontalAdvance(part.name) <= box.width() else ""
        text = name or part.abbreviation or part.name
        painter.drawText(
            box,
            Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
            metrics.elidedText(text, Qt.TextElideMode.ElideRight, box.width()),
        )
