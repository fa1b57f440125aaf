"""Scores in other formats: the same notes as music21 reads from the same files."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from music21 import converter, corpus, midi

from stavelight.errors import ScoreFileError
from stavelight.score.reading import read_score


def _ours(score) -> Counter:
    quarter = score.ticks_per_quarter
    return Counter(
        (round(int(row["onset_ticks"]) / quarter, 3), int(row["sounding_midi"]))
        for row in score.notes.rows
        if not row["grace"]
    )


def _theirs(stream) -> Counter:
    return Counter(
        (round(float(note.getOffsetInHierarchy(stream)), 3), pitch.midi)
        for note in stream.recurse().notes
        if not note.duration.isGrace
        for pitch in note.pitches
    )


@pytest.mark.parametrize("work", ["palestrina/Agnus_II_47.krn", "palestrina/Benedictus_86.krn"])
def test_kern(work):
    path = Path(corpus.getWork(work))
    score = read_score(path)
    assert _ours(score) == _theirs(converter.parse(path, forceSource=True).toSoundingPitch())
    assert any("**kern" in warning for warning in score.warnings)


def test_abc(tmp_path):
    # The scale of G major in eighths, as the ABC standard 2.1 (2011), section 4 writes pitches:
    # G is G4, lower case an octave higher.
    path = tmp_path / "scale.abc"
    path.write_text("X:1\nT:Scale\nM:4/4\nL:1/8\nK:G\nGABc defg|\n")
    score = read_score(path)
    pitches = [int(midi_number) for midi_number in score.notes.rows["sounding_midi"]]
    assert pitches == [67, 69, 71, 72, 74, 76, 78, 79]
    assert score.title == "Scale"


def test_midi_is_read_with_a_warning_of_what_is_guessed(tmp_path):
    stream = corpus.parse("bach/bwv66.6")
    path = tmp_path / "chorale.mid"
    writer = midi.translate.streamToMidiFile(stream)
    writer.open(path, "wb")
    writer.write()
    writer.close()
    score = read_score(path)
    assert len(score.parts) == 4
    pitches = Counter(int(number) for number in score.notes.rows["sounding_midi"])
    assert set(pitches) == {pitch.midi for pitch in stream.pitches}
    assert any("rounded" in warning for warning in score.warnings)


@pytest.mark.parametrize("name", ["nonsense.krn", "nonsense.mid", "nonsense.abc"])
def test_what_is_not_what_it_says(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"\x00\x01 this is nothing")
    with pytest.raises(ScoreFileError, match="cannot be read as"):
        read_score(path)


def test_the_file_is_not_touched(tmp_path):
    path = tmp_path / "scale.abc"
    path.write_text("X:1\nM:4/4\nL:1/4\nK:C\nCDEF|\n")
    before = path.read_bytes()
    read_score(path)
    assert path.read_bytes() == before
