"""Read an MEI score (common Western notation, MEI 4 and 5) into the same note table.

Source of the element and attribute names: Music Encoding Initiative, Guidelines 5.1.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.mei_definitions import (
    MEI,
    Definitions,
    StaffPlace,
    plain_text,
    read_parts,
)
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
from stavelight.score.structure import Bar, Score, Staff

ID = "{http://www.w3.org/XML/1998/namespace}id"
_ALTERS = {
    "s": 1, "f": -1, "ss": 2, "x": 2, "ff": -2, "xs": 3, "sx": 3, "ts": 3, "tf": -3, "n": 0,
    "nf": -1, "ns": 1, "su": 1, "sd": 1, "fu": -1, "fd": -1, "nu": 0, "nd": 0,
}  # fmt: skip
"""Semitones of MEI's written and gestural accidentals; quarter tones go to the nearer note."""

_LONG_DURATIONS = {"maxima": Fraction(8), "long": Fraction(4), "breve": Fraction(2)}
_ARTICULATIONS = {
    "acc": NoteFlag.ACCENT,
    "marc": NoteFlag.STRONG_ACCENT,
    "stacc": NoteFlag.STACCATO,
    "stacciss": NoteFlag.STACCATISSIMO,
    "spicc": NoteFlag.STACCATO,
    "ten": NoteFlag.TENUTO,
    "harm": NoteFlag.HARMONIC,
    "open": NoteFlag.OPEN_STRING,
    "stop": NoteFlag.STOPPED,
    "upbow": NoteFlag.UP_BOW,
    "dnbow": NoteFlag.DOWN_BOW,
    "snap": NoteFlag.SNAP_PIZZICATO,
}
_MARKS = {
    "fermata": NoteFlag.FERMATA,
    "trill": NoteFlag.TRILL,
    "turn": NoteFlag.TURN,
    "mordent": NoteFlag.MORDENT,
    "arpeg": NoteFlag.ARPEGGIO,
    "gliss": NoteFlag.GLISSANDO,
}
_ALTERNATIVES = {"app": ("lem", "rdg"), "choice": ("corr", "reg", "expan", "sic", "orig", "abbr")}
_GROUPS = ("beam", "graceGrp", "ligature", "supplied", "unclear", "corr", "reg", "lem", "rdg",
           "add", "restore", "damage", "subst", "expan", "orig", "sic")  # fmt: skip


def mei_tree_with_ids(data: bytes) -> etree._Element:
    """Return an MEI document in which every bar, note and rest has an id.

    Ids that stand in the file are kept; others are made like those of MusicXML scores, from the
    staff and the place in the bar.
    """
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=True
    )
    root = etree.fromstring(data, parser)
    taken = {element.get(ID) for element in root.iter() if element.get(ID)}
    for bar, measure in enumerate(root.iter(MEI + "measure")):
        _give_id(measure, f"b{bar}", taken)
        for index, staff in enumerate(measure.iterchildren(MEI + "staff")):
            events = staff.iter(*(MEI + name for name in ("note", "chord", "rest", "mRest")))
            for number, event in enumerate(events):
                _give_id(event, f"n{index}-{bar}-{number}", taken)
    return root


def _give_id(element: etree._Element, wanted: str, taken: set[str]) -> None:
    if element.get(ID):
        return
    while wanted in taken:
        wanted += "x"
    taken.add(wanted)
    element.set(ID, wanted)


@dataclass(slots=True)
class _FoundNote:
    """A note before the tick grid is known; times in whole notes from its barline."""

    id: str
    bar: int
    onset: Fraction
    length: Fraction
    place: StaffPlace
    voice: str
    written: tuple[int, int, int, int]
    sounding: tuple[int, int, int, int]
    tie: int
    grace: int
    flags: NoteFlag


@dataclass(slots=True)
class _Layer:
    """Where the reading of one layer of one bar stands."""

    bar: int
    staff: str
    voice: str
    ratio: Fraction = Fraction(1)
    now: Fraction = Fraction(0)
    grace: int = 0
    in_tremolo: bool = False
    accidentals: dict[tuple[int, int], int] = field(default_factory=dict)


@dataclass(slots=True)
class _FoundBar:
    """What is known of a bar; lengths in whole notes."""

    id: str
    printed_number: str
    nominal: Fraction
    beats: str
    beat_type: int
    length: Fraction = Fraction(0)
    rehearsal_mark: str = ""
    starts_repeat: bool = False
    ends_repeat: bool = False
    endings: tuple[int, ...] = ()


def read_mei(data: bytes, path: Path, sha256: str, warnings: tuple[str, ...] = ()) -> Score:
    """Read an MEI document.

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
        If there is no score in it, or no bar, or no note.
    """
    return _Reading(mei_tree_with_ids(data), path, sha256, list(warnings)).score()


class _Reading:
    """One reading of one document."""

    def __init__(self, root: etree._Element, path: Path, sha256: str, warnings: list[str]) -> None:
        self.root = root
        self.path = path
        self.sha256 = sha256
        self.warnings = warnings
        self.notes: list[_FoundNote] = []
        self.bars: list[_FoundBar] = []
        self.marks: dict[str, NoteFlag] = {}
        self.ties: dict[str, int] = {}
        self.last_alters: dict[tuple[str, int, int], int] = {}
        scores = [
            score for score in root.iter(MEI + "score") if score.find(MEI + "scoreDef") is not None
        ]
        if not scores or not any(True for _ in root.iter(MEI + "measure")):
            raise self._fault("There are no bars of music in this MEI file.")
        if len(scores) > 1:
            warnings.append(f"The file holds {len(scores)} movements; they are read as one.")
        self.scores = scores
        first = scores[0].find(MEI + "scoreDef")
        self.parts, self.places = read_parts(first)
        self.definitions = Definitions(self.places)
        if not self.parts:
            raise self._fault("There are no staves in this MEI file.")

    def _fault(self, what: str) -> ScoreFileError:
        return ScoreFileError(
            what,
            where=self.path.name,
            remedy="Check that it holds a score in common Western notation.",
        )

    def score(self) -> Score:
        """Read everything."""
        for control in self.root.iter(*(MEI + name for name in (*_MARKS, "tie", "slur"))):
            self._note_control(control)
        for score in self.scores:
            for child in score:
                self._walk(child, ())
        if not self.notes:
            raise self._fault("The score has no notes.")
        return self._assemble()

    def _note_control(self, control: etree._Element) -> None:
        """Keep what an event outside the staves says of notes."""
        kind = etree.QName(control).localname
        start = control.get("startid", "").lstrip("#")
        end = control.get("endid", "").lstrip("#")
        if kind == "tie":
            self.ties[start] = self.ties.get(start, 0) | TIE_TO_NEXT
            self.ties[end] = self.ties.get(end, 0) | TIE_FROM_BEFORE
        elif kind == "slur":
            self.marks[start] = self.marks.get(start, NoteFlag(0)) | NoteFlag.SLUR_START
            self.marks[end] = self.marks.get(end, NoteFlag(0)) | NoteFlag.SLUR_STOP
        elif start:
            self.marks[start] = self.marks.get(start, NoteFlag(0)) | _MARKS[kind]

    def _walk(self, element: etree._Element, endings: tuple[int, ...]) -> None:
        if not isinstance(element.tag, str):
            return
        name = etree.QName(element).localname
        if name in ("scoreDef", "staffDef"):
            self.definitions.take(element)
        elif name == "measure":
            self._read_measure(element, endings)
        elif name in ("app", "choice"):
            chosen = _chosen(element, name)
            if chosen is not None:
                self._walk(chosen, endings)
        elif name not in ("expansion", "sb", "pb"):
            if name == "ending":
                endings = tuple(int(number) for number in re.findall(r"\d+", element.get("n", "")))
            for child in element:
                self._walk(child, endings)

    def _read_measure(self, measure: etree._Element, endings: tuple[int, ...]) -> None:
        index = len(self.bars)
        beats, beat_type = self.definitions.metre
        nominal = Fraction(sum(int(number) for number in re.findall(r"\d+", beats)), beat_type)
        bar = _FoundBar(
            measure.get(ID), measure.get("n", str(index + 1)), nominal, beats, beat_type
        )
        bar.endings = endings
        bar.starts_repeat = measure.get("left", "") in ("rptstart", "rptboth")
        bar.ends_repeat = measure.get("right", "") in ("rptend", "rptboth")
        mark = measure.find(MEI + "reh")
        bar.rehearsal_mark = "" if mark is None else plain_text(mark)
        self.bars.append(bar)
        for staff in measure.iterchildren(MEI + "staff"):
            number = staff.get("n", "1")
            if number not in self.places:
                continue
            for order, layer in enumerate(staff.iterchildren(MEI + "layer"), start=1):
                state = _Layer(index, number, layer.get("n", str(order)))
                for child in layer:
                    self._read_event(child, state)
                bar.length = max(bar.length, state.now)
        if not bar.length:
            bar.length = nominal

    def _read_event(self, element: etree._Element, layer: _Layer) -> None:
        if not isinstance(element.tag, str):
            return
        name = etree.QName(element).localname
        if name == "note":
            self._read_note(element, layer, layer.now, self._length(element, layer), NoteFlag(0))
            layer.now += self._length(element, layer)
        elif name == "chord":
            self._read_chord(element, layer)
        elif name in ("rest", "space"):
            layer.now += self._length(element, layer)
        elif name in ("mRest", "mSpace", "mRpt"):
            layer.now += self.bars[layer.bar].nominal
        elif name in ("tuplet",):
            ratio = Fraction(int(element.get("numbase", "2")), int(element.get("num", "3")))
            inner = layer.ratio
            layer.ratio = inner * ratio
            for child in element:
                self._read_event(child, layer)
            layer.ratio = inner
        elif name in ("bTrem", "fTrem"):
            self._read_tremolo(element, layer)
        elif name in _ALTERNATIVES:
            chosen = _chosen(element, name)
            for child in () if chosen is None else chosen:
                self._read_event(child, layer)
        elif name in _GROUPS:
            before = layer.grace
            if name == "graceGrp":
                layer.grace = 2 if element.get("grace") == "unacc" else 1
            for child in element:
                self._read_event(child, layer)
            layer.grace = before

    def _read_tremolo(self, element: etree._Element, layer: _Layer) -> None:
        before = layer.in_tremolo
        layer.in_tremolo = True
        start = layer.now
        for child in element:
            self._read_event(child, layer)
        if etree.QName(element).localname == "fTrem" and layer.now > start:
            # Two notes of a fingered tremolo are each written with the length of both.
            first_new = [
                note for note in self.notes if note.bar == layer.bar and note.onset >= start
            ]
            total = max((note.length for note in first_new), default=Fraction(0))
            for note in first_new:
                if note.place.number == layer.staff and note.voice == layer.voice:
                    note.onset = start + (note.onset - start) / 2
                    note.length = note.length / 2
            layer.now = start + total
        layer.in_tremolo = before

    def _length(self, element: etree._Element, layer: _Layer) -> Fraction:
        """Return how long an event lasts, in whole notes; 0 for grace notes."""
        if layer.grace or element.get("grace"):
            return Fraction(0)
        text = element.get("dur.ges") or element.get("dur", "4")
        if text in _LONG_DURATIONS:
            base = _LONG_DURATIONS[text]
        else:
            base = Fraction(1, int(text)) if text.isdigit() and int(text) else Fraction(1, 4)
        dots = int(element.get("dots", "0") or 0) or len(element.findall(MEI + "dot"))
        return base * (2 - Fraction(1, 2**dots)) * layer.ratio

    def _read_chord(self, chord: etree._Element, layer: _Layer) -> None:
        length = self._length(chord, layer)
        flags = self.marks.get(chord.get(ID), NoteFlag(0)) | _articulations(chord)
        if layer.in_tremolo:
            flags |= NoteFlag.TREMOLO
        for number, note in enumerate(chord.iter(MEI + "note")):
            own = flags | (NoteFlag.CHORD if number else NoteFlag(0))
            for name in ("staff", "cue", "tie", "grace"):
                if chord.get(name) and not note.get(name):
                    note.set(name, chord.get(name))
            self._read_note(note, layer, layer.now, length, own)
        layer.now += length

    def _read_note(
        self,
        note: etree._Element,
        layer: _Layer,
        onset: Fraction,
        length: Fraction,
        flags: NoteFlag,
    ) -> None:
        place = self.places.get(note.get("staff", layer.staff), self.places[layer.staff])
        identity = note.get(ID)
        flags |= self.marks.get(identity, NoteFlag(0)) | _articulations(note)
        if layer.in_tremolo:
            flags |= NoteFlag.TREMOLO
        if note.get("cue") == "true":
            flags |= NoteFlag.CUE
        if note.get("visible") == "false":
            flags |= NoteFlag.HIDDEN
        grace = layer.grace
        if note.get("grace"):
            grace = 2 if note.get("grace") == "unacc" else 1
        written, sounding = self._pitches(note, layer, place)
        if written[0] < 0:
            flags |= NoteFlag.UNPITCHED
        tie = self._tie(note)
        self.notes.append(
            _FoundNote(
                identity,
                layer.bar,
                onset,
                length,
                place,
                layer.voice,
                written,
                sounding,
                tie,
                grace,
                flags,
            )
        )

    def _tie(self, note: etree._Element) -> int:
        tie = self.ties.get(note.get(ID), 0)
        for letter in note.get("tie", ""):
            tie |= {"i": TIE_TO_NEXT, "m": 3, "t": TIE_FROM_BEFORE}.get(letter, 0)
        return tie

    def _pitches(
        self, note: etree._Element, layer: _Layer, place: StaffPlace
    ) -> tuple[tuple[int, int, int, int], tuple[int, int, int, int]]:
        """Return the written and the sounding pitch, each as (midi, step, alter, octave)."""
        name = note.get("pname", "")
        if len(name) != 1 or name.upper() not in STEP_NAMES:
            unpitched = (-1, int(note.get("loc", "4")) % 7, 0, 4)
            return unpitched, unpitched
        step = STEP_NAMES.index(name.upper())
        octave = int(note.get("oct", "4"))
        shown, played = _accidentals(note)
        if shown is not None:
            layer.accidentals[step, octave] = _ALTERS.get(shown, 0)
        if played is not None:
            alter = _ALTERS.get(played, 0)
        elif shown is not None:
            alter = _ALTERS.get(shown, 0)
        else:
            tied = self.last_alters.get((place.number, step, octave))
            key = self.definitions.key_alter(place.number, step)
            alter = layer.accidentals.get((step, octave), key)
            if tied is not None and self._tie(note) & TIE_FROM_BEFORE:
                alter = tied
        self.last_alters[place.number, step, octave] = alter
        octave = int(note.get("oct.ges", octave))
        written = (midi_number(step, alter, octave), step, alter, octave)
        diatonic, chromatic = self.definitions.transposition(place.number)
        if not (diatonic or chromatic):
            return written, written
        spelled = transpose_spelled(step, alter, octave, diatonic, chromatic)
        return written, (midi_number(*spelled), *spelled)

    def _assemble(self) -> Score:
        grid = 1
        for note in self.notes:
            grid = math.lcm(grid, (note.onset * 4).denominator, (note.length * 4).denominator)
        for found in self.bars:
            grid = math.lcm(grid, (found.length * 4).denominator, (found.nominal * 4).denominator)
        bars = []
        start = 0
        for index, found in enumerate(self.bars):
            length = int(found.length * 4 * grid)
            bars.append(
                Bar(
                    index,
                    found.id,
                    found.printed_number,
                    start,
                    length,
                    int(found.nominal * 4 * grid),
                    found.beats,
                    found.beat_type,
                    found.rehearsal_mark,
                    found.starts_repeat,
                    found.ends_repeat,
                    found.endings,
                )
            )
            start += length
        parts = tuple(
            replace(part, transposition=self.definitions.first_transposition(part))
            for part in self.parts
        )
        heading = self.root.find(MEI + "meiHead")
        return Score(
            path=self.path,
            sha256=self.sha256,
            file_format="mei",
            **_titles(heading),
            ticks_per_quarter=grid,
            parts=parts,
            staves=tuple(
                Staff(place.index, place.part, place.number_in_part)
                for place in self.places.values()
            ),
            bars=tuple(bars),
            notes=self._table(bars, grid),
            warnings=tuple(self.warnings),
        )

    def _table(self, bars: list[Bar], grid: int) -> NoteTable:
        voices: dict[str, int] = {}
        rows = np.zeros(len(self.notes), COLUMNS)
        for index, note in enumerate(self.notes):
            offset = int(note.onset * 4 * grid)
            rows[index] = (
                bars[note.bar].start_ticks + offset,
                int(note.length * 4 * grid),
                note.bar,
                offset,
                note.place.part,
                note.place.index,
                voices.setdefault(note.voice, len(voices)),
                *note.written,
                *note.sounding,
                note.tie,
                note.grace,
                int(note.flags),
            )
        order = np.lexsort(
            (rows["written_midi"], rows["voice"], rows["staff"], rows["onset_ticks"])
        )
        ids = tuple(self.notes[index].id for index in order)
        return NoteTable(rows[order], ids, tuple(voices))


def _chosen(element: etree._Element, name: str) -> etree._Element | None:
    """Return the reading that is followed where the edition gives several."""
    for wanted in _ALTERNATIVES.get(name, ()):
        found = element.find(MEI + wanted)
        if found is not None:
            return found
    return None


def _accidentals(note: etree._Element) -> tuple[str | None, str | None]:
    """Return the written and the sounding accidental of a note."""
    shown, played = note.get("accid"), note.get("accid.ges")
    child = note.find(MEI + "accid")
    if child is not None:
        shown, played = child.get("accid", shown), child.get("accid.ges", played)
    return shown, played


def _articulations(event: etree._Element) -> NoteFlag:
    flags = NoteFlag(0)
    names = event.get("artic", "").split()
    for child in event.iterchildren(MEI + "artic"):
        names += child.get("artic", "").split()
    for name in names:
        flags |= _ARTICULATIONS.get(name, NoteFlag(0))
    return flags


def _titles(heading: etree._Element | None) -> dict[str, Any]:
    titles = {"title": "", "subtitle": "", "composer": "", "credit": ""}
    if heading is None:
        return titles
    title = heading.find(f"{MEI}fileDesc/{MEI}titleStmt/{MEI}title")
    if title is not None:
        parts = [plain_text(part) for part in title.iterchildren(MEI + "titlePart")]
        own = " ".join((title.text or "").split())
        titles["title"] = own or plain_text(title)
        titles["subtitle"] = " · ".join(part for part in parts if part) if own else ""
    for path in (f".//{MEI}composer", f".//{MEI}persName[@role='composer']"):
        composer = heading.find(path)
        if composer is not None and not titles["composer"]:
            titles["composer"] = plain_text(composer)
    publisher = heading.find(f"{MEI}fileDesc/{MEI}pubStmt/{MEI}publisher")
    encoders = [
        plain_text(name)
        for name in heading.iterfind(f"{MEI}fileDesc/{MEI}titleStmt/{MEI}respStmt/{MEI}persName")
    ]
    credit = [] if publisher is None else [plain_text(publisher)]
    if encoders:
        credit.append("Encoded by " + ", ".join(encoders))
    titles["credit"] = " · ".join(piece for piece in credit if piece)
    return titles
