"""The notes of a MusicXML file as music21 reads them: the outside reference of these tests."""

from __future__ import annotations

import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from music21 import converter, harmony, stream
from music21.musicxml.xmlObjects import MusicXMLWarning

from stavelight.score.note_table import NoteFlag, pitch_name
from stavelight.score.structure import Score


class Sound(NamedTuple):
    """A note: bar index, quarters after its barline, length in quarters, sounding pitch."""

    bar: int
    offset: Fraction
    length: Fraction
    pitch: str
    is_grace: bool


UNPITCHED = "unpitched"


def music21_sounds(path: Path) -> list[Counter[Sound]]:
    """Return the sounding notes of each staff."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", MusicXMLWarning)  # it warns of bars that are too long
        score = converter.parse(path, format="musicxml", forceSource=True).toSoundingPitch()
    return [
        Counter(
            sound
            for index, measure in enumerate(part.getElementsByClass(stream.Measure))
            for sound in _sounds_in(measure, index)
        )
        for part in score.parts
    ]


def _sounds_in(measure: stream.Measure, index: int) -> list[Sound]:
    sounds = []
    for element in measure.recurse().notes:
        if isinstance(element, harmony.ChordSymbol):
            continue
        is_grace = element.duration.isGrace
        offset = _exact(element.getOffsetInHierarchy(measure))
        length = Fraction(0) if is_grace else _exact(element.duration.quarterLength)
        for single in getattr(element, "notes", None) or [element]:
            pitch = single.pitch.nameWithOctave.replace("-", "b") if single.isNote else UNPITCHED
            sounds.append(Sound(index, offset, length, pitch, is_grace))
    return sounds


def _exact(quarters: float | Fraction) -> Fraction:
    return Fraction(quarters).limit_denominator(20_000)


def our_sounds(score: Score) -> list[Counter[Sound]]:
    """Return the sounding notes of each staff of a score of ours."""
    staves: list[Counter[Sound]] = [Counter() for _ in score.staves]
    for row in score.notes.rows:
        spelled = (int(row[f"sounding_{name}"]) for name in ("step", "alter", "octave"))
        staves[row["staff"]][
            Sound(
                int(row["bar"]),
                Fraction(int(row["offset_ticks"]), score.ticks_per_quarter),
                Fraction(int(row["duration_ticks"]), score.ticks_per_quarter),
                UNPITCHED if row["flags"] & NoteFlag.UNPITCHED else pitch_name(*spelled),
                bool(row["grace"]),
            )
        ] += 1
    return staves
