"""The orchestra map under the page: look over the movement, go anywhere, mark a region."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPalette,
    QPen,
    QPixmap,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from stavelight.delivery.map_picture import (
    MapArea,
    MapColours,
    MapFrame,
    MapSection,
    OrchestraMap,
    lay_out,
    paint_map,
)
from stavelight.score.activity import families_by_sound
from stavelight.score.structure import Point, Score, Span

_NAMES = 96.0
_DRAG = 5.0
_EDGE = 6.0


class OrchestraMapView(QWidget):
    """Shows the orchestra map of the open score.

    Signals
    -------
    bar_chosen
        (int) The index of a bar to go to.
    region_drawn
        (Span) Bars and staves that were dragged over.
    """

    bar_chosen = Signal(int)
    region_drawn = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plan: OrchestraMap | None = None
        self._areas: tuple[MapArea, ...] = ()
        self._sections: tuple[MapSection, ...] = ()
        self._visible: tuple[int, int] | None = None
        self._still: QPixmap | None = None
        self._pressed: QPointF | None = None
        self._dragged: QPointF | None = None
        self._caret = 0
        self._editable = True
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMouseTracking(True)
        self.setAccessibleName("Orchestra map")
        self.setAccessibleDescription(
            "The whole movement: bars across, parts down. Arrow keys move, Enter goes there."
        )
        self.setMinimumHeight(60)

    def sizeHint(self) -> QSize:
        """Room for every part to be seen."""
        parts = len(self._plan.score.parts) if self._plan is not None else 12
        return QSize(600, int(min(220, max(90, 24 + parts * 5))))

    def set_score(self, score: Score | None) -> None:
        """Show the map of another score, or of none."""
        self._plan = OrchestraMap.of(score, families_by_sound(score)) if score else None
        self._caret = 0
        self._areas, self._sections, self._visible = (), (), None
        self.updateGeometry()
        self._redraw()

    def set_areas(self, areas: Sequence[MapArea]) -> None:
        """Show regions."""
        self._areas = tuple(areas)
        self._redraw()

    def set_sections(self, sections: Sequence[MapSection]) -> None:
        """Show sections of the form above the map."""
        self._sections = tuple(sections)
        self._redraw()

    def set_visible(self, first_bar: int, last_bar: int) -> None:
        """Frame the bars that are in sight on the page."""
        self._visible = (first_bar, last_bar)
        self._caret = first_bar
        self.update()

    def set_editable(self, editable: bool) -> None:
        """Allow regions to be drawn, or not."""
        self._editable = editable

    # ---- painting ----------------------------------------------------------------------------

    def _redraw(self) -> None:
        self._still = None
        self.update()

    def resizeEvent(self, event: QEvent) -> None:
        """Draw anew at the new size."""
        self._still = None

    def changeEvent(self, event: QEvent) -> None:
        """Draw anew in the colours of another theme."""
        if event.type() == QEvent.Type.PaletteChange:
            self._redraw()
        super().changeEvent(event)

    def _area(self) -> QRectF:
        return QRectF(self.rect()).adjusted(6, 2, -10, -6)

    def _frame(self) -> MapFrame | None:
        if self._plan is None:
            return None
        return lay_out(self._plan, self._area(), names=_NAMES, sections=bool(self._sections))

    def _colours(self) -> MapColours:
        palette = self.palette()
        dark = palette.color(QPalette.ColorRole.Window).lightnessF() < 0.5
        ground = palette.color(QPalette.ColorRole.Window).name()
        text = palette.color(QPalette.ColorRole.WindowText).name()
        if dark:
            return MapColours(ground, "#3a3a3a", "#e6e6e6", "#666666", text, "#56B4E9")
        return MapColours(ground, "#fbfbf9", "#22313f", "#b0b0aa", text, "#0072B2")

    def paintEvent(self, event: QEvent) -> None:
        """Paint the map, which is kept, and over it what moves."""
        painter = QPainter(self)
        if self._plan is None:
            painter.setPen(self.palette().color(QPalette.ColorRole.PlaceholderText))
            painter.drawText(
                self.rect(),
                Qt.AlignmentFlag.AlignCenter,
                "The orchestra map appears here when the notes have been read.",
            )
            return
        if self._still is None:
            ratio = self.devicePixelRatioF()
            self._still = QPixmap(self.size() * ratio)
            self._still.setDevicePixelRatio(ratio)
            self._still.fill(self.palette().color(QPalette.ColorRole.Window))
            still = QPainter(self._still)
            paint_map(
                still,
                self._area(),
                self._plan,
                self._areas,
                self._sections,
                names=_NAMES,
                colours=self._colours(),
            )
            still.end()
        painter.drawPixmap(0, 0, self._still)
        self._paint_moving(painter)

    def _paint_moving(self, painter: QPainter) -> None:
        frame, plan = self._frame(), self._plan
        if frame is None or plan is None:
            return
        lowest = len(plan.score.parts) - 1
        colour = QColor(self._colours().frame)
        painter.setPen(QPen(colour, 2))
        if self._visible is not None:
            first, last = self._visible
            painter.drawRect(frame.rectangle(first, last + 1, 0, lowest).adjusted(-1, -1, 1, 1))
        if self.hasFocus():
            box = frame.rectangle(self._caret, self._caret + 1, 0, lowest)
            painter.setPen(QPen(colour, 1, Qt.PenStyle.DotLine))
            painter.drawLine(box.topLeft(), box.bottomLeft())
        span = self._drawn_span()
        if span is not None:
            parts = [plan.score.staves[staff].part for staff in span.staves]
            box = frame.rectangle(span.start.bar, span.end.bar + 1, min(parts), max(parts))
            painter.setOpacity(0.35)
            painter.fillRect(box, self.palette().color(QPalette.ColorRole.Highlight))
            painter.setOpacity(1.0)

    # ---- what is under the pointer ----------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        """Say what is under the pointer: part, bar, and whether it sounds."""
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            text = self.words_at(QPointF(event.pos()))
            if text:
                QToolTip.showText(event.globalPos(), text, self)
                return True
        return super().event(event)

    def words_at(self, place: QPointF) -> str:
        """Return what is at a place of the widget, in words."""
        frame, plan = self._frame(), self._plan
        if frame is None or plan is None or not frame.field.contains(place):
            return ""
        bar, part = frame.bar_at(place.x()), frame.part_at(place.y())
        shade = float(plan.shades[part, bar])
        state = "plays" if shade > 0 else "rests"
        return f"{plan.score.parts[part].name}, b. {plan.score.bars[bar].printed_number}: {state}"

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin a click or a drag."""
        if event.button() == Qt.MouseButton.LeftButton and self._plan is not None:
            self._pressed = event.position()
            self._dragged = None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag out a region."""
        if self._pressed is None or not self._editable:
            return
        if (event.position() - self._pressed).manhattanLength() >= _DRAG:
            self._dragged = event.position()
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Go to the bar that was clicked, or hand over the region that was drawn."""
        frame = self._frame()
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None or frame is None:
            return
        span = self._drawn_span()
        pressed, self._pressed, self._dragged = self._pressed, None, None
        self.update()
        if span is not None:
            self.region_drawn.emit(span)
        elif frame.field.adjusted(-_EDGE, -40, _EDGE, _EDGE).contains(pressed):
            self.bar_chosen.emit(frame.bar_at(pressed.x()))

    def _drawn_span(self) -> Span | None:
        frame, plan = self._frame(), self._plan
        if self._pressed is None or self._dragged is None or frame is None or plan is None:
            return None
        bars = sorted((frame.bar_at(self._pressed.x()), frame.bar_at(self._dragged.x())))
        parts = sorted((frame.part_at(self._pressed.y()), frame.part_at(self._dragged.y())))
        staves = tuple(
            staff
            for part in plan.score.parts[parts[0] : parts[1] + 1]
            for staff in part.staff_indices
        )
        end = Point(bars[1], plan.score.bar_length(bars[1]))
        return Span(Point(bars[0], Fraction(0)), end, staves)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move over the map with the arrow keys; Enter goes there."""
        if self._plan is None:
            super().keyPressEvent(event)
            return
        last = len(self._plan.score.bars) - 1
        wide = 10 if event.modifiers() & Qt.KeyboardModifier.ControlModifier else 1
        key = Qt.Key(event.key())
        if key == Qt.Key.Key_Escape and self._pressed is not None:
            self._pressed = self._dragged = None
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            step = wide if key == Qt.Key.Key_Right else -wide
            self._caret = min(max(self._caret + step, 0), last)
        elif key == Qt.Key.Key_Home:
            self._caret = 0
        elif key == Qt.Key.Key_End:
            self._caret = last
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.bar_chosen.emit(self._caret)
        else:
            super().keyPressEvent(event)
            return
        self.update()
