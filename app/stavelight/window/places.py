"""Find places in a score by what people type: a printed bar number or a rehearsal mark."""

from __future__ import annotations

import re
from dataclasses import dataclass

from stavelight.score.structure import Score

_FROM_MARK = re.compile(r"(.+?)\s*([+-])\s*(\d+)$")
_MOST = 60


@dataclass(frozen=True, slots=True)
class Place:
    """A bar that was looked for.

    Attributes
    ----------
    bar
        Its index.
    title
        What was found, such as "Bar 41" or "Rehearsal mark C".
    detail
        What tells it from others, such as "bar 41", "after rehearsal mark C"; or "".
    """

    bar: int
    title: str
    detail: str = ""


def find_places(score: Score, text: str) -> tuple[Place, ...]:
    """Return the places that a text may mean, the likeliest first.

    Parameters
    ----------
    score
        Where to look.
    text
        A bar number as printed, a rehearsal mark, or so many bars from a rehearsal mark, such as
        "C+3" for the third bar after C or "C-2" for the second before it (the rehearsal room's
        "three after C", "two before C"; common practice, no source). Nothing: all marks.
    """
    wanted = " ".join(text.split()).casefold()
    wanted = re.sub(r"^(bar|b\.|mark)\s*(?=\S)", "", wanted)
    if not wanted:
        return _marks(score)[:_MOST]
    counted = _counted_from_mark(score, wanted)
    exact = tuple(
        _bar_place(score, bar.index)
        for bar in score.bars
        if bar.printed_number.casefold() == wanted
    )
    marks = tuple(
        place
        for place in _marks(score)
        if score.bars[place.bar].rehearsal_mark.casefold().startswith(wanted)
    )
    longer = tuple(
        _bar_place(score, bar.index)
        for bar in score.bars
        if bar.printed_number.casefold().startswith(wanted)
        and bar.printed_number.casefold() != wanted
    )
    exact_marks = tuple(
        place for place in marks if score.bars[place.bar].rehearsal_mark.casefold() == wanted
    )
    other_marks = tuple(place for place in marks if place not in exact_marks)
    return (*exact_marks, *exact, *counted, *other_marks, *longer)[:_MOST]


def _marks(score: Score) -> tuple[Place, ...]:
    return tuple(
        Place(bar.index, f"Rehearsal mark {bar.rehearsal_mark}", f"bar {bar.printed_number}")
        for bar in score.bars
        if bar.rehearsal_mark
    )


def _bar_place(score: Score, bar: int) -> Place:
    printed = score.bars[bar].printed_number
    if len(score.bars_printed(printed)) == 1:
        return Place(bar, f"Bar {printed}", _mark_before(score, bar))
    order = score.bars_printed(printed).index(bar) + 1
    detail = f"no. {order} of {len(score.bars_printed(printed))} with that number"
    mark = _mark_before(score, bar)
    return Place(bar, f"Bar {printed}", f"{detail}, {mark}" if mark else detail)


def _mark_before(score: Score, bar: int) -> str:
    for index in range(bar, -1, -1):
        mark = score.bars[index].rehearsal_mark
        if mark:
            return f"at {mark}" if index == bar else f"{bar - index} after {mark}"
    return ""


def _counted_from_mark(score: Score, wanted: str) -> tuple[Place, ...]:
    found = _FROM_MARK.match(wanted)
    if not found:
        return ()
    name, sign, count = found[1], found[2], int(found[3])
    places = []
    for bar in score.bars:
        index = bar.index + (count if sign == "+" else -count)
        if bar.rehearsal_mark.casefold() == name and 0 <= index < len(score.bars):
            side = "after" if sign == "+" else "before"
            title = f"{count} {side} {bar.rehearsal_mark}"
            places.append(Place(index, title, f"bar {score.bars[index].printed_number}"))
    return tuple(places)
