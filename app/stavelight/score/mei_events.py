"""Ties, slurs, ornaments and octave lines that stand beside the staves of an MEI bar.

They name the notes that they belong to by id, or the staff and the beat. Element and attribute
names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

from stavelight.score.file_numbers import decimal_number, whole_number
from stavelight.score.mei_layer import FoundNote
from stavelight.score.mei_marks import EVENT_FLAGS
from stavelight.score.mei_names import content_of, local_name
from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag

_KINDS = {*EVENT_FLAGS, "tie", "slur", "octave"}
_OCTAVES = {"8": 1, "15": 2, "22": 3}


@dataclass(frozen=True, slots=True)
class _Event:
    """An event, with its bar."""

    kind: str
    element: etree._Element
    bar: int


class EventsBesideStaves:
    """Gathers the events of all bars, then brings them to the notes.

    Attributes
    ----------
    tied_ends
        Ids of the notes to which a tie leads, from all bars so far.
    """

    def __init__(self) -> None:
        self.tied_ends: set[str] = set()
        self._events: list[_Event] = []
        self._by_id: dict[str, list[FoundNote]] = {}
        self._by_moment: dict[tuple[str, int, Fraction], list[FoundNote]] = {}
        self._beat_types: Sequence[int] = ()

    def gather(self, measure: etree._Element, bar: int) -> None:
        """Keep the events of a bar.

        Raises
        ------
        ValueError
            If a beat in it is none.
        """
        for element in content_of(measure):
            kind = local_name(element)
            if kind in _KINDS:
                for attribute in ("tstamp", "tstamp2"):
                    if element.get(attribute) is not None:
                        _bars_and_beat(element.get(attribute))
                self._events.append(_Event(kind, element, bar))
                if kind == "tie":
                    self.tied_ends.add(element.get("endid", "").lstrip("#"))

    def apply(self, notes: Sequence[FoundNote], beat_types: Sequence[int]) -> dict[str, int]:
        """Add flags and ties to the notes, and return the octave lines.

        Parameters
        ----------
        notes
            All notes of the score.
        beat_types
            The lower number of the time signature of each bar.

        Returns
        -------
        dict
            By how many octaves a note sounds higher than it is printed, by its id.
        """
        self._beat_types = beat_types
        by_id, by_moment = defaultdict(list), defaultdict(list)
        for note in notes:
            by_id[note.id].append(note)
            if note.chord_id:
                by_id[note.chord_id].append(note)
            if not note.grace:
                by_moment[note.staff, note.bar, note.onset].append(note)
        self._by_id, self._by_moment = by_id, by_moment
        octaves: dict[str, int] = {}
        for event in self._events:
            starts, ends = self._notes_at_start(event), self._notes_at_end(event)
            if event.kind == "tie":
                if event.element.get("startid"):  # beats alone do not tell the notes of a chord
                    _tie(starts, ends)
            elif event.kind == "slur":
                for note in starts[:1]:
                    note.flags |= NoteFlag.SLUR_START
                for note in ends[:1]:
                    note.flags |= NoteFlag.SLUR_STOP
            elif event.kind == "octave":
                for note in self._under_line(event, notes, starts, ends):
                    octaves[note.id] = octaves.get(note.id, 0) + _octaves_of(event.element)
            else:
                for note in starts + (ends if event.kind == "gliss" else []):
                    note.flags |= EVENT_FLAGS[event.kind]
        return octaves

    def _notes_at_start(self, event: _Event) -> list[FoundNote]:
        element = event.element
        names = [element.get("startid", ""), *element.get("plist", "").split()]
        found = [note for name in names for note in self._by_id.get(name.lstrip("#"), ())]
        if found or element.get("tstamp") is None or element.get("startid"):
            return found
        return self._notes_at(element, event.bar, _bars_and_beat(element.get("tstamp"))[1])

    def _notes_at_end(self, event: _Event) -> list[FoundNote]:
        element = event.element
        found = self._by_id.get(element.get("endid", "").lstrip("#"), [])
        if found or element.get("tstamp2") is None:
            return list(found)
        bars, beat = _bars_and_beat(element.get("tstamp2"))
        return self._notes_at(element, event.bar + bars, beat)

    def _onset(self, bar: int, beat: Fraction) -> Fraction:
        """Return quarters from the barline to a beat."""
        bar = max(0, min(bar, len(self._beat_types) - 1))
        return (beat - 1) * Fraction(4, self._beat_types[bar])

    def _notes_at(self, element: etree._Element, bar: int, beat: Fraction) -> list[FoundNote]:
        onset = self._onset(bar, beat)
        return [
            note
            for staff in element.get("staff", "").split()
            for note in self._by_moment.get((staff, bar, onset), ())
        ]

    def _under_line(
        self,
        event: _Event,
        notes: Sequence[FoundNote],
        starts: list[FoundNote],
        ends: list[FoundNote],
    ) -> list[FoundNote]:
        """Return the notes under an octave line."""
        element = event.element
        staves = element.get("staff", "").split() or [note.staff for note in starts[:1]]
        if starts:
            start = (starts[0].bar, starts[0].onset)
        elif element.get("tstamp"):
            beat = _bars_and_beat(element.get("tstamp"))[1]
            start = (event.bar, self._onset(event.bar, beat))
        else:
            return []
        if ends:
            end = (ends[0].bar, ends[0].onset)
        elif element.get("tstamp2"):
            bars, beat = _bars_and_beat(element.get("tstamp2"))
            end = (event.bar + bars, self._onset(event.bar + bars, beat))
        else:
            return []
        return [
            note
            for note in notes
            if note.staff in staves and start <= (note.bar, note.onset) <= end
        ]


def _tie(starts: list[FoundNote], ends: list[FoundNote]) -> None:
    for note in starts:
        note.ties |= TIE_TO_NEXT
    for note in ends:
        note.ties |= TIE_FROM_BEFORE


def _bars_and_beat(text: str) -> tuple[int, Fraction]:
    """Return how many bars later, and at which beat: of ``1m+3.5``, or of a beat alone."""
    bars, sign, beat = text.rpartition("m+")
    return (whole_number(bars) if sign else 0), decimal_number(beat)


def _octaves_of(element: etree._Element) -> int:
    octaves = _OCTAVES.get(element.get("dis", "8"), 0)
    return -octaves if element.get("dis.place") == "below" else octaves
