"""What the MusicXML reader makes of bars, repeats, ties, staves, voices and marks.

The element names and what they mean: MusicXML 4.0 (W3C Community Group report, 2021).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from score.small_musicxml import attributes, bar, column, note, quarters, read
from stavelight.errors import ScoreFileError
from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag, pitch_name

GRACE = "<grace/>"
SLASHED = '<grace slash="yes"/>'
CHORD = "<chord/>"
BACKUP = "<backup><duration>{}</duration></backup>"


def repeat(direction: str) -> str:
    return f'<barline><repeat direction="{direction}"/></barline>'


def ending(number: str, kind: str) -> str:
    return f'<barline><ending number="{number}" type="{kind}"/></barline>'


def lengths(score) -> list[Fraction]:
    """Return the lengths of the bars in quarters."""
    return [4 * score.bar_length(bar.index) for bar in score.bars]


# Bars


def test_pickup_bar_and_printed_numbers(tmp_path):
    """A pickup is bar 0 by index and by number; X1 and the like are kept as they are printed."""
    music = [
        bar(attributes(time="3/4"), note("G4"), number=0, tag='implicit="yes"'),
        bar(note("C5", 3), number=1),
        bar(note("C5", 2), number=2),
        bar(note("G4", 1), number="X1", tag='implicit="yes"'),
    ]
    score = read(tmp_path, music)
    assert lengths(score) == [1, 3, 2, 1]
    assert [bar.printed_number for bar in score.bars] == ["0", "1", "2", "X1"]
    assert [bar.id for bar in score.bars] == ["b0", "b1", "b2", "b3"]
    assert [bar.start_ticks for bar in score.bars] == [0, 1, 4, 6]
    assert {bar.nominal_ticks for bar in score.bars} == {3}
    assert quarters(score, "onset_ticks") == [0, 1, 4, 6]
    assert score.bars_printed("X1") == (3,)


def test_bars_without_numbers_are_counted_from_one(tmp_path):
    music = [bar(attributes(), note("C4", 4), number=""), bar(note("C4", 4), number="")]
    assert [bar.printed_number for bar in read(tmp_path, music).bars] == ["1", "2"]


def test_whole_bar_rests_do_not_lengthen_a_pickup(tmp_path):
    """Many files give a whole-bar rest the length of a full measure, in pickup bars too."""
    rest = '<note><rest measure="yes"/><duration>4</duration></note>'
    tune = [bar(attributes(), note("G4"), number=0, tag='implicit="yes"'), bar(note("C5", 4))]
    silence = [bar(attributes(), rest, number=0, tag='implicit="yes"'), bar(rest)]
    assert lengths(read(tmp_path, tune, silence)) == [1, 4]
    assert lengths(read(tmp_path, silence, tune)) == [1, 4]


def test_a_bar_lasts_as_long_as_its_longest_part(tmp_path):
    """An unfinished bar in one part does not shorten it; a cadenza in one part lengthens it."""
    rest = '<note><rest measure="yes"/><duration>4</duration></note>'
    short = [bar(attributes(), note("C4", 4)), bar(note("C4", 1)), bar(rest)]
    long = [bar(attributes(), note("C4", 4)), bar(rest), bar(note("C4", 10))]
    score = read(tmp_path, short, long)
    assert lengths(score) == [4, 4, 10]
    assert score.bars[2].nominal_ticks == 4


def test_a_bar_of_nothing_lasts_a_measure(tmp_path):
    score = read(tmp_path, [bar(attributes(time="3/4"), note("C4", 3)), bar(), bar(note("D4", 3))])
    assert lengths(score) == [3, 3, 3]


@pytest.mark.parametrize(
    ("time", "beats", "beat_type", "measure"),
    [
        ("<beats>3</beats><beat-type>4</beat-type>", "3", 4, 3),
        ("<beats>6</beats><beat-type>8</beat-type>", "6", 8, 3),
        ("<beats>3+2</beats><beat-type>8</beat-type>", "3+2", 8, Fraction(5, 2)),
        ("<beats> 3 + 2 </beats><beat-type>4</beat-type>", "3+2", 4, 5),
        (
            "<beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>4</beat-type>",
            "3+4",
            8,
            Fraction(7, 2),
        ),
    ],
)
def test_time_signatures(tmp_path, time, beats, beat_type, measure):
    music = [bar(attributes(f"<time>{time}</time>", time=""), note("C4", 1)), bar(note("C4", 1))]
    score = read(tmp_path, music)
    assert (score.bars[1].beats, score.bars[1].beat_type) == (beats, beat_type)
    assert Fraction(score.bars[1].nominal_ticks, score.ticks_per_quarter) == measure


def test_the_grid_holds_bars_shorter_than_a_division(tmp_path):
    """One division to a quarter, but a measure of 3/8: the grid needs eighths."""
    score = read(tmp_path, [bar(attributes(time="3/8"), number=1), bar(note("C4", 1), number=2)])
    assert lengths(score)[0] == Fraction(3, 2)


def test_without_measure(tmp_path):
    free = attributes("<time><senza-misura/></time>", time="")
    score = read(tmp_path, [bar(free, note("C4", 7)), bar(note("C4", 2))])
    assert lengths(score) == [7, 2]
    assert [bar.nominal_ticks for bar in score.bars] == [7, 2]
    assert score.bars[0].beats == ""


def test_a_time_signature_inside_a_bar_holds_from_the_next(tmp_path):
    change = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    music = [bar(attributes(), note("C4", 4), change), bar(note("C4", 3))]
    assert [bar.beats for bar in read(tmp_path, music).bars] == ["4", "3"]


def test_repeats_and_endings(tmp_path):
    """Bars 2-3 under a first ending, bar 4 under a second and third; bar 6 is not closed."""
    music = [
        bar(attributes(), repeat("forward"), note("C4", 4)),
        bar(ending("1", "start"), note("C4", 4)),
        bar(note("C4", 4), ending("1", "stop"), repeat("backward")),
        bar(ending("2, 3", "start"), note("C4", 4), ending("2, 3", "discontinue")),
        bar(note("C4", 4)),
        bar(ending("1-3", "start"), note("C4", 4)),
        bar(note("C4", 4)),
    ]
    score = read(tmp_path, music)
    assert [bar.starts_repeat for bar in score.bars] == [True] + [False] * 6
    assert [bar.ends_repeat for bar in score.bars] == [False, False, True] + [False] * 4
    assert [bar.endings for bar in score.bars] == [(), (1,), (1,), (2, 3), (), (1, 2, 3), ()]


def test_rehearsal_marks_of_any_part(tmp_path):
    mark = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>"
    upper = [bar(attributes(), mark.format(" A "), note("C4", 4)), bar(note("C4", 4))]
    lower = [bar(attributes(), mark.format("Z"), note("C4", 4)), bar(mark.format("B"))]
    assert [bar.rehearsal_mark for bar in read(tmp_path, upper, lower).bars] == ["A", "B"]


# Time within the bar


def test_one_grid_for_parts_of_different_divisions(tmp_path):
    """Triplets in one part, sixteenths in the other: 12 ticks to a quarter."""
    triplets = [bar(attributes(divisions=3), *(note("C4", 1) for _ in range(12)))]
    sixteenths = [bar(attributes(divisions=4), *(note("C4", 1) for _ in range(16)))]
    score = read(tmp_path, triplets, sixteenths)
    assert score.ticks_per_quarter == 12
    assert set(column(score, "duration_ticks")) == {3, 4}
    assert lengths(score) == [4]


def test_divisions_may_change_and_have_decimals(tmp_path):
    music = [
        bar(attributes(divisions=2), note("C4", 8)),
        bar("<attributes><divisions>0.5</divisions></attributes>", note("D4", 2)),
        bar(
            "<attributes><divisions>2</divisions></attributes>", note("E4", "7.5"), note("F4", 0.5)
        ),
    ]
    score = read(tmp_path, music)
    assert quarters(score, "duration_ticks") == [4, 4, 3.75, 0.25]
    assert score.warnings == ()


def test_durations_without_a_common_measure_are_rounded_and_warned_of(tmp_path):
    music = [bar(attributes(divisions=n), note("C4", 4 * n)) for n in (9973, 9967, 9949)]
    score = read(tmp_path, music)
    assert quarters(score, "duration_ticks") == [4, 4, 4]
    assert any("rounded" in warning for warning in score.warnings)


def test_voices_backup_and_forward(tmp_path):
    """Voice 2 enters on the third quarter of the bar."""
    music = [
        bar(
            attributes(),
            note("C5", 4, after="<voice>1</voice>"),
            BACKUP.format(4),
            "<forward><duration>2</duration></forward>",
            note("E4", 2, after="<voice>2</voice>"),
        )
    ]
    score = read(tmp_path, music)
    assert quarters(score, "onset_ticks") == [0, 2]
    assert [score.notes.voices[index] for index in column(score, "voice")] == ["1", "2"]


def test_a_step_back_beyond_the_barline_is_warned_of(tmp_path):
    music = [bar(attributes(), note("C4", 2), BACKUP.format(3), note("E4", 1), number=7)]
    score = read(tmp_path, music)
    assert quarters(score, "onset_ticks") == [0, 0]
    assert "bar 7" in score.warnings[0]


def test_chords_and_rests(tmp_path):
    """Rests take time and count for the ids, but have no rows."""
    music = [
        bar(
            attributes(),
            note("rest", 1),
            note("C4", 2),
            note("E4", 2, inside=CHORD),
            note("G4", 2, inside=CHORD),
            note("A4", 1),
        )
    ]
    score = read(tmp_path, music)
    assert quarters(score, "onset_ticks") == [1, 1, 1, 3]
    assert score.notes.ids == ("n0-0-1", "n0-0-2", "n0-0-3", "n0-0-4")
    is_chord = [bool(flag & NoteFlag.CHORD) for flag in column(score, "flags")]
    assert is_chord == [False, True, True, False]


def test_ids_of_the_file_are_not_used(tmp_path):
    music = [bar(attributes(), note("C4", 4, tag='id="mine"'), tag='id="m1"')]
    score = read(tmp_path, music)
    assert (score.notes.ids, score.bars[0].id) == (("n0-0-0",), "b0")
    assert score.notes.row_by_id == {"n0-0-0": 0}
    assert score.bar_index_by_id == {"b0": 0}


def test_grace_notes_stand_before_their_note_in_their_own_order(tmp_path):
    """B before A before the main note C, though A is lower; the last is an after-beat."""
    music = [
        bar(
            attributes(),
            note("B4", inside=GRACE),
            note("A4", inside=SLASHED),
            note("C4", 4),
            note("D4", inside=GRACE),
        ),
        bar(note("E4", 4)),
    ]
    score = read(tmp_path, music)
    assert quarters(score, "onset_ticks") == [0, 0, 0, 4, 4]
    assert quarters(score, "duration_ticks") == [0, 0, 4, 0, 4]
    assert column(score, "grace") == [1, 2, 0, 1, 0]
    assert column(score, "bar") == [0, 0, 0, 0, 1]
    assert column(score, "written_step") == [6, 5, 0, 1, 2]


# Notes


def test_pitches_and_quarter_tones(tmp_path):
    quarter_flat = "<pitch><step>B</step><alter>-1.5</alter><octave>3</octave></pitch>"
    music = [
        bar(
            attributes(),
            note("Cb4"),
            note("F##5"),
            f"<note>{quarter_flat}<duration>1</duration></note>",
            note("A0"),
        )
    ]
    score = read(tmp_path, music)
    # MIDI 1.0: middle C is 60; A0, the lowest key of the piano, is 21.
    assert column(score, "written_midi") == [59, 79, 58, 21]
    rows = score.notes.rows
    names = [
        pitch_name(*(int(row[f"written_{name}"]) for name in ("step", "alter", "octave")))
        for row in rows
    ]
    assert names == ["Cb4", "F##5", "Bb3", "A0"]


def test_unpitched_notes_have_the_place_that_they_are_printed_at(tmp_path):
    place = "<display-step>E</display-step><display-octave>4</display-octave>"
    music = [
        bar(
            attributes(),
            f"<note><unpitched>{place}</unpitched><duration>2</duration></note>",
            "<note><unpitched/><duration>2</duration></note>",
        )
    ]
    score = read(tmp_path, music)
    assert column(score, "written_midi") == column(score, "sounding_midi") == [-1, -1]
    assert column(score, "written_step") == [2, 6]
    assert column(score, "written_octave") == [4, 4]
    assert all(flag & NoteFlag.UNPITCHED for flag in column(score, "flags"))


def test_ties_by_tie_or_else_by_tied(tmp_path):
    tied = '<notations><tied type="{}"/></notations>'
    music = [
        bar(
            attributes(),
            note("C4", 1, after='<tie type="start"/>'),
            note("C4", 1, after='<tie type="stop"/><tie type="start"/>' + tied.format("start")),
            note("C4", 1, after='<tie type="stop"/>'),
            note("D4", 1, after=tied.format("start")),
        ),
        bar(
            note("D4", 1, after='<notations><tied type="stop"/><tied type="start"/></notations>'),
            note("D4", 1, after=tied.format("continue")),
            note("D4", 1, after=tied.format("stop")),
            note("E4", 1, after=tied.format("let-ring")),
        ),
    ]
    both = TIE_TO_NEXT | TIE_FROM_BEFORE
    one_bar = [TIE_TO_NEXT, both, TIE_FROM_BEFORE]
    assert column(read(tmp_path, music), "tie") == [*one_bar, TIE_TO_NEXT, both, both, 2, 0]


def test_cue_and_hidden_notes(tmp_path):
    music = [
        bar(attributes(), note("C4", 2, inside="<cue/>"), note("C4", 2, tag='print-object="no"'))
    ]
    assert column(read(tmp_path, music), "flags") == [NoteFlag.CUE, NoteFlag.HIDDEN]


@pytest.mark.parametrize(
    ("notation", "flag"),
    [
        ("<articulations><accent/></articulations>", NoteFlag.ACCENT),
        ("<articulations><strong-accent/></articulations>", NoteFlag.STRONG_ACCENT),
        ("<articulations><staccato/><tenuto/></articulations>", "STACCATO|TENUTO"),
        ("<articulations><detached-legato/></articulations>", "STACCATO|TENUTO"),
        ("<articulations><spiccato/></articulations>", NoteFlag.SPICCATO),
        ("<fermata/>", NoteFlag.FERMATA),
        ("<ornaments><trill-mark/></ornaments>", NoteFlag.TRILL),
        ("<ornaments><inverted-turn/></ornaments>", NoteFlag.TURN),
        ("<ornaments><mordent/></ornaments>", NoteFlag.MORDENT),
        ("<ornaments><tremolo>3</tremolo></ornaments>", NoteFlag.TREMOLO),
        ("<arpeggiate/>", NoteFlag.ARPEGGIO),
        ('<glissando type="start"/>', NoteFlag.GLISSANDO),
        ("<technical><harmonic/></technical>", NoteFlag.HARMONIC),
        ("<technical><open-string/></technical>", NoteFlag.OPEN_STRING),
        ("<technical><stopped/></technical>", NoteFlag.STOPPED),
        ("<technical><up-bow/><snap-pizzicato/></technical>", "UP_BOW|SNAP_PIZZICATO"),
        ("<technical><down-bow/></technical>", NoteFlag.DOWN_BOW),
        ("<technical><double-tongue/></technical>", NoteFlag.DOUBLE_TONGUE),
        ('<slur type="start"/><slur number="2" type="stop"/>', "SLUR_START|SLUR_STOP"),
        ("</notations><notations><fermata/>", NoteFlag.FERMATA),
        ("<technical><fingering>1</fingering></technical>", NoteFlag(0)),
    ],
)
def test_marks(tmp_path, notation, flag):
    if isinstance(flag, str):
        wanted = 0
        for name in flag.split("|"):
            wanted |= NoteFlag[name]
    else:
        wanted = flag
    music = [bar(attributes(), note("C4", 4, after=f"<notations>{notation}</notations>"))]
    assert column(read(tmp_path, music), "flags") == [wanted]


# Staves and parts


def test_several_staves_and_notes_that_cross(tmp_path):
    """A harp between two flutes: its left hand plays one note on the upper staff."""
    flute = [bar(attributes(), note("C5", 4))]
    harp = [
        bar(
            attributes("<staves>2</staves>"),
            note("G4", 4, after="<voice>1</voice><staff>1</staff>"),
            BACKUP.format(4),
            note("C3", 2, after="<voice>5</voice><staff>2</staff>"),
            note("C4", 2, after="<voice>5</voice><staff>1</staff>"),
        )
    ]
    score = read(tmp_path, flute, harp, flute)
    assert [part.first_staff for part in score.parts] == [0, 1, 3]
    assert [part.staff_count for part in score.parts] == [1, 2, 1]
    assert [(staff.part, staff.number) for staff in score.staves] == [
        (0, 1),
        (1, 1),
        (1, 2),
        (2, 1),
    ]
    assert column(score, "staff") == [0, 1, 2, 3, 1]
    assert column(score, "part") == [0, 1, 1, 2, 1]
    assert score.staff_name(2) == "Part 2, staff 2"
    assert score.part_of_staff(3).index == 2


def test_a_staff_that_does_not_exist_is_warned_of(tmp_path):
    music = [bar(attributes(), note("C4", 4, after="<staff>3</staff>"))]
    score = read(tmp_path, music)
    assert column(score, "staff") == [0]
    assert "staff 3" in score.warnings[0]


def test_a_part_without_notes_is_warned_of(tmp_path):
    silent = [bar(attributes(), note("rest", 4))]
    score = read(tmp_path, [bar(attributes(), note("C4", 4))], silent)
    assert score.warnings == ("The part Part 2 has no notes.",)


# Numbers that make no sense


@pytest.mark.parametrize(
    "content",
    [
        "<note><pitch><step>H</step><octave>4</octave></pitch><duration>4</duration></note>",
        "<note><pitch><step>C</step><octave>400</octave></pitch><duration>4</duration></note>",
        "<note><pitch><step>C</step><alter>12</alter><octave>4</octave></pitch></note>",
        "<note><pitch><step>C</step></pitch><duration>4</duration></note>",
        note("C4", "four"),
        note("C4", "1/0"),
        note("C4", "1e99"),
        note("C4", "-4"),
        note("C4", "999999999999"),
        "<backup/>",
        "<attributes><divisions>0</divisions></attributes>",
        "<attributes><time><beats>3</beats></time></attributes>",
        "<attributes><time><beats>0</beats><beat-type>4</beat-type></time></attributes>",
        "<attributes><time><beats>9999</beats><beat-type>1</beat-type></time></attributes>",
        "<attributes><time><beats>1</beats><beat-type>3</beat-type><beats>1</beats>"
        "<beat-type>4</beat-type></time></attributes>",
        "<attributes><transpose><chromatic>999</chromatic></transpose></attributes>",
        note("C4", 4, after="<staff>one</staff>"),
    ],
)
def test_the_error_names_file_part_and_bar(tmp_path, content):
    music = [bar(attributes(divisions=480), note("C4", 4)), bar(content, number=12)]
    with pytest.raises(ScoreFileError) as caught:
        read(tmp_path, music)
    assert caught.value.where == "score.musicxml, part Part 1, bar 12"
    assert caught.value.remedy
