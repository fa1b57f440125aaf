"""What is shown in a lecture, slide by slide, before anything is engraved or painted.

From the score, the layer and the vocabulary come a title and a list of passages: one for each
entry of commentary, and one for each region that has none. A passage is told in words that any
format can use; how many slides it takes is decided when its bars are engraved.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stavelight.annotation.commentary import Entry, OnRegion
from stavelight.annotation.palette import colour, hatch
from stavelight.annotation.region import Region, SpanRecord, StaffFinder
from stavelight.delivery.commentary_text import Paragraph, read_commentary, read_line, readable
from stavelight.score.structure import Point, Score, Span

if TYPE_CHECKING:
    from stavelight.annotation.layer import Layer
    from stavelight.annotation.lesson import Lesson
    from stavelight.annotation.tags import Vocabulary


@dataclass(frozen=True, slots=True)
class SlideOptions:
    """What the user may choose.

    Attributes
    ----------
    all_parts
        Whether excerpts show all parts that play, not only the staves of what they are about.
    other_regions
        Whether other regions in the same bars and staves are shown, too.
    sounding_pitch
        Whether excerpts show the pitch that sounds.
    lesson
        Whose title, choice and order to use; None: the layer's first.
    most_slides
        How many slides a long passage may take; what goes beyond is left out, and said to be.
    picture_width
        Of PNG slides, in pixels.
    """

    all_parts: bool = False
    other_regions: bool = True
    sounding_pitch: bool = False
    lesson: Lesson | None = None
    most_slides: int = 8
    picture_width: int = 1920


@dataclass(frozen=True, slots=True)
class TitleSlide:
    """The first slide. Each is one line of text, or "".

    Attributes
    ----------
    title, subtitle, composer
        Of the work.
    lesson, author
        The title of the lesson, and who marked and commented.
    credit
        Whom to name.
    changed
        When the layer was last changed, in UTC as in ISO 8601; not shown.
    """

    title: str
    subtitle: str
    composer: str
    lesson: str
    author: str
    credit: str
    changed: str = ""


@dataclass(frozen=True, slots=True)
class MarkedRegion:
    """A region as slides show it.

    Attributes
    ----------
    id
        Of the region in the layer.
    name
        Its label, or its tags where it has none.
    tags
        The labels of its tags.
    colour, hatch
        ``#rrggbb``, and the id of a hatch in the palette.
    spans
        Where it is in this score.
    """

    id: str
    name: str
    tags: tuple[str, ...]
    colour: str
    hatch: str
    spans: tuple[Span, ...]

    @property
    def key_text(self) -> str:
        """What the key says: its tags; where it has none, its name."""
        return ", ".join(self.tags) or self.name


@dataclass(frozen=True, slots=True)
class Passage:
    """What one or more slides are about.

    Attributes
    ----------
    heading
        One line.
    text
        The whole commentary.
    time
        Where it is on the recording, such as ``1:02–1:15``, or "".
    spans
        The places it is about; none for the whole score.
    regions
        What may be marked, those it is about first.
    own_regions
        Ids of those it is about.
    """

    heading: str
    text: tuple[Paragraph, ...]
    time: str
    spans: tuple[Span, ...]
    regions: tuple[MarkedRegion, ...]
    own_regions: frozenset[str]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The bars and staves that it is about; spans that meet make one stretch."""
        made: list[Stretch] = []
        for span in sorted(self.spans, key=lambda span: span.start):
            bars = range(span.start.bar, last_bar(span) + 1)
            staves = frozenset(span.staves)
            if made and bars.start <= made[-1].bars.stop:
                before = made.pop()
                bars = range(before.bars.start, max(before.bars.stop, bars.stop))
                staves |= before.staves
            made.append(Stretch(bars, staves))
        return tuple(made)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Successive bars, as a half-open range of indices, and indices of staves."""

    bars: range
    staves: frozenset[int]


def last_bar(span: Span) -> int:
    """Return the index of the last bar that a span has something of."""
    return span.end.bar - 1 if not span.end.offset and span.end > span.start else span.end.bar


def title_slide(score: Score, layer: Layer, options: SlideOptions) -> TitleSlide:
    """Return the title slide."""
    lesson = options.lesson if options.lesson is not None else layer.lesson
    authors = [entry.author for entry in layer.entries] + [one.author for one in layer.regions]
    return TitleSlide(
        title=_title(score),
        subtitle=_plain(score.subtitle),
        composer=_plain(score.composer),
        lesson=_plain(lesson.title) if lesson.title != score.title else "",
        author=", ".join(_plain(author) for author in dict.fromkeys(authors) if author),
        credit=credit_line(score, layer),
        changed=max(
            (*(one.changed for one in layer.entries), *(one.changed for one in layer.regions)),
            default="",
        ),
    )


def credit_line(score: Score, layer: Layer) -> str:
    """Return whom to name: the layer's credits, or else those of the score file."""
    credits_ = [_plain(line) for line in layer.credits or (score.credit,)]
    return " ".join(_closed(line) for line in credits_ if line)


def foot_line(score: Score, layer: Layer) -> str:
    """Return the line at the foot of every slide: composer, title, and whom to name."""
    composer = _plain(score.composer)
    work = f"{composer}: {_title(score)}" if composer else _title(score)
    return " ".join(part for part in (_closed(work), credit_line(score, layer)) if part)


def _title(score: Score) -> str:
    return _plain(score.title) or readable(score.path.stem.replace("_", " "))


def _plain(text: str) -> str:
    """Return a text on one line."""
    return " ".join(readable(text).split())


def _closed(sentence: str) -> str:
    """Return a sentence with a full stop behind it."""
    return sentence if sentence.endswith((".", "!", "?", "…")) else sentence + "."


def passages(
    score: Score, layer: Layer, vocabulary: Vocabulary, options: SlideOptions
) -> tuple[Passage, ...]:
    """Return all passages, in the order in which they are shown.

    Parameters
    ----------
    score, layer
        What to show.
    vocabulary
        For the names of tags; the layer's own tags are added to it.
    options
        What the user chose.
    """
    return _PassageMaker(score, layer, vocabulary, options).make()


def marked_regions(score: Score, layer: Layer, vocabulary: Vocabulary) -> tuple[MarkedRegion, ...]:
    """Return the regions of a layer as they are shown, where they are in this score."""
    words = vocabulary.with_own_tags(layer.own_tags)
    finder = StaffFinder(score)
    return tuple(_marked(region, words, finder) for region in layer.regions)


def _marked(region: Region, vocabulary: Vocabulary, finder: StaffFinder) -> MarkedRegion:
    tags = tuple(readable(vocabulary.label(tag)) for tag in region.tags)
    spans = (found.span for found in finder.find_region(region))
    return MarkedRegion(
        id=region.id,
        name=read_line(region.label) or ", ".join(tags) or "Region",
        tags=tags,
        colour=colour(region.colour).hex.lower(),
        hatch=hatch(region.pattern).id,
        spans=tuple(span for span in spans if span is not None),
    )


class _PassageMaker:
    def __init__(
        self, score: Score, layer: Layer, vocabulary: Vocabulary, options: SlideOptions
    ) -> None:
        self._layer = layer
        self._options = options
        self._finder = StaffFinder(score)
        self._marked = marked_regions(score, layer, vocabulary)

    def make(self) -> tuple[Passage, ...]:
        made = []
        for item in self._layer.lesson_items(self._options.lesson):
            passage = self._of_region(item) if isinstance(item, Region) else self._of_entry(item)
            if passage is not None:
                made.append(passage)
        return tuple(made)

    def _of_entry(self, entry: Entry) -> Passage | None:
        spans = self._find(self._layer.spans_of(entry))
        text = read_commentary(entry.text)
        own = entry.target.region if isinstance(entry.target, OnRegion) else ""
        region = next((one for one in self._marked if one.id == own), None)
        heading = read_line(entry.title) or (region.name if region is not None else "")
        if not heading:
            heading = "Edition note" if entry.kind == "edition note" else "Commentary"
        if not (spans or text or entry.title):
            return None
        time = _time_text(entry.start_seconds, entry.end_seconds)
        return self._passage(heading, text, time, spans, own)

    def _of_region(self, region: Region) -> Passage | None:
        spans = self._find(region.spans)
        if not spans:
            return None
        marked = next(one for one in self._marked if one.id == region.id)
        return self._passage(marked.name, (), "", spans, region.id)

    def _passage(
        self,
        heading: str,
        text: tuple[Paragraph, ...],
        time: str,
        spans: tuple[Span, ...],
        own: str,
    ) -> Passage:
        first = [one for one in self._marked if one.id == own]
        others = [one for one in self._marked if one.id != own and _share(one.spans, spans)]
        return Passage(
            heading=heading,
            text=text,
            time=time,
            spans=spans,
            regions=(*first, *(others if self._options.other_regions else ())),
            own_regions=frozenset((own,)) if own else frozenset(one.id for one in others),
        )

    def _find(self, records: Iterable[SpanRecord]) -> tuple[Span, ...]:
        found = (self._finder.find_span(record).span for record in records)
        return tuple(span for span in found if span is not None)


def _share(some: Iterable[Span], others: Sequence[Span]) -> bool:
    """Tell whether any two spans have bars in common."""
    return any(
        one.start.bar <= last_bar(other) and other.start.bar <= last_bar(one)
        for one in some
        for other in others
    )


def _time_text(start: float | None, end: float | None) -> str:
    """Return times on a recording to the second, as one reads them from a player."""
    times = [_clock(seconds) for seconds in (start, end) if seconds is not None]
    return "–".join(dict.fromkeys(times))


def _clock(seconds: float) -> str:
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def bar_text(score: Score, bars: range) -> str:
    """Return bars by their printed numbers: ``b. 41`` or ``bb. 41–44``; "" for none."""
    if not bars:
        return ""
    first, last = (score.bars[bar].printed_number for bar in (bars.start, bars.stop - 1))
    return f"b. {first}" if len(bars) == 1 or first == last else f"bb. {first}–{last}"


def is_on(region: MarkedRegion, bars: range, staves: Iterable[int]) -> bool:
    """Tell whether a region has something in some bars on some staves."""
    shown = set(staves)
    return any(
        shown.intersection(span.staves)
        and span.start.bar < bars.stop
        and span.end > Point(bars.start)
        for span in region.spans
    )
