"""What the MEI reader makes of bars, time, notes and definitions.

Element and attribute names and their meaning: Music Encoding Initiative, Guidelines 5.1 (2024).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from score.small_mei import bar, document, layer, measure, note, pitches, read, staff
from score.small_musicxml import column, quarters
from stavelight.errors import ScoreFileError
from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag
from stavelight.score.reading import read_score

COMMON = 'meter.count="4" meter.unit="4"'
FULL = note("c4", 1)
BOTH = TIE_TO_NEXT | TIE_FROM_BEFORE


def lengths(score) -> list[Fraction]:
    return [4 * score.bar_length(bar.index) for bar in score.bars]


# Bars


def test_pickup_repeats_endings_and_marks(tmp_path):
    first = bar(FULL, tag='right="rptend"')
    second = bar(FULL, tag='n="2b" right="rptboth"')
    music = (
        bar(note("g4"), tag='n="0" metcon="false"')
        + bar(FULL, after="<reh> A </reh>", tag='n="1" left="rptstart"')
        + f'<ending n="1">{first}</ending><ending n="2.">{second}</ending>'
        + bar(FULL)
        + bar(FULL, tag='left="rptboth"')
    )
    score = read(tmp_path, music, definition=COMMON)
    assert lengths(score) == [1, 4, 4, 4, 4, 4]
    assert [bar.printed_number for bar in score.bars] == ["0", "1", "3", "2b", "5", "6"]
    assert [bar.endings for bar in score.bars] == [(), (), (1,), (2,), (), ()]
    assert [bar.starts_repeat for bar in score.bars] == [False, True, False, False, True, True]
    assert [bar.ends_repeat for bar in score.bars] == [False, False, True, True, True, False]
    assert [bar.rehearsal_mark for bar in score.bars] == ["", "A", "", "", "", ""]


def test_time_signatures_and_their_changes(tmp_path):
    """3/4 by attributes, 3+2/8 by an element, common and cut time by sign, two at once."""
    rest = "<mRest/>"
    mixed = (
        '<meterSigGrp func="mixed"><meterSig count="3" unit="8"/>'
        '<meterSig count="2" unit="4"/></meterSigGrp>'
    )
    music = (
        bar(note("c4", 2, dots="1"))
        + f'<scoreDef><meterSig count="3 + 2" unit="8"/></scoreDef>{bar(rest)}'
        + f'<scoreDef meter.sym="common"/>{bar(rest)}'
        + f'<staffDef n="1"><meterSig sym="cut"/></staffDef>{bar(rest)}'
        + f"<scoreDef>{mixed}</scoreDef>{bar(rest)}"
    )
    score = read(tmp_path, music, definition='meter.count="3" meter.unit="4"')
    signs = [(bar.beats, bar.beat_type) for bar in score.bars]
    assert signs == [("3", 4), ("3+2", 8), ("4", 4), ("2", 2), ("3+4", 8)]
    assert lengths(score) == [3, Fraction(5, 2), 4, 4, Fraction(7, 2)]


def test_rests_of_whole_bars(tmp_path):
    music = bar(FULL) + bar('<multiRest num="3"/>') + bar("<mSpace/>") + bar("<mRpt/>")
    assert lengths(read(tmp_path, music, definition=COMMON)) == [4, 12, 4, 4]


def test_sections_and_movements_follow_one_another(tmp_path):
    score = "<score><scoreDef {}>{}</scoreDef><section><section>{}</section></section></score>"
    staves = '<staffGrp><staffDef n="1" lines="5"/></staffGrp>'
    body = "".join(
        f"<mdiv>{score.format(COMMON, staves, music)}</mdiv>" for music in (bar(FULL), bar(FULL))
    )
    score = read(tmp_path, body=body)
    assert len(score.bars) == 2
    assert "2 movements" in score.warnings[0]


# Time within the bar


@pytest.mark.parametrize(
    ("dur", "dots", "expected"),
    [
        ("long", 0, 16),
        ("breve", 0, 8),
        ("1", 0, 4),
        ("2", 1, 3),
        ("4", 2, Fraction(7, 4)),
        ("16", 0, Fraction(1, 4)),
        ("256", 0, Fraction(1, 64)),
    ],
)
def test_durations(tmp_path, dur, dots, expected):
    by_attribute = note("c4", dur, **({"dots": str(dots)} if dots else {}))
    by_element = note("c4", dur, "<dot/>" * dots)
    for event in (by_attribute, by_element):
        score = read(tmp_path, bar(event))
        assert Fraction(column(score, "duration_ticks")[0], score.ticks_per_quarter) == expected


def test_default_and_gestural_durations(tmp_path):
    staves = '<staffGrp><staffDef n="1" lines="5" dur.default="8" oct.default="5"/></staffGrp>'
    event = '<note pname="c"/>' + note("c4", 4, dur_ges="2") + note("c4", 4, dur_ges="48p")
    score = read(tmp_path, bar(event), staves=staves)
    assert quarters(score, "duration_ticks") == [0.5, 2, 1]
    assert column(score, "written_octave") == [5, 4, 4]


def test_layers_spaces_and_rests(tmp_path):
    upper = layer(note("c5", 2), '<rest dur="2"/>')
    lower = layer('<space dur="4"/>', note("e4", 4), n=2)
    score = read(tmp_path, measure(staff(upper, lower)))
    assert quarters(score, "onset_ticks") == [0, 1]
    assert [score.notes.voices[voice] for voice in column(score, "voice")] == ["1", "2"]


def test_tuplets_nested_and_named_beside_the_staff(tmp_path):
    triplet = (
        f'<tuplet num="3" numbase="2">{note("c4", 8) * 2}<beam>{note("c4", 8)}</beam></tuplet>'
    )
    inner = f'<tuplet num="5" numbase="4">{note("c4", 32) * 5}</tuplet>'
    nested = f'<tuplet num="3" numbase="2">{note("d4", 8)}{inner}{note("d4", 8)}</tuplet>'
    score = read(tmp_path, bar(triplet, nested))
    durations = [Fraction(t, score.ticks_per_quarter) for t in column(score, "duration_ticks")]
    third, fifteenth = Fraction(1, 3), Fraction(1, 15)
    assert durations == [third] * 4 + [fifteenth] * 5 + [third]
    assert lengths(score) == [2]

    events = [note("c4", 8, id=f"x{number}") for number in range(3)] + [note("d4", 8)]
    span = '<tupletSpan startid="#x0" endid="#x2" num="3" numbase="2"/>'
    score = read(tmp_path, bar(*events, after=span))
    assert lengths(score) == [Fraction(3, 2)]


@pytest.mark.parametrize(("num", "usual"), [(2, 3), (3, 2), (4, 3), (5, 4), (7, 4), (9, 8)])
def test_tuplets_that_do_not_say_in_whose_time(tmp_path, num, usual):
    """Common practice, no source: duplets and quadruplets in the time of three."""
    music = bar(f'<tuplet num="{num}">{note("c4", 8) * num}</tuplet>')
    assert lengths(read(tmp_path, music)) == [Fraction(usual, 2)]


def test_tremolos(tmp_path):
    """A bowed tremolo lasts as written; two notes in alternation share what each is written as."""
    music = bar(
        f"<bTrem>{note('c4', 2)}</bTrem>",
        f"<fTrem>{note('d4', 2)}{note('f4', 2)}</fTrem>",
        note("g4", 4, stem_mod="3slash"),
    )
    score = read(tmp_path, music)
    assert quarters(score, "onset_ticks") == [0, 2, 3, 4]
    assert quarters(score, "duration_ticks") == [2, 1, 1, 1]
    assert all(flag & NoteFlag.TREMOLO for flag in column(score, "flags"))


def test_grace_notes(tmp_path):
    music = bar(
        f'<graceGrp grace="unacc">{note("d5", 8)}{note("e5", 8)}</graceGrp>',
        note("c5", 8, grace="acc"),
        note("f5", 4),
        f'<chord dur="8" grace="unacc">{note("a4", 0)}{note("c5", 0)}</chord>',
    )
    score = read(tmp_path, music)
    assert column(score, "grace") == [2, 2, 1, 0, 2, 2]
    assert quarters(score, "onset_ticks") == [0, 0, 0, 0, 1, 1]
    assert quarters(score, "duration_ticks") == [0, 0, 0, 1, 0, 0]


def test_repeated_beats_and_half_bars_take_time(tmp_path):
    music = bar(note("c4", 4), "<beatRpt/>", "<halfmRpt/>", note("d4", 4))
    assert quarters(read(tmp_path, music, definition=COMMON), "onset_ticks") == [0, 4]


# Notes


def test_chords_take_length_ties_and_marks_for_all_their_notes(tmp_path):
    inner = note("c4", 0) + note("e4", 0) + note("g4", 0, artic="ten")
    chord = f'<chord dur="1" tie="i" artic="acc" dots="1">{inner}</chord>'
    score = read(tmp_path, bar(chord))
    assert quarters(score, "duration_ticks") == [6, 6, 6]
    assert column(score, "tie") == [TIE_TO_NEXT] * 3
    accent, chorded = NoteFlag.ACCENT, NoteFlag.CHORD
    assert column(score, "flags") == [accent, accent | chorded, accent | chorded | NoteFlag.TENUTO]


def test_chords_whose_notes_have_the_duration(tmp_path):
    score = read(tmp_path, bar(f"<chord>{note('c4', 2)}{note('e4', 2)}</chord>", note("d4")))
    assert quarters(score, "onset_ticks") == [0, 0, 2]


def test_ties_by_attribute_and_by_element(tmp_path):
    music = bar(note("c4", 2, tie="i"), note("c4", 2, tie="m")) + bar(
        note("c4", 2, tie="t", id="a"),
        note("c4", 2, id="b"),
        after='<tie startid="#a" endid="#b"/><tie tstamp="1" staff="1"/>',
    )
    score = read(tmp_path, music)
    assert column(score, "tie") == [TIE_TO_NEXT, BOTH, BOTH, TIE_FROM_BEFORE]


@pytest.mark.parametrize(
    ("attributes", "flag"),
    [
        ({"artic": "stacc"}, NoteFlag.STACCATO),
        ({"artic": "marc"}, NoteFlag.STRONG_ACCENT),
        ({"inside": '<artic artic="upbow"/>'}, NoteFlag.UP_BOW),
        ({"inside": '<artic artic="snap"/>'}, NoteFlag.SNAP_PIZZICATO),
        ({"fermata": "above"}, NoteFlag.FERMATA),
        ({"slur": "i1"}, NoteFlag.SLUR_START),
        ({"slur": "t1"}, NoteFlag.SLUR_STOP),
        ({"cue": "true"}, NoteFlag.CUE),
        ({"visible": "false"}, NoteFlag.HIDDEN),
        ({"stem_mod": "z"}, NoteFlag.TREMOLO),
        ({"stem_mod": "sprech"}, NoteFlag(0)),
    ],
)
def test_marks_at_the_note(tmp_path, attributes, flag):
    assert column(read(tmp_path, bar(note("c4", 4, **attributes))), "flags") == [flag]


def test_marks_beside_the_staves(tmp_path):
    """By id, by a list of ids, and by staff and beat; a slur and a slide from bar to bar."""
    music = bar(
        note("c4", id="a"),
        note("d4", id="b"),
        f'<chord xml:id="c" dur="2">{note("e4", 0)}{note("g4", 0)}</chord>',
        after='<trill startid="#a"/><arpeg plist="#c"/><fermata tstamp="2" staff="1"/>'
        '<slur startid="#a" tstamp2="1m+1" staff="1"/><gliss startid="#b" endid="#z"/>',
    ) + bar(note("c5", id="z"), after='<turn tstamp="3" staff="1"/>')
    score = read(tmp_path, music, definition=COMMON)
    arpeggio, slide = NoteFlag.ARPEGGIO, NoteFlag.GLISSANDO
    assert column(score, "flags") == [
        NoteFlag.TRILL | NoteFlag.SLUR_START,
        NoteFlag.FERMATA | slide,
        arpeggio,
        arpeggio | NoteFlag.CHORD,
        NoteFlag.SLUR_STOP | slide,
    ]


# What editors leave to choose


def test_one_reading_is_followed(tmp_path):
    """The lemma, else the first reading; the corrected and regularised; additions."""
    music = bar(
        f"<app><rdg>{note('c4')}</rdg><lem>{note('d4')}</lem></app>",
        f"<app><rdg>{note('e4')}</rdg><rdg>{note('c4')}</rdg></app>",
        f"<choice><sic>{note('c4')}</sic><corr>{note('f4')}</corr></choice>",
        f"<choice><orig>{note('c4')}</orig><reg>{note('g4')}</reg></choice>",
        f"<subst><del>{note('c4')}</del><add>{note('a4')}</add></subst>",
        f"<supplied>{note('b4')}</supplied><del>{note('c4')}</del>",
    ) + (f"<app><rdg>{bar(note('c5'))}</rdg><rdg>{bar(note('c6'))}{bar(note('c6'))}</rdg></app>")
    score = read(tmp_path, music)
    assert pitches(score) == ["D4", "E4", "F4", "G4", "A4", "B4", "C5"]
    assert len(score.bars) == 2


def test_an_ossia_is_passed_over(tmp_path):
    ossia = f"<ossia>{staff(layer(note('g5', 1)))}</ossia>"
    assert pitches(read(tmp_path, measure(ossia, staff(layer(FULL))))) == ["C4"]


# Faults


@pytest.mark.parametrize(
    "event",
    [
        note("h4"),
        note("c44"),
        note("c4", "5"),
        note("c4", dots="99"),
        note("c4", accid="wrong"),
        '<note pname="c" dur="4"/>',
        '<note loc="999" dur="4"/>',
        f'<tuplet num="0">{note("c4")}</tuplet>',
        '<multiRest num="99999"/>',
        '<keySig sig="99s"/>',
    ],
)
def test_the_error_names_file_and_bar(tmp_path, event):
    with pytest.raises(ScoreFileError) as caught:
        read(tmp_path, bar(FULL), bar(event, tag='n="12"'))
    assert caught.value.where == "score.mei, at bar 12"


def test_a_definition_that_makes_no_sense(tmp_path):
    change = '<scoreDef meter.count="three" meter.unit="4"/>'
    with pytest.raises(ScoreFileError) as caught:
        read(tmp_path, bar(FULL), change, bar(FULL))
    assert caught.value.where == "score.mei, after bar 1"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (document(), "no notes"),
        (document(bar("<mRest/>")), "no notes"),
        (document(body="<mdiv><parts><part><note/></part></parts></mdiv>"), "no score"),
        (document(body=f"<mdiv><score><section>{note('c4')}</section></score></mdiv>"), "no score"),
        (document(f"<staff>{note('c4')}</staff>"), "no bars"),
        (document(bar("<mRest/>"), f"<ossia>{note('c4')}</ossia>"), "no notes"),
    ],
)
def test_scores_without_music(tmp_path, data, what):
    path = tmp_path / "score.mei"
    path.write_bytes(data)
    with pytest.raises(ScoreFileError) as caught:
        read_score(path)
    assert what in caught.value.what
