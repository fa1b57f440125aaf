"""Scores to engrave: from music21's corpus, and a small one written for these tests."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from music21 import corpus

from engraving.small_scores import small_score
from stavelight.engraving.musicxml_source import MusicXmlSource


def corpus_bytes(work: str) -> bytes:
    """Return the MusicXML of a work of music21's corpus."""
    path = Path(corpus.getWork(work))
    if path.suffix != ".mxl":
        return path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        name = next(
            name
            for name in archive.namelist()
            if not name.startswith("META-INF") and name.endswith("xml")
        )
        return archive.read(name)


@pytest.fixture(scope="session")
def corpus_source():
    """Return a function that opens a work of the corpus for engraving."""
    opened: dict[str, MusicXmlSource] = {}

    def source(work: str) -> MusicXmlSource:
        if work not in opened:
            opened[work] = MusicXmlSource(corpus_bytes(work), work)
        return opened[work]

    return source


@pytest.fixture
def small() -> MusicXmlSource:
    """The small score, opened for engraving."""
    return MusicXmlSource(small_score(), "small.musicxml")
