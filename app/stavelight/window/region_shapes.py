"""What regions look like on a page: their pieces on each system, what lies under a point, grips."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stavelight.engraving.geometry import PageGeometry, Rectangle
from stavelight.engraving.page_picture import AreaStyle
from stavelight.score.structure import Span

_KEPT_PAGES = 24


@dataclass(frozen=True, slots=True)
class ShownRegion:
    """A region as the view shows it.

    Attributes
    ----------
    id
        By which the window knows it.
    spans
        Where it lies.
    style
        Its colour and hatch.
    label
        What stands on its plate: its label or a tag; "" for no plate.
    """

    id: str
    spans: tuple[Span, ...]
    style: AreaStyle
    label: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """A rectangle that a region takes on a page.

    Attributes
    ----------
    span
        Index of the region's span that it belongs to.
    system
        Index of the system on the page.
    rectangle
        In millimetres.
    """

    span: int
    system: int
    rectangle: Rectangle


@dataclass(frozen=True, slots=True)
class RegionOnPage:
    """A region and its pieces on one page; from above, from left, span by span."""

    region: ShownRegion
    pieces: tuple[Piece, ...]

    @property
    def area(self) -> float:
        """Square millimetres that it covers on the page."""
        return sum(piece.rectangle.width * piece.rectangle.height for piece in self.pieces)

    def holds(self, x: float, y: float) -> bool:
        """Tell whether a point of the page, in millimetres, lies in it."""
        return any(piece.rectangle.contains(x, y) for piece in self.pieces)


class Edge(enum.Enum):
    """What of a region the mouse takes hold of."""

    START = enum.auto()
    END = enum.auto()
    TOP = enum.auto()
    BOTTOM = enum.auto()
    INSIDE = enum.auto()


@dataclass(frozen=True, slots=True)
class Grip:
    """An edge of a region that can be dragged: a line on the page, in millimetres.

    Attributes
    ----------
    edge
        Which it is.
    span
        Index of the region's span.
    left, top, right, bottom
        Of the line.
    room
        How far the region reaches away from the line.
    """

    edge: Edge
    span: int
    left: float
    top: float
    right: float
    bottom: float
    room: float

    @property
    def middle(self) -> tuple[float, float]:
        """Where its handle stands."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def distance(self, x: float, y: float) -> float:
        """Return how far a point is from the line."""
        across = max(self.left - x, x - self.right, 0.0)
        down = max(self.top - y, y - self.bottom, 0.0)
        return float(np.hypot(across, down))

    def is_inside(self, x: float, y: float) -> bool:
        """Tell whether a point lies on that side of the line where the region is."""
        if self.edge is Edge.START:
            return x > self.left
        if self.edge is Edge.END:
            return x < self.left
        return y > self.top if self.edge is Edge.TOP else y < self.top


def pieces_of(geometry: PageGeometry, spans: Sequence[Span]) -> tuple[Piece, ...]:
    """Return the rectangles that some spans take on a page."""
    found = []
    for index, span in enumerate(spans):
        start = (span.start.bar, span.start.offset)
        end = (span.end.bar, span.end.offset)
        for rectangle in geometry.areas(start, end, span.staves):
            system = geometry.system_at((rectangle.top + rectangle.bottom) / 2)
            found.append(Piece(index, system, rectangle))
    return tuple(found)


class RegionShapes:
    """All regions of a layer, found by page."""

    def __init__(self) -> None:
        self._regions: tuple[ShownRegion, ...] = ()
        self._by_id: dict[str, ShownRegion] = {}
        self._first_bars = self._last_bars = self._owners = np.empty(0, np.int64)
        self._pages: dict[int, tuple[PageGeometry, tuple[RegionOnPage, ...]]] = {}
        self._pieces: dict[int, tuple[PageGeometry, dict[tuple[Span, ...], tuple[Piece, ...]]]] = {}

    def set(self, regions: Sequence[ShownRegion]) -> None:
        """Take other regions; the pieces of those that stayed the same are kept."""
        self._regions = tuple(regions)
        self._by_id = {region.id: region for region in self._regions}
        rows = [
            (span.start.bar, span.end.bar, index)
            for index, region in enumerate(self._regions)
            for span in region.spans
        ]
        table = np.array(rows, np.int64).reshape(-1, 3)
        self._first_bars, self._last_bars, self._owners = table.T
        self._pages.clear()

    def get(self, region_id: str | None) -> ShownRegion | None:
        """Return the region of an id."""
        return self._by_id.get(region_id) if region_id is not None else None

    def on_page(self, number: int, geometry: PageGeometry) -> tuple[RegionOnPage, ...]:
        """Return the regions on a page, the largest first: in the order they are painted."""
        known = self._pages.get(number)
        if known is not None and known[0] is geometry:
            return known[1]
        near = (self._first_bars <= geometry.last_bar) & (self._last_bars >= geometry.first_bar)
        found = []
        for index in dict.fromkeys(self._owners[near].tolist()):
            region = self._regions[index]
            pieces = self._pieces_on(number, geometry, region.spans)
            if pieces:
                found.append(RegionOnPage(region, pieces))
        found.sort(key=lambda shape: -shape.area)
        self._pages[number] = (geometry, tuple(found))
        return self._pages[number][1]

    def _pieces_on(
        self, number: int, geometry: PageGeometry, spans: tuple[Span, ...]
    ) -> tuple[Piece, ...]:
        known = self._pieces.get(number)
        if known is None or known[0] is not geometry:
            while len(self._pieces) >= _KEPT_PAGES:
                del self._pieces[next(iter(self._pieces))]
            known = self._pieces[number] = (geometry, {})
        if spans not in known[1]:
            known[1][spans] = pieces_of(geometry, spans)
        return known[1][spans]

    def under(self, number: int, geometry: PageGeometry, x: float, y: float) -> tuple[str, ...]:
        """Return the ids of the regions under a point, the smallest first."""
        shapes = reversed(self.on_page(number, geometry))
        return tuple(shape.region.id for shape in shapes if shape.holds(x, y))

    def in_order(self, number: int, geometry: PageGeometry) -> tuple[str, ...]:
        """Return the ids of the regions on a page in the order of the score."""
        shapes = sorted(
            self.on_page(number, geometry),
            key=lambda shape: min((span.start, span.staves) for span in shape.region.spans),
        )
        return tuple(shape.region.id for shape in shapes)


def grips_of(shape: RegionOnPage, geometry: PageGeometry) -> tuple[Grip, ...]:
    """Return the edges of a region on a page that can be dragged.

    A span can be taken at its beginning and its end on the systems where these are, and at its
    uppermost and lowest staff on every system.
    """
    found: list[Grip] = []
    for index, span in enumerate(shape.region.spans):
        by_system: dict[int, list[Rectangle]] = {}
        for piece in shape.pieces:
            if piece.span == index:
                by_system.setdefault(piece.system, []).append(piece.rectangle)
        last_bar = span.end.bar if span.end.offset > 0 else span.end.bar - 1
        for system, rectangles in by_system.items():
            box = geometry.systems[system]
            upper = min(rectangles, key=lambda rectangle: rectangle.top)
            lower = max(rectangles, key=lambda rectangle: rectangle.bottom)
            left, right = upper.left, upper.right
            width = right - left
            for rectangle in rectangles:
                top, bottom = rectangle.top, rectangle.bottom
                if box.first_bar <= span.start.bar <= box.last_bar:
                    found.append(Grip(Edge.START, index, left, top, left, bottom, width))
                if box.first_bar <= last_bar <= box.last_bar:
                    found.append(Grip(Edge.END, index, right, top, right, bottom, width))
            height = upper.height
            found.append(Grip(Edge.TOP, index, left, upper.top, right, upper.top, height))
            low, height = lower.bottom, lower.height
            found.append(Grip(Edge.BOTTOM, index, left, low, right, low, height))
    return tuple(found)


def grip_at(grips: Sequence[Grip], x: float, y: float, reach: float) -> Grip | None:
    """Return the edge under a point, or no further away than `reach` millimetres.

    From inside it is a quarter of the region's width or height at most, so that something of a
    narrow region is left to drag.
    """
    nearest: Grip | None = None
    for grip in grips:
        allowed = min(reach, grip.room / 4) if grip.is_inside(x, y) else reach
        if grip.distance(x, y) > allowed:
            continue
        if nearest is None or grip.distance(x, y) < nearest.distance(x, y) - 1e-6:
            nearest = grip
    return nearest
