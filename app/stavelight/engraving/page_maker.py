"""Make pages and excerpts: cut, print, stack the systems, and note where everything stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol
from xml.sax.saxutils import escape

import numpy as np

from stavelight.engraving.drawing import TEXT_FAMILY, Drawing, read_drawing
from stavelight.engraving.geometry import CELLS, MOMENTS, NOTES, PageGeometry, SystemBox
from stavelight.engraving.key_changes import Slice
from stavelight.engraving.musicxml_slice import SliceRequest
from stavelight.engraving.page_plan import (
    STAFF_PITCH,
    SYSTEM_GAP,
    TITLE_HEIGHT,
    USUAL_DISTANCE,
    BarSource,
    PagePlan,
    PagePlanner,
    ScorePlan,
    SystemPlan,
    Titles,
    bar_width,
)
from stavelight.engraving.paper import PageLayout
from stavelight.engraving.press import STAFF_HEIGHT, Press

_NARROW_DISTANCE = 5.0
"""Tried when a page does not hold its systems; in half staff spaces."""

_LEAST_SQUEEZE = 0.94
_LARGEST_GAP = 16.0
_EXCERPT_RIM = 0.25
"""Room on all sides of an excerpt, in staff heights: verovio draws a little over its edges."""


class ScoreSource(BarSource, Protocol):
    """A score that can be laid out, cut, and asked for the places of its notes."""

    @property
    def titles(self) -> Titles:
        """What stands above the first system."""

    @property
    def kind(self) -> str:
        """The format: musicxml or mei."""

    def staff_of(self, parts: Sequence[int], number: int) -> int:
        """Return the index in the score of the n-th staff, from 1, of a slice of some parts."""

    def bar_of(self, bar_id: str) -> int:
        """Return the index of the bar that has an id on the page."""

    def bar_length(self, bar: int, parts: Sequence[int]) -> float:
        """Return the length of a bar in whole notes."""

    def offset_of(self, note_id: str) -> float | None:
        """Return how many whole notes after the barline a note or rest begins."""

    def cut(self, request: SliceRequest) -> Slice:
        """Return a slice as a document of its own."""


@dataclass(frozen=True)
class EngravedPage:
    """A page or an excerpt, ready to be painted.

    Attributes
    ----------
    number
        Of the page, from 1; 0 for an excerpt.
    svg
        A drawing that Qt can paint; its view box is in millimetres.
    geometry
        Where everything stands on it.
    messages
        What verovio said about these bars.
    """

    number: int
    svg: bytes
    geometry: PageGeometry
    messages: tuple[str, ...] = ()

    @property
    def width(self) -> float:
        """Millimetres."""
        return self.geometry.width

    @property
    def height(self) -> float:
        """Millimetres."""
        return self.geometry.height


@dataclass(frozen=True, slots=True)
class ExcerptRequest:
    """A few bars of some parts, as large as a space allows.

    Attributes
    ----------
    bars
        Half-open range of bar indices.
    parts
        Indices of the parts, ascending.
    width, height
        Of the space, in millimetres; a height of 0 means: one single system, however long, and
        then `width` is not looked at.
    largest_staff_height
        In millimetres.
    sounding_pitch
        Whether to show the pitch that sounds.
    """

    bars: range
    parts: tuple[int, ...]
    width: float
    height: float
    largest_staff_height: float = 14.0
    sounding_pitch: bool = False


@dataclass(frozen=True, slots=True)
class _PlacedSystem:
    plan: SystemPlan
    drawing: Drawing
    left: float
    top: float
    across: float
    down: float


@dataclass(frozen=True, slots=True)
class _Fit:
    """Drawings that fit, and the scales that they fit at."""

    drawings: list[Drawing]
    across: float
    down: float
    messages: tuple[str, ...]


class PageMaker:
    """Makes the pages of one score in one layout.

    Parameters
    ----------
    source
        The score.
    layout
        How to lay it out.
    """

    def __init__(self, source: ScoreSource, layout: PageLayout, press: Press | None = None) -> None:
        self.source = source
        self.layout = layout
        self.press = press or Press()
        self.planner = PagePlanner(source, layout)

    def plan(self, page_limit: int | None = None) -> ScorePlan:
        """Return which bars stand on which page."""
        return self.planner.plan(page_limit)

    def page(self, plan: PagePlan, *, is_last: bool = False) -> EngravedPage:
        """Return one page."""
        planner = self.planner
        first_page = plan.bars.start == 0
        room = planner.content_height - (TITLE_HEIGHT if first_page else 0.0)
        top = self.layout.margin + (TITLE_HEIGHT if first_page else 0.0)
        fit = self._fitting(plan.systems, room)
        heights = [drawing.height * fit.down for drawing in fit.drawings]
        gap = SYSTEM_GAP
        if len(heights) > 1:
            spare = (room - sum(heights)) / (len(heights) - 1)
            gap = min(max(spare, 0.0), SYSTEM_GAP * 1.5 if is_last else _LARGEST_GAP)
        placed = []
        for system, drawing, height in zip(plan.systems, fit.drawings, heights, strict=True):
            placed.append(
                _PlacedSystem(system, drawing, self.layout.margin, top, fit.across, fit.down)
            )
            top += height + gap
        furniture = self._page_number(plan.number)
        if first_page:
            furniture += self._title_block()
        return self._compose(
            plan.number, planner.width, planner.height, placed, furniture, fit.messages
        )

    def _fitting(self, systems: Sequence[SystemPlan], room: float) -> _Fit:
        """Print systems so that they fit into a height.

        What is a little too high is pressed together, which nobody sees; what is much too high is
        printed again with narrower distances, and at last smaller.
        """
        room -= SYSTEM_GAP * (len(systems) - 1) * 0.6
        scale = self.planner.scale
        likely = self.planner.fitting_distance(systems, room)
        for distance in dict.fromkeys((likely, _NARROW_DISTANCE)):
            drawings, messages = self._print(systems, self.planner.content_width / scale, distance)
            share = room / (sum(drawing.height for drawing in drawings) * scale)
            if share >= _LEAST_SQUEEZE:
                return _Fit(drawings, scale, scale * min(share, 1.0), messages)
        scale *= share
        drawings, messages = self._print(
            systems, self.planner.content_width / scale, _NARROW_DISTANCE
        )
        down = room / sum(drawing.height for drawing in drawings)
        return _Fit(drawings, scale, min(scale, down), messages)

    def _print(
        self,
        systems: Sequence[SystemPlan],
        width: float,
        staff_distance: float,
        *,
        full_names: bool = False,
    ) -> tuple[list[Drawing], tuple[str, ...]]:
        drawings: list[Drawing] = []
        messages: list[str] = []
        for parts, group in groupby(systems, key=lambda system: system.parts):
            bars = tuple(system.bars for system in group)
            request = SliceRequest(
                bars, parts, full_names=full_names, sounding_pitch=self.layout.sounding_pitch
            )
            first_page = 1 if bars[0].start > 0 else 0
            result = self.press.print(
                self.source.cut(request),
                width=width,
                pages=slice(first_page, first_page + len(bars)),
                sounding_pitch=self.layout.sounding_pitch,
                staff_distance=staff_distance,
            )
            drawings.extend(read_drawing(page) for page in result.pages)
            messages.extend(result.messages)
        return drawings, tuple(dict.fromkeys(messages))

    def excerpt(self, request: ExcerptRequest) -> EngravedPage:
        """Return some bars of some parts, as large as the space allows, and no larger."""
        systems, staff_height = self._excerpt_plan(request)
        rim = staff_height * _EXCERPT_RIM
        scale = staff_height / STAFF_HEIGHT
        width = (request.width - 2 * rim) / scale
        if not request.height:
            width = self._prefix(request.parts) + sum(self._bar_widths(request))
        drawings, messages = self._print(systems, width, USUAL_DISTANCE, full_names=True)
        gap = staff_height * 0.8
        height = sum(drawing.height for drawing in drawings) * scale + gap * (len(drawings) - 1)
        room = request.height - 2 * rim
        if request.height and height > room:
            scale *= room / height
            gap *= room / height
            drawings, messages = self._print(
                systems, (request.width - 2 * rim) / scale, USUAL_DISTANCE, full_names=True
            )
        placed = []
        top = rim
        for system, drawing in zip(systems, drawings, strict=True):
            placed.append(_PlacedSystem(system, drawing, rim, top, scale, scale))
            top += drawing.height * scale + gap
        page_width = max(drawing.width for drawing in drawings) * scale + 2 * rim
        return self._compose(0, page_width, top - gap + rim, placed, "", messages)

    def _bar_widths(self, request: ExcerptRequest) -> list[float]:
        return [
            bar_width([self.source.rhythm(part, bar) for part in request.parts])
            for bar in request.bars
        ]

    def _prefix(self, parts: Sequence[int]) -> float:
        return 1900.0 + 200.0 * self.source.longest_name(parts, full=True)

    def _excerpt_plan(self, request: ExcerptRequest) -> tuple[list[SystemPlan], float]:
        """Return the systems of an excerpt, and the staff height at which they fill the space."""
        widths = self._bar_widths(request)
        prefix = self._prefix(request.parts)
        if not request.height:
            return [SystemPlan(request.bars, request.parts)], request.largest_staff_height
        staves = sum(self.source.staff_count(part) for part in request.parts)
        best: tuple[float, list[range]] = (0.0, [request.bars])
        for count in range(1, len(widths) + 1):
            ranges = _balanced(widths, count, request.bars.start)
            start = request.bars.start
            widest = max(sum(widths[b.start - start : b.stop - start]) for b in ranges)
            across = request.width / (prefix + widest) * STAFF_HEIGHT
            needed = count * staves * STAFF_PITCH / STAFF_HEIGHT + 0.8 * (count - 1)
            height = min(across, request.height / needed, request.largest_staff_height)
            if height > best[0] * 1.02:
                best = (height, ranges)
        return [SystemPlan(bars, request.parts) for bars in best[1]], best[0]

    def _title_block(self) -> str:
        titles = self.source.titles
        middle, right = self.planner.width / 2, self.planner.width - self.layout.margin
        top = self.layout.margin
        return (
            _text(titles.title, middle, top + 5.5, 7.0, "middle", bold=True)
            + _text(titles.subtitle, middle, top + 12.0, 4.4, "middle")
            + _text(titles.composer, right, top + 14.5, 3.8, "end")
        )

    def _page_number(self, number: int) -> str:
        y = self.planner.height - self.layout.margin * 0.6
        return _text(str(number), self.planner.width / 2, y, 3.6, "middle")

    def _compose(
        self,
        number: int,
        width: float,
        height: float,
        placed: Sequence[_PlacedSystem],
        furniture: str,
        messages: tuple[str, ...],
    ) -> EngravedPage:
        glyphs: dict[str, bytes] = {}
        for system in placed:
            glyphs.update(system.drawing.glyphs)
        pieces = [
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'version="1.1" width="{width:.3f}mm" height="{height:.3f}mm" '
            f'viewBox="0 0 {width:.3f} {height:.3f}"><defs>'.encode(),
            *glyphs.values(),
            b"</defs>",
            furniture.encode("utf-8"),
        ]
        for system in placed:
            pieces.append(
                f'<g transform="translate({system.left:.4f},{system.top:.4f}) '
                f'scale({system.across:.8f},{system.down:.8f})">'.encode()
            )
            pieces.append(system.drawing.content)
            pieces.append(b"</g>")
        pieces.append(b"</svg>")
        geometry = self._geometry(width, height, placed)
        return EngravedPage(number, b"".join(pieces), geometry, messages)

    def _geometry(
        self, width: float, height: float, placed: Sequence[_PlacedSystem]
    ) -> PageGeometry:
        cells: list[tuple[float, ...]] = []
        notes: list[tuple[float, float, int]] = []
        note_ids: list[str] = []
        moments: dict[tuple[int, float], float] = {}
        boxes: list[SystemBox] = []
        lengths: dict[int, float] = {}
        for index, system in enumerate(placed):
            first_cell = len(cells)
            x0, y0 = system.left, system.top
            for cell in system.drawing.cells:
                cells.append(
                    (
                        self.source.bar_of(cell.bar_id),
                        self.source.staff_of(system.plan.parts, cell.staff_number),
                        index,
                        x0 + cell.left * system.across,
                        x0 + cell.right * system.across,
                        y0 + cell.top * system.down,
                        y0 + cell.bottom * system.down,
                    )
                )
            for note in system.drawing.notes:
                x, y = x0 + note.x * system.across, y0 + note.y * system.down
                note_ids.append(note.id)
                notes.append((x, y, first_cell + note.cell))
                offset = None if note.is_whole_rest else self.source.offset_of(note.id)
                if offset is not None:
                    key = (int(cells[first_cell + note.cell][0]), round(offset, 9))
                    moments[key] = min(x, moments.get(key, x))
            boxes.append(_system_box(system, cells[first_cell:]))
            for bar in system.plan.bars:
                lengths[bar] = self.source.bar_length(bar, system.plan.parts)
        cell_array = np.array(cells, dtype=CELLS)
        moment_rows = [(bar, offset, x) for (bar, offset), x in sorted(moments.items())]
        return PageGeometry(
            width,
            height,
            tuple(boxes),
            cell_array,
            tuple(note_ids),
            np.array(notes, dtype=NOTES),
            np.array(moment_rows, dtype=MOMENTS),
            lengths,
        )


def _system_box(system: _PlacedSystem, cells: Sequence[tuple[float, ...]]) -> SystemBox:
    staves = dict.fromkeys(int(cell[1]) for cell in sorted(cells, key=lambda cell: cell[5]))
    return SystemBox(
        system.plan.bars.start,
        system.plan.bars.stop - 1,
        min(cell[3] for cell in cells),
        max(cell[4] for cell in cells),
        min(cell[5] for cell in cells),
        max(cell[6] for cell in cells),
        system.top,
        system.top + system.drawing.height * system.down,
        tuple(staves),
    )


def _balanced(widths: Sequence[float], count: int, start: int) -> list[range]:
    """Return bars in `count` runs of about equal width."""
    share = sum(widths) / count
    ranges: list[range] = []
    first, used = 0, 0.0
    for index, width in enumerate(widths):
        left = len(widths) - index
        open_runs = count - len(ranges)
        if index > first and open_runs > 1 and (used + width / 2 > share or left < open_runs):
            ranges.append(range(start + first, start + index))
            first, used = index, 0.0
        used += width
    ranges.append(range(start + first, start + len(widths)))
    return ranges


def _text(content: str, x: float, y: float, size: float, anchor: str, *, bold: bool = False) -> str:
    """Return an SVG text; millimetres. Small font sizes are rounded by Qt, so it is scaled."""
    if not content:
        return ""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<g transform="translate({x:.3f},{y:.3f}) scale(0.01)"><text x="0" y="0" '
        f'text-anchor="{anchor}" font-family="{TEXT_FAMILY}" font-size="{size * 100:.0f}"{weight}>'
        f"{escape(content)}</text></g>"
    )
