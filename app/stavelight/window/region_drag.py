"""What a drag with the mouse makes of a region: a new one, another edge, another place.

Nothing here knows the screen: points are millimetres on an engraved page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from stavelight.engraving.geometry import PageGeometry
from stavelight.score.structure import Point, Span
from stavelight.window.region_shapes import Edge, Grip
from stavelight.window.snapping import BeatGrid, Snap


@dataclass(frozen=True, slots=True)
class PagePoint:
    """A point on an engraved page, in millimetres."""

    geometry: PageGeometry
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A beat, a part of one, or a bar, on one staff; times in whole notes from the beginning."""

    start: Fraction
    end: Fraction
    staff: int


def cell_at(grid: BeatGrid, point: PagePoint, snap: Snap) -> Cell:
    """Return the cell under a point: the beat that is heard there, up to the next one's notes."""
    geometry = point.geometry
    spot = geometry.spot_at(point.x, point.y)
    bar = min(spot.bar, len(grid.score.bars) - 1)
    offsets = grid.offsets(bar, snap)
    edges = [geometry.edge_at(bar, offset) for offset in offsets]
    index = max((i for i, edge in enumerate(edges) if edge <= point.x), default=0)
    begin = grid.time(Point(bar, Fraction(0)))
    after = offsets[index + 1] if index + 1 < len(offsets) else grid.score.bar_length(bar)
    return Cell(begin + offsets[index], begin + after, spot.staff)


def edge_time_at(grid: BeatGrid, point: PagePoint, snap: Snap) -> Fraction:
    """Return the time of the edge between two cells that is nearest to a point."""
    geometry = point.geometry
    bar = min(geometry.spot_at(point.x, point.y).bar, len(grid.score.bars) - 1)
    times = (*grid.offsets(bar, snap), grid.score.bar_length(bar))
    nearest = min(times, key=lambda offset: abs(geometry.edge_at(bar, offset) - point.x))
    return grid.time(Point(bar, nearest))


class Drag(Protocol):
    """A drag that is under way."""

    def spans_at(self, point: PagePoint, snap: Snap) -> tuple[Span, ...]:
        """Return what the region would be if the mouse were let go at a point."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A new region is drawn, from one staff and beat to another."""

    grid: BeatGrid
    anchor: PagePoint

    def spans_at(self, point: PagePoint, snap: Snap) -> tuple[Span, ...]:
        """Return the one span from the anchor to a point, both beats and both staves included."""
        one, other = cell_at(self.grid, self.anchor, snap), cell_at(self.grid, point, snap)
        start, end = min(one.start, other.start), max(one.end, other.end)
        return (self._span(start, end, (one.staff, other.staff), point),)

    def _span(
        self, start: Fraction, end: Fraction, staves: tuple[int, int], point: PagePoint
    ) -> Span:
        """Return a span over the staves that are shown between two."""
        first, last = self.grid.point(start), self.grid.point(end, ending=True)
        shown = {
            staff
            for geometry in (self.anchor.geometry, point.geometry)
            for box in geometry.systems
            if box.first_bar <= last.bar and box.last_bar >= first.bar
            for staff in box.staves
        }
        between = range(min(staves), max(staves) + 1)
        return Span(first, last, tuple(staff for staff in between if staff in shown))


@dataclass(frozen=True, slots=True)
class Reshaping:
    """An edge of one span is dragged.

    Attributes
    ----------
    grid
        The beats.
    spans
        Of the region as it is.
    grip
        The edge.
    taken_at
        Where it was taken hold of.
    """

    grid: BeatGrid
    spans: tuple[Span, ...]
    grip: Grip
    taken_at: PagePoint

    def spans_at(self, point: PagePoint, snap: Snap) -> tuple[Span, ...]:
        """Return the spans, the one that is dragged changed."""
        index, edge = self.grip.span, self.grip.edge
        span = self.spans[index]
        if edge in (Edge.START, Edge.END):
            shifted = replace(point, x=point.x + self.grip.left - self.taken_at.x)
            changed = with_edge(self.grid, span, edge, edge_time_at(self.grid, shifted, snap), snap)
        else:
            shifted = replace(point, y=point.y + self._middle_of_staff() - self.taken_at.y)
            staff = shifted.geometry.spot_at(shifted.x, shifted.y).staff
            changed = with_staff(span, edge, staff)
        return (*self.spans[:index], changed, *self.spans[index + 1 :])

    def _middle_of_staff(self) -> float:
        """Return the height at which the middle of the edge's own staff stands."""
        staves = self.spans[self.grip.span].staves
        staff = staves[0] if self.grip.edge is Edge.TOP else staves[-1]
        geometry = self.taken_at.geometry
        system = geometry.system_at((self.grip.top + self.grip.bottom) / 2)
        cells = geometry.cells
        rows = cells[(cells["system"] == system) & (cells["staff"] == staff)]
        if not len(rows):  # not shown in this system: from its nearest neighbour then
            return self.taken_at.y
        return float(rows[0]["top"] + rows[0]["bottom"]) / 2


@dataclass(frozen=True, slots=True)
class Moving:
    """A whole region is moved in time; its staves stay."""

    grid: BeatGrid
    spans: tuple[Span, ...]
    taken_at: PagePoint

    def spans_at(self, point: PagePoint, snap: Snap) -> tuple[Span, ...]:
        """Return the spans as far later or earlier as the mouse has gone, on the grid."""
        start = min(self.grid.time(span.start) for span in self.spans)
        way = _free_time(self.grid, point) - _free_time(self.grid, self.taken_at)
        return moved_in_time(self.grid, self.spans, self.grid.nearest(start + way, snap) - start)


def _free_time(grid: BeatGrid, point: PagePoint) -> Fraction:
    """Return the time at a point, not brought to the grid."""
    spot = point.geometry.spot_at(point.x, point.y)
    offset = Fraction(spot.offset).limit_denominator(3840)
    return grid.time(Point(min(spot.bar, len(grid.score.bars) - 1), offset))


def with_edge(grid: BeatGrid, span: Span, edge: Edge, time: Fraction, snap: Snap) -> Span:
    """Return a span that begins or ends elsewhere; at least one step of the grid is left of it."""
    if edge is Edge.START:
        latest = max(grid.before(grid.time(span.end), snap), Fraction(0))
        return replace(span, start=grid.point(min(time, latest)))
    earliest = grid.after(grid.time(span.start), snap)
    return replace(span, end=grid.point(max(time, earliest), ending=True))


def with_staff(span: Span, edge: Edge, staff: int) -> Span:
    """Return a span whose uppermost or lowest staff is another; those between keep their gaps."""
    old = span.staves
    if edge is Edge.TOP:
        top = min(staff, old[-1])
        kept = [index for index in old if index >= top]
        added = range(top, old[0]) if top < old[0] else [top]
    else:
        bottom = max(staff, old[0])
        kept = [index for index in old if index <= bottom]
        added = range(old[-1] + 1, bottom + 1) if bottom > old[-1] else [bottom]
    return replace(span, staves=tuple(sorted({*kept, *added})))


def moved_in_time(grid: BeatGrid, spans: Sequence[Span], way: Fraction) -> tuple[Span, ...]:
    """Return spans so much later, in whole notes; not beyond the beginning or the end."""
    first = min(grid.time(span.start) for span in spans)
    last = max(grid.time(span.end) for span in spans)
    way = min(max(way, -first), grid.total - last)
    return tuple(
        replace(
            span,
            start=grid.point(grid.time(span.start) + way),
            end=grid.point(grid.time(span.end) + way, ending=True),
        )
        for span in spans
    )
