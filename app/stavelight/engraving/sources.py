"""Open a score file for engraving."""

from __future__ import annotations

from pathlib import Path

from stavelight.engraving.musicxml_source import MusicXmlSource
from stavelight.engraving.page_maker import ScoreSource
from stavelight.score.file_intake import read_source


def open_source(path: Path) -> ScoreSource:
    """Return a score that can be laid out and cut.

    Raises
    ------
    ScoreFileError
        If the file cannot be read or is not a score.
    """
    source = read_source(path)
    if source.kind == "mei":
        from stavelight.engraving.mei_source import MeiSource

        return MeiSource(source)
    return MusicXmlSource(source.data, path.name)
