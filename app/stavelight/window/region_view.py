"""The view of a score's pages with the regions on them: shown, found, selected, gone to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from PySide6.QtCore import QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QWidget

from stavelight.engraving.engraver import EngravedScore
from stavelight.engraving.geometry import PageGeometry, Rectangle
from stavelight.engraving.page_picture import AreaStyle, paint_area
from stavelight.score.structure import Score, Span
from stavelight.window.page_browser import PageBrowser
from stavelight.window.page_desk import Sheet, scroll_to_show
from stavelight.window.region_labels import Plate, label_font, paint_plate, place_plates
from stavelight.window.region_shapes import (
    Edge,
    Grip,
    Piece,
    RegionOnPage,
    RegionShapes,
    ShownRegion,
    grip_at,
    grips_of,
)
from stavelight.window.snapping import BeatGrid

_HANDLE = 7.0
_GRIP_REACH = 5.0
"""Logical pixels: size of a handle, and how near to an edge it can be taken."""

_OUTLINE = (1.0, 1.6)
_SELECTED_OUTLINE = (1.8, 2.8)
"""Logical pixels that an outline is wide, at least and at most."""

_KEPT_PLATES = 8
_STAFF_REACH = 1.5
"""Staff spaces from the edge of an area to the staff in it: see `PageGeometry.areas`."""


class RegionView(PageBrowser):
    """Shows pages with regions.

    Signals
    -------
    region_selected
        (id) The user selected a region; "" for none.
    """

    region_selected = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.score: Score | None = None
        self.grid: BeatGrid | None = None
        self.shapes = RegionShapes()
        self._selected: str | None = None
        self._plates: dict[Sheet, tuple[Sequence[RegionOnPage], tuple[Plate, ...]]] = {}
        self._target: Span | int | None = None

    # What is shown

    def set_score(self, engraved: EngravedScore | None, score: Score | None) -> None:
        """Show a score.

        Parameters
        ----------
        engraved
            Its pages; the same as before when only `score` has become known. Another engraving of
            the same file is shown where the one before was.
        score
            What is on them; None while it is being read.
        """
        self.score = score
        self.grid = BeatGrid(score) if score and score.bars and score.staves else None
        before = self._supply.engraved
        if engraved is not before:
            bar = self.first_bar
            same_file = engraved and before and engraved.path == before.path
            self.open_pages(engraved)
            self._target = bar if same_file and bar else None
            if engraved is None:
                self._selected = None
        if engraved is not None:
            staves = len(score.staves) if score else 0
            self.guess_page_size(*engraved.layout.page_size(staves))
        self._redraw_layer()

    @property
    def first_bar(self) -> int:
        """Index of the first bar that is seen; 0 while that is not known."""
        plan = self._supply.plan
        numbers = [number for number in self.opening if number]
        if plan is None or numbers[0] > len(plan.pages):
            return 0
        return plan.pages[numbers[0] - 1].bars.start

    def set_regions(self, regions: Sequence[ShownRegion]) -> None:
        """Show other regions; the selection stays if its region is still there."""
        self.shapes.set(regions)
        if self.shapes.get(self._selected) is None:
            self._selected = None
        self._redraw_layer()

    @property
    def selected_region(self) -> str | None:
        """The id of the selected region."""
        return self._selected

    def select_region(self, region_id: str | None) -> None:
        """Select a region, or none, without going there and without a signal."""
        wanted = region_id if self.shapes.get(region_id) else None
        if wanted != self._selected:
            self._selected = wanted
            self._redraw_layer()

    def choose_region(self, region_id: str | None) -> None:
        """Select a region, or none, for the user: the window is told."""
        if region_id != self._selected:
            self.select_region(region_id)
            self.region_selected.emit(self._selected or "")

    # Going somewhere

    def go_to_bar(self, bar: int) -> None:
        """Show the page of a bar, and the bar on it."""
        self._target = bar
        self._pursue()

    def show_span(self, span: Span) -> None:
        """Show the page where a span begins, and the span on it."""
        self._target = span
        self._pursue()

    def turn_to(self, number: int, *, at_end: bool = False) -> bool:
        """Show a page; where one was going is forgotten."""
        self._target = None
        return super().turn_to(number, at_end=at_end)

    def _pursue(self) -> None:
        """Go on to where one was going, as far as it is known by now."""
        target, plan = self._target, self._supply.plan
        if target is None or plan is None:
            return
        bar = target.start.bar if isinstance(target, Span) else target
        if not self._supply.page_count and not (plan.pages and bar in plan.pages[0].bars):
            return
        number = plan.page_of_bar(bar)
        if number not in self.opening:
            self.turn_to(number)
            self._target = target
        page = self._supply.page(number)
        sheet = next((sheet for sheet in self._sheets if sheet.number == number), None)
        if page is None or sheet is None:
            return
        self._target = None
        window = self._window()
        room = (window.width() / sheet.scale, window.height() / sheet.scale)
        place = _place_of(page.geometry, target, room)
        if place is not None:
            across, down = scroll_to_show(place, sheet, window.width(), window.height())
            self.scroll_by(across / self._ratio, down / self._ratio)

    def _plan_known(self) -> None:
        super()._plan_known()
        self._pursue()

    def _page_arrived(self, number: int) -> None:
        super()._page_arrived(number)
        self._pursue()

    # What is where

    def geometry_of(self, sheet: Sheet) -> PageGeometry | None:
        """Return where things stand on a page, if it is engraved."""
        page = self._supply.page(sheet.number)
        return page.geometry if page else None

    def pages_seen(self) -> Iterator[tuple[Sheet, PageGeometry]]:
        """Return the engraved pages on the desk."""
        for sheet in self._sheets:
            geometry = self.geometry_of(sheet)
            if geometry is not None:
                yield sheet, geometry

    def page_at(self, point: QPointF) -> tuple[Sheet, PageGeometry, float, float] | None:
        """Return the page nearest to a point of the viewport, and the millimetres on it."""
        x, y = self._device(point)
        sheet = self.sheet_near(x, y)
        geometry = self.geometry_of(sheet) if sheet else None
        return (sheet, geometry, *sheet.to_page(x, y)) if sheet and geometry else None

    def regions_at(self, point: QPointF) -> tuple[str, ...]:
        """Return the ids of the regions under a point, the smallest first, and labels as well."""
        x, y = self._device(point)
        found = self.page_at(point)
        if found is None or not found[0].holds(x, y):
            return ()
        sheet, geometry, on_x, on_y = found
        by_label = [
            plate.region_id
            for plate in self._plates_on(sheet, geometry)
            if plate.place.contains(x, y)
        ]
        under = self.shapes.under(sheet.number, geometry, on_x, on_y)
        return tuple(dict.fromkeys((*by_label, *under)))

    def grip_under(self, point: QPointF) -> Grip | None:
        """Return the edge of the selected region under a point."""
        found = self.page_at(point)
        if found is None:
            return None
        sheet, geometry, x, y = found
        shape = self._selected_on(sheet, geometry)
        if shape is None:
            return None
        return grip_at(grips_of(shape, geometry), x, y, _GRIP_REACH * self._ratio / sheet.scale)

    def _selected_on(self, sheet: Sheet, geometry: PageGeometry) -> RegionOnPage | None:
        if self._selected is None:
            return None
        for shape in self.shapes.on_page(sheet.number, geometry):
            if shape.region.id == self._selected:
                return shape
        return None

    # Painting

    def paint_on_pages(self, painter: QPainter, bare: QRect) -> None:
        """Paint all regions but the selected one, as far as they lie in `bare`."""
        for sheet, geometry in self.pages_seen():
            shapes = self.shapes.on_page(sheet.number, geometry)
            for shape in shapes:
                if shape.region.id != self._selected:
                    self.paint_pieces(painter, sheet, shape.pieces, shape.region.style, bare)
            font = label_font(self.font(), sheet, self._ratio)
            for plate in self._plates_on(sheet, geometry):
                region = self.shapes.get(plate.region_id)
                if region and region.id != self._selected:
                    paint_plate(painter, plate, region.style.colour, font, self._ratio)

    def _plates_on(self, sheet: Sheet, geometry: PageGeometry) -> tuple[Plate, ...]:
        shapes = self.shapes.on_page(sheet.number, geometry)
        known = self._plates.get(sheet)
        if known is None or known[0] is not shapes:
            if len(self._plates) >= _KEPT_PLATES:
                self._plates.clear()
            font = label_font(self.font(), sheet, self._ratio)
            reach = geometry.staff_space * _STAFF_REACH
            known = (shapes, place_plates(shapes, sheet, font, self._ratio, reach))
            self._plates[sheet] = known
        return known[1]

    def paint_selected(self, painter: QPainter) -> None:
        """Paint the selected region with its handles."""
        for sheet, geometry in self.pages_seen():
            shape = self._selected_on(sheet, geometry)
            if shape is None:
                continue
            style = shape.region.style
            self.paint_pieces(painter, sheet, shape.pieces, style, self._window(), selected=True)
            own = None
            for plate in self._plates_on(sheet, geometry):
                if plate.region_id == self._selected:
                    own = plate.place
                    font = label_font(self.font(), sheet, self._ratio)
                    paint_plate(painter, plate, style.colour, font, self._ratio)
            if self.shows_handles:
                self._paint_handles(painter, sheet, grips_of(shape, geometry), style, own)

    @property
    def shows_handles(self) -> bool:
        """Whether the selected region has handles."""
        return True

    def paint_pieces(
        self,
        painter: QPainter,
        sheet: Sheet,
        pieces: Sequence[Piece],
        style: AreaStyle,
        bare: QRect,
        *,
        selected: bool = False,
    ) -> None:
        """Paint the areas of a region on a page, as far as they lie in `bare`."""
        painter.save()
        painter.translate(sheet.left, sheet.top)
        painter.scale(sheet.scale, sheet.scale)
        least, most = _SELECTED_OUTLINE if selected else _OUTLINE
        pixel = self._ratio / sheet.scale
        outline = min(max(0.8 if selected else 0.4, least * pixel), most * pixel)
        for piece in pieces:
            if _touches(sheet, piece.rectangle, bare):
                paint_area(painter, piece.rectangle, style, outline=outline)
        painter.restore()

    def _paint_handles(
        self,
        painter: QPainter,
        sheet: Sheet,
        grips: Sequence[Grip],
        style: AreaStyle,
        plate: QRectF | None,
    ) -> None:
        """Paint the handles; where the label is in the way, one stands aside."""
        size = _HANDLE * self._ratio
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(style.colour).darker(130), 1.4 * self._ratio))
        painter.setBrush(Qt.GlobalColor.white)
        for grip in grips:
            x, y = sheet.to_desk(*grip.middle)
            handle = QRectF(x - size / 2, y - size / 2, size, size)
            if plate is not None and plate.intersects(handle) and grip.edge is Edge.TOP:
                beside = plate.right() + size
                end = sheet.to_desk(grip.right, grip.top)[0]
                handle.moveCenter(QPointF(beside if beside < end - size else end - size, y))
            painter.drawRect(handle)


def _touches(sheet: Sheet, rectangle: Rectangle, window: QRect) -> bool:
    """Tell whether a rectangle of a page, with its outline, touches what is being painted."""
    left, top = sheet.to_desk(rectangle.left, rectangle.top)
    right, bottom = sheet.to_desk(rectangle.right, rectangle.bottom)
    area = QRectF(left, top, right - left, bottom - top).toAlignedRect()
    return area.adjusted(-4, -4, 4, 4).intersects(window)


def _place_of(
    geometry: PageGeometry, target: Span | int, room: tuple[float, float]
) -> Rectangle | None:
    """Return the rectangle around a span or a bar on a page; if it is too large, its beginning."""
    if isinstance(target, Span):
        start = (target.start.bar, target.start.offset)
        rectangles = geometry.areas(start, (target.end.bar, target.end.offset), target.staves)
    else:
        staves = tuple(int(staff) for staff in set(geometry.cells["staff"].tolist()))
        rectangles = geometry.areas((target, 0.0), (target + 1, 0.0), staves)
    if not rectangles:
        return None
    whole = _around(rectangles)
    if whole.width <= room[0] and whole.height <= room[1]:
        return whole
    system = geometry.system_at((rectangles[0].top + rectangles[0].bottom) / 2)
    return _around(
        [
            rectangle
            for rectangle in rectangles
            if geometry.system_at((rectangle.top + rectangle.bottom) / 2) == system
        ]
    )


def _around(rectangles: Sequence[Rectangle]) -> Rectangle:
    return Rectangle(
        min(rectangle.left for rectangle in rectangles),
        min(rectangle.top for rectangle in rectangles),
        max(rectangle.right for rectangle in rectangles),
        max(rectangle.bottom for rectangle in rectangles),
    )
