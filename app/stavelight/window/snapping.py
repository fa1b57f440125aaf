"""Where the beats of a bar stand, so that what is dragged comes to rest on them.

Which unit is counted as the beat (common practice, as elementary theory teaches it; no source):

=======================================  ===========================================  ===========
time signature                           beat                                         part of it
=======================================  ===========================================  ===========
simple (2/2, 2/4, 3/4, 4/4, 3/8 ...)     the unit of the signature                    its half
compound: 6, 9, 12, 15 of an eighth or   three units (6/8: the dotted quarter)        the unit
of a shorter value
6/4, 9/4                                 the quarter, since slow and quick ones are   the eighth
                                         beaten differently
additive, of an eighth or shorter        the groups that the signature names          the unit
(2+3/8 ...)
none that can be read                    the quarter                                  the eighth
=======================================  ===========================================  ===========

A pickup bar, and the second half of a bar that a repeat sign or a double bar has cut in two, holds
the last beats of its measure; any other bar that is too short holds the first ones.
"""

from __future__ import annotations

import enum
from bisect import bisect_left, bisect_right
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate

from stavelight.score.structure import Bar, Point, Score


class Snap(enum.Enum):
    """What a dragged edge comes to rest on."""

    BEATS = enum.auto()
    PARTS_OF_BEATS = enum.auto()
    BARS = enum.auto()


@lru_cache(maxsize=256)
def beat_lengths(beats: str, beat_type: int) -> tuple[tuple[Fraction, int], ...]:
    """Return the beats of a measure: the length of each in whole notes, and into how many parts.

    Parameters
    ----------
    beats, beat_type
        The time signature as printed: see `stavelight.score.structure.Bar`.
    """
    numbers = [text.strip() for text in beats.split("+")]
    if beat_type < 1 or not all(text.isdigit() and int(text) > 0 for text in numbers):
        return ((Fraction(1, 4), 2),) * 4
    groups = [int(text) for text in numbers]
    unit = Fraction(1, beat_type)
    if len(groups) > 1 and beat_type >= 8:
        return tuple((unit * group, group) for group in groups)
    count = sum(groups)
    if beat_type >= 8 and count > 3 and count % 3 == 0:
        return ((unit * 3, 3),) * (count // 3)
    return ((unit, 2),) * count


class BeatGrid:
    """The beats of all bars of a score.

    Parameters
    ----------
    score
        The score.
    """

    def __init__(self, score: Score) -> None:
        self.score = score
        self._offsets: dict[tuple[int, Snap], tuple[Fraction, ...]] = {}

    @cached_property
    def _starts(self) -> tuple[Fraction, ...]:
        whole = 4 * self.score.ticks_per_quarter
        return tuple(Fraction(bar.start_ticks, whole) for bar in self.score.bars)

    @cached_property
    def total(self) -> Fraction:
        """Length of the score in whole notes."""
        last = len(self.score.bars) - 1
        return self._starts[last] + self.score.bar_length(last) if last >= 0 else Fraction(0)

    def missing_before(self, bar: int) -> Fraction:
        """Return how many whole notes of its measure have gone by before a bar begins.

        Nothing but for a pickup and for the second half of a bar that was cut in two.
        """
        bars = self.score.bars
        here = bars[bar]
        missing = here.nominal_ticks - here.length_ticks
        if missing <= 0 or here.length_ticks <= 0:
            return Fraction(0)
        if bar == 0:
            # A first bar that is short is a pickup, unless it is all that there is.
            is_second_half = len(bars) > 1
        else:
            before = bars[bar - 1]
            is_second_half = before.length_ticks == missing and _same_meter(before, here)
        return (
            Fraction(missing, 4 * self.score.ticks_per_quarter) if is_second_half else Fraction(0)
        )

    def _beats(self, bar: int) -> list[tuple[Fraction, Fraction, int]]:
        """Return start, length and parts of the beats of a bar; the first may start before it."""
        here = self.score.bars[bar]
        pattern = list(beat_lengths(here.beats, here.beat_type))
        length = self.score.bar_length(bar)
        shift = self.missing_before(bar)
        while sum(beat for beat, _ in pattern) < length + shift:
            pattern.append(pattern[-1])
        starts = accumulate((beat for beat, _ in pattern), initial=Fraction(0))
        return [
            (start - shift, beat, parts)
            for start, (beat, parts) in zip(starts, pattern, strict=False)
        ]

    def offsets(self, bar: int, snap: Snap = Snap.BEATS) -> tuple[Fraction, ...]:
        """Return where something may begin in a bar, in whole notes, rising, the first 0."""
        key = (bar, snap)
        if key not in self._offsets:
            found = {Fraction(0)}
            if snap is not Snap.BARS:
                for start, length, parts in self._beats(bar):
                    found.add(start)
                    if snap is Snap.PARTS_OF_BEATS:
                        found.update(start + length * part / parts for part in range(parts))
            length = self.score.bar_length(bar)
            inside = sorted(
                offset for offset in found if 0 <= offset < max(length, Fraction(1, 99))
            )
            self._offsets[key] = tuple(inside)
        return self._offsets[key]

    def beat_at(self, point: Point) -> Fraction:
        """Return the beat, counted from 1, with its fraction: the half of the second is 5/2."""
        number = Fraction(1)
        for index, (start, length, _) in enumerate(self._beats(point.bar)):
            if start <= point.offset:
                number = index + 1 + (point.offset - start) / length
        return number

    def time(self, point: Point) -> Fraction:
        """Return the whole notes from the beginning of the score to a point."""
        return self._starts[point.bar] + point.offset

    def point(self, time: Fraction, *, ending: bool = False) -> Point:
        """Return the point at a time; on a barline, the end of the bar before if `ending`."""
        find = bisect_left if ending else bisect_right
        bar = min(max(find(self._starts, time) - 1, 0), len(self._starts) - 1)
        while ending and bar > 0 and not self.score.bars[bar].length_ticks:
            bar -= 1
        offset = min(max(time - self._starts[bar], Fraction(0)), self.score.bar_length(bar))
        return Point(bar, offset)

    def after(self, time: Fraction, snap: Snap = Snap.BEATS) -> Fraction:
        """Return the next time on the grid after a time; the end of the score at the latest."""
        bar = self.point(time).bar
        for index in range(bar, len(self._starts)):
            for offset in self.offsets(index, snap):
                if self._starts[index] + offset > time:
                    return self._starts[index] + offset
        return self.total

    def before(self, time: Fraction, snap: Snap = Snap.BEATS) -> Fraction:
        """Return the last time on the grid before a time; the beginning at the earliest."""
        bar = self.point(time, ending=True).bar
        for index in range(bar, -1, -1):
            for offset in reversed(self.offsets(index, snap)):
                if self._starts[index] + offset < time:
                    return self._starts[index] + offset
        return Fraction(0)

    def nearest(self, time: Fraction, snap: Snap = Snap.BEATS) -> Fraction:
        """Return the time on the grid that is nearest to a time."""
        if time <= 0:
            return Fraction(0)
        later = self.after(time, snap)
        earlier = self.before(later, snap)
        return earlier if time - earlier <= later - time else later


def _same_meter(one: Bar, other: Bar) -> bool:
    return (one.beats, one.beat_type) == (other.beats, other.beat_type)
