"""Which bars stand on which page: decided from the bytes of the score, before any engraving.

How wide a bar comes out is guessed from its rhythm. The figures in `BAR_WIDTH` were fitted to the
widths that verovio 6.4 gave 360 bars of four orchestral movements (classical and romantic): the
guess is within 5 % for two bars in three, and within 12 % for 98 in 100.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from stavelight.engraving.paper import PageLayout
from stavelight.engraving.press import STAFF_HEIGHT
from stavelight.engraving.rhythm import BarRhythm

BAR_WIDTH = {
    "bar": 416.0,
    "stretch": 555.0,
    "onset": 69.0,
    "accidental": 86.0,
    "grace": 197.0,
    "clef": 260.0,
    "signature": 557.0,
}
"""In the coordinates of verovio's drawings, where a staff is 720 high."""

_STRETCH_EXPONENT = 0.6
"""How the room for a note grows with its length in quarters; verovio's own default."""

_SYLLABLE_LETTER = 205.0
STAFF_PITCH = 1640.0
"""Height that a staff takes in a system, with what stands above and below, on average."""

STAFF_NEEDS = {
    "staff": 1406.0,
    "notes": 168.0,
    "dynamics": 145.0,
    "words": 156.0,
    "hairpins": 111.0,
    "syllables": 380.0,
}
"""What makes a staff high, at the usual distance; fitted to 165 systems of five orchestral scores
as engraved by verovio 6.4: the guess for a system is within 4 % for two in three."""

USUAL_DISTANCE = 9.0
"""Least distance between staves, in half staff spaces."""

_NARROWEST, _WIDEST = 5.0, 15.0
_SPARED = 90.0
_GAIN_BELOW, _GAIN_ABOVE = 30.0, 60.0
"""What half a space more between the staves adds to each, below and above the usual distance."""

_STAFF_PITCH_AT_WORST = 1660.0
_LARGEST_STAFF_HEIGHT = 6.5
_GOOD_STAFF_HEIGHT = 5.6
SYSTEM_GAP = 5.0
"""Least distance between systems in millimetres."""

TITLE_HEIGHT = 20.0
FOOT_HEIGHT = 5.0
_FULLEST = 1.04
_DENSEST = 1.12


@dataclass(frozen=True, slots=True)
class Titles:
    """What stands above the first system; "" for what does not."""

    title: str
    subtitle: str
    composer: str


class BarSource(Protocol):
    """What the plan needs to know of a score file."""

    @property
    def bar_count(self) -> int:
        """How many bars there are."""

    @property
    def part_count(self) -> int:
        """How many parts there are."""

    def rhythm(self, part: int, bar: int) -> BarRhythm:
        """Return what happens in a bar of a part; times in quarters."""

    def staff_count(self, part: int) -> int:
        """Return how many staves a part has."""

    def longest_name(self, parts: Sequence[int], *, full: bool) -> int:
        """Return how many letters the longest name of some parts has."""

    def breaks_before(self, bar: int) -> str:
        """Return ``page``, ``system`` or nothing: the break that the file has before a bar."""


@dataclass(frozen=True, slots=True)
class SystemPlan:
    """One system: a half-open range of bars, and the indices of the parts that it shows."""

    bars: range
    parts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PagePlan:
    """One page.

    Attributes
    ----------
    number
        From 1.
    systems
        From above.
    """

    number: int
    systems: tuple[SystemPlan, ...]

    @property
    def bars(self) -> range:
        """The bars on the page."""
        return range(self.systems[0].bars.start, self.systems[-1].bars.stop)


@dataclass(frozen=True)
class ScorePlan:
    """All pages of a score in one layout.

    Attributes
    ----------
    width, height
        Of every page, in millimetres.
    staff_height
        In millimetres.
    pages
        In order.
    """

    width: float
    height: float
    staff_height: float
    pages: tuple[PagePlan, ...] = field(default=())

    def page_of_bar(self, bar: int) -> int:
        """Return the number of the page that a bar stands on."""
        for page in self.pages:
            if bar < page.bars.stop:
                return page.number
        return len(self.pages)


class PagePlanner:
    """Lays out one score.

    Parameters
    ----------
    source
        The score.
    layout
        How to lay it out.
    """

    def __init__(self, source: BarSource, layout: PageLayout) -> None:
        self.source = source
        self.layout = layout
        self.parts = layout.parts or tuple(range(source.part_count))
        self.staff_count = sum(source.staff_count(part) for part in self.parts)
        self.width, self.height = layout.page_size(self.staff_count)
        self.staff_height = layout.staff_height or self._fitting_staff_height()
        self.scale = self.staff_height / STAFF_HEIGHT

    @property
    def content_width(self) -> float:
        """Millimetres between the margins."""
        return self.width - 2 * self.layout.margin

    @property
    def content_height(self) -> float:
        """Millimetres between the margins, above the line at the foot."""
        return self.height - 2 * self.layout.margin - FOOT_HEIGHT

    def _fitting_staff_height(self) -> float:
        """Return a staff height at which the tallest system fits under the title."""
        room = self.content_height - TITLE_HEIGHT
        heights = float(self.staff_count) * _STAFF_PITCH_AT_WORST / STAFF_HEIGHT
        systems = max(1, round(room / (heights * _GOOD_STAFF_HEIGHT)))
        return min(_LARGEST_STAFF_HEIGHT, room / (systems * heights))

    def plan(self, page_limit: int | None = None) -> ScorePlan:
        """Return the plan of all pages, or of the first few."""
        pages: list[PagePlan] = []
        bar = 0
        while bar < self.source.bar_count and (page_limit is None or len(pages) < page_limit):
            page = self._page(len(pages) + 1, bar)
            pages.append(page)
            bar = page.bars.stop
        return ScorePlan(self.width, self.height, self.staff_height, tuple(pages))

    def _page(self, number: int, first: int) -> PagePlan:
        room = self.content_height - (TITLE_HEIGHT if first == 0 else 0.0)
        systems: list[SystemPlan] = []
        used = 0.0
        bar = first
        while bar < self.source.bar_count:
            if systems and self.layout.edition_breaks and self.source.breaks_before(bar) == "page":
                break
            system = self._system(bar)
            height = self._least_height(system) * self.scale + (SYSTEM_GAP if systems else 0.0)
            if systems and used + height > room * _FULLEST:
                break
            systems.append(system)
            used += height
            bar = system.bars.stop
        return PagePlan(number, tuple(systems))

    def _system(self, first: int) -> SystemPlan:
        room = self.content_width / self.scale - self._prefix(first)
        used = 0.0
        bar = first
        while bar < self.source.bar_count:
            if bar > first and self.layout.edition_breaks and self.source.breaks_before(bar):
                break
            width = bar_width([self.source.rhythm(part, bar) for part in self.parts])
            if bar > first and used + width > room * _DENSEST:
                break
            used += width
            bar += 1
        bars = range(first, bar)
        parts = self.parts
        if self.layout.hide_resting and first > 0:
            marked = {
                part
                for first_bar, last_bar, part in self.layout.never_hidden
                if first_bar < bars.stop and last_bar >= bars.start
            }
            shown = tuple(
                part
                for part in parts
                if part in marked or any(not self.source.rhythm(part, bar).is_rest for bar in bars)
            )
            parts = shown or parts
        return SystemPlan(bars, parts)

    def system_height(self, system: SystemPlan) -> float:
        """Return about how high a system comes out at the usual distance between staves."""
        height = 0.0
        for part in system.parts:
            rhythms = [self.source.rhythm(part, bar) for bar in system.bars]
            height += STAFF_NEEDS["staff"] * self.source.staff_count(part)
            height += STAFF_NEEDS["notes"] * any(not rhythm.is_rest for rhythm in rhythms)
            height += STAFF_NEEDS["dynamics"] * any(r.has_dynamics for r in rhythms)
            height += STAFF_NEEDS["words"] * any(r.has_words for r in rhythms)
            height += STAFF_NEEDS["hairpins"] * any(r.has_hairpins for r in rhythms)
            height += STAFF_NEEDS["syllables"] * any(r.syllable_letters for r in rhythms)
        return height

    def _least_height(self, system: SystemPlan) -> float:
        """Return about how high a system comes out at a narrow distance between staves."""
        staves = sum(self.source.staff_count(part) for part in system.parts)
        return self.system_height(system) - staves * _SPARED

    def fitting_distance(self, systems: Sequence[SystemPlan], room: float) -> float:
        """Return the distance between staves at which systems are likely to fill a height.

        Parameters
        ----------
        systems
            Of one page.
        room
            In millimetres, without the gaps between systems.
        """
        staves = sum(self.source.staff_count(p) for system in systems for p in system.parts)
        height = sum(self.system_height(system) for system in systems)
        spare = (0.97 * room / self.scale - height) / staves
        gain = _GAIN_ABOVE if spare > 0 else _GAIN_BELOW
        return min(max(USUAL_DISTANCE + spare / gain, _NARROWEST), _WIDEST)

    def _prefix(self, bar: int) -> float:
        """Return the width of names, brackets, clefs and signatures before a system."""
        letters = self.source.longest_name(self.parts, full=bar == 0)
        return 1500.0 + 200.0 * letters + (450.0 if bar == 0 else 0.0)


def bar_width(rhythms: Sequence[BarRhythm]) -> float:
    """Return about how wide a bar comes out, in the coordinates of verovio's drawings.

    Parameters
    ----------
    rhythms
        What happens in each part that is shown, times in quarters.
    """
    playing = [rhythm for rhythm in rhythms if not rhythm.is_rest]
    length = max((rhythm.length for rhythm in rhythms), default=4.0)
    onsets = sorted({round(onset, 5) for rhythm in playing for onset in rhythm.onsets}) or [0.0]
    gaps = [after - before for before, after in zip(onsets, [*onsets[1:], length], strict=True)]
    width: float = (
        BAR_WIDTH["bar"]
        + BAR_WIDTH["stretch"] * sum(float(gap**_STRETCH_EXPONENT) for gap in gaps if gap > 0)
        + BAR_WIDTH["onset"] * len(onsets)
        + BAR_WIDTH["accidental"] * max((r.accidental_count for r in playing), default=0)
        + BAR_WIDTH["grace"] * max((r.grace_count for r in playing), default=0)
        + BAR_WIDTH["clef"] * max((r.clef_count for r in rhythms), default=0)
        + (BAR_WIDTH["signature"] if any(r.signature_change for r in rhythms) else 0.0)
    )
    letters = max((sum(r.syllable_letters.values()) for r in playing), default=0)
    syllables = max((len(r.syllable_letters) for r in playing), default=0)
    return max(width, _SYLLABLE_LETTER * (letters + 1.5 * syllables))


_NEW_PAGE = re.compile(rb"<print[^>]*\snew-page\s*=\s*[\"']yes")
_NEW_SYSTEM = re.compile(rb"<print[^>]*\snew-system\s*=\s*[\"']yes")


def written_break(measure: bytes) -> str:
    """Return the break that a MusicXML measure asks for before it: page, system or nothing."""
    if _NEW_PAGE.search(measure):
        return "page"
    return "system" if _NEW_SYSTEM.search(measure) else ""
