"""The sample project's music: what is committed is what the script writes, and it is sound music.

Notes, durations and sounding pitches are read by music21, not by this project's own readers.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import pytest
from lxml import etree
from music21 import chord, converter, instrument, note, pitch, stream

NAME = "the_ferrymans_lamp"

# Sounding ranges: Abjad 3.19 (open source), abjad/instruments.py, `pitch_range` of each class; the
# double bass is held to four strings (lowest note E1, common practice). Celesta and timpani are not
# in that table: a celesta of four octaves and drums of 32, 29, 26 and 23 inches, common practice.
RANGES = {
    "Piccolo": ("D5", "C8"),
    "2 Flutes": ("C4", "D7"),
    "2 Oboes": ("B-3", "A6"),
    "Cor anglais": ("E3", "C6"),
    "2 Clarinets in B♭": ("D3", "B-6"),
    "Bass Clarinet in B♭": ("B-1", "G5"),
    "2 Bassoons": ("B-1", "E-5"),
    "Contrabassoon": ("B-0", "B-4"),
    "Horns 1.2 in F": ("B1", "F5"),
    "Horns 3.4 in F": ("B1", "F5"),
    "2 Trumpets in B♭": ("F#3", "D6"),
    "Trombones 1.2": ("E2", "E-5"),
    "Bass Trombone": ("C2", "F4"),
    "Tuba": ("D1", "F4"),
    "Timpani in G, A, C, D": ("D2", "A3"),
    "Glockenspiel": ("G5", "C8"),
    "Celesta": ("C4", "C8"),
    "Harp": ("B0", "G#7"),
    "Violins I": ("G3", "G7"),
    "Violins II": ("G3", "G7"),
    "Violas": ("C3", "D6"),
    "Violoncellos": ("C2", "G5"),
    "Double Basses": ("E1", "G4"),
}

# The classes whose `transposition` music21 knows: it has none for contrabassoon, celesta and
# glockenspiel.
TRANSPOSING = {
    "Piccolo": instrument.Piccolo,
    "Cor anglais": instrument.EnglishHorn,
    "2 Clarinets in B♭": instrument.Clarinet,
    "Bass Clarinet in B♭": instrument.BassClarinet,
    "Horns 1.2 in F": instrument.Horn,
    "Horns 3.4 in F": instrument.Horn,
    "2 Trumpets in B♭": instrument.Trumpet,
    "Double Basses": instrument.Contrabass,
}


# Standard sounds: W3C MusicXML 4.0, schema/sounds.xml, in score order.
SOUNDS = [
    "wind.flutes.flute.piccolo",
    "wind.flutes.flute",
    "wind.reed.oboe",
    "wind.reed.english-horn",
    "wind.reed.clarinet.bflat",
    "wind.reed.clarinet.bass",
    "wind.reed.bassoon",
    "wind.reed.contrabassoon",
    "brass.french-horn",
    "brass.french-horn",
    "brass.trumpet.bflat",
    "brass.trombone.tenor",
    "brass.trombone.bass",
    "brass.tuba",
    "drum.timpani",
    "metal.triangle",
    "metal.cymbal.crash",
    "drum.bass-drum",
    "pitched-percussion.glockenspiel",
    "keyboard.celesta",
    "pluck.harp",
    "strings.violin",
    "strings.violin",
    "strings.viola",
    "strings.cello",
    "strings.contrabass",
]


class Doubling(NamedTuple):
    """A line and its double: bars (both included), semitones from the second to the first."""

    upper: str
    lower: str
    first_bar: int
    last_bar: int
    semitones: int


DOUBLINGS = (
    Doubling("2 Oboes", "2 Clarinets in B♭", 5, 8, 0),
    Doubling("Violins I", "Violins II", 9, 12, 12),
    Doubling("2 Flutes", "2 Clarinets in B♭", 17, 19, 12),
    Doubling("2 Flutes", "2 Bassoons", 17, 19, 24),
    Doubling("2 Clarinets in B♭", "2 Bassoons", 17, 19, 12),
    Doubling("Horns 1.2 in F", "Violoncellos", 21, 28, 0),
    Doubling("2 Clarinets in B♭", "Cor anglais", 29, 33, 12),
    Doubling("Violins I", "2 Oboes", 31, 33, 0),
    Doubling("Piccolo", "2 Oboes", 35, 42, 24),
    Doubling("2 Flutes", "2 Oboes", 35, 42, 12),
    Doubling("Violins I", "Violins II", 35, 42, 12),
    Doubling("2 Oboes", "2 Clarinets in B♭", 35, 42, 0),
    Doubling("2 Oboes", "Violins II", 35, 42, 0),
    Doubling("Horns 1.2 in F", "Horns 3.4 in F", 35, 42, 0),
    Doubling("Horns 1.2 in F", "Violoncellos", 35, 42, 0),
    Doubling("Horns 1.2 in F", "Cor anglais", 35, 42, 0),
    Doubling("Cor anglais", "Violas", 45, 52, 0),
    Doubling("2 Flutes", "Cor anglais", 49, 52, 12),
)


class Sound(NamedTuple):
    """A note or chord: printed bar, quarters from the barline, MIDI numbers ascending."""

    bar: int
    offset: Fraction
    pitches: tuple[int, ...]


def line(score: stream.Score, name: str, first_bar: int, last_bar: int) -> list[Sound]:
    """Return what a part plays, the upper voice where there are two; tied notes once."""
    (part,) = (each for each in score.parts if each.partName == name)
    sounds = []
    for measure in part.getElementsByClass(stream.Measure):
        if not first_bar <= measure.number <= last_bar:
            continue
        voice = measure.voices[0] if measure.voices else measure
        for element in voice.notes:
            if element.tie is not None and element.tie.type != "start":
                continue
            offset = Fraction(element.offset)
            sounds.append(
                Sound(measure.number, offset, tuple(each.midi for each in element.pitches))
            )
    return sounds


def deviations(score: stream.Score, doubling: Doubling) -> list[Sound]:
    """Return the notes of the lower line at which a doubling is not exact."""
    bars = doubling.first_bar, doubling.last_bar
    upper = line(score, doubling.upper, *bars)
    lower = line(score, doubling.lower, *bars)
    moments = [(sound.bar, sound.offset) for sound in upper]
    assert moments == [(sound.bar, sound.offset) for sound in lower], doubling
    assert len(moments) > 5
    return [
        below
        for above, below in zip(upper, lower, strict=True)
        if [each - doubling.semitones for each in above.pitches] != list(below.pitches)
    ]


@pytest.fixture(scope="module")
def folder(checkout: Path) -> Path:
    return checkout / "sample_projects" / NAME


@pytest.fixture(scope="module")
def sample_score(checkout: Path):
    """The package that composes the music."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(checkout / "resources")
        from sample_score import compose, examination, timing

        yield {"compose": compose, "examination": examination, "timing": timing}


@pytest.fixture(scope="module")
def written(folder: Path) -> stream.Score:
    return converter.parse(folder / f"{NAME}.musicxml", forceSource=True)


@pytest.fixture(scope="module")
def sounding(written: stream.Score) -> stream.Score:
    return written.toSoundingPitch()


@pytest.fixture(scope="module")
def reduction(folder: Path) -> stream.Score:
    return converter.parse(folder / f"{NAME} - keyboard and violin.musicxml", forceSource=True)


@pytest.fixture(scope="module")
def misprint(folder: Path) -> dict[str, str]:
    text = (folder / "planted misprint.txt").read_text(encoding="utf-8")
    return dict(row.split(": ", 1) for row in text.splitlines())


def test_the_script_writes_what_is_committed(sample_score, folder):
    for name, content in sample_score["compose"].files().items():
        assert (folder / name).read_bytes() == content, f"{name} is not what the script writes"


@pytest.mark.parametrize("which", ["written", "reduction"])
def test_every_bar_of_every_part_is_full(which, request):
    score = request.getfixturevalue(which)
    for part in score.parts:
        measures = list(part.getElementsByClass(stream.Measure))
        assert [measure.number for measure in measures] == list(range(59))
        for measure in measures:
            expected = 0.5 if measure.number == 0 else measure.barDuration.quarterLength
            for voice in measure.voices or [measure]:
                length = sum(Fraction(element.quarterLength) for element in voice.notesAndRests)
                assert length.limit_denominator(96) == expected, (
                    f"{part.partName}, bar {measure.number}"
                )


def test_form(written):
    """A pickup, a change of key and of metre, rehearsal marks and metronome marks are there."""
    top = written.parts[0]
    # Not flatten(): its stream may be gone by the time that a signature is asked for its bar.
    signatures = [
        (each.measureNumber, each.ratioString)
        for each in top.recurse().getElementsByClass("TimeSignature")
    ]
    assert signatures == [(0, "6/8"), (21, "3/4"), (35, "6/8"), (45, "3/4"), (53, "6/8")]
    keys = [
        (each.measureNumber, each.sharps)
        for each in top.recurse().getElementsByClass("KeySignature")
    ]
    assert keys == [(0, 1), (21, -3), (35, 1)]
    marks = [each.content for each in top.recurse().getElementsByClass("RehearsalMark")]
    assert marks == list("ABCDEFG")
    metronome = [
        (each.measureNumber, each.referent.quarterLength, each.number)
        for each in top.recurse().getElementsByClass("MetronomeMark")
        if each.number is not None
    ]
    assert metronome == [
        (0, 1.5, 48),
        (21, 1, 60),
        (29, 1, 76),
        (35, 1.5, 50),
        (45, 1, 56),
        (53, 1.5, 46),
    ]


def test_ranges(sounding):
    seen = set()
    for part in sounding.parts:
        if part.partName not in RANGES:
            assert part.partName in ("Triangle", "Cymbals", "Bass Drum")
            continue
        seen.add(part.partName)
        low, high = (pitch.Pitch(each).midi for each in RANGES[part.partName])
        for element in part.flatten().notes:
            for each in element.pitches:
                assert low <= each.midi <= high, (part.partName, element.measureNumber, each)
    assert seen == set(RANGES)


def test_transpositions(written):
    """Against the transpositions that music21 knows for its instruments."""
    for name, kind in TRANSPOSING.items():
        (part,) = (each for each in written.parts if each.partName == name)
        own = part.getInstrument().transposition
        known = kind().transposition
        assert own is not None, name
        assert own.semitones == known.semitones, name
        assert own.diatonic.generic.directed == known.diatonic.generic.directed, name


def test_standard_sounds(folder):
    root = etree.parse(folder / f"{NAME}.musicxml")
    assert [each.text for each in root.iter("instrument-sound")] == SOUNDS


def test_transposing_parts_carry_their_own_key_signatures(written):
    """A clarinet in B flat reads two sharps more, a horn in F one more (common practice)."""
    shifts = {"2 Clarinets in B♭": 2, "Bass Clarinet in B♭": 2, "2 Trumpets in B♭": 2}
    shifts |= {"Horns 1.2 in F": 1, "Cor anglais": 1, "Violins I": 0}
    for name, shift in shifts.items():
        (part,) = (each for each in written.parts if each.partName == name)
        fifths = [each.sharps for each in part.recurse().getElementsByClass("KeySignature")]
        assert fifths == [1 + shift, -3 + shift, 1 + shift], name


def test_doublings_hold_except_at_the_planted_misprint(sounding, misprint):
    place = int(misprint["bar"]), 4 * Fraction(misprint["offset in whole notes"])
    wrong = pitch.Pitch("E5").midi
    assert misprint["sounds"] == "E 5"
    for doubling in DOUBLINGS:
        found = deviations(sounding, doubling)
        if doubling.first_bar <= place[0] <= doubling.last_bar and misprint["part"] in doubling[:2]:
            assert len(found) == 1, doubling
            assert (found[0].bar, found[0].offset) == place
        else:
            assert found == [], doubling
    (sound,) = [
        each for each in line(sounding, misprint["part"], 18, 18) if each.offset == place[1]
    ]
    assert sound.pitches == (wrong,)
    flute = [each for each in line(sounding, "2 Flutes", 18, 18) if each.offset == place[1]]
    assert flute[0].pitches == (wrong + 11,)


def test_the_misprint_looks_like_one(written, misprint):
    """The natural sign is missing: the note stands under the key signature's sharp."""
    (part,) = (each for each in written.parts if each.partName == misprint["part"])
    (element,) = [
        each
        for each in part.measure(18).notes
        if Fraction(each.offset) == 4 * Fraction(misprint["offset in whole notes"])
    ]
    assert element.pitch.nameWithOctave == "F#5"
    assert misprint["written"] == "F sharp 5"
    assert element.pitch.accidental.displayStatus is not True


def test_thirds_and_sixths(sounding):
    question = line(sounding, "2 Flutes", 13, 14)
    assert len(question) == 7
    assert all(high - low in (3, 4) for _, _, (low, high) in question)
    first, second = (line(sounding, name, 15, 16) for name in ("Violins I", "Violins II"))
    intervals = [a.pitches[0] - b.pitches[0] for a, b in zip(first, second, strict=True)]
    assert len(intervals) == 7
    assert set(intervals) <= {8, 9}


@pytest.mark.parametrize(
    ("giver", "taker", "bar", "shared"),
    [
        ("Horns 1.2 in F", "2 Clarinets in B♭", 2, "A4"),
        ("2 Clarinets in B♭", "Horns 1.2 in F", 21, "G3"),
        ("2 Clarinets in B♭", "Cor anglais", 45, "B3"),
        ("Horns 1.2 in F", "2 Clarinets in B♭", 54, "G4"),
    ],
)
def test_hand_overs_share_a_note(sounding, giver, taker, bar, shared):
    last = line(sounding, giver, 0, bar)[-1]
    first = line(sounding, taker, bar, bar)[0]
    assert last.bar == bar
    assert last.pitches == first.pitches == (pitch.Pitch(shared).midi,)


def test_the_night_song_returns_a_third_higher(sounding):
    before = line(sounding, "Horns 1.2 in F", 21, 28)
    after = line(sounding, "Cor anglais", 45, 52)
    assert len(before) == 18
    assert [(each.bar + 24, each.offset, each.pitches[0] + 4) for each in before] == [
        (each.bar, each.offset, each.pitches[0]) for each in after
    ]


def test_the_song_is_the_same_in_the_tutti(sounding):
    first = line(sounding, "2 Oboes", 5, 7) + line(sounding, "Violins II", 9, 12)
    tutti = line(sounding, "2 Oboes", 35, 37) + line(sounding, "2 Oboes", 39, 42)
    assert [each.pitches for each in first] == [each.pitches for each in tutti]


def test_ostinato_and_pedal_do_not_move(sounding):
    (harp,) = (
        each for each in sounding.parts if each.partName == "Harp" and each.id.endswith("Staff2")
    )
    figures = [[each.pitch.midi for each in harp.measure(bar).notes] for bar in (1, 2, 3, 4)]
    assert len(figures[0]) == 6
    assert all(figure == figures[0] for figure in figures)
    assert {each.pitches for each in line(sounding, "Double Basses", 31, 34)} == {(38,)}


def test_harmony_has_one_foreign_tone_the_misprint(sample_score):
    """Rules of counterpoint: common practice."""
    score = sample_score["compose"].full_score()
    complaints = sample_score["examination"].foreign_tones(score)
    assert len(complaints) == 1
    assert complaints[0].startswith("bar 18 cl1: E")


@pytest.mark.parametrize(
    ("upper", "lower", "first", "last"),
    [
        ("ob1", "vc", 5, 8),
        ("vn1", "db", 9, 12),
        ("fl1", "bn2", 13, 14),
        ("vn1", "vc", 15, 16),
        ("fl1", "db", 17, 20),
        ("hn1", "vcb", 21, 28),
        ("vn1", "db", 29, 34),
        ("vn1", "db", 35, 42),
        ("hn1", "db", 35, 42),
        ("vn1", "hn1", 35, 42),
        ("ca", "vc", 45, 52),
        ("cl1", "db", 53, 58),
    ],
)
def test_no_parallels_between_the_outer_voices(sample_score, upper, lower, first, last):
    """Parallel fifths and octaves are forbidden between independent lines (common practice)."""
    examination = sample_score["examination"]
    score = sample_score["compose"].full_score()
    assert examination.parallels(score[upper], score[lower], first, last) == []


def test_parallels_are_found_where_there_are_some(sample_score):
    """Two lines an octave apart move in parallel octaves: the check sees them."""
    score = sample_score["compose"].full_score()
    found = sample_score["examination"].parallels(score["vn1"], score["vn2"], 9, 12)
    assert len(found) > 10


def test_entries_have_dynamics(sample_score):
    score = sample_score["compose"].full_score()
    assert sample_score["examination"].entries_without_dynamic(score) == []


def test_playing_time(sample_score):
    """At the printed tempi: 3/8 in 6/8 at 48 is one beat of 60/48 seconds."""
    seconds = sample_score["timing"].seconds
    assert seconds(0) == 0
    assert seconds(1) == pytest.approx(60 / 48 / 3)
    assert seconds(2) - seconds(1) == pytest.approx(2 * 60 / 48)
    assert seconds(22) - seconds(21) == pytest.approx(3 * 60 / 60)
    assert 140 < seconds(59) < 170


def test_reduction_matches_bar_by_bar(written, reduction):
    bars = written.parts[0].getElementsByClass(stream.Measure)
    for part in reduction.parts:
        own = part.getElementsByClass(stream.Measure)
        assert len(own) == len(bars)
        for score_bar, own_bar in zip(bars, own, strict=True):
            assert score_bar.barDuration.quarterLength == own_bar.barDuration.quarterLength
            assert score_bar.number == own_bar.number


def test_reduction_departs_where_it_says_so(sounding, reduction, folder):
    """The right note instead of the misprint, major instead of minor in bar 54; both are listed."""
    violin = {each.offset: each for each in line(reduction, "Violin", 18, 18)}
    assert violin[Fraction(3, 2)].pitches == (pitch.Pitch("E-6").midi,)
    keyboard = [
        element
        for part in reduction.parts
        if part.partName == "Keyboard"
        for element in part.measure(54).notes
        if isinstance(element, (note.Note, chord.Chord))
    ]
    classes = {each.pitchClass for element in keyboard for each in element.pitches}
    assert 4 in classes
    assert 3 not in classes
    orchestra = {
        each.pitchClass
        for part in sounding.parts
        for element in part.measure(54).notes
        for each in element.pitches
    }
    assert 3 in orchestra
    assert 4 not in orchestra
    about = (folder / "about.md").read_text(encoding="utf-8")
    assert "bar 18" in about
    assert "bar 54" in about
