"""Scores in other formats, turned into MusicXML in memory by music21's readers.

So there is one way on from here for all of them: the same page, the same note table. What a format
does not say is guessed by the reader; the warnings tell what that is.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stavelight.errors import ScoreFileError


@dataclass(frozen=True, slots=True)
class ForeignFormat:
    """A format that is read by way of MusicXML.

    Attributes
    ----------
    name
        What people call it.
    reader
        What music21 calls it.
    warning
        What is guessed, as a full sentence.
    """

    name: str
    reader: str
    warning: str


FOREIGN_FORMATS = {
    ".krn": ForeignFormat(
        "Humdrum **kern",
        "humdrum",
        "Read from Humdrum **kern: instruments and layout are as far as the file tells them.",
    ),
    ".abc": ForeignFormat(
        "ABC", "abc", "Read from ABC: beams, stems and layout are chosen, not read."
    ),
    ".mid": ForeignFormat(
        "MIDI",
        "midi",
        "Read from MIDI: note values are rounded to sixteenths and triplet eighths; spelling, "
        "voices, clefs and staves are guessed; slurs, dynamics and words are not in the file.",
    ),
}
FOREIGN_FORMATS[".kern"] = FOREIGN_FORMATS[".krn"]
FOREIGN_FORMATS[".midi"] = FOREIGN_FORMATS[".mid"]


def foreign_format(path: Path) -> ForeignFormat | None:
    """Return the format of a file that must be converted; None for MusicXML and MEI."""
    return FOREIGN_FORMATS.get(path.suffix.lower())


def to_musicxml(raw: bytes, path: Path, kind: ForeignFormat) -> bytes:
    """Return a score in another format as a MusicXML document in UTF-8.

    Parameters
    ----------
    raw
        The bytes of the file.
    path
        Where they come from, for messages.
    kind
        The format.

    Raises
    ------
    ScoreFileError
        If it cannot be read as that format, or has no notes.
    """
    from music21 import converter
    from music21.exceptions21 import Music21Exception
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    content: Any = raw
    if kind.reader != "midi":
        content = _text_of(raw)
    try:
        stream = converter.parse(content, format=kind.reader, forceSource=True)
        empty = next(iter(stream.recurse().notes), None) is None
        document = b"" if empty else GeneralObjectExporter(stream).parse()
    except (Music21Exception, ValueError, TypeError, AttributeError, LookupError) as error:
        # The readers raise all of these on files that are not what their names say.
        reason = str(error).partition("\n")[0][:120]
        raise _unreadable(path, kind, reason) from error
    if empty:
        raise _unreadable(path, kind)
    return bytes(document)


def _unreadable(path: Path, kind: ForeignFormat, reason: str = "") -> ScoreFileError:
    because = f" ({reason})" if reason else ""
    return ScoreFileError(
        f"This cannot be read as {kind.name}, or there are no notes in it{because}.",
        where=path.name,
        remedy="Check the file, or export the score as MusicXML.",
    )


def _text_of(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")
