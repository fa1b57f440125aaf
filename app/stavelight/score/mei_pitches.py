"""Find the written and sounding pitches of MEI notes, which may leave their accidentals unsaid.

Element and attribute names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from collections.abc import Iterable

from lxml import etree

from stavelight.score.file_numbers import whole_number
from stavelight.score.mei_definitions import ALTERATIONS, step_of
from stavelight.score.mei_layer import UNKNOWN_PITCH, FoundNote
from stavelight.score.mei_names import content_of, local_name
from stavelight.score.note_rows import SpelledPitch
from stavelight.score.note_table import (
    TIE_FROM_BEFORE,
    NoteFlag,
    midi_number,
    transpose_spelled,
)

_BOTTOM_LINE = 7 * 4 + 2  # E4: a percussion clef is read like a treble clef
_OCTAVES = range(0, 11)


class PitchFinder:
    """Finds pitches bar by bar, and remembers what is tied into the next bar.

    Most encoders say of every altered note that it is altered, by a gestural accidental where
    none is printed; then a note with neither is unaltered. Others leave what follows from the key
    signature or from an accidental before in the bar to the reader. What a file does is seen from
    what most of its notes do, and settled at the end.
    """

    def __init__(self) -> None:
        self._last_alteration: dict[tuple[str, int, int], int] = {}
        self._said_count = 0
        self._unsaid: list[FoundNote] = []

    def find(self, notes: Iterable[FoundNote]) -> None:
        """Set the written pitch of all notes of one bar.

        The gestural accidental counts, if a note has one; else the written one; else that of the
        note that it is tied from; else one before it in the bar, on the same staff in the same
        octave; else the key signature (but see `settle`).

        Raises
        ------
        ValueError
            If a pitch makes no sense.
        """
        in_bar: dict[tuple[str, int, int], int] = {}
        for note in sorted(notes, key=lambda note: (note.onset, note.grace == 0)):
            name = note.element.get("pname")
            if name is None or note.state.is_percussion:
                note.flags |= NoteFlag.UNPITCHED
                note.written = note.sounding = _place(note.element)
                continue
            step = step_of(name)
            octave = whole_number(note.element.get("oct") or note.state.default_octave)
            place = (note.staff, step, octave)
            shown, played = _accidentals(note.element)
            if shown is not None:
                in_bar[place] = shown
            if played is not None:
                alteration = played
                self._said_count += shown is None
            elif shown is not None:
                alteration = shown
            elif note.ties & TIE_FROM_BEFORE and place in self._last_alteration:
                alteration = self._last_alteration[place]
            else:
                alteration = in_bar.get(place, note.state.key[step])
                if alteration:
                    self._unsaid.append(note)
            self._last_alteration[place] = alteration
            note.written = _pitch(step, alteration, octave)

    def settle(self) -> None:
        """Take the notes that say nothing for unaltered, if most altered notes of the file do."""
        if self._said_count > len(self._unsaid):
            for note in self._unsaid:
                note.written = _pitch(note.written.step, 0, note.written.octave)


def sounding_pitch(note: FoundNote, octaves: int) -> tuple[SpelledPitch, SpelledPitch]:
    """Return the pitch as the player reads it, octave lines applied, and as it sounds.

    Parameters
    ----------
    note
        With its written pitch.
    octaves
        What octave lines say, for a note that does not say it itself.
    """
    written = note.written
    if note.flags & NoteFlag.UNPITCHED:
        return written, written
    interval = note.state.transposition
    given_octave = note.element.get("oct.ges")
    given_name = note.element.get("pname.ges")
    if given_octave is not None:
        octaves = whole_number(given_octave) - written.octave
        if octaves and 12 * octaves == interval.chromatic:
            octaves = 0  # the sounding octave of a transposing instrument, not an octave line
    if given_name is not None:  # the sounding pitch itself
        _, played = _accidentals(note.element)
        octave = whole_number(given_octave) if given_octave is not None else written.octave
        return written, _pitch(step_of(given_name), played or 0, octave)
    written = _pitch(written.step, written.alter, written.octave + octaves)
    if not interval.chromatic and not interval.diatonic:
        return written, written
    spelled = transpose_spelled(*written[1:], interval.diatonic, interval.chromatic)
    return written, SpelledPitch(midi_number(*spelled), *spelled)


def _pitch(step: int, alteration: int, octave: int) -> SpelledPitch:
    if octave not in _OCTAVES:
        raise ValueError(f"a note in octave {octave}")
    return SpelledPitch(midi_number(step, alteration, octave), step, alteration, octave)


def _place(note: etree._Element) -> SpelledPitch:
    """Return where an unpitched note is printed."""
    if note.get("loc") is not None:
        octave, step = divmod(_BOTTOM_LINE + whole_number(note.get("loc")), 7)
    elif note.get("pname") is not None and note.get("oct") is not None:
        octave, step = whole_number(note.get("oct")), step_of(note.get("pname"))
    else:
        return UNKNOWN_PITCH
    if octave not in _OCTAVES:
        raise ValueError(f"a note at place {note.get('loc')}")
    return SpelledPitch(-1, step, 0, octave)


def _accidentals(note: etree._Element) -> tuple[int | None, int | None]:
    """Return the alterations that a note's written and gestural accidentals are, in semitones."""
    shown, played = note.get("accid"), note.get("accid.ges")
    for child in content_of(note):
        if local_name(child) == "accid":
            shown = child.get("accid", shown)
            played = child.get("accid.ges", played)
    return _alteration(shown), _alteration(played)


def _alteration(name: str | None) -> int | None:
    if name is None:
        return None
    if name not in ALTERATIONS:
        raise ValueError(f"an accidental {name!r}")
    return ALTERATIONS[name]
