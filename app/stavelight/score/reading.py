"""Read a score from a file, whatever its format."""

from __future__ import annotations

from pathlib import Path

from stavelight.score.file_intake import Source, read_source
from stavelight.score.musicxml import read_musicxml
from stavelight.score.structure import Score


def read_score(path: Path) -> Score:
    """Read a score file; the file is only opened for reading.

    Raises
    ------
    ScoreFileError
        If it cannot be read, or is not a score.
    """
    return read_score_from_source(read_source(path))


def read_score_from_source(source: Source) -> Score:
    """Read a score from a file's content.

    Raises
    ------
    ScoreFileError
        If it is not a score.
    """
    if source.kind == "mei":
        from stavelight.score.mei import read_mei

        return read_mei(source.data, source.path, source.sha256, source.warnings)
    return read_musicxml(source.data, source.path, source.sha256, source.warnings)
