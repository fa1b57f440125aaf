"""Say in words where a span lies: printed bar numbers, beats and parts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from stavelight.score.structure import Point, Score, Span
from stavelight.window.snapping import BeatGrid

_FRACTIONS = {
    Fraction(1, 2): "½",
    Fraction(1, 3): "⅓",
    Fraction(2, 3): "⅔",
    Fraction(1, 4): "¼",
    Fraction(3, 4): "¾",
    Fraction(1, 6): "⅙",
    Fraction(5, 6): "⅚",
    Fraction(1, 8): "⅛",
}
_MOST_NAMES = 5
_NUMBERED = re.compile(r"(.*\D)(\d{1,2})")


def span_text(grid: BeatGrid, span: Span) -> str:
    """Return a span as text, such as ``bb. 41.3-44.1, Fl. 1, Ob. 1-2``."""
    return f"{stretch_text(grid, span.start, span.end)}, {staves_text(grid.score, span.staves)}"


def stretch_text(grid: BeatGrid, start: Point, end: Point) -> str:
    """Return a stretch of time as text: from the beat it begins on to the last one it holds.

    Whole bars are named without beats: ``b. 41``, ``bb. 41-44``. A stretch that breaks off within a
    beat names the moment before which it ends: ``bb. 41.3 to before 44.1½``.
    """
    score = grid.score
    last = grid.point(grid.time(end), ending=True)
    first_bar, last_bar = _bar(score, start.bar), _bar(score, last.bar)
    is_whole = start.offset == 0 and last.offset == score.bar_length(last.bar)
    if is_whole:
        return f"b. {first_bar}" if start.bar == last.bar else f"bb. {first_bar}-{last_bar}"
    first = f"{first_bar}.{beat_text(grid.beat_at(start))}"
    head = "b." if start.bar == last.bar else "bb."
    end_beat = grid.beat_at(last)
    if end_beat.denominator != 1 and last.offset != score.bar_length(last.bar):
        return f"{head} {first} to before {last_bar}.{beat_text(end_beat)}"
    held = grid.beat_at(grid.point(grid.before(grid.time(last))))
    if start.bar != last.bar:
        return f"bb. {first}-{last_bar}.{int(held)}"
    return f"b. {first}" if grid.beat_at(start) >= int(held) else f"b. {first}-{int(held)}"


def staves_text(score: Score, staves: Sequence[int]) -> str:
    """Return staves as the names of their parts, short forms where the score has them."""
    if len(staves) == len(score.staves) > 1:
        return "all parts"
    names: list[str] = []
    for staff in staves:
        part = score.part_of_staff(staff)
        name = part.abbreviation or part.name or f"part {part.index + 1}"
        if part.staff_count > 1 and not set(part.staff_indices) <= set(staves):
            name += f" (staff {score.staves[staff].number})"
        if name not in names:
            names.append(name)
    shown = _together(names)
    if len(shown) > _MOST_NAMES:
        return f"{names[0]} to {names[-1]} ({len(names)} parts)"
    return ", ".join(shown)


def _together(names: Sequence[str]) -> list[str]:
    """Return names, those that differ only in rising numbers put together: ``Ob. 1-2``."""
    shown: list[str] = []
    stem, first, last = "", 0, 0
    for name in names:
        found = _NUMBERED.fullmatch(name)
        if found and found[1] == stem and int(found[2]) == last + 1:
            last += 1
            shown[-1] = f"{stem}{first}-{last}"
            continue
        stem, first = (found[1], int(found[2])) if found else ("", 0)
        last = first
        shown.append(name)
    return shown


def beat_text(beat: Fraction) -> str:
    """Return a beat as text, such as ``3`` or ``2½``."""
    whole, rest = divmod(beat, 1)
    if not rest:
        return str(whole)
    return f"{whole}{_FRACTIONS[rest]}" if rest in _FRACTIONS else f"{float(beat):.2f}"


def _bar(score: Score, bar: int) -> str:
    return score.bars[bar].printed_number or f"({bar + 1})"
