"""Transpositions of orchestral instruments, checked against handbooks.

The table is that of the handbooks of orchestration: W. Piston, Orchestration (1955), the chapters
on each instrument, and S. Adler, The Study of Orchestration (3rd ed. 2002), appendix on ranges
and transpositions; both from memory. Where music21 has the instrument, its own table of
transpositions (module ``instrument``) is asked as well, so that a slip of memory would show.
"""

from __future__ import annotations

import pytest
from music21 import instrument

from score.small_musicxml import attributes, bar, note, read
from stavelight.score.note_table import NoteFlag, pitch_name
from stavelight.score.structure import Transposition
from stavelight.score.transposition import transposition_of, usual_steps

# instrument; steps, semitones, octaves as MusicXML 4.0 writes them; what a written C5 sounds as
TABLE = [
    ("piccolo", 0, 0, 1, "C6"),
    ("cor anglais", -4, -7, 0, "F4"),
    ("clarinet in E flat", 2, 3, 0, "Eb5"),
    ("clarinet in B flat", -1, -2, 0, "Bb4"),
    ("clarinet in A", -2, -3, 0, "A4"),
    ("bass clarinet in B flat, treble clef", -1, -2, -1, "Bb3"),
    ("bass clarinet in B flat, bass clef", -1, -2, 0, "Bb4"),
    ("basset horn in F", -4, -7, 0, "F4"),
    ("alto flute in G", -3, -5, 0, "G4"),
    ("contrabassoon", 0, 0, -1, "C4"),
    ("horn in F", -4, -7, 0, "F4"),
    ("horn in E", -5, -8, 0, "E4"),
    ("horn in E flat", -5, -9, 0, "Eb4"),
    ("horn in D", -6, -10, 0, "D4"),
    ("horn in low C", 0, 0, -1, "C4"),
    ("horn in B flat alto", -1, -2, 0, "Bb4"),
    ("horn in B flat basso", -1, -2, -1, "Bb3"),
    ("trumpet in B flat", -1, -2, 0, "Bb4"),
    ("trumpet in C", 0, 0, 0, "C5"),
    ("trumpet in D", 1, 2, 0, "D5"),
    ("trumpet in E flat", 2, 3, 0, "Eb5"),
    ("trumpet in F", 3, 5, 0, "F5"),
    ("double bass", 0, 0, -1, "C4"),
    ("celesta", 0, 0, 1, "C6"),
    ("glockenspiel", 0, 0, 2, "C7"),
    ("xylophone", 0, 0, 1, "C6"),
]
# music21 knows no transposition of contrabassoon, celesta, glockenspiel and xylophone, and takes
# "E-flat" for B flat.
MUSIC21_NAMES = {
    "piccolo": "Piccolo",
    "cor anglais": "English Horn",
    "clarinet in B flat": "Clarinet",
    "clarinet in A": "Clarinet in A",
    "bass clarinet in B flat, treble clef": "Bass Clarinet",
    "horn in F": "Horn",
    "horn in E": "Horn in E",
    "horn in D": "Horn in D",
    "horn in low C": "Horn in C",
    "trumpet in B flat": "Trumpet in B-flat",
    "trumpet in C": "Trumpet in C",
    "trumpet in D": "Trumpet in D",
    "trumpet in F": "Trumpet in F",
    "double bass": "Contrabass",
}


def transpose(steps: int | None, semitones: int, octaves: int = 0, tag: str = "") -> str:
    inside = "" if steps is None else f"<diatonic>{steps}</diatonic>"
    inside += f"<chromatic>{semitones}</chromatic>"
    inside += f"<octave-change>{octaves}</octave-change>" if octaves else ""
    return f"<transpose {tag}>{inside}</transpose>"


def sounding(score) -> list[str]:
    return [
        pitch_name(*(int(row[f"sounding_{name}"]) for name in ("step", "alter", "octave")))
        for row in score.notes.rows
    ]


def sounding_midi(score) -> list[int]:
    return [int(number) for number in score.notes.rows["sounding_midi"]]


@pytest.mark.parametrize(("name", "steps", "semitones", "octaves", "sounds"), TABLE)
def test_written_c_sounds_as_the_handbooks_say(tmp_path, name, steps, semitones, octaves, sounds):
    music = [bar(attributes(transpose(steps, semitones, octaves)), note("C5", 4))]
    score = read(tmp_path, music)
    assert sounding(score) == [sounds]
    assert score.parts[0].transposition == Transposition(
        steps + 7 * octaves, semitones + 12 * octaves
    )
    assert sounding_midi(score) == [72 + semitones + 12 * octaves]


@pytest.mark.parametrize(("name", "steps", "semitones", "octaves", "sounds"), TABLE)
def test_missing_steps_are_the_usual_ones(tmp_path, name, steps, semitones, octaves, sounds):
    music = [bar(attributes(transpose(None, semitones, octaves)), note("C5", 4))]
    assert sounding(read(tmp_path, music)) == [sounds]


@pytest.mark.parametrize("name", MUSIC21_NAMES)
def test_the_table_agrees_with_music21(name):
    interval = instrument.fromString(MUSIC21_NAMES[name]).transposition
    steps, semitones, octaves = next(row[1:4] for row in TABLE if row[0] == name)
    assert interval.semitones == semitones + 12 * octaves
    assert interval.generic.staffDistance == steps + 7 * octaves


def test_spelling_is_kept_in_remote_keys(tmp_path):
    """Clarinet in B flat: every interval is a major second down, whatever the accidental."""
    pitches = ["E4", "F#4", "B4", "C#5", "Cb5", "Fb4"]
    music = [bar(attributes(transpose(-1, -2)), *(note(pitch) for pitch in pitches))]
    assert sounding(read(tmp_path, music)) == ["D4", "E4", "A4", "B4", "Bbb4", "Ebb4"]


@pytest.mark.parametrize("semitones", range(-26, 27))
def test_usual_steps_spell_a_written_c_with_one_accidental_at_most(semitones):
    # Enharmonic interval sizes: common theory, no source.
    interval = transposition_of(usual_steps(semitones), semitones)
    octaves, step = divmod(interval.diatonic, 7)
    assert abs(semitones - 12 * octaves - (0, 2, 4, 5, 7, 9, 11)[step]) <= 1


@pytest.mark.parametrize(
    ("steps", "semitones", "expected"),
    [
        (0, -12, Transposition(-7, -12)),  # an octave given in semitones alone
        (0, -2, Transposition(-1, -2)),  # no steps counted at all
        (-8, -2, Transposition(-1, -2)),  # an octave counted in the steps alone
        (-1, -14, Transposition(-8, -14)),  # ... in the semitones alone
        (1, 1, Transposition(1, 1)),  # up to D flat
        (0, 1, Transposition(0, 1)),  # up to C sharp: as the file says
        (-2, -4, Transposition(-2, -4)),  # down to A flat
    ],
)
def test_impossible_numbers_of_steps_are_mended(steps, semitones, expected):
    assert transposition_of(steps, semitones) == expected


def test_changes_in_the_course_of_the_piece(tmp_path):
    """A clarinettist takes the A clarinet, and changes back in the middle of a bar."""
    music = [
        bar(attributes(transpose(-1, -2)), note("C5", 4), number=1),
        bar(f"<attributes>{transpose(-2, -3)}</attributes>", note("C5", 4), number=2),
        bar(
            note("C5", 2),
            f"<attributes>{transpose(-1, -2)}</attributes>",
            note("C5", 2),
            "<backup><duration>4</duration></backup>",
            note("E5", 2, after="<voice>2</voice>"),
            note("E5", 2, after="<voice>2</voice>"),
            number=3,
        ),
    ]
    score = read(tmp_path, music)
    assert sounding(score) == ["Bb4", "A4", "A4", "C#5", "Bb4", "D5"]
    assert score.parts[0].transposition == Transposition(-1, -2)


def test_each_staff_may_transpose_by_itself(tmp_path):
    """MusicXML 4.0, "transpose": with a number it holds for one staff, without for all."""
    staves = "<staves>2</staves>"
    music = [
        bar(
            attributes(staves + transpose(-1, -2, tag='number="2"')),
            note("C5", 4, after="<staff>1</staff>"),
            "<backup><duration>4</duration></backup>",
            note("C5", 4, after="<staff>2</staff>"),
        ),
        bar(
            f"<attributes>{transpose(-4, -7)}</attributes>",
            note("C5", 4, after="<staff>1</staff>"),
            "<backup><duration>4</duration></backup>",
            note("C5", 4, after="<staff>2</staff>"),
        ),
    ]
    assert sounding(read(tmp_path, music)) == ["C5", "Bb4", "F4", "F4"]


def test_doubled_at_the_octave(tmp_path):
    """MusicXML 4.0, "double": as for cellos and basses on one staff; above="yes" turns it round."""
    below = transpose(0, 0).replace("</transpose>", "<double/></transpose>")
    above = transpose(0, 0).replace("</transpose>", '<double above="yes"/></transpose>')
    music = [
        bar(attributes(below), note("C3", 4)),
        bar(f"<attributes>{above}</attributes>", note("C3", 4)),
    ]
    score = read(tmp_path, music)
    assert sounding(score) == ["C3", "C3"]
    flags = [int(flag) for flag in score.notes.rows["flags"]]
    assert flags == [NoteFlag.OCTAVE_BELOW, NoteFlag.OCTAVE_ABOVE]
