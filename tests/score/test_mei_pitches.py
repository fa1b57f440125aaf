"""Which pitches the MEI reader finds: accidentals said and unsaid, transpositions, octave lines.

Element and attribute names and their meaning: Music Encoding Initiative, Guidelines 5.1 (2024).
"""

from __future__ import annotations

import pytest

from score.small_mei import bar, layer, measure, note, pitches, read, staff
from score.small_musicxml import column
from stavelight.score.note_table import NoteFlag
from stavelight.score.structure import Transposition


def test_gestural_accidentals_win(tmp_path):
    music = bar(
        note("f4", accid_ges="s"),
        note("b4", accid="f"),
        note("c5", inside='<accid accid="x"/>'),
        note("e4", inside='<accid accid.ges="f"/>'),
    )
    assert pitches(read(tmp_path, music), "written") == ["F#4", "Bb4", "C##5", "Eb4"]


def test_where_altered_notes_say_so_the_others_are_unaltered(tmp_path):
    """As encoders that know the sounding pitch write it: every alteration, printed or not."""
    sharps = [note("f4", accid_ges="s"), note("c5", accid_ges="s"), note("f5", accid_ges="s")]
    score = read(tmp_path, bar(*sharps, note("c4")), definition='keysig="2s"')
    assert pitches(score) == ["F#4", "C#5", "F#5", "C4"]
    tied = note("c5", accid_ges="s", tie="i"), note("c5", tie="t")
    assert pitches(read(tmp_path, bar(*sharps, *tied)))[-1] == "C#5"


def test_accidentals_last_to_the_barline_in_their_octave_only(tmp_path):
    """Common practice since the 18th century: on the same line, to the end of the bar."""
    music = bar(note("g4", accid="s"), note("g4"), note("g5"), note("g4", accid="n")) + bar(
        note("g4")
    )
    assert pitches(read(tmp_path, music)) == ["G#4", "G#4", "G5", "G4", "G4"]


def test_accidentals_hold_for_all_voices_of_a_staff_from_their_beat_on(tmp_path):
    upper = layer(note("g4", 4), note("g4", 4, accid="f"), note("c5", 2))
    lower = layer(note("g4", 2), note("g4", 2), n=2)
    score = read(tmp_path, measure(staff(upper, lower)))
    assert pitches(score) == ["G4", "G4", "Gb4", "C5", "Gb4"]


def test_a_tie_carries_an_accidental_over_the_barline(tmp_path):
    music = bar(note("g4", 1, accid="s", tie="i")) + bar(note("g4", 2, tie="t"), note("g4", 2))
    assert pitches(read(tmp_path, music)) == ["G#4", "G#4", "G4"]
    music = bar(note("g4", 1, accid="s", id="a"), after='<tie startid="#a" endid="#b"/>') + bar(
        note("g4", 2, id="b"), note("g4", 2)
    )
    assert pitches(read(tmp_path, music)) == ["G#4", "G#4", "G4"]


@pytest.mark.parametrize(
    ("signature", "expected"),
    [
        ("0", ["C4", "D4", "E4", "F4", "G4", "A4", "B4"]),
        ("2s", ["C#4", "D4", "E4", "F#4", "G4", "A4", "B4"]),
        ("3f", ["C4", "D4", "Eb4", "F4", "G4", "Ab4", "Bb4"]),
        ("7f", ["Cb4", "Db4", "Eb4", "Fb4", "Gb4", "Ab4", "Bb4"]),
    ],
)
def test_key_signatures(tmp_path, signature, expected):
    """The circle of fifths: sharps F C G D A E B, flats in reverse (elementary theory)."""
    scale = [note(f"{name}4") for name in "cdefgab"]
    for definition in (f'keysig="{signature}"', f'key.sig="{signature}"'):
        assert pitches(read(tmp_path, bar(*scale), definition=definition)) == expected
    change = f'<staffDef n="1"><keySig sig="{signature}"/></staffDef>'
    assert pitches(read(tmp_path, change + bar(*scale))) == expected


def test_a_key_of_sharps_and_flats_together(tmp_path):
    key = '<keySig><keyAccid pname="b" accid="f"/><keyAccid pname="f" accid="s"/></keySig>'
    music = f"<scoreDef>{key}</scoreDef>" + bar(note("b4"), note("f4"), note("c4"))
    assert pitches(read(tmp_path, music)) == ["Bb4", "F#4", "C4"]


def test_a_key_signature_within_a_bar_holds_from_there(tmp_path):
    music = bar(note("f4", 2), '<keySig sig="1s"/>', note("f4", 2))
    assert pitches(read(tmp_path, music)) == ["F4", "F#4"]


def test_transposing_staves(tmp_path):
    """Clarinet in A: a minor third lower; double bass with no steps given: an octave lower."""
    staves = (
        '<staffGrp><staffDef n="1" trans.diat="-2" trans.semi="-3"/>'
        '<staffDef n="2" trans.diat="0" trans.semi="-12"/></staffGrp>'
    )
    music = (
        measure(staff(layer(note("c5"))), staff(layer(note("c3")), n=2))
        + '<staffDef n="1" trans.semi="-2"/>'
        + measure(staff(layer(note("c5"))), staff(layer(note("c3")), n=2))
    )
    score = read(tmp_path, music, staves=staves)
    assert pitches(score) == ["A4", "C2", "Bb4", "C2"]
    assert pitches(score, "written") == ["C5", "C3", "C5", "C3"]
    assert [part.transposition for part in score.parts] == [
        Transposition(-2, -3),
        Transposition(-7, -12),
    ]


def test_unpitched_notes(tmp_path):
    """By place alone, loc 0 being the bottom line; and by pitch under a percussion clef."""
    perc = '<staffGrp><staffDef n="1" clef.shape="perc"/></staffGrp>'
    music = bar('<note loc="0" dur="4"/>', '<note loc="4" dur="4"/>', note("e4"), '<note dur="4"/>')
    score = read(tmp_path, music, staves=perc)
    assert column(score, "written_midi") == [-1] * 4
    assert pitches(score, "written") == ["E4", "B4", "E4", "B4"]
    assert all(flag & NoteFlag.UNPITCHED for flag in column(score, "flags"))
    change = bar(note("c4", 2), '<clef shape="perc"/>', note("c4", 2))
    assert column(read(tmp_path, change), "sounding_midi") == [60, -1]


def test_octave_lines(tmp_path):
    """What is under 8va sounds an octave higher; a gestural octave says so by itself."""
    music = bar(
        note("c5", id="a"),
        note("d5", oct_ges="6"),
        note("e5", id="b"),
        note("f5"),
        after='<octave dis="8" dis.place="above" staff="1" startid="#a" endid="#b"/>',
    ) + bar(
        note("c3", 4),
        note("d3", 4),
        after='<octave dis="15" dis.place="below" staff="1" tstamp="1" tstamp2="0m+1.5"/>',
    )
    score = read(tmp_path, music)
    assert pitches(score) == ["C6", "D6", "E6", "F5", "C1", "D3"]
    assert pitches(score, "written") == pitches(score)


def test_the_sounding_octave_of_a_transposing_instrument_is_not_an_octave_line(tmp_path):
    staves = '<staffGrp><staffDef n="1" trans.semi="-12" trans.diat="-7"/></staffGrp>'
    score = read(tmp_path, bar(note("c3", oct_ges="2")), staves=staves)
    assert (pitches(score, "written"), pitches(score)) == (["C3"], ["C2"])


def test_a_gestural_pitch_name_is_the_sounding_pitch(tmp_path):
    staves = '<staffGrp><staffDef n="1" trans.semi="-2" trans.diat="-1"/></staffGrp>'
    event = note("c4", pname_ges="b", oct_ges="3", accid_ges="f")
    score = read(tmp_path, bar(event), staves=staves)
    assert pitches(score) == ["Bb3"]
