"""The note table: every note of the score, in one array.

A row is a note as it is written: a notehead, not a sound, so that a tied note has as many rows as
noteheads, told apart by `tie`. Rests have no row. Rows are sorted by onset, then by staff, then
by voice, then grace notes before others and in their own order, then by written pitch from below.

The written pitch is the one that the player reads, with octave clefs and octave lines (8va)
applied: so it differs from the sounding pitch by the part's transposition and by nothing else.

Columns (`COLUMNS`):

====================  =======================================================================
``onset_ticks``       int64, from the beginning of the score, in ``Score.ticks_per_quarter``
``duration_ticks``    int64; 0 for a grace note
``bar``               int32, index of its bar
``offset_ticks``      int64, from the beginning of its bar
``part``              int16, index of its part
``staff``             int16, index of the staff it is printed on (cross-staff notes: that staff)
``voice``             int16, index into `NoteTable.voices`
``written_midi``      int16, MIDI number of the written pitch (C4 = 60); -1 if unpitched
``written_step``      int8, 0 = C to 6 = B; unpitched notes have the place that they are printed
                      at in all their step, alter and octave columns
``written_alter``     int8, semitones: -1 = flat (quarter tones are rounded towards zero)
``written_octave``    int8, the octave from C4 = middle C
``sounding_midi``     int16, likewise for the sounding pitch
``sounding_step``     int8
``sounding_alter``    int8
``sounding_octave``   int8
``tie``               uint8, bits: 1 = tied to the next note, 2 = tied from the one before
``grace``             uint8, 0 = no, 1 = without a slash, 2 = with a slash
``flags``             uint32, bits of `NoteFlag`
====================  =======================================================================
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

COLUMNS = np.dtype(
    [
        ("onset_ticks", np.int64),
        ("duration_ticks", np.int64),
        ("bar", np.int32),
        ("offset_ticks", np.int64),
        ("part", np.int16),
        ("staff", np.int16),
        ("voice", np.int16),
        ("written_midi", np.int16),
        ("written_step", np.int8),
        ("written_alter", np.int8),
        ("written_octave", np.int8),
        ("sounding_midi", np.int16),
        ("sounding_step", np.int8),
        ("sounding_alter", np.int8),
        ("sounding_octave", np.int8),
        ("tie", np.uint8),
        ("grace", np.uint8),
        ("flags", np.uint32),
    ]
)

TIE_TO_NEXT = 1
TIE_FROM_BEFORE = 2

STEP_NAMES = "CDEFGAB"
_ALTER_SIGNS = {-3: "bbb", -2: "bb", -1: "b", 0: "", 1: "#", 2: "##", 3: "###"}


class NoteFlag(enum.IntFlag):
    """What is written at a note, one bit each."""

    CHORD = enum.auto()  # not the first-written note of its chord
    CUE = enum.auto()
    UNPITCHED = enum.auto()
    HIDDEN = enum.auto()
    ACCENT = enum.auto()
    STRONG_ACCENT = enum.auto()
    STACCATO = enum.auto()
    STACCATISSIMO = enum.auto()
    TENUTO = enum.auto()
    FERMATA = enum.auto()
    TRILL = enum.auto()
    TURN = enum.auto()
    MORDENT = enum.auto()
    TREMOLO = enum.auto()
    ARPEGGIO = enum.auto()
    GLISSANDO = enum.auto()
    HARMONIC = enum.auto()
    OPEN_STRING = enum.auto()
    STOPPED = enum.auto()
    UP_BOW = enum.auto()
    DOWN_BOW = enum.auto()
    SNAP_PIZZICATO = enum.auto()
    SLUR_START = enum.auto()
    SLUR_STOP = enum.auto()
    SPICCATO = enum.auto()
    DOUBLE_TONGUE = enum.auto()
    TRIPLE_TONGUE = enum.auto()
    OCTAVE_BELOW = enum.auto()  # sounds an octave below as well: cellos and basses on one staff
    OCTAVE_ABOVE = enum.auto()


@dataclass(frozen=True)
class NoteTable:
    """All notes of a score.

    Attributes
    ----------
    rows
        Structured array of shape (number of notes,) and dtype `COLUMNS`.
    ids
        The id of each note on the engraved page, one for each row.
    voices
        The names of voices that the column ``voice`` points to.
    """

    rows: npt.NDArray[Any]
    ids: tuple[str, ...]
    voices: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.ids)

    @cached_property
    def row_by_id(self) -> dict[str, int]:
        """Row numbers by note id."""
        return {note_id: row for row, note_id in enumerate(self.ids)}


def midi_number(step: int, alter: int, octave: int) -> int:
    """Return the MIDI number of a spelled pitch (C4 = 60)."""
    return 12 * (octave + 1) + (0, 2, 4, 5, 7, 9, 11)[step] + alter


def pitch_name(step: int, alter: int, octave: int) -> str:
    """Return a pitch in scientific notation, such as ``Bb3`` or ``F#5`` (C4 = middle C)."""
    sign = _ALTER_SIGNS.get(alter, f"({alter:+d})")
    return f"{STEP_NAMES[step]}{sign}{octave}"


def transpose_spelled(
    step: int, alter: int, octave: int, diatonic: int, chromatic: int
) -> tuple[int, int, int]:
    """Return (step, alter, octave) moved by `diatonic` steps and `chromatic` semitones."""
    position = 7 * octave + step + diatonic
    new_octave, new_step = divmod(position, 7)
    target = midi_number(step, alter, octave) + chromatic
    return new_step, target - midi_number(new_step, 0, new_octave), new_octave
