"""From passages to slides: what stands where, and what it says."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from stavelight.delivery.commentary_text import (
    Paragraph,
    pieces_that_fit,
    plain_text,
    with_ellipsis,
)
from stavelight.delivery.slide_excerpts import (
    Excerpt,
    ExcerptMaker,
    ExcerptSource,
    PassageExcerpts,
)
from stavelight.delivery.slide_frame import (
    BODY_SIZES,
    TEXT_SLIDE_SIZES,
    Arrangement,
    Box,
    SlideFrame,
    slide_frame,
)
from stavelight.delivery.slide_key import KeyEntry, key_height, moved_key, set_key
from stavelight.delivery.slide_model import (
    MarkedRegion,
    Passage,
    SlideOptions,
    bar_text,
    is_on,
    last_bar,
)
from stavelight.delivery.text_layout import TextBlock, largest_fitting_size
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_maker import EngravedPage
from stavelight.score.structure import Score


@dataclass(frozen=True, slots=True)
class SlideArea:
    """A region on a slide.

    Attributes
    ----------
    region
        The region.
    rectangles
        Its places on the slide, in millimetres.
    is_own
        Whether the slide is about it.
    bars
        Which of its bars are shown, in words.
    """

    region: MarkedRegion
    rectangles: tuple[Rectangle, ...]
    is_own: bool
    bars: str

    @property
    def description(self) -> str:
        """What it is, in words: name, tags and bars."""
        tags = ", ".join(self.region.tags)
        parts = (self.region.name, "" if tags == self.region.name else tags, self.bars)
        return "; ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class Slide:
    """All that one slide shows, with its place in millimetres.

    Attributes
    ----------
    number
        From 1; the title slide is 1.
    frame
        The places of its parts.
    heading, place, foot
        One line each.
    is_continued
        Whether the slide before it is about the same passage.
    text, text_size
        The commentary on the slide's face; points.
    key
        The key.
    excerpt, excerpt_box
        The notes, and where they stand on the slide.
    excerpt_name
        What the notes are, in words.
    areas
        The regions over the notes, the largest first.
    notes
        The whole commentary and the list of regions, for the speaker.
    """

    number: int
    frame: SlideFrame
    heading: str
    place: str
    foot: str
    is_continued: bool
    text: tuple[Paragraph, ...]
    text_size: float
    key: tuple[KeyEntry, ...]
    excerpt: EngravedPage | None
    excerpt_box: Box
    excerpt_name: str
    areas: tuple[SlideArea, ...]
    notes: str


class SlidePlanner:
    """Makes the slides of passages, one passage after the other.

    Parameters
    ----------
    score
        The score.
    foot
        The line at the foot of every slide.
    engraved
        Who engraves it.
    options
        What the user chose.
    cancelled
        Tells whether the user wants to stop.
    """

    def __init__(
        self,
        score: Score,
        foot: str,
        engraved: ExcerptSource,
        options: SlideOptions,
        cancelled: Callable[[], bool],
    ) -> None:
        self._score = score
        self._foot = foot
        self._maker = ExcerptMaker(score, engraved, options, cancelled)

    def slides(self, passage: Passage, first_number: int) -> Iterator[Slide]:
        """Return the slides of a passage.

        Raises
        ------
        EngravingError
            If its bars cannot be engraved.
        Cancelled
            If the user stopped.
        """
        if not passage.spans:
            yield self._text_slide(passage, first_number)
            return
        made = self._maker.make(passage)
        keys = [self._key(passage, one, made.arrangement) for one in made.excerpts]
        has_time = bool(passage.time)
        frames = [
            slide_frame(
                made.arrangement,
                key_height(key),
                has_time=has_time,
                band_height=made.band_height,
            )
            for key in keys
        ]
        texts, size = _texts_on(passage.text, [frame.text for frame in frames], BODY_SIZES)
        for index, (excerpt, key, frame) in enumerate(
            zip(made.excerpts, keys, frames, strict=True)
        ):
            bars = bar_text(self._score, excerpt.bars)
            is_last = index == len(keys) - 1
            if is_last and not made.is_complete:
                bars += f" of {self._whole(passage)}"
            place = " · ".join(part for part in (bars, passage.time) if part)
            page = excerpt.page
            spare = max(frame.excerpt.height - page.height, 0.0)
            box = Box(frame.excerpt.left, frame.excerpt.top + spare / 2, page.width, page.height)
            areas = self._areas(passage, excerpt, box)
            names = ", ".join(self._score.staff_name(staff) for staff in excerpt.staves)
            yield Slide(
                number=first_number + index,
                frame=frame,
                heading=passage.heading,
                is_continued=index > 0,
                place=place,
                foot=self._foot,
                text=texts[min(index, len(texts) - 1)] if texts else (),
                text_size=size,
                key=moved_key(key, frame.key),
                excerpt=page,
                excerpt_box=box,
                excerpt_name=f"Score, {bars}: {names}",
                areas=areas,
                notes=self._notes(passage, place, areas, made, is_last=is_last),
            )

    def _text_slide(self, passage: Passage, number: int) -> Slide:
        frame = slide_frame(Arrangement.TEXT, 0.0)
        texts, size = _texts_on(passage.text, [frame.text], TEXT_SLIDE_SIZES)
        return Slide(
            number=number,
            frame=frame,
            heading=passage.heading,
            is_continued=False,
            place=passage.time,
            foot=self._foot,
            text=texts[0] if texts else (),
            text_size=size,
            key=(),
            excerpt=None,
            excerpt_box=frame.excerpt,
            excerpt_name="",
            areas=(),
            notes=self._notes(passage, passage.time, (), None, is_last=True),
        )

    def _visible(self, passage: Passage, excerpt: Excerpt) -> list[MarkedRegion]:
        return [one for one in passage.regions if is_on(one, excerpt.bars, excerpt.staves)]

    def _key(
        self, passage: Passage, excerpt: Excerpt, arrangement: Arrangement
    ) -> tuple[KeyEntry, ...]:
        return set_key(self._visible(passage, excerpt), arrangement)

    def _areas(self, passage: Passage, excerpt: Excerpt, box: Box) -> tuple[SlideArea, ...]:
        areas = []
        for region in self._visible(passage, excerpt):
            found = [
                Rectangle(
                    r.left + box.left, r.top + box.top, r.right + box.left, r.bottom + box.top
                )
                for span in region.spans
                for r in excerpt.page.geometry.areas(
                    (span.start.bar, span.start.offset),
                    (span.end.bar, span.end.offset),
                    span.staves,
                )
            ]
            if found:
                own = region.id in passage.own_regions
                bars = self._bars_shown(region, excerpt.bars)
                areas.append(SlideArea(region, tuple(found), own, bars))
        areas.sort(key=lambda one: -sum(r.width * r.height for r in one.rectangles))
        return tuple(areas)

    def _bars_shown(self, region: MarkedRegion, shown: range) -> str:
        """Return which of the bars shown a region has something of, in words."""
        inside = [
            bar
            for span in region.spans
            for bar in (max(span.start.bar, shown.start), min(last_bar(span), shown.stop - 1))
            if span.start.bar < shown.stop and last_bar(span) >= shown.start
        ]
        return bar_text(self._score, range(min(inside), max(inside) + 1)) if inside else ""

    def _whole(self, passage: Passage) -> str:
        """Return all bars of a passage, in words."""
        return " and ".join(bar_text(self._score, one.bars) for one in passage.stretches)

    def _notes(
        self,
        passage: Passage,
        place: str,
        areas: Sequence[SlideArea],
        made: PassageExcerpts | None,
        *,
        is_last: bool,
    ) -> str:
        """Return what the speaker sees: all of the commentary, and the regions in words."""
        paragraphs = [plain_text(passage.text), place]
        if made is not None and is_last and not made.is_complete:
            whole = self._whole(passage)
            paragraphs.append(f"The whole passage is {whole}; the slides show its beginning.")
        if areas:
            regions = "\n".join(f"• {area.description}" for area in areas)
            paragraphs.append(f"Regions:\n{regions}")
        paragraphs.append(self._foot)
        return "\n\n".join(part for part in paragraphs if part)


def _texts_on(
    text: tuple[Paragraph, ...], boxes: Sequence[Box], sizes: Sequence[float]
) -> tuple[list[tuple[Paragraph, ...]], float]:
    """Return what each of some slides says, and the size of its text.

    The text runs on from slide to slide. Where there are fewer pieces than slides, the last piece
    stays; what has no slide to stand on is left to the speaker's notes.
    """
    if not text:
        return [], sizes[-1]
    width = min(box.width for box in boxes)
    height = min(box.height for box in boxes)
    size = largest_fitting_size(text, width, height, sizes)
    if TextBlock(text, width, size).height <= height:
        return [text], size

    def fits(paragraphs: tuple[Paragraph, ...]) -> bool:
        return TextBlock(with_ellipsis(paragraphs), width, size).height <= height

    pieces = pieces_that_fit(text, fits)
    shown = pieces[: len(boxes)]
    if len(pieces) > len(shown):
        shown[-1] = with_ellipsis(shown[-1])
    return shown, size
