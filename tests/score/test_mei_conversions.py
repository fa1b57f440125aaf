"""The MEI reader against files that other programs read or wrote.

verovio turns works of music21's corpus into MEI: read from there, their notes must be the same as
read from MusicXML. Works are left out where verovio itself loses something on the way: tuplets
within tuplets, and rests that stand for nothing.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
import verovio
from music21 import converter, corpus

from score.music21_reading import our_sounds
from stavelight.score.file_intake import read_source
from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT
from stavelight.score.reading import read_score

WORKS = [
    "mozart/k458/movement1",
    "joplin/maple_leaf_rag",
    "schumann_clara/polonaise_op1n3",
    "schoenberg/opus19/movement2",
    "handel/rinaldo/Lascia_chio_pianga",
    "webern/webern_dormi_jesu_op_16_no_2",
    "beach/prayer_of_a_tired_child",
    "haydn/opus74no1/movement1",
]
SHARED_SCORE = Path(__file__).resolve().parents[3] / "shared" / "scores" / "Bach_BWV.1049_1.mei"


@pytest.mark.parametrize("work", WORKS)
def test_the_same_notes_by_way_of_verovio(tmp_path, work):
    path = Path(corpus.getWork(work, fileExtensions=(".mxl", ".xml", ".musicxml")))
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "none"})
    assert toolkit.loadData(read_source(path).data.decode())
    converted = tmp_path / "converted.mei"
    converted.write_text(toolkit.getMEI({"scoreBased": True}), encoding="utf-8")
    one, other = read_score(path), read_score(converted)
    assert our_sounds(one) == our_sounds(other)
    assert [one.bar_length(bar.index) for bar in one.bars] == [
        other.bar_length(bar.index) for bar in other.bars
    ]
    for bit in (TIE_TO_NEXT, TIE_FROM_BEFORE):
        assert ties(one, bit) == ties(other, bit)
    for attribute in ("beats", "beat_type", "starts_repeat", "ends_repeat", "endings"):
        assert [getattr(bar, attribute) for bar in one.bars] == [
            getattr(bar, attribute) for bar in other.bars
        ]


def ties(score, bit: int) -> int:
    return int((score.notes.rows["tie"] & bit > 0).sum())


@pytest.mark.skipif(not SHARED_SCORE.exists(), reason="needs a score that does not ship")
def test_a_concerto_as_music21_reads_it():
    """A movement of 10,763 notes: written pitches and onsets of every staff."""
    score = read_score(SHARED_SCORE)
    theirs = [
        Counter(
            (float(note.getOffsetInHierarchy(part)), pitch.midi)
            for note in part.recurse().notes
            for pitch in note.pitches
        )
        for part in converter.parse(SHARED_SCORE, forceSource=True).parts
    ]
    ours = [Counter() for _ in score.staves]
    for row in score.notes.rows:
        onset = int(row["onset_ticks"]) / score.ticks_per_quarter
        ours[row["staff"]][onset, int(row["written_midi"])] += 1
    assert ours == theirs
    assert [part.name for part in score.parts if part.transposition.chromatic] == ["Double Bass"]
