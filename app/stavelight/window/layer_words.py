"""Say in words what regions and entries are and where they lie; and read such words."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stavelight.annotation.commentary import Entry, OnRegion, OnScore, OnSpans, Target
from stavelight.annotation.region import Region, SpanRecord, span_record
from stavelight.annotation.tags import Vocabulary
from stavelight.errors import StavelightError
from stavelight.score.structure import Point, Score, Span
from stavelight.window.snapping import BeatGrid
from stavelight.window.span_text import span_text, staves_text, stretch_text

WHOLE_SCORE = "The whole score"
NAMELESS = "Without a name"
UNWRITTEN = "Not written yet"
LOST = "A place that this score does not have"

_MARKS = re.compile(r"^\s*(?:#{1,6}|[-*+>]|\d+[.)])\s+|[*_`]+")
_BARS = re.compile(r"^(?:bars?|bb?\.?)?\s*(\S+?)(?:\s*[-–—]\s*(\S+))?$", re.IGNORECASE)
_LONGEST = 80


class BarsTextError(StavelightError):
    """Bars were typed that cannot be read or are not there."""


def region_name(region: Region, vocabulary: Vocabulary) -> str:
    """Return the region's label, or its tags, or `NAMELESS`."""
    return region_plate(region, vocabulary) or NAMELESS


def region_plate(region: Region, vocabulary: Vocabulary) -> str:
    """Return the region's label, or its tags, or nothing."""
    return region.label or ", ".join(vocabulary.label(tag) for tag in region.tags)


def bars_text(grid: BeatGrid, spans: Sequence[Span]) -> str:
    """Return the bars that spans lie in, such as ``bb. 3-4; b. 9``."""
    texts = [stretch_text(grid, span.start, span.end) for span in spans]
    return "; ".join(dict.fromkeys(texts))


def short_bars_text(score: Score, spans: Sequence[Span]) -> str:
    """Return the first and the last bar of spans, without beats, such as ``bb. 3-9``."""
    if not spans:
        return ""
    first = min(span.start for span in spans).bar
    end = max(span.end for span in spans)
    last = max(first, end.bar if end.offset > 0 else end.bar - 1)
    one, other = (score.bars[bar].printed_number for bar in (first, last))
    return f"b. {one}" if first == last else f"bb. {one}-{other}"


def parts_text(score: Score, spans: Sequence[Span]) -> str:
    """Return the parts that spans lie in."""
    return staves_text(score, sorted({staff for span in spans for staff in span.staves}))


def entry_heading(entry: Entry) -> str:
    """Return an entry's title, or its first line without marks."""
    if entry.title:
        return entry.title
    for line in entry.text.splitlines():
        plain = _MARKS.sub("", line).strip()
        if plain:
            return plain if len(plain) <= _LONGEST else plain[:_LONGEST].rsplit(" ", 1)[0] + "…"
    return UNWRITTEN


def short_time(entry: Entry) -> str:
    """Return where an entry begins on the recording, to the second, such as ``1:14``; or ""."""
    if entry.start_seconds is None:
        return ""
    minutes, seconds = divmod(int(entry.start_seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def spans_text(grid: BeatGrid, spans: Sequence[Span]) -> str:
    """Return spans with their parts."""
    return "; ".join(span_text(grid, span) for span in spans) or LOST


def read_bars(score: Score, text: str) -> tuple[SpanRecord, ...]:
    """Return the bars that a text names, over all staves.

    Parameters
    ----------
    score
        Where they are.
    text
        One printed bar number, or two with a dash between them; "b." or "bars" may stand before.

    Raises
    ------
    BarsTextError
        If the text cannot be read, or the score has no such bars.
    """
    found = _BARS.match(text.strip())
    numbers = [one for one in found.groups() if one] if found else []
    remedy = "Type bar numbers as printed, such as 41 or 41-44, or choose from the list."
    if not numbers:
        raise BarsTextError(f"“{text}” names no bars.", remedy=remedy)
    indices = [score.bars_printed(number) for number in numbers]
    for number, bars in zip(numbers, indices, strict=True):
        if not bars:
            raise BarsTextError(f"There is no bar {number}.", remedy=remedy)
    first = indices[0][0]
    last = next((bar for bar in indices[-1] if bar >= first), None)
    if last is None:
        raise BarsTextError(f"Bar {numbers[-1]} comes before bar {numbers[0]}.", remedy=remedy)
    staves = tuple(staff.index for staff in score.staves)
    span = Span(Point(first), Point(last, score.bar_length(last)), staves)
    return (span_record(span, score),)


class AboutWords:
    """What an entry can be about, as texts.

    Parameters
    ----------
    targets
        Each text and what it means.
    score
        Where typed bars are looked for.
    """

    def __init__(self, targets: Sequence[tuple[str, Target]], score: Score) -> None:
        self._targets: dict[str, Target] = {}
        self._score = score
        for text, target in targets:
            name, count = text, 1
            while name in self._targets:
                count += 1
                name = f"{text} ({count})"
            self._targets[name] = target

    @property
    def choices(self) -> tuple[str, ...]:
        """The texts to choose from."""
        return tuple(self._targets)

    def text(self, target: Target) -> str:
        """Return the text of a target."""
        for text, known in self._targets.items():
            if known == target:
                return text
        return LOST

    def read(self, text: str) -> Target:
        """Return what a text means.

        Raises
        ------
        BarsTextError
            If it means nothing here.
        """
        known = self._targets.get(text.strip())
        return known if known is not None else OnSpans(spans=read_bars(self._score, text))


def whole_score() -> tuple[str, Target]:
    """Return the target that is always there."""
    return WHOLE_SCORE, OnScore()


def on_region(region: Region, name: str, bars: str) -> tuple[str, Target]:
    """Return a region as a target."""
    return f"{name} ({bars})" if bars else name, OnRegion(region=region.id)
