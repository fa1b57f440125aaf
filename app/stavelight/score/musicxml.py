"""Read a MusicXML score: its structure, and every note into the note table.

Parts are read one by one, each as a tree of its own that is let go before the next: a tree of the
whole of a large score would take hundreds of megabytes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from lxml import etree

from stavelight.score.musicxml_text import MusicXmlText, huge_parser
from stavelight.score.note_table import (
    COLUMNS,
    STEP_NAMES,
    TIE_FROM_BEFORE,
    TIE_TO_NEXT,
    NoteFlag,
    NoteTable,
    midi_number,
    transpose_spelled,
)
from stavelight.score.structure import Bar, Part, Score, Staff, Transposition

_STEPS = {name: index for index, name in enumerate(STEP_NAMES)}
_DIVISIONS = re.compile(rb"<divisions>\s*([\d.]+)")

NOTATION_FLAGS = {
    "accent": NoteFlag.ACCENT,
    "strong-accent": NoteFlag.STRONG_ACCENT,
    "staccato": NoteFlag.STACCATO,
    "detached-legato": NoteFlag.STACCATO | NoteFlag.TENUTO,
    "staccatissimo": NoteFlag.STACCATISSIMO,
    "spiccato": NoteFlag.STACCATO,
    "tenuto": NoteFlag.TENUTO,
    "fermata": NoteFlag.FERMATA,
    "trill-mark": NoteFlag.TRILL,
    "turn": NoteFlag.TURN,
    "inverted-turn": NoteFlag.TURN,
    "delayed-turn": NoteFlag.TURN,
    "mordent": NoteFlag.MORDENT,
    "inverted-mordent": NoteFlag.MORDENT,
    "tremolo": NoteFlag.TREMOLO,
    "arpeggiate": NoteFlag.ARPEGGIO,
    "glissando": NoteFlag.GLISSANDO,
    "slide": NoteFlag.GLISSANDO,
    "harmonic": NoteFlag.HARMONIC,
    "open-string": NoteFlag.OPEN_STRING,
    "stopped": NoteFlag.STOPPED,
    "up-bow": NoteFlag.UP_BOW,
    "down-bow": NoteFlag.DOWN_BOW,
    "snap-pizzicato": NoteFlag.SNAP_PIZZICATO,
}
"""Elements of W3C MusicXML 4.0 notations and what is kept of them."""


@dataclass(slots=True)
class _BarFacts:
    """What any part says of a bar; lengths in whole notes."""

    printed_number: str = ""
    length: Fraction = Fraction(0)
    beats: str = ""
    beat_type: int = 0
    rehearsal_mark: str = ""
    starts_repeat: bool = False
    ends_repeat: bool = False
    endings: tuple[int, ...] = ()


@dataclass(slots=True)
class _PartState:
    """What is in force at a moment of a part."""

    divisions: Fraction = Fraction(1)
    transpositions: dict[str, Transposition] = field(default_factory=dict)
    beats: str = ""
    beat_type: int = 0

    def transposition(self, staff: int) -> Transposition:
        return self.transpositions.get(str(staff), self.transpositions.get("", Transposition()))


def read_musicxml(data: bytes, path: Path, sha256: str, warnings: tuple[str, ...] = ()) -> Score:
    """Read a partwise MusicXML document.

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
        If there are no parts or bars, or if the parts have unequal numbers of bars.
    """
    text = MusicXmlText(data, path.name)
    return _Reading(text, path, sha256, warnings).score()


class _Reading:
    """One reading of one document."""

    def __init__(
        self, text: MusicXmlText, path: Path, sha256: str, warnings: tuple[str, ...]
    ) -> None:
        self.text = text
        self.path = path
        self.sha256 = sha256
        self.warnings = list(warnings)
        self.head = etree.fromstring(text.head + b"</score-partwise>", huge_parser())
        self.bars = [_BarFacts() for _ in range(text.bar_count)]
        self.ticks_per_quarter = self._grid()
        self.rows: list[tuple[Any, ...]] = []
        self.ids: list[str] = []
        self.voices: dict[str, int] = {}
        self.first_transpositions: list[Transposition] = []
        self.staff_counts: list[int] = []

    def _grid(self) -> int:
        """Return the least number of ticks to a quarter in which every duration is whole."""
        grid = 1
        for found in set(_DIVISIONS.findall(self.text.data)):
            grid = math.lcm(grid, Fraction(found.decode()).numerator or 1)
        return grid

    def score(self) -> Score:
        """Read everything."""
        for part in range(self.text.part_count):
            self._read_part(part, self.text.part_element(part))
        parts = self._parts()
        bars = self._bars()
        return Score(
            path=self.path,
            sha256=self.sha256,
            file_format="musicxml",
            **self._titles(),
            ticks_per_quarter=self.ticks_per_quarter,
            parts=parts,
            staves=tuple(
                Staff(part.first_staff + number, part.index, number + 1)
                for part in parts
                for number in range(part.staff_count)
            ),
            bars=bars,
            notes=self._note_table(parts, bars),
            warnings=tuple(self.warnings),
        )

    def _read_part(self, part: int, element: etree._Element) -> None:
        state = _PartState()
        first_staff = sum(self.staff_counts)
        staves = max(
            (int(n.text) for n in element.iter("staves") if (n.text or "").strip().isdigit()),
            default=1,
        )
        self.staff_counts.append(max(staves, 1))
        for bar, measure in enumerate(element.iterchildren("measure")):
            self._read_bar(part, first_staff, bar, measure, state)
        first = element.find("measure/attributes/transpose")
        self.first_transpositions.append(
            Transposition() if first is None else _transposition(first)
        )

    def _read_bar(
        self, part: int, first_staff: int, bar: int, measure: etree._Element, state: _PartState
    ) -> None:
        facts = self.bars[bar]
        if not facts.printed_number:
            facts.printed_number = measure.get("number", str(bar + 1))
        now = onset = longest = Fraction(0)
        number = -1
        for element in measure:
            tag = element.tag
            if tag == "note":
                number += 1
                grace = element.find("grace")
                length = Fraction(0) if grace is not None else _duration(element, state)
                if element.find("chord") is None:
                    onset = now
                    now += length
                    longest = max(longest, now)
                if element.find("rest") is None:
                    place = (part, first_staff, bar, number, onset, length)
                    self._add_note(element, grace, place, state)
            elif tag == "backup":
                now -= _duration(element, state)
            elif tag == "forward":
                now += _duration(element, state)
                longest = max(longest, now)
            elif tag == "attributes":
                self._read_attributes(element, state, facts, at_start=now == 0)
            elif tag == "direction":
                mark = element.findtext("direction-type/rehearsal")
                if mark and not facts.rehearsal_mark:
                    facts.rehearsal_mark = mark.strip()
            elif tag == "barline" and part == 0:
                _read_barline(element, facts, self.bars[bar - 1] if bar else None)
        facts.length = max(facts.length, longest)
        if not facts.beats:
            facts.beats, facts.beat_type = state.beats, state.beat_type

    def _read_attributes(
        self, element: etree._Element, state: _PartState, facts: _BarFacts, *, at_start: bool
    ) -> None:
        divisions = element.findtext("divisions")
        if divisions and Fraction(divisions.strip()) > 0:
            state.divisions = Fraction(divisions.strip())
        time = element.find("time")
        if time is not None and time.find("senza-misura") is None:
            pairs = list(
                zip(
                    [(x.text or "").strip() for x in time.findall("beats")],
                    [(x.text or "").strip() for x in time.findall("beat-type")],
                    strict=False,
                )
            )
            if pairs:
                state.beats, state.beat_type = _time_signature(pairs)
                if at_start:
                    facts.beats, facts.beat_type = state.beats, state.beat_type
        for transpose in element.findall("transpose"):
            number = transpose.get("number", "")
            if not number:
                state.transpositions.clear()
            state.transpositions[number] = _transposition(transpose)

    def _add_note(
        self,
        note: etree._Element,
        grace: etree._Element | None,
        place: tuple[int, int, int, int, Fraction, Fraction],
        state: _PartState,
    ) -> None:
        part, first_staff, bar, number, onset, length = place
        staff = int(note.findtext("staff") or 1)
        written = sounding = (-1, 0, 0, 0)
        flags = _flags(note)
        pitch = note.find("pitch")
        if pitch is not None:
            step = _STEPS[pitch.findtext("step", "C").strip()]
            alter = int(float(pitch.findtext("alter") or 0))
            octave = int(pitch.findtext("octave", "4"))
            written = (midi_number(step, alter, octave), step, alter, octave)
            sounding = written
            move = state.transposition(staff)
            if move.chromatic or move.diatonic:
                spelled = transpose_spelled(step, alter, octave, move.diatonic, move.chromatic)
                sounding = (midi_number(*spelled), *spelled)
        else:
            flags |= NoteFlag.UNPITCHED
            step = _STEPS[(note.findtext("unpitched/display-step") or "B").strip()]
            octave = int(note.findtext("unpitched/display-octave") or 4)
            written = sounding = (-1, step, 0, octave)
        voice = note.findtext("voice", "1").strip()
        self.rows.append(
            (
                bar,
                self._ticks(onset),
                self._ticks(length),
                part,
                first_staff + min(staff, self.staff_counts[part]) - 1,
                self.voices.setdefault(voice, len(self.voices)),
                written,
                sounding,
                _tie(note),
                0 if grace is None else 2 if grace.get("slash") == "yes" else 1,
                int(flags),
            )
        )
        self.ids.append(f"n{part}-{bar}-{number}")

    def _ticks(self, whole_notes: Fraction) -> int:
        return int(whole_notes * 4 * self.ticks_per_quarter)

    def _bars(self) -> tuple[Bar, ...]:
        bars = []
        start = 0
        beats, beat_type = "4", 4
        for index, facts in enumerate(self.bars):
            if facts.beats:
                beats, beat_type = facts.beats, facts.beat_type
            nominal = self._ticks(Fraction(sum(int(x) for x in beats.split("+")), beat_type))
            length = self._ticks(facts.length) or nominal
            bars.append(
                Bar(
                    index,
                    f"b{index}",
                    facts.printed_number,
                    start,
                    length,
                    nominal,
                    beats,
                    beat_type,
                    facts.rehearsal_mark,
                    facts.starts_repeat,
                    facts.ends_repeat,
                    facts.endings,
                )
            )
            start += length
        return tuple(bars)

    def _note_table(self, parts: tuple[Part, ...], bars: tuple[Bar, ...]) -> NoteTable:
        rows = np.zeros(len(self.rows), COLUMNS)
        silent = set(range(len(parts)))
        for index, row in enumerate(self.rows):
            bar, offset, length, part, staff, voice, written, sounding, tie, grace, flags = row
            silent.discard(part)
            rows[index] = (
                bars[bar].start_ticks + offset,
                length,
                bar,
                offset,
                part,
                staff,
                voice,
                *written,
                *sounding,
                tie,
                grace,
                flags,
            )
        for part in sorted(silent):
            name = parts[part].name or parts[part].id
            self.warnings.append(f"The part {name} has no notes.")
        order = np.lexsort(
            (rows["written_midi"], rows["voice"], rows["staff"], rows["onset_ticks"])
        )
        return NoteTable(rows[order], tuple(self.ids[index] for index in order), tuple(self.voices))

    def _titles(self) -> dict[str, Any]:
        work = _plain(self.head.findtext("work/work-title"))
        movement = _plain(self.head.findtext("movement-title"))
        credits = {
            _plain(credit.findtext("credit-type")): _plain(credit.findtext("credit-words"))
            for credit in self.head.findall("credit")
        }
        creators = {
            creator.get("type", "composer"): _plain(creator.text)
            for creator in self.head.findall("identification/creator")
        }
        notices = [
            *(_plain(rights.text) for rights in self.head.findall("identification/rights")),
            _plain(self.head.findtext("identification/source")),
        ]
        encoders = [
            _plain(encoder.text) for encoder in self.head.findall("identification/encoding/encoder")
        ]
        credit = [notice for notice in notices if notice]
        if encoders:
            credit.append("Encoded by " + ", ".join(filter(None, encoders)))
        return {
            "title": work or movement or credits.get("title", ""),
            "subtitle": movement if work and movement != work else "",
            "composer": creators.get("composer", "") or credits.get("composer", ""),
            "credit": " · ".join(dict.fromkeys(credit)),
        }

    def _parts(self) -> tuple[Part, ...]:
        found = {}
        groups: dict[str, str] = {}
        for element in self.head.find("part-list"):
            if element.tag == "part-group":
                number = element.get("number", "1")
                if element.get("type") == "start":
                    groups[number] = _plain(element.findtext("group-name"))
                else:
                    groups.pop(number, None)
            elif element.tag == "score-part":
                named = [name for name in groups.values() if name]
                found[element.get("id")] = (element, named[-1] if named else "")
        parts = []
        first_staff = 0
        for index, part_id in enumerate(self.text.part_ids):
            element, group = found.get(part_id, (etree.Element("score-part"), ""))
            program = element.findtext("midi-instrument/midi-program", "").strip()
            parts.append(
                Part(
                    index=index,
                    id=part_id,
                    name=_part_name(element, "part-name"),
                    abbreviation=_part_name(element, "part-abbreviation"),
                    first_staff=first_staff,
                    staff_count=self.staff_counts[index],
                    instrument_sound=_plain(element.findtext("score-instrument/instrument-sound"))
                    or None,
                    midi_program=int(program) if program.isdigit() else None,
                    transposition=self.first_transpositions[index],
                    group=group,
                )
            )
            first_staff += self.staff_counts[index]
        return tuple(parts)


def _plain(text: str | None) -> str:
    return " ".join((text or "").split())


def _part_name(element: etree._Element, tag: str) -> str:
    """Return a part's name as it is displayed, with signs for accidentals."""
    display = element.find(tag + "-display")
    if display is not None:
        signs = {"flat": "\u266d", "sharp": "\u266f", "natural": "\u266e"}
        pieces = [
            signs.get((piece.text or "").strip(), "")
            if piece.tag == "accidental-text"
            else piece.text or ""
            for piece in display
        ]
        if "".join(pieces).strip():
            return _plain("".join(pieces))
    return _plain(element.findtext(tag))


def _duration(element: etree._Element, state: _PartState) -> Fraction:
    text = element.findtext("duration")
    return Fraction(text.strip()) / (4 * state.divisions) if text else Fraction(0)


def _time_signature(pairs: list[tuple[str, str]]) -> tuple[str, int]:
    """Return beats and beat type; of several at once, such as 3/8+2/4, in the shortest beat."""
    types = [int(beat_type) for _, beat_type in pairs]
    shortest = max(types)
    if len(pairs) == 1:
        return pairs[0][0].replace(" ", ""), shortest
    beats = [
        str(int(number) * shortest // int(beat_type))
        for text, beat_type in pairs
        for number in text.split("+")
    ]
    return "+".join(beats), shortest


def _transposition(element: etree._Element) -> Transposition:
    chromatic = int(float(element.findtext("chromatic") or 0))
    text = element.findtext("diatonic")
    octaves = int(element.findtext("octave-change") or 0)
    if text is None:
        # No step is given: the usual one for so many semitones (a diminished fifth for six).
        size, rest = divmod(abs(chromatic), 12)
        steps = 7 * size + (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)[rest]
        diatonic = steps if chromatic >= 0 else -steps
    else:
        diatonic = int(float(text))
    if element.find("double") is not None:
        octaves += 1 if element.find("double").get("above") == "yes" else -1
    return Transposition(diatonic + 7 * octaves, chromatic + 12 * octaves)


def _read_barline(element: etree._Element, facts: _BarFacts, before: _BarFacts | None) -> None:
    repeat = element.find("repeat")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            facts.starts_repeat = True
        else:
            facts.ends_repeat = True
    ending = element.find("ending")
    if ending is not None and ending.get("type") == "start":
        facts.endings = tuple(
            int(number) for number in re.findall(r"\d+", ending.get("number", ""))
        )


def _tie(note: etree._Element) -> int:
    ties = note.findall("tie") or note.findall("notations/tied")
    tie = 0
    for element in ties:
        if element.get("type") == "start":
            tie |= TIE_TO_NEXT
        elif element.get("type") == "stop":
            tie |= TIE_FROM_BEFORE
    return tie


def _flags(note: etree._Element) -> NoteFlag:
    flags = NoteFlag(0)
    if note.find("chord") is not None:
        flags |= NoteFlag.CHORD
    if note.find("cue") is not None:
        flags |= NoteFlag.CUE
    if note.get("print-object") == "no":
        flags |= NoteFlag.HIDDEN
    for notations in note.findall("notations"):
        for element in notations:
            if element.tag == "slur":
                if element.get("type") == "start":
                    flags |= NoteFlag.SLUR_START
                elif element.get("type") == "stop":
                    flags |= NoteFlag.SLUR_STOP
            elif element.tag in ("articulations", "ornaments", "technical"):
                for mark in element:
                    flags |= NOTATION_FLAGS.get(mark.tag, NoteFlag(0))
            else:
                flags |= NOTATION_FLAGS.get(element.tag, NoteFlag(0))
    return flags
