"""Write notes and rests as MusicXML 4.0."""

from __future__ import annotations

from dataclasses import dataclass, field

from lxml import etree

from sample_score.orchestra import PartPlan
from sample_score.pitch import Pitch
from sample_score.shorthand import Event
from sample_score.spelling import Accidentals, beams
from sample_score.staves import StaffBar

_ARTICULATIONS = {"'": "staccato", "-": "tenuto", ">": "accent", "^": "strong-accent"}


def child(
    parent: etree._Element, name: str, text: str | int = "", **attributes: str
) -> etree._Element:
    """Append an element; an underscore in an attribute's name stands for a hyphen."""
    element = etree.SubElement(
        parent, name, {key.replace("_", "-"): value for key, value in attributes.items()}
    )
    if text != "":
        element.text = str(text)
    return element


@dataclass(frozen=True, slots=True)
class Place:
    """Where a voice stands: staff (0 in a part of one staff), voice, and the stems it forces."""

    staff: int
    voice: int
    stem: str = ""


@dataclass
class StaffWriter:
    """Writes the notes of one staff, bar after bar; remembers accidentals and ties."""

    part: PartPlan
    staff: int
    accidentals: Accidentals = field(default_factory=Accidentals)
    ties: set[Pitch] = field(default_factory=set)
    had_triplets: bool = False

    def voice_elements(
        self, bar: StaffBar, beat_type: int
    ) -> list[tuple[Place, list[tuple[int, Event, list[etree._Element]]]]]:
        """Return for each voice the ticks, the event and the elements of each of its events."""
        shown = self._accidentals_of(bar)
        result = []
        triplets = any(event.triplet for voice in bar.voices for event in voice)
        for number, voice in enumerate(bar.voices):
            stem = ("up", "down")[number] if len(bar.voices) > 1 else ""
            place = Place(self.staff, 4 * max(self.staff - 1, 0) + number + 1, stem)
            ties = self._ties_into(voice)
            beamed = beams(voice, beat_type)
            written, ticks, triplet_count = [], 0, 0
            for index, event in enumerate(voice):
                triplet_count = triplet_count + 1 if event.triplet else 0
                elements = self._elements(event, place, ties[index], shown.get((number, index), {}))
                _add_beams(elements[0], beamed[index])
                _add_tuplet(elements[0], triplet_count, not self.had_triplets)
                written.append((ticks, event, elements))
                ticks += event.ticks
            result.append((place, written))
        self.had_triplets = triplets
        self.ties = {pitch for voice in bar.voices for pitch in voice[-1].tied}
        return result

    def _ties_into(self, voice: tuple[Event, ...]) -> list[set[Pitch]]:
        """Return the pitches of each event that are tied from the one before."""
        before = [self.ties, *(set(event.tied) for event in voice[:-1])]
        return [tied & set(event.pitches) for tied, event in zip(before, voice, strict=True)]

    def _accidentals_of(
        self, bar: StaffBar
    ) -> dict[tuple[int, int], dict[Pitch, tuple[str, bool]]]:
        """Decide the accidentals of a bar in order of time, all voices together."""
        if self.part.percussion_key is not None:
            return {}
        notes = []
        for number, voice in enumerate(bar.voices):
            ticks = 0
            ties = self._ties_into(voice)
            for index, event in enumerate(voice):
                notes.append((ticks, number, index, event, ties[index]))
                ticks += event.ticks
        notes.sort(key=lambda note: note[:3])
        shown: dict[tuple[int, int], dict[Pitch, tuple[str, bool]]] = {}
        for _, number, index, event, tied in notes:
            for pitch in event.pitches:
                accidental = self.accidentals.of(self._written(pitch), pitch in tied)
                if accidental is not None:
                    shown.setdefault((number, index), {})[pitch] = accidental
        self.accidentals.next_bar()
        return shown

    def _written(self, pitch: Pitch) -> Pitch:
        """Return the pitch that the part reads."""
        return pitch.moved(self.part.transposition.reversed())

    def _elements(
        self,
        event: Event,
        place: Place,
        tied_in: set[Pitch],
        accidentals: dict[Pitch, tuple[str, bool]],
    ) -> list[etree._Element]:
        """Return the note elements of one event, several for a chord."""
        elements = []
        for position, pitch in enumerate(event.pitches or (None,)):
            note = etree.Element("note")
            if position:
                child(note, "chord")
            self._pitch(note, pitch)
            child(note, "duration", event.ticks)
            starts, stops = pitch in event.tied, pitch in tied_in
            if stops:
                child(note, "tie", type="stop")
            if starts:
                child(note, "tie", type="start")
            child(note, "voice", place.voice)
            child(note, "type", event.value)
            for _ in range(event.dots):
                child(note, "dot")
            if pitch in accidentals:
                name, reminder = accidentals[pitch]
                child(note, "accidental", name, **({"cautionary": "yes"} if reminder else {}))
            if event.triplet:
                change = child(note, "time-modification")
                child(change, "actual-notes", 3)
                child(change, "normal-notes", 2)
            if place.stem and pitch is not None:
                child(note, "stem", place.stem)
            if place.staff:
                child(note, "staff", place.staff)
            _notations(note, event, place.staff, first=position == 0, starts=starts, stops=stops)
            elements.append(note)
        return elements

    def _pitch(self, note: etree._Element, pitch: Pitch | None) -> None:
        """Write a pitch, a place on a percussion line, or a rest."""
        if pitch is None:
            child(note, "rest")
            return
        if self.part.percussion_key is not None:
            unpitched = child(note, "unpitched")
            child(unpitched, "display-step", "E")
            child(unpitched, "display-octave", 4)
            return
        written = self._written(pitch)
        element = child(note, "pitch")
        child(element, "step", written.letter)
        if written.alteration:
            child(element, "alter", written.alteration)
        child(element, "octave", written.octave)


def _notations(
    note: etree._Element, event: Event, staff: int, *, first: bool, starts: bool, stops: bool
) -> None:
    """Add what every note of a chord has and, to the first of them, slurs and signs."""
    notations = etree.Element("notations")
    if stops:
        child(notations, "tied", type="stop")
    if starts:
        child(notations, "tied", type="start")
    if first:
        _slurs(notations, event.signs, staff)
        _signs(notations, event)
    if "o" in event.signs or "+" in event.signs:
        technical = child(notations, "technical")
        if "o" in event.signs:
            child(child(technical, "harmonic"), "natural")
        else:
            child(technical, "stopped")
    if "%" in event.signs:
        child(notations, "arpeggiate")
    if len(notations):
        note.append(notations)


def _slurs(notations: etree._Element, signs: str, staff: int) -> None:
    """End and begin slurs; each line of each staff has its own number."""
    for closing, opening, line in ((")", "(", 1), ("]", "[", 2)):
        number = str(2 * max(staff - 1, 0) + line)
        if closing in signs:
            child(notations, "slur", type="stop", number=number)
        if opening in signs:
            child(notations, "slur", type="start", number=number)


def _signs(notations: etree._Element, event: Event) -> None:
    """Add glissando, tremolo, articulations and fermata."""
    signs = event.signs
    if "G" in signs:
        child(notations, "glissando", type="stop", number="1", line_type="wavy")
    if "g" in signs:
        child(notations, "glissando", "gliss.", type="start", number="1", line_type="wavy")
    if "/" in signs:
        ornaments = child(notations, "ornaments")
        child(ornaments, "tremolo", signs.count("/"), type="single")
    names = [name for sign, name in _ARTICULATIONS.items() if sign in signs]
    if names:
        articulations = child(notations, "articulations")
        for name in names:
            child(articulations, name)
    if "*" in signs:
        child(notations, "fermata", type="upright")


def _add_beams(note: etree._Element, values: list[str]) -> None:
    """Put beams where MusicXML wants them: before the notations."""
    notations = note.find("notations")
    for number, value in enumerate(values, 1):
        beam = etree.Element("beam", number=str(number))
        beam.text = value
        if notations is None:
            note.append(beam)
        else:
            notations.addprevious(beam)


def _add_tuplet(note: etree._Element, count: int, numbered: bool) -> None:
    """Open or close a triplet at its first and third note."""
    if count == 0 or count % 3 == 2:
        return
    notations = note.find("notations")
    if notations is None:
        notations = child(note, "notations")
    if count % 3 == 1:
        show = "actual" if numbered else "none"
        child(notations, "tuplet", type="start", number="1", bracket="no", show_number=show)
    else:
        child(notations, "tuplet", type="stop", number="1")
