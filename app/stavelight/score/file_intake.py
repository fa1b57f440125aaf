"""Take in a score file: unpack it, see what it is, and refuse what is broken or harmful.

The file is only ever opened for reading. Nothing that a document refers to is fetched, and no
entity that it declares is resolved.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.compressed_file import unpack
from stavelight.score.conversion import foreign_format, to_musicxml
from stavelight.score.document_check import LARGEST_DOCUMENT, check_document
from stavelight.score.musicxml_text import MusicXmlText
from stavelight.score.timewise import partwise

_ZIP_BEGINNINGS = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_MUSICXML_NOTE = re.compile(rb"<(?:pitch|unpitched)[\s/>]")
_MEI_NOTE = re.compile(rb"<(?:[A-Za-z_][\w.-]*:)?note[\s/>]")
_EXPORT_AGAIN = "Export it again from the program that it comes from."
_SEVERAL_SCORES = {
    "meiCorpus": "This file is a collection of MEI scores, not one score.",
    "opus": "This file is a list of MusicXML scores, not a score.",
}


@dataclass(frozen=True, slots=True)
class Source:
    """A score file as it was read.

    Attributes
    ----------
    path
        The file.
    sha256
        Hexadecimal SHA-256 of its bytes on disk.
    data
        The score document in UTF-8: partwise MusicXML or MEI, well-formed.
    kind
        ``musicxml`` or ``mei``.
    warnings
        What was odd about it, one sentence each.
    """

    path: Path
    sha256: str
    data: bytes
    kind: str
    warnings: tuple[str, ...] = ()


def read_source(path: Path) -> Source:
    """Read a score file: MusicXML, compressed MusicXML or MEI, by what it holds.

    Raises
    ------
    ScoreFileError
        If it cannot be read, is damaged or harmful, or is not a score, or has no parts, bars or
        notes.
    """
    path = Path(path)
    raw = _bytes_of(path)
    sha256 = hashlib.sha256(raw).hexdigest()
    foreign = foreign_format(path)
    if foreign is not None:
        return Source(path, sha256, to_musicxml(raw, path, foreign), "musicxml", (foreign.warning,))
    if raw.startswith(_ZIP_BEGINNINGS):
        raw = unpack(raw, path.name)
    elif path.suffix.lower() == ".mxl" and not raw.lstrip().startswith(b"<"):
        raise ScoreFileError(
            "This is not a compressed MusicXML file, or its beginning is damaged.",
            where=path.name,
            remedy=_EXPORT_AGAIN,
        )
    document = check_document(raw, path.name)
    del raw
    if document.root in ("score-partwise", "score-timewise"):
        data = document.data
        if document.root == "score-timewise":
            data = _partwise(data, path.name)
        _check_musicxml_notes(data, path.name)
        return Source(path, sha256, data, "musicxml")
    if document.root in ("mei", "music"):
        _check_mei_notes(document.data, path.name)
        return Source(path, sha256, document.data, "mei")
    raise ScoreFileError(
        _SEVERAL_SCORES.get(
            document.root, f"This is an XML file, but not a score: it holds <{document.root}>."
        ),
        where=path.name,
        remedy="Open one score, in MusicXML (.musicxml, .xml, .mxl) or MEI (.mei).",
    )


def _bytes_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_DOCUMENT:
            raise ScoreFileError(
                "The file is far larger than any score.",
                where=path.name,
                remedy="Choose a score file.",
            )
        return path.read_bytes()
    except FileNotFoundError as fault:
        raise ScoreFileError(
            "There is no such file.", where=str(path), remedy="Check the name and the folder."
        ) from fault
    except IsADirectoryError as fault:
        raise ScoreFileError(
            "This is a folder, not a score.", where=str(path), remedy="Choose the score in it."
        ) from fault
    except OSError as fault:
        raise ScoreFileError(
            f"The file cannot be read: {fault.strerror or fault}.",
            where=str(path),
            remedy="Check that it is there and that you may read it.",
        ) from fault


def _partwise(document: bytes, where: str) -> bytes:
    try:
        return partwise(document)
    except etree.XMLSyntaxError as fault:
        raise ScoreFileError(
            f"The file cannot be read: {fault.msg}.", where=where, remedy=_EXPORT_AGAIN
        ) from fault


def _check_musicxml_notes(document: bytes, where: str) -> None:
    if not _MUSICXML_NOTE.search(document):
        MusicXmlText(document, where)  # says so if there are no parts or no bars
        raise ScoreFileError(
            "The score has no notes.", where=where, remedy="Export it again with its music."
        )


def _check_mei_notes(document: bytes, where: str) -> None:
    if not _MEI_NOTE.search(document):
        raise ScoreFileError(
            "The score has no notes.",
            where=where,
            remedy="Check that it holds a score in common Western notation.",
        )
