"""The rhythm of a bar, against music21 reading the same bars (an outside reading)."""

from __future__ import annotations

import pytest
from music21 import corpus

from stavelight.engraving.rhythm import read_rhythm


def test_chords_graces_and_voices():
    rhythm = read_rhythm(
        b"<measure><attributes><clef/><key/></attributes>"
        b"<note><grace/><pitch/><voice>1</voice></note>"
        b"<note><pitch/><duration>2</duration><accidental>sharp</accidental></note>"
        b"<note><chord/><pitch/><duration>2</duration></note>"
        b"<note><rest/><duration>2</duration></note>"
        b"<backup><duration>4</duration></backup><forward><duration>1</duration></forward>"
        b"<note><pitch/><duration>3</duration><lyric><text>soft</text></lyric></note></measure>"
    )
    assert rhythm.note_onsets == [-1, 0, 0, 2, 1]
    assert rhythm.onsets == {0, 1, 2}
    assert rhythm.length == 4
    assert (rhythm.grace_count, rhythm.accidental_count, rhythm.clef_count) == (1, 1, 1)
    assert rhythm.signature_change
    assert rhythm.syllable_letters == {1: 4}
    assert not rhythm.is_rest


def test_whole_bar_rest():
    rhythm = read_rhythm(
        b'<measure><note><rest measure="yes"/><duration>8</duration></note></measure>'
    )
    assert rhythm.is_rest
    assert rhythm.length == 8
    assert rhythm.scaled(0.5).length == 4


@pytest.mark.parametrize(
    "work", ["haydn/opus74no1/movement3", "schumann_clara/polonaise_op1n1", "joplin/maple_leaf_rag"]
)
def test_onsets_are_those_that_music21_reads(work, corpus_source):
    source = corpus_source(work)
    score = corpus.parse(work)
    # music21 makes a part of each staff: compare what sounds in all of them together.
    measures = [list(part.getElementsByClass("Measure")) for part in score.parts]
    for bar in range(source.bar_count):
        theirs = {
            round(float(note.getOffsetInHierarchy(part[bar])), 4)
            for part in measures
            for note in part[bar].recurse().notes
            if not note.duration.isGrace
        }
        ours = {
            round(onset, 4)
            for part in range(source.part_count)
            for onset in source.rhythm(part, bar).onsets
        }
        assert theirs <= ours, bar
