from __future__ import annotations

from pathlib import Path

import pytest

from stavelight.score.reading import read_score
from stavelight.score.structure import Score, Transposition
from stavelight.window.places import find_places
from stavelight.window.score_information import sounding_interval
from window.conftest import small_score_text


@pytest.fixture
def score(small_score: Path) -> Score:
    return read_score(small_score)


def bars(score: Score, text: str) -> list[int]:
    return [place.bar for place in find_places(score, text)]


def test_a_printed_bar_number_comes_before_longer_ones(score: Score) -> None:
    assert bars(score, "1") == [0, *range(9, 19)]  # bars 1, then 10 to 19
    assert bars(score, "17") == [16]
    assert bars(score, " bar 17 ") == [16]


def test_a_rehearsal_mark_is_found_in_any_case(score: Score) -> None:
    assert bars(score, "b") == [12]  # mark B stands at bar 13
    assert find_places(score, "b")[0].detail == "bar 13"


def test_nothing_typed_lists_the_marks(score: Score) -> None:
    assert [place.title for place in find_places(score, "")] == [
        "Rehearsal mark A",
        "Rehearsal mark B",
    ]


@pytest.mark.parametrize(("typed", "bar"), [("A+3", 7), ("a + 3", 7), ("B-2", 10), ("A-4", 0)])
def test_bars_are_counted_from_a_mark(score: Score, typed: str, bar: int) -> None:
    # "Three after A", "two before B": as orchestras rehearse (common practice, no source).
    assert bars(score, typed) == [bar]


@pytest.mark.parametrize("typed", ["A+40", "A-5", "Q", "99", "B+x", "+", "-"])
def test_what_is_not_there_is_not_found(score: Score, typed: str) -> None:
    assert bars(score, typed) == []


def test_bars_with_the_same_number_are_told_apart(tmp_path: Path) -> None:
    text = small_score_text()
    for number in range(13, 25):  # the second section counts from 1 again
        text = text.replace(f'<measure number="{number}">', f'<measure number="{number - 12}">')
    path = tmp_path / "two sections.musicxml"
    path.write_text(text, encoding="utf-8")
    places = find_places(read_score(path), "3")
    assert [place.bar for place in places[:2]] == [2, 14]
    assert "no. 1 of 2" in places[0].detail
    assert "2 after B" in places[1].detail


@pytest.mark.parametrize(
    ("diatonic", "chromatic", "words"),
    [
        # Walter Piston, Orchestration, 1955, on the transposing instruments of the orchestra
        # (from memory: clarinets, horn, trumpet, cor anglais, piccolo, double bass).
        (-1, -2, "a major second lower"),  # clarinet in B flat
        (-2, -3, "a minor third lower"),  # clarinet in A
        (2, 3, "a minor third higher"),  # clarinet in E flat
        (-4, -7, "a perfect fifth lower"),  # horn in F, cor anglais
        (-8, -14, "an octave and a major second lower"),  # bass clarinet, treble clef
        (7, 12, "an octave higher"),  # piccolo
        (-7, -12, "an octave lower"),  # double bass
        (14, 24, "2 octaves higher"),  # glockenspiel
        (1, 2, "a major second higher"),  # trumpet in D
        (0, 0, "as written"),
        (-3, -5, "a perfect fourth lower"),  # alto flute
        (-6, -10, "a minor seventh lower"),  # horn in D
    ],
)
def test_transpositions_are_said_in_words(diatonic: int, chromatic: int, words: str) -> None:
    assert sounding_interval(Transposition(diatonic, chromatic)) == words
