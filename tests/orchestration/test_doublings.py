"""Doublings: intervals against music21's own, planted doublings, and those of the sample score."""

from __future__ import annotations

from pathlib import Path

import pytest
from music21 import corpus, interval, pitch

from stavelight.orchestration.doublings import find_doublings
from stavelight.orchestration.lines import lines_of
from stavelight.score.note_table import pitch_name
from stavelight.score.reading import read_score


def _parts_of(stretch, lines) -> tuple[int, int]:
    return lines.strands[stretch.strand_a].part, lines.strands[stretch.strand_b].part


def _name(row) -> str:
    spelled = (int(row[f"sounding_{what}"]) for what in ("step", "alter", "octave"))
    return pitch_name(*spelled).replace("b", "-")


@pytest.mark.parametrize("work", ["weber/concertino_clarinet", "beethoven/opus59no1/movement3"])
def test_distances_are_the_intervals_that_music21_gives(work):
    # Outside check: music21's Interval between the spelled sounding pitches.
    score = read_score(Path(corpus.getWork(work)))
    lines = lines_of(score)
    found = find_doublings(score)
    assert found.octaves
    rows = score.notes.rows
    for stretches, steps in ((found.octaves, False), (found.parallels, True)):
        for stretch in stretches[:40]:
            pairs = zip(stretch.sounds_a.tolist(), stretch.sounds_b.tolist(), strict=True)
            for a, b in list(pairs)[:6]:
                first, second = (rows[int(lines.sounds["row"][sound])] for sound in (a, b))
                theirs = interval.Interval(pitch.Pitch(_name(first)), pitch.Pitch(_name(second)))
                if steps:
                    size = theirs.generic.directed
                    assert abs(stretch.distance) == abs(size) - 1
                else:
                    assert stretch.distance == theirs.semitones
                    assert stretch.distance % 12 == 0


def test_the_doublings_of_the_sample_score_are_found(checkout: Path):
    # The sample was composed with these: see "about.md" beside it.
    folder = checkout / "sample_projects" / "the_ferrymans_lamp"
    score = read_score(folder / "the_ferrymans_lamp.musicxml")
    lines = lines_of(score)
    names = {part.id: part.index for part in score.parts}

    def covers(one: str, other: str, semitones: int, first: int, last: int) -> bool:
        wanted = (names[one], names[other])
        start, end = score.bars[first].start_ticks, score.bars[last].start_ticks
        return any(
            _parts_of(stretch, lines) == wanted
            and stretch.distance == semitones
            and stretch.manner == "exact"
            and stretch.start_ticks <= start
            and stretch.end_ticks >= end
            for stretch in find_doublings(score).octaves
        )

    assert covers("P3", "P5", 0, 5, 8)  # oboe and clarinet in unison
    assert covers("P22", "P23", -12, 9, 12)  # violins in octaves
    assert not covers("P2", "P7", -12, 9, 12)


def test_repeated_notes_that_meet_are_no_line():
    # Bach's chorales move in four voices that never run in octaves for long: forbidden parallels
    # (common practice, no source). Whatever meets there is no exact doubling of a line.
    score = read_score(Path(corpus.getWork("bach/bwv66.6")))
    assert not [s for s in find_doublings(score).octaves if s.manner == "exact"]
