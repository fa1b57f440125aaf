"""Scores read and engraved once for all tests of exports."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from music21 import corpus

from delivery.lecture import write_orchestral_score
from stavelight.engraving.engraver import EngravedScore, Engraver
from stavelight.score.reading import read_score
from stavelight.score.structure import Score


@dataclass(frozen=True)
class OpenScore:
    """A score and who engraves it."""

    score: Score
    engraved: EngravedScore


@pytest.fixture(scope="session")
def engraver():
    """One process that engraves."""
    engraver = Engraver(workers=1)
    yield engraver
    engraver.close()


@pytest.fixture(scope="session")
def quartet(engraver: Engraver) -> OpenScore:
    """The first movement of Mozart's K. 155, from music21's corpus."""
    path = Path(corpus.getWork("mozart/k155/movement1"))
    return OpenScore(read_score(path), engraver.open(path))


@pytest.fixture(scope="session")
def chorale(engraver: Engraver) -> OpenScore:
    """A chorale that begins with a pickup bar, from music21's corpus."""
    path = Path(corpus.getWork("bach/bwv66.6"))
    return OpenScore(read_score(path), engraver.open(path))


@pytest.fixture(scope="session")
def orchestra(engraver: Engraver, tmp_path_factory: pytest.TempPathFactory) -> OpenScore:
    """A score for 21 players."""
    path = write_orchestral_score(tmp_path_factory.mktemp("orchestra"))
    return OpenScore(read_score(path), engraver.open(path))
