"""Bars named by printed numbers: found, unknown, printed twice, the wrong way round."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from stavelight.command_line.bar_range import printed_bars
from stavelight.errors import ScoreFileError
from stavelight.score.reading import read_score
from stavelight.score.structure import Score

# A pickup, and a bar that is split by a repeat sign: both halves are printed as 2, as editions
# exported from notation programs often have it. X1 is a bar that is not counted.
NUMBERS = ("0", "1", "2", "2", "X1", "3", "10")


@pytest.fixture(scope="module")
def score(tmp_path_factory: pytest.TempPathFactory) -> Score:
    bars = "".join(
        f'<measure number="{number}"><attributes><divisions>1</divisions></attributes>'
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
        "</measure>"
        for number in NUMBERS
    )
    path: Path = tmp_path_factory.mktemp("score") / "small.musicxml"
    path.write_text(
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Flute</part-name>'
        f'</score-part></part-list><part id="P1">{bars}</part></score-partwise>',
        encoding="utf-8",
    )
    return read_score(path)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0-1", range(0, 2)),
        ("3", range(5, 6)),
        ("1-3", range(1, 6)),
        ("X1-10", range(4, 7)),
        (" 1 – 3 ", range(1, 6)),
        ("0-10", range(0, 7)),
    ],
)
def test_bars_are_found_by_what_is_printed(score, text, expected):
    assert printed_bars(text).in_score(score) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("4", "No bar has the number 4. The first bar is printed as 0, the last as 10."),
        ("1-11", "No bar has the number 11."),
        ("2-3", "2 bars have the number 2."),
        ("1-2", "they are bars 3, 4."),
        ("3-1", "Bar 1 stands before bar 3."),
    ],
)
def test_bars_that_are_not_clear_are_refused(score, text, message):
    with pytest.raises(ScoreFileError) as caught:
        printed_bars(text).in_score(score)
    assert message in caught.value.one_line()
    assert "small.musicxml" in caught.value.one_line()


@pytest.mark.parametrize("text", ["", "-", "1-", "-2", "1-2-3"])
def test_what_is_no_range_is_wrong_usage(text):
    with pytest.raises(argparse.ArgumentTypeError, match="12-27"):
        printed_bars(text)
