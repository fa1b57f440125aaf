"""Draw and reshape regions with the keyboard alone.

Keys, while the view has the keyboard:

==============================  ==============================================================
Tab, Shift+Tab                  select the next or the last region on the page
Enter                           open what is selected (the window decides what that means)
Esc                             break off a drag or a drawing; else select nothing
Shift+Right, Shift+Left         the end of the selected region, a beat later or earlier
Ctrl+Shift+Right, ...+Left      its beginning, a beat later or earlier
Shift+Down, Shift+Up            its lowest staff, one further down or up
Ctrl+Shift+Down, ...+Up         its uppermost staff, one further down or up
Ctrl+Right, Ctrl+Left           the whole region, a beat later or earlier
... with Alt as well            by parts of a beat instead of beats
Insert                          begin to draw a region at the top of the page
then arrows                     carry it by beats and staves
... with Shift                  stretch it; Enter draws it, Esc gives it up
==============================  ==============================================================
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from PySide6.QtCore import Qt

from stavelight.score.structure import Span
from stavelight.window.region_drag import Cell, moved_in_time, with_edge, with_staff
from stavelight.window.region_shapes import Edge
from stavelight.window.snapping import BeatGrid, Snap

_Key = Qt.Key
_Modifier = Qt.KeyboardModifier
_ACROSS = {_Key.Key_Left: -1, _Key.Key_Right: 1}
_DOWN = {_Key.Key_Up: -1, _Key.Key_Down: 1}

ARROWS = (*_ACROSS, *_DOWN)
"""The four arrow keys."""


def reshaped_by_key(
    grid: BeatGrid, spans: Sequence[Span], key: Qt.Key, modifiers: Qt.KeyboardModifier
) -> tuple[Span, ...] | None:
    """Return what a key makes of a region's spans; None if the key is not for that."""
    ctrl, shift = (
        bool(modifiers & _Modifier.ControlModifier),
        bool(modifiers & _Modifier.ShiftModifier),
    )
    snap = Snap.PARTS_OF_BEATS if modifiers & _Modifier.AltModifier else Snap.BEATS
    if key in _ACROSS and (ctrl or shift):
        direction = _ACROSS[key]
        if not shift:
            start = min(grid.time(span.start) for span in spans)
            return moved_in_time(grid, spans, _step(grid, start, direction, snap) - start)
        return _with_end_or_start(grid, tuple(spans), direction, snap, start=ctrl)
    if key in _DOWN and shift:
        edge = Edge.TOP if ctrl else Edge.BOTTOM
        last_staff = len(grid.score.staves) - 1
        changed = []
        for span in spans:
            staff = (span.staves[0] if ctrl else span.staves[-1]) + _DOWN[key]
            changed.append(with_staff(span, edge, min(max(staff, 0), last_staff)))
        return tuple(changed)
    return None


def _with_end_or_start(
    grid: BeatGrid, spans: tuple[Span, ...], direction: int, snap: Snap, *, start: bool
) -> tuple[Span, ...]:
    if start:
        index = min(range(len(spans)), key=lambda i: grid.time(spans[i].start))
        time = _step(grid, grid.time(spans[index].start), direction, snap)
        changed = with_edge(grid, spans[index], Edge.START, time, snap)
    else:
        index = max(range(len(spans)), key=lambda i: grid.time(spans[i].end))
        time = _step(grid, grid.time(spans[index].end), direction, snap)
        changed = with_edge(grid, spans[index], Edge.END, time, snap)
    return (*spans[:index], changed, *spans[index + 1 :])


def _step(grid: BeatGrid, time: Fraction, direction: int, snap: Snap) -> Fraction:
    return grid.after(time, snap) if direction > 0 else grid.before(time, snap)


@dataclass(frozen=True, slots=True)
class KeyDrawing:
    """A region that is being drawn with the keyboard, from one cell to another.

    Attributes
    ----------
    grid
        The beats.
    anchor, corner
        Its two ends, in any order.
    """

    grid: BeatGrid
    anchor: Cell
    corner: Cell

    @property
    def span(self) -> Span:
        """What would be drawn now."""
        staves = sorted((self.anchor.staff, self.corner.staff))
        return Span(
            self.grid.point(min(self.anchor.start, self.corner.start)),
            self.grid.point(max(self.anchor.end, self.corner.end), ending=True),
            tuple(range(staves[0], staves[1] + 1)),
        )

    def after_key(self, key: Qt.Key, modifiers: Qt.KeyboardModifier) -> KeyDrawing:
        """Return the drawing carried or, with Shift, stretched by an arrow key."""
        snap = Snap.PARTS_OF_BEATS if modifiers & _Modifier.AltModifier else Snap.BEATS
        corner = self._moved(self.corner, key, snap)
        if modifiers & _Modifier.ShiftModifier:
            return replace(self, corner=corner)
        return KeyDrawing(self.grid, corner, corner)

    def _moved(self, cell: Cell, key: Qt.Key, snap: Snap) -> Cell:
        grid = self.grid
        if key in _DOWN:
            staff = min(max(cell.staff + _DOWN[key], 0), len(grid.score.staves) - 1)
            return replace(cell, staff=staff)
        start = _step(grid, cell.start, _ACROSS[key], snap)
        if start >= grid.total:
            return cell
        return Cell(start, grid.after(start, snap), cell.staff)
