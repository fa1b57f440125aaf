"""What a score consists of: parts, staves, bars, and places between them.

All indices are 0-based and count in written order: a pickup bar is bar 0, and repeats are not
expanded. Durations and positions are exact: integer ticks for the whole score
(``Score.ticks_per_quarter`` of them to a quarter note), or fractions of a whole note inside a bar.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from pathlib import Path

from stavelight.score.note_table import NoteTable


@dataclass(frozen=True, slots=True)
class Transposition:
    """From the written to the sounding pitch: add these.

    Attributes
    ----------
    diatonic
        Steps of the staff; clarinet in B flat: -1.
    chromatic
        Semitones, octaves included; clarinet in B flat: -2, piccolo: +12.
    """

    diatonic: int = 0
    chromatic: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the score: a line of the part list, with one or more staves.

    Attributes
    ----------
    index
        Position in the part list, from 0.
    id
        The part's id in the file.
    name, abbreviation
        As printed before the first and the later systems; blanks at the ends removed.
    first_staff
        Index of the part's uppermost staff among all staves of the score.
    staff_count
        Number of staves of the part.
    instrument_sound
        W3C MusicXML 4.0 standard sound id, such as ``wind.reed.oboe``, if the file gives one.
    midi_program
        General MIDI program, 1 to 128, if the file gives one.
    transposition
        In force at the part's beginning.
    group
        Name of the innermost group that the part belongs to, or "".
    """

    index: int
    id: str
    name: str
    abbreviation: str
    first_staff: int
    staff_count: int = 1
    instrument_sound: str | None = None
    midi_program: int | None = None
    transposition: Transposition = Transposition()
    group: str = ""

    @property
    def staff_indices(self) -> range:
        """Indices of the part's staves among all staves of the score, from above."""
        return range(self.first_staff, self.first_staff + self.staff_count)


@dataclass(frozen=True, slots=True)
class Staff:
    """One staff of one part.

    Attributes
    ----------
    index
        Position among all staves of the score, from above, from 0.
    part
        Index of its part.
    number
        Position within its part, from 1, as files count it.
    """

    index: int
    part: int
    number: int


def staves_of(parts: Iterable[Part]) -> tuple[Staff, ...]:
    """Return the staves of some parts, from above."""
    return tuple(
        Staff(index=staff, part=part.index, number=number)
        for part in parts
        for number, staff in enumerate(part.staff_indices, start=1)
    )


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar, common to all parts.

    Attributes
    ----------
    index
        Position in written order, from 0; a pickup bar is 0.
    id
        The id that the bar has on the engraved page.
    printed_number
        What the edition prints, such as ``41`` or ``X1``: shown, never computed with.
    start_ticks, length_ticks
        Where the bar begins in the score, and how long it lasts: the longest of all parts.
    nominal_ticks
        How long its time signature says that it lasts.
    beats, beat_type
        The time signature in force, as printed: ("2+3", 8), ("4", 4).
    rehearsal_mark
        The rehearsal mark at its beginning, or "".
    starts_repeat, ends_repeat
        Whether a repeat sign opens or closes the bar.
    endings
        The numbers of the endings (prima volta, seconda volta) that the bar stands under.
    """

    index: int
    id: str
    printed_number: str
    start_ticks: int
    length_ticks: int
    nominal_ticks: int
    beats: str = "4"
    beat_type: int = 4
    rehearsal_mark: str = ""
    starts_repeat: bool = False
    ends_repeat: bool = False
    endings: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Point:
    """A place in the score: a bar index, and whole notes from the beginning of that bar."""

    bar: int
    offset: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time on some staves.

    Attributes
    ----------
    start, end
        Where it begins and where it ends; the end does not belong to it.
    staves
        Indices of its staves, ascending, not necessarily neighbours.
    """

    start: Point
    end: Point
    staves: tuple[int, ...]


@dataclass(frozen=True)
class Score:
    """A whole score, without its engraving.

    Attributes
    ----------
    path
        The file that it was read from.
    sha256
        Hexadecimal SHA-256 of that file's bytes, as they lie on disk.
    file_format
        ``musicxml`` or ``mei``.
    title, subtitle, composer
        As the file gives them; "" where it does not.
    credit
        The edition's credit on one line: rights, source, encoder.
    ticks_per_quarter
        The grid of all tick columns.
    parts, staves, bars, notes
        See their classes.
    warnings
        Whatever was odd about the file, one sentence each.
    """

    path: Path
    sha256: str
    file_format: str
    title: str
    subtitle: str
    composer: str
    credit: str
    ticks_per_quarter: int
    parts: tuple[Part, ...]
    staves: tuple[Staff, ...]
    bars: tuple[Bar, ...]
    notes: NoteTable
    warnings: tuple[str, ...] = field(default=())

    def part_of_staff(self, staff: int) -> Part:
        """Return the part that the staff of this index belongs to."""
        return self.parts[self.staves[staff].part]

    def staff_name(self, staff: int) -> str:
        """Return a readable name of a staff: its part's, with the number where it has several."""
        part = self.part_of_staff(staff)
        name = part.name or part.abbreviation or f"Part {part.index + 1}"
        return name if part.staff_count == 1 else f"{name}, staff {self.staves[staff].number}"

    def bar_length(self, bar: int) -> Fraction:
        """Return the length of a bar in whole notes."""
        return Fraction(self.bars[bar].length_ticks, 4 * self.ticks_per_quarter)

    def ticks_at(self, point: Point) -> int:
        """Return the ticks from the beginning of the score to a point, rounded down."""
        return self.bars[point.bar].start_ticks + int(point.offset * 4 * self.ticks_per_quarter)

    @cached_property
    def bar_index_by_id(self) -> dict[str, int]:
        """Bar indices by the bars' ids."""
        return {bar.id: bar.index for bar in self.bars}

    def bars_printed(self, number: str) -> tuple[int, ...]:
        """Return the indices of all bars whose printed number is `number`."""
        return tuple(bar.index for bar in self.bars if bar.printed_number == number.strip())
