"""What a finder finds: a statement about some bars and staves, with its evidence.

Findings are proposals. They are computed from the score and never stored by this floor; whether one
is right, a person judges.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, Protocol

from stavelight.score.structure import Point, Score, Span

Certainty = Literal["sure", "likely", "open"]


@dataclass(frozen=True, slots=True)
class Member:
    """One part's share in a finding.

    Attributes
    ----------
    part, staff
        Indices in the score.
    start_ticks, end_ticks
        From when to when it takes part; the end does not belong to it.
    semitones
        Sounding distance above the finding's first member; None where that has no meaning.
    role
        What it does in the finding, such as ``simplified``; "" where there is nothing to say.
    """

    part: int
    staff: int
    start_ticks: int
    end_ticks: int
    semitones: int | None = None
    role: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One statement about the score.

    Attributes
    ----------
    kind
        What sort of statement, such as ``doubling`` or ``melody``.
    spans
        Where: time and staves.
    members
        Who, with each one's time and sounding interval, in score order.
    rows
        Rows of the note table that are the evidence, ascending.
    sentence
        The statement in plain English, with printed bar numbers.
    certainty
        ``sure``, ``likely`` or ``open``, as in annotations.
    importance
        From 0 to 1: how much it matters to someone who reads the score.
    data
        Further facts by name, plain values that JSON can hold.
    """

    kind: str
    spans: tuple[Span, ...]
    members: tuple[Member, ...]
    rows: tuple[int, ...]
    sentence: str
    certainty: Certainty
    importance: float
    data: Mapping[str, object] = field(default_factory=dict)


class Finder(Protocol):
    """One way to read a score.

    Attributes
    ----------
    kinds
        The kinds of findings that it makes.
    """

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of finding that it makes."""

    def find(self, score: Score) -> list[Finding]:
        """Return all findings, in score order."""


def in_score_order(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings as one meets them when reading; the more important first at one place."""
    return sorted(
        findings,
        key=lambda finding: (
            finding.spans[0].start,
            -finding.importance,
            finding.spans[0].staves,
            finding.kind,
        ),
    )


def by_importance(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings with the most important first, else in score order."""
    return sorted(in_score_order(findings), key=lambda finding: -finding.importance)


class BarGrid:
    """Finds bars by ticks, quickly enough for thousands of findings.

    Parameters
    ----------
    score
        The score that the ticks belong to.
    """

    def __init__(self, score: Score) -> None:
        self._score = score
        self._starts = [bar.start_ticks for bar in score.bars]
        self._whole = 4 * score.ticks_per_quarter

    def bar_at(self, ticks: int) -> int:
        """Return the index of the bar that sounds at some ticks."""
        return max(0, bisect_right(self._starts, ticks) - 1)

    def last_bar_before(self, ticks: int) -> int:
        """Return the index of the last bar that begins before some ticks."""
        return self.bar_at(ticks - 1)

    def point(self, ticks: int) -> Point:
        """Return a place as a bar and an offset."""
        bar = self.bar_at(ticks)
        return Point(bar, Fraction(ticks - self._starts[bar], self._whole))

    def end_point(self, ticks: int) -> Point:
        """Return an end as an offset in the bar that it ends, even where that is its length."""
        bar = self.last_bar_before(ticks)
        return Point(bar, Fraction(ticks - self._starts[bar], self._whole))

    def span(self, start_ticks: int, end_ticks: int, staves: Iterable[int]) -> Span:
        """Return a span between ticks."""
        return Span(self.point(start_ticks), self.end_point(end_ticks), tuple(sorted(set(staves))))

    def printed(self, start_ticks: int, end_ticks: int) -> str:
        """Return printed bar numbers as one writes them: ``b. 41`` or ``bb. 41-48``."""
        first = self._score.bars[self.bar_at(start_ticks)].printed_number
        last = self._score.bars[self.last_bar_before(end_ticks)].printed_number
        return f"b. {first}" if first == last else f"bb. {first}-{last}"

    def printed_at(self, ticks: int) -> str:
        """Return the printed number of one bar: ``b. 41``."""
        return f"b. {self._score.bars[self.bar_at(ticks)].printed_number}"


def listed(names: Iterable[str]) -> str:
    """Return names as a list in words: ``Fl. 1, Cl. 1 and Vln. I``."""
    names = list(names)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
