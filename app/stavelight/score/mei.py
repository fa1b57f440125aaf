"""Read an MEI score (common Western notation, MEI 4 and 5) into the same note table.

Element and attribute names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.bar_drafts import BarDraft, Meter, ending_numbers, finish_bars
from stavelight.score.mei_definitions import Definitions
from stavelight.score.mei_events import EventsBesideStaves
from stavelight.score.mei_head import read_mei_head
from stavelight.score.mei_layer import (
    FoundNote,
    LayerReader,
    TupletSpans,
    measure_quarters,
    tuplet_spans,
)
from stavelight.score.mei_names import ID, MEI, content_of, local_name, text_of
from stavelight.score.mei_parts import StaffPlace, read_parts
from stavelight.score.mei_pitches import PitchFinder, sounding_pitch
from stavelight.score.mei_tree import mei_tree_with_ids
from stavelight.score.note_rows import NoteRows
from stavelight.score.note_table import TIE_FROM_BEFORE, NoteTable
from stavelight.score.structure import Bar, Part, Score, Transposition, staves_of
from stavelight.score.tick_grid import common_grid

__all__ = ["mei_tree_with_ids", "read_mei"]

_LONGEST_BAR = 10_000  # quarter notes


@dataclass(slots=True)
class _FoundBar:
    """A bar before the tick grid is known; lengths in quarter notes."""

    id: str
    printed_number: str
    meter: Meter
    content: Fraction = Fraction(0)
    rest: Fraction = Fraction(0)
    rehearsal_mark: str = ""
    starts_repeat: bool = False
    ends_repeat: bool = False
    endings: set[int] = field(default_factory=set)


def read_mei(data: bytes, path: Path, sha256: str, warnings: tuple[str, ...] = ()) -> Score:
    """Read an MEI document.

    Notes have the ids that `mei_tree_with_ids` gives them.

    Parameters
    ----------
    data
        The document in UTF-8, known to be well-formed.
    path
        Where it comes from.
    sha256
        Of the file as it lies on disk.
    warnings
        What was odd about the file so far.

    Raises
    ------
    ScoreFileError
        If there is no score in it, no bar or no note, or if something in a bar makes no sense.
    """
    try:
        root = mei_tree_with_ids(data)
    except etree.XMLSyntaxError as fault:
        raise ScoreFileError(
            f"The file cannot be read: {fault.msg}.",
            where=path.name,
            remedy="Export it again from the program that it comes from.",
        ) from fault
    reading = _Reading(root, path.name)
    reading.read()
    bars, notes, grid = reading.finish()
    head = read_mei_head(root)
    return Score(
        path=path,
        sha256=sha256,
        file_format="mei",
        title=head.title,
        subtitle=head.subtitle,
        composer=head.composer,
        credit=head.credit,
        ticks_per_quarter=grid,
        parts=tuple(reading.parts),
        staves=staves_of(reading.parts),
        bars=bars,
        notes=notes,
        warnings=(*warnings, *reading.warnings),
    )


class _Reading:
    """One reading of one document."""

    def __init__(self, root: etree._Element, file_name: str) -> None:
        self._file_name = file_name
        self._scores = list(root.iter(MEI + "score"))
        self._bars: list[_FoundBar] = []
        self._notes: list[FoundNote] = []
        self._events = EventsBesideStaves()
        self._pitches = PitchFinder()
        self._unknown_staves: set[str] = set()
        self._right_before = ""  # the barline at the end of the bar before
        self.warnings: list[str] = []
        self.parts: list[Part] = []
        self._places: dict[str, StaffPlace] = {}
        if self._scores:
            self.parts, self._places = read_parts(self._scores[0].find(MEI + "scoreDef"))
        self._definitions = Definitions(self._places)
        self._first_transpositions: dict[str, Transposition] = {}

    def read(self) -> None:
        """Read the music."""
        if not self.parts:
            raise self._fault("There is no score with staves in this MEI file.")
        if len(self._scores) > 1:
            self.warnings.append(
                f"The file holds {len(self._scores)} movements; they are read as one."
            )
        for score in self._scores:
            self._walk(score, set())
        self._pitches.settle()
        if not self._bars:
            raise self._fault("The score has no bars.")
        if not self._notes:
            raise self._fault("The score has no notes.")
        if self._unknown_staves:
            names = ", ".join(sorted(self._unknown_staves))
            self.warnings.append(f"Staves that the score does not define are left out: {names}.")

    def _fault(self, what: str) -> ScoreFileError:
        return ScoreFileError(
            what,
            where=self._file_name,
            remedy="Check that it holds a score in common Western notation.",
        )

    def _walk(self, element: etree._Element, endings: set[int]) -> None:
        for child in content_of(element):
            name = local_name(child)
            try:
                if name in ("scoreDef", "staffDef"):
                    self._definitions.take(child)
                elif name == "measure":
                    self._read_measure(child, endings)
                elif name == "ending":
                    self._walk(child, ending_numbers(child.get("n", child.get("label", ""))))
                elif name == "section":
                    self._walk(child, endings)
            except ValueError as fault:
                number = self._bars[-1].printed_number if self._bars else "0"
                place = f"{'at' if name == 'measure' else 'after'} bar {number}"
                raise self._not_understood(fault, place) from fault

    def _not_understood(self, fault: ValueError, place: str) -> ScoreFileError:
        return ScoreFileError(
            f"Something here cannot be understood: {fault}.",
            where=f"{self._file_name}, {place}",
            remedy="Mend this place in the file.",
        )

    def _read_measure(self, measure: etree._Element, endings: set[int]) -> None:
        index = len(self._bars)
        number = measure.get("n", "").strip() or str(index + 1)
        bar = _FoundBar(measure.get(ID), number, self._definitions.meter)
        self._bars.append(bar)
        bar.endings = set(endings)
        left, right = measure.get("left", ""), measure.get("right", "")
        bar.starts_repeat = left in ("rptstart", "rptboth")
        bar.ends_repeat = right in ("rptend", "rptboth")
        if index and left in ("rptend", "rptboth"):
            self._bars[index - 1].ends_repeat = True
        if index and self._right_before == "rptboth":
            bar.starts_repeat = True
        self._right_before = right
        self._events.gather(measure, index)
        for mark in content_of(measure):
            if local_name(mark) == "reh" and not bar.rehearsal_mark:
                bar.rehearsal_mark = text_of(mark)
        if not self._first_transpositions:
            self._first_transpositions = {
                number: state.transposition for number, state in self._definitions.staves.items()
            }
        notes = self._read_staves(measure, index, tuplet_spans(measure))
        self._pitches.find(notes)
        self._notes += notes

    def _read_staves(
        self, measure: etree._Element, index: int, spans: TupletSpans
    ) -> list[FoundNote]:
        bar = self._bars[index]
        found: list[FoundNote] = []
        for staff in content_of(measure):
            if local_name(staff) != "staff":
                continue
            number = staff.get("n", "")
            if number not in self._places:
                self._unknown_staves.add(number)
                continue
            layers = [child for child in content_of(staff) if local_name(child) == "layer"]
            for order, layer in enumerate(layers, start=1):
                voice = layer.get("n", str(order))
                reader = LayerReader(index, number, voice, self._definitions, spans)
                reader.read(layer)
                if reader.now + reader.rest > _LONGEST_BAR:
                    raise ValueError("a bar of more than ten thousand quarter notes")
                bar.content = max(bar.content, reader.now)
                bar.rest = max(bar.rest, reader.rest)
                found += reader.notes
        for note in found:
            if note.staff not in self._places:
                note.staff = note.home
            if note.id in self._events.tied_ends:
                note.ties |= TIE_FROM_BEFORE
        return found

    def finish(self) -> tuple[tuple[Bar, ...], NoteTable, int]:
        """Return the bars, the note table and the ticks to a quarter note."""
        meters = [bar.meter for bar in self._bars]
        octaves = self._events.apply(self._notes, [meter.beat_type for meter in meters])
        self._find_sounding_pitches(octaves)
        grid, is_exact = common_grid(self._lengths())
        if not is_exact:
            self.warnings.append("Durations have no common measure: they are rounded a little.")
        bars = finish_bars([_draft(bar, grid) for bar in self._bars], dict(enumerate(meters)), grid)
        rows = NoteRows()
        rows.add([self._row(note, grid, rows) for note in self._notes], [n.id for n in self._notes])
        self._finish_parts()
        return bars, rows.table([bar.start_ticks for bar in bars]), grid

    def _find_sounding_pitches(self, octaves: dict[str, int]) -> None:
        for note in self._notes:
            try:
                note.written, note.sounding = sounding_pitch(note, octaves.get(note.id, 0))
            except ValueError as fault:
                place = f"at bar {self._bars[note.bar].printed_number}"
                raise self._not_understood(fault, place) from fault

    def _row(self, note: FoundNote, grid: int, rows: NoteRows) -> tuple[int, ...]:
        """Return a row in the order of the note table's columns."""
        return (
            0,
            round(note.length * grid),
            note.bar,
            round(note.onset * grid),
            self._places[note.home].part,
            self._places[note.staff].index,
            rows.voice(note.voice),
            *note.written,
            *note.sounding,
            note.ties,
            note.grace,
            note.flags,
        )

    def _lengths(self) -> Iterable[Fraction]:
        """Yield every length that should be a whole number of ticks."""
        for note in self._notes:
            yield note.onset
            yield note.length
        for bar in self._bars:
            yield bar.content
            yield bar.rest
            yield measure_quarters(bar.meter)

    def _finish_parts(self) -> None:
        sounding = {self._places[note.home].part for note in self._notes}
        first_staves = {place.index: place.number for place in self._places.values()}
        for index, part in enumerate(self.parts):
            number = first_staves[part.first_staff]
            self.parts[index] = replace(part, transposition=self._first_transpositions[number])
            if index not in sounding:
                self.warnings.append(f"The part {part.name or part.id} has no notes.")


def _draft(bar: _FoundBar, grid: int) -> BarDraft:
    return BarDraft(
        bar.id,
        printed_number=bar.printed_number,
        content_ticks=round(bar.content * grid),
        rest_ticks=round(bar.rest * grid),
        may_be_short=True,
        rehearsal_mark=bar.rehearsal_mark,
        starts_repeat=bar.starts_repeat,
        ends_repeat=bar.ends_repeat,
        endings=bar.endings,
    )
