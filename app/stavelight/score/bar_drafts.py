"""What a reader learns of the bars, part by part, until the bars of the score can be made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from stavelight.score.file_numbers import whole_number
from stavelight.score.structure import Bar


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    Attributes
    ----------
    beats, beat_type
        As in `Bar`; without measure: "" and 4.
    quarters
        Length of its measure in quarter notes; None where there is no measure.
    """

    beats: str
    beat_type: int
    quarters: Fraction | None


COMMON_TIME = Meter("4", 4, Fraction(4))
_MOST_ENDINGS = 30
WITHOUT_MEASURE = Meter("", 4, None)


def meter_of(pairs: Iterable[tuple[str, int]]) -> Meter:
    """Return the meter of one or more fractions, such as ``[("3", 8), ("2", 4)]``.

    Fractions of different kinds are brought to the smaller note value: 3/8 + 2/4 is "3+4", 8.

    Raises
    ------
    ValueError
        If a number is missing or makes no sense.
    """
    fractions = [([whole_number(text) for text in beats.split("+")], unit) for beats, unit in pairs]
    if not fractions or any(unit < 1 or min(beats) < 1 for beats, unit in fractions):
        raise ValueError("a time signature without numbers")
    smallest = max(unit for _, unit in fractions)
    if any(smallest % unit for _, unit in fractions):
        raise ValueError("a time signature whose parts do not fit together")
    groups = [beat * smallest // unit for beats, unit in fractions for beat in beats]
    length = Fraction(4 * sum(groups), smallest)
    if length > 1000:
        raise ValueError("a time signature of more than a thousand quarter notes")
    return Meter("+".join(map(str, groups)), smallest, length)


@dataclass(slots=True)
class BarDraft:
    """One bar, as far as it is known.

    Attributes
    ----------
    id
        As in `Bar`.
    printed_number
        As in `Bar`; "" if the file gives none: then the bars are counted from 1.
    content_ticks
        The longest of all parts, of what is written out.
    rest_ticks
        The longest whole-bar rest: it says less, for many files give it the length of a full
        measure even in a pickup bar.
    may_be_short
        Whether the file says that the bar need not fill its measure.
    rehearsal_mark, starts_repeat, ends_repeat, endings
        As in `Bar`.
    """

    id: str
    printed_number: str = ""
    content_ticks: int = 0
    rest_ticks: int = 0
    may_be_short: bool = False
    rehearsal_mark: str = ""
    starts_repeat: bool = False
    ends_repeat: bool = False
    endings: set[int] = field(default_factory=set)

    def length_ticks(self, nominal_ticks: int) -> int:
        """Return how long the bar lasts, given the length of its measure."""
        if self.content_ticks and (self.may_be_short or self.content_ticks >= self.rest_ticks):
            return self.content_ticks
        return max(self.content_ticks, self.rest_ticks) or nominal_ticks


def finish_bars(
    drafts: Sequence[BarDraft], meters: Mapping[int, Meter], ticks_per_quarter: int
) -> tuple[Bar, ...]:
    """Return the bars of a score.

    Parameters
    ----------
    drafts
        One for each bar, complete.
    meters
        The bars at which a time signature comes into force.
    ticks_per_quarter
        The grid.
    """
    bars = []
    start = 0
    meter = COMMON_TIME
    for index, draft in enumerate(drafts):
        meter = meters.get(index, meter)
        quarters = Fraction(4) if meter.quarters is None else meter.quarters
        nominal = int(quarters * ticks_per_quarter)
        length = draft.length_ticks(nominal)
        bars.append(
            Bar(
                index=index,
                id=draft.id,
                printed_number=draft.printed_number or str(index + 1),
                start_ticks=start,
                length_ticks=length,
                nominal_ticks=length if meter.quarters is None else nominal,
                beats=meter.beats,
                beat_type=meter.beat_type,
                rehearsal_mark=draft.rehearsal_mark,
                starts_repeat=draft.starts_repeat,
                ends_repeat=draft.ends_repeat,
                endings=tuple(sorted(draft.endings)),
            )
        )
        start += length
    return tuple(bars)


def ending_numbers(text: str) -> set[int]:
    """Return the numbers of an ending from its text, such as ``1, 2`` or ``1.-3.``."""
    numbers: set[int] = set()
    for piece in text.replace(".", " ").replace(";", ",").replace(" - ", "-").split(","):
        for word in piece.split():
            first, dash, last = word.partition("-")
            if not first.isdecimal() or (dash and not last.isdecimal()):
                continue
            start = whole_number(first)
            stop = min(whole_number(last), start + _MOST_ENDINGS) if dash else start
            numbers.update(range(start, stop + 1))
    return numbers
