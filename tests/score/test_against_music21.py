"""The note table against music21 (10.x): its corpus of scores, read by its own reader.

Compared are, staff by staff: bar, offset, duration, spelled sounding pitch (toSoundingPitch) and
whether a note is a grace note. Known faults of music21's reader, each in a test of its own below:

- a chord whose notes lie on two staves is kept whole on one of them;
- a chord gets the duration of its first note, also where the file says that others are shorter.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from music21 import corpus

from score.music21_reading import Sound, music21_sounds, our_sounds
from score.small_musicxml import attributes, bar, document, note
from stavelight.score.note_table import NoteFlag
from stavelight.score.reading import read_score
from stavelight.score.structure import Score

# What each score is here for.
WORKS = {
    "weber/concertino_clarinet": "clarinet in B flat and piano, tuplets, grace notes, three meters",
    "beach/prayer_of_a_tired_child": "choir and piano, four voices",
    "beethoven/opus18no1/movement1": "string quartet, grace notes, repeat",
    "mozart/k458/movement1": "string quartet, pickup bar 0, repeats, ending, grace notes",
    "mozart/k545/movement1_exposition": "piano, two staves",
    "haydn/opus74no1/movement1": "string quartet, grace notes, double stops",
    "joplin/maple_leaf_rag": "piano, pickup bar 0, first and second endings",
    "schumann_clara/polonaise_op1n1": "piano, several voices on a staff, tuplets",
    "schumann_clara/polonaise_op1n3": "piano, grace notes, tuplets, several voices, repeats",
    "schumann_robert/opus48no2": "voice and piano, pickup bar 1",
    "schumann_clara/opus17/movement3": "piano trio, voices that cross from staff to staff",
    "schoenberg/opus19/movement2": "piano, rhythms between the beats",
    "webern/webern_dormi_jesu_op_16_no_2": "voice and clarinet, tuplets",
    "demos/nested_tuplet_finale_test2": "tuplets within tuplets",
    "demos/voices_with_chords": "chords in two voices",
    "demos/drum_sample": "unpitched percussion in two voices",
    "handel/rinaldo/Lascia_chio_pianga": "voice and piano, a change of meter",
    "johnson_j_r/lift_every_voice": "choir in compound meter, pickup",
}


def corpus_path(work: str) -> Path:
    return Path(corpus.getWork(work, fileExtensions=(".mxl", ".xml", ".musicxml")))


@pytest.mark.parametrize("work", WORKS)
def test_same_notes(work):
    path = corpus_path(work)
    score = read_score(path)
    ours, theirs = our_sounds(score), music21_sounds(path)
    assert len(ours) == len(theirs)
    assert sum(theirs[0].values()) > 0
    for staff, (our_staff, their_staff) in enumerate(zip(ours, theirs, strict=True)):
        assert our_staff - their_staff == Counter(), score.staff_name(staff)
        assert their_staff - our_staff == Counter(), score.staff_name(staff)


def test_the_works_are_of_many_kinds():
    scores = [read_score(corpus_path(work)) for work in WORKS]
    notes = [score.notes.rows for score in scores]
    assert any(part.transposition.chromatic for score in scores for part in score.parts)
    assert any(score.bars[0].length_ticks < score.bars[0].nominal_ticks for score in scores)
    assert any(bar.ends_repeat for score in scores for bar in score.bars)
    assert any(bar.endings for score in scores for bar in score.bars)
    assert any(score.ticks_per_quarter % 3 == 0 for score in scores)
    assert any((rows["grace"] > 0).any() for rows in notes)
    assert any((rows["flags"] & NoteFlag.UNPITCHED).any() for rows in notes)
    assert any(part.staff_count == 2 for score in scores for part in score.parts)
    assert any(len(score.notes.voices) > 2 for score in scores)
    assert any(crosses_staves(score) for score in scores)


def crosses_staves(score: Score) -> bool:
    """Return whether some voice stands on two staves within a bar."""
    rows = score.notes.rows[["bar", "part", "voice", "staff"]].tolist()
    places = {row[:3] for row in rows}
    return len(set(rows)) > len(places)


def test_a_chord_over_two_staves():
    """`liliuokalani/aloha_oe`, bar 17 of the piano: B3 stands on the lower, D4 on the upper staff.

    music21 puts both on the lower one; taken together, the staves agree.
    """
    path = corpus_path("liliuokalani/aloha_oe")
    score = read_score(path)
    ours, theirs = our_sounds(score), music21_sounds(path)
    lower = Sound(16, 0, 1, "B3", is_grace=False)
    upper = lower._replace(pitch="D4")
    assert (ours[6][lower], ours[5][upper]) == (1, 1)
    assert (theirs[6][lower], theirs[6][upper]) == (1, 1)
    assert ours[:5] == theirs[:5]
    assert ours[5] + ours[6] == theirs[5] + theirs[6]


def test_a_chord_of_unequal_notes(tmp_path):
    """MusicXML 4.0, "chord": a note of a chord may be shorter than its first one, not longer."""
    path = tmp_path / "stop.musicxml"
    chord = "<chord/>"
    path.write_bytes(
        document([bar(attributes(), note("G3", 3), note("D4", 1, inside=chord), note("B4", 1))])
    )
    assert our_sounds(read_score(path)) == [
        Counter(
            [
                Sound(0, 0, 3, "G3", is_grace=False),
                Sound(0, 0, 1, "D4", is_grace=False),
                Sound(0, 3, 1, "B4", is_grace=False),
            ]
        )
    ]
    assert music21_sounds(path)[0][Sound(0, 0, 3, "D4", is_grace=False)] == 1
    path.write_bytes(document([bar(attributes(), note("G3", 1), note("D4", 3, inside=chord))]))
    assert our_sounds(read_score(path))[0][Sound(0, 0, 1, "D4", is_grace=False)] == 1
