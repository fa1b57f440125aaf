"""Who plays when, against music21's own reading of the same bars."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from music21 import corpus

from stavelight.score.activity import families_by_sound, sounding_share
from stavelight.score.reading import read_score


@pytest.mark.parametrize("work", ["haydn/opus74no1/movement3", "bach/bwv66.6"])
def test_sounding_share_is_that_of_music21(work):
    score = read_score(Path(corpus.getWork(work)))
    ours = sounding_share(score)
    parsed = corpus.parse(work)
    for index, part in enumerate(parsed.parts):
        for bar, measure in enumerate(part.getElementsByClass("Measure")):
            held = set()
            for note in measure.recurse().notes:
                if note.duration.isGrace:
                    continue
                start = float(note.getOffsetInHierarchy(measure))
                held |= {
                    round(start + step / 24, 4)
                    for step in range(round(float(note.quarterLength) * 24))
                }
            length = score.bars[bar].length_ticks / score.ticks_per_quarter
            assert ours[index, bar] == pytest.approx(len(held) / 24 / length, abs=0.02), bar


def test_rests_are_nothing_and_full_bars_are_one(tmp_path):
    score = read_score(Path(corpus.getWork("bach/bwv66.6")))
    shares = sounding_share(score)
    assert shares.shape == (4, len(score.bars))
    assert np.all(shares <= 1)
    assert shares.max() == 1


def test_families():
    # W3C MusicXML 4.0, standard sounds: the strings of a quartet, as the file names them.
    score = read_score(Path(corpus.getWork("beethoven/opus59no1/movement3")))
    assert set(families_by_sound(score)) <= {"strings", ""}
