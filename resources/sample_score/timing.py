"""When a place of the score sounds, at the tempi that are printed."""

from __future__ import annotations

from sample_score.examination import bar_start
from sample_score.material import LAST_BAR, TEMPI
from sample_score.shorthand import EIGHTH, QUARTER


def seconds(bar: int, eighth: float = 0) -> float:
    """Return the playing time from the beginning to a place, in seconds; fermatas not counted."""
    place = bar_start(bar) + eighth * EIGHTH
    total = 0.0
    starts = [bar_start(tempo.bar) + tempo.eighth * EIGHTH for tempo in TEMPI]
    ends = [*starts[1:], bar_start(LAST_BAR + 1)]
    for tempo, start, end in zip(TEMPI, starts, ends, strict=True):
        ticks = max(0.0, min(place, end) - start)
        total += ticks / QUARTER * 60 / tempo.quarters_per_minute
    return total
