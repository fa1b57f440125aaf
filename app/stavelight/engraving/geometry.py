"""Where things stand on an engraved page: bars, staves, notes and moments, in millimetres.

All coordinates run from the upper left corner of the page, x to the right and y downwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

CELLS = np.dtype(
    [
        ("bar", np.int32),
        ("staff", np.int32),
        ("system", np.int32),
        ("left", np.float32),
        ("right", np.float32),
        ("top", np.float32),
        ("bottom", np.float32),
    ]
)
"""A cell is one bar on one staff: from barline to barline, from the upper to the lower line."""

NOTES = np.dtype([("x", np.float32), ("y", np.float32), ("cell", np.int32)])
"""Middle of a notehead or rest, and the row of its cell."""

MOMENTS = np.dtype([("bar", np.int32), ("offset", np.float64), ("x", np.float32)])
"""Where the moments of a bar stand: whole notes from its beginning, and the middle of the heads."""


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle on a page, in millimetres."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    def contains(self, x: float, y: float, margin: float = 0.0) -> bool:
        """Tell whether a point lies in the rectangle, or no further off than `margin`."""
        return (
            self.left - margin <= x <= self.right + margin
            and self.top - margin <= y <= self.bottom + margin
        )


@dataclass(frozen=True, slots=True)
class SystemBox:
    """One system of a page.

    Attributes
    ----------
    first_bar, last_bar
        Indices of its first and last bar.
    left, right
        From the first to the last barline.
    top, bottom
        From the upper line of its first staff to the lower line of its last.
    outer_top, outer_bottom
        With all that stands above and below.
    staves
        Indices of its staves, from above.
    """

    first_bar: int
    last_bar: int
    left: float
    right: float
    top: float
    bottom: float
    outer_top: float
    outer_bottom: float
    staves: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PageSpot:
    """What is under a point of a page: a bar, a staff and a moment.

    Attributes
    ----------
    bar, staff, system
        Indices; the system's index is that on the page.
    offset
        Whole notes from the beginning of the bar.
    """

    bar: int
    staff: int
    system: int
    offset: float


@dataclass(frozen=True)
class PageGeometry:
    """Places on one page.

    Attributes
    ----------
    width, height
        Of the page.
    systems
        From above.
    cells
        Array of dtype `CELLS`, sorted by system, bar and staff.
    note_ids
        Ids of the notes and rests on the page.
    notes
        Array of dtype `NOTES`, a row for each of `note_ids`.
    moments
        Array of dtype `MOMENTS`, sorted by bar and offset, a row a moment.
    bar_lengths
        Length of each bar on the page in whole notes.
    """

    width: float
    height: float
    systems: tuple[SystemBox, ...]
    cells: npt.NDArray[Any]
    note_ids: tuple[str, ...]
    notes: npt.NDArray[Any]
    moments: npt.NDArray[Any]
    bar_lengths: dict[int, float]

    @cached_property
    def first_bar(self) -> int:
        """Index of the first bar on the page."""
        return self.systems[0].first_bar

    @cached_property
    def last_bar(self) -> int:
        """Index of the last bar on the page."""
        return self.systems[-1].last_bar

    @cached_property
    def _bar_edges(self) -> dict[int, tuple[float, float]]:
        """Left and right of each bar on the page."""
        edges: dict[int, tuple[float, float]] = {}
        for cell in self.cells:
            left, right = edges.get(int(cell["bar"]), (np.inf, -np.inf))
            edges[int(cell["bar"])] = (
                min(left, float(cell["left"])),
                max(right, float(cell["right"])),
            )
        return edges

    @cached_property
    def _axes(self) -> dict[int, tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]]:
        """For each bar, offsets and their x, from its beginning to its end, both rising."""
        axes = {}
        bars = self.moments["bar"]
        for bar, (left, right) in self._bar_edges.items():
            begin, end = np.searchsorted(bars, [bar, bar + 1])
            rows = self.moments[begin:end]
            offsets = rows["offset"].astype(np.float64)
            xs = np.maximum.accumulate(rows["x"].astype(np.float64))
            length = max(self.bar_lengths.get(bar, 1.0), float(offsets.max(initial=0.0)) + 1e-6)
            if not len(rows) or offsets[0] > 1e-9:
                offsets, xs = np.insert(offsets, 0, 0.0), np.insert(xs, 0, left)
            axes[bar] = (np.append(offsets, length), np.append(xs, max(right, xs[-1])))
        return axes

    def x_at(self, bar: int, offset: Fraction | float) -> float:
        """Return the x of a moment of a bar that is on the page.

        The end of the bar is its right barline; a moment at which no note begins lies between its
        neighbours.
        """
        offsets, xs = self._axes[bar]
        return float(np.interp(float(offset), offsets, xs))

    def edge_at(self, bar: int, offset: Fraction | float) -> float:
        """Return the x of the edge of an area that begins or ends at a moment.

        The edge stands before the noteheads of that moment; at the beginning of a bar it is the
        barline.
        """
        left, right = self._bar_edges[bar]
        if float(offset) <= 1e-9:
            return left
        if float(offset) >= self.bar_lengths.get(bar, 1.0) - 1e-9:
            return right
        return max(left, self.x_at(bar, offset) - self.staff_space * 0.9)

    @cached_property
    def staff_space(self) -> float:
        """Distance between two lines of a staff."""
        heights = self.cells["bottom"] - self.cells["top"]
        full = heights[heights > 0]
        return float(np.median(full)) / 4 if len(full) else 1.5

    def offset_at(self, bar: int, x: float) -> float:
        """Return the moment of a bar, in whole notes, that stands at an x."""
        offsets, xs = self._axes[bar]
        rising = np.maximum.accumulate(xs + np.arange(len(xs)) * 1e-9)
        return float(np.interp(x, rising, offsets))

    def system_at(self, y: float) -> int:
        """Return the index on the page of the system nearest to a y."""
        distances = [max(box.top - y, y - box.bottom, 0.0) for box in self.systems]
        return int(np.argmin(distances))

    def spot_at(self, x: float, y: float, system: int | None = None) -> PageSpot:
        """Return what is nearest to a point: within `system` if one is named."""
        index = self.system_at(y) if system is None else system
        rows = self.cells[self.cells["system"] == index]
        staff_distance = np.maximum(np.maximum(rows["top"] - y, y - rows["bottom"]), 0)
        bar_distance = np.maximum(np.maximum(rows["left"] - x, x - rows["right"]), 0)
        nearest = rows[int(np.lexsort((bar_distance, staff_distance))[0])]
        bar = int(nearest["bar"])
        return PageSpot(bar, int(nearest["staff"]), index, self.offset_at(bar, x))

    def note_at(self, x: float, y: float) -> str | None:
        """Return the id of the notehead or rest under a point, if there is one."""
        if not len(self.notes):
            return None
        distance = np.hypot(self.notes["x"] - x, self.notes["y"] - y)
        nearest = int(np.argmin(distance))
        return self.note_ids[nearest] if distance[nearest] <= self.staff_space else None

    def areas(
        self,
        start: tuple[int, Fraction | float],
        end: tuple[int, Fraction | float],
        staves: tuple[int, ...],
    ) -> tuple[Rectangle, ...]:
        """Return the rectangles that a stretch of time on some staves takes on this page.

        Parameters
        ----------
        start, end
            (bar, offset in whole notes); the end does not belong to it.
        staves
            Indices of staves; neighbours on the page make one rectangle.

        Returns
        -------
        tuple
            From above, from left; empty if nothing of it is on the page.
        """
        found: list[Rectangle] = []
        wanted = set(staves)
        reach = self.staff_space * 1.5
        for index, box in enumerate(self.systems):
            first, last = max(start[0], box.first_bar), min(end[0], box.last_bar)
            if last == end[0] and float(end[1]) <= 1e-9:
                last -= 1
            if first > last:
                continue
            left = self.edge_at(first, start[1] if first == start[0] else 0.0)
            right = self.edge_at(last, end[1]) if last == end[0] else self._bar_edges[last][1]
            rows = self.cells[(self.cells["system"] == index) & (self.cells["bar"] == first)]
            rows = np.sort(rows, order="top")
            run: list[Any] = []
            for row in [*rows, None]:
                if row is not None and int(row["staff"]) in wanted:
                    run.append(row)
                    continue
                if run:
                    top, bottom = float(run[0]["top"]) - reach, float(run[-1]["bottom"]) + reach
                    found.append(Rectangle(left, top, right, bottom))
                run = []
        return tuple(found)
