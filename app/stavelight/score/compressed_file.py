"""Unpack compressed MusicXML (.mxl): a ZIP archive whose container file names the score.

Source: W3C MusicXML 4.0, "Compressed .mxl files", and the container schema. Nothing that the
archive says of its own sizes is believed, and nothing is ever written to disk.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import PurePosixPath

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.document_check import LARGEST_DOCUMENT, check_document
from stavelight.score.musicxml_text import huge_parser

LARGEST_RATIO = 200
"""How many times larger than its archive a score may be; real ones are 10 to 40 times larger."""

_SMALL = 4 * 1024 * 1024  # below this, any ratio is harmless
_CONTAINER = "META-INF/container.xml"
_LARGEST_CONTAINER = 1024 * 1024
_CHUNK = 256 * 1024
_SCORE_ENDINGS = (".musicxml", ".xml", ".mei")
_ENCRYPTED = 0x1
# What zipfile raises at bytes that are no archive, found by trying.
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError)
_EXPORT_AGAIN = "Export it again from the program that it comes from."
_DO_NOT_USE = "Do not use this file; ask where it comes from."


def unpack(archive_bytes: bytes, where: str) -> bytes:
    """Return the score document in an archive.

    Parameters
    ----------
    archive_bytes
        The whole archive.
    where
        The file's name, for messages.

    Raises
    ------
    ScoreFileError
        If it is damaged, encrypted, harmful, or has no score in it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(archive_bytes)) as archive:
            entry = _score_entry(archive, where)
            most = max(len(archive_bytes) * LARGEST_RATIO, _SMALL)
            return _read(archive, entry, min(most, LARGEST_DOCUMENT), where)
    except _DAMAGE as fault:
        raise ScoreFileError(
            "The compressed file is damaged or cut off.", where=where, remedy=_EXPORT_AGAIN
        ) from fault


def _score_entry(archive: zipfile.ZipFile, where: str) -> zipfile.ZipInfo:
    """Return the entry that the container names, or else the first that looks like a score."""
    entries = {entry.filename: entry for entry in archive.infolist()}
    if _CONTAINER in entries:
        container = _read(archive, entries[_CONTAINER], _LARGEST_CONTAINER, where)
        name = _name_in_container(container, where)
        if name is not None:
            _check_name(name, where)
            if name not in entries:
                raise ScoreFileError(
                    f"The compressed file names a score that is not in it: {name}.",
                    where=where,
                    remedy=_EXPORT_AGAIN,
                )
            return entries[name]
    for name, entry in entries.items():
        if name.lower().endswith(_SCORE_ENDINGS) and not name.startswith("META-INF/"):
            _check_name(name, where)
            return entry
    raise ScoreFileError(
        "There is no score in the compressed file.", where=where, remedy=_EXPORT_AGAIN
    )


def _name_in_container(container: bytes, where: str) -> str | None:
    """Return the first score that a container file names."""
    document = check_document(container, f"{where}, {_CONTAINER}").data
    root = etree.fromstring(document, huge_parser())
    for rootfile in root.iter("{*}rootfile"):
        if "xml" in rootfile.get("media-type", "application/vnd.recordare.musicxml+xml"):
            return str(rootfile.get("full-path", ""))
    return None


def _check_name(name: str, where: str) -> None:
    """Refuse names that lead out of the archive."""
    path = PurePosixPath(name.replace("\\", "/"))
    if not path.parts or path.is_absolute() or ".." in path.parts or ":" in path.parts[0]:
        raise ScoreFileError(
            f"The compressed file points to a place outside itself: {name!r}.",
            where=where,
            remedy=_DO_NOT_USE,
        )


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int, where: str) -> bytes:
    """Read an entry, counting what comes out."""
    if entry.flag_bits & _ENCRYPTED:
        raise ScoreFileError(
            "The compressed file is locked with a password.",
            where=where,
            remedy="Unpack it with its password, and open the score inside.",
        )
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise ScoreFileError(
            "The file is compressed in a way that MusicXML does not use.",
            where=where,
            remedy=_EXPORT_AGAIN,
        )
    pieces = []
    size = 0
    with archive.open(entry) as stream:
        while piece := stream.read(_CHUNK):
            size += len(piece)
            if size > most:
                raise ScoreFileError(
                    "Unpacked, the file would be far larger than any score.",
                    where=where,
                    remedy=_DO_NOT_USE,
                )
            pieces.append(piece)
    return b"".join(pieces)
