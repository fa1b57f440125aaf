"""Take in a score file: unpack it, see what it is, and refuse what is broken or harmful.

The file is only ever opened for reading. Nothing that a document refers to is fetched, and no
entity that it declares is resolved.
"""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from xml.parsers import expat

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.conversion import foreign_format, to_musicxml

LARGEST_DOCUMENT = 512 * 1024 * 1024
"""Most bytes that a document may have, unpacked."""

LARGEST_RATIO = 200
"""How many times larger than its archive a document may be; scores are 20 to 40 times larger."""

_CONTAINER = "META-INF/container.xml"
_CHUNK = 1 << 20
_EXPORT_AGAIN = "Export it again from the program that it comes from."


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
        If it cannot be read, is damaged or harmful, or is not a score.
    """
    path = Path(path)
    raw = _bytes_of(path)
    sha256 = hashlib.sha256(raw).hexdigest()
    foreign = foreign_format(path)
    if foreign is not None:
        return Source(path, sha256, to_musicxml(raw, path, foreign), "musicxml", (foreign.warning,))
    document = raw
    if raw.startswith(b"PK"):
        document = _unpack(path)
    elif path.suffix.lower() == ".mxl":
        raise _fault(
            path,
            "This is not a compressed MusicXML file, or its beginning is damaged.",
            _EXPORT_AGAIN,
        )
    if not document.strip():
        raise _fault(path, "The file is empty.", _EXPORT_AGAIN)
    root, encoding = _check_xml(document, path)
    if encoding.lower().replace("_", "-") not in ("utf-8", "utf8", "us-ascii", "ascii"):
        document = etree.tostring(etree.fromstring(document, _parser()), encoding="utf-8")
    document = document.removeprefix(b"\xef\xbb\xbf")
    name = root.split(":")[-1].rpartition("}")[2]
    if name == "score-timewise":
        document = partwise(document)
    if name in ("score-partwise", "score-timewise"):
        return Source(path, sha256, document, "musicxml")
    if name in ("mei", "music", "mdiv", "meiCorpus"):
        return Source(path, sha256, document, "mei")
    raise _fault(
        path,
        f"This is an XML file, but not a score: it holds <{name}>.",
        "Stavelight opens MusicXML (.musicxml, .xml, .mxl) and MEI (.mei).",
    )


def _fault(path: Path, what: str, remedy: str) -> ScoreFileError:
    return ScoreFileError(what, where=path.name, remedy=remedy)


def _bytes_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_DOCUMENT:
            raise _fault(path, "The file is too large for a score.", "Choose a score file.")
        return path.read_bytes()
    except FileNotFoundError as error:
        raise _fault(
            path, f"There is no such file: {path}.", "Check the name and the folder."
        ) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise _fault(
            path, f"The file cannot be read: {reason}.", "Check that you may read it."
        ) from error


def _unpack(path: Path) -> bytes:
    """Return the score document of a compressed MusicXML file."""
    damaged = "The compressed file is damaged or cut off."
    try:
        with zipfile.ZipFile(path) as archive:
            name = _document_name(archive, path)
            return _read_entry(archive, name, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
        raise _fault(path, damaged, _EXPORT_AGAIN) from error
    except RuntimeError as error:  # what zipfile raises for an encrypted entry
        raise _fault(
            path, "The compressed file is locked with a password.", "Unlock it first."
        ) from error


def _document_name(archive: zipfile.ZipFile, path: Path) -> str:
    """Return the name of the score inside the archive: W3C MusicXML 4.0, container.xml."""
    names = archive.namelist()
    if _CONTAINER in names:
        container = _read_entry(archive, _CONTAINER, path)
        _check_xml(container, path)
        for rootfile in etree.fromstring(container, _parser()).iter("{*}rootfile"):
            kind = rootfile.get("media-type", "application/vnd.recordare.musicxml+xml")
            if "musicxml" not in kind and "xml" not in kind:
                continue
            name = str(rootfile.get("full-path", ""))
            _check_name(name, path)
            if name not in names:
                raise _fault(
                    path,
                    f"The compressed file names a score {name} that is not in it.",
                    _EXPORT_AGAIN,
                )
            return name
    for name in names:
        if name.lower().endswith((".musicxml", ".xml", ".mei")) and not name.startswith("META-INF"):
            _check_name(name, path)
            return name
    raise _fault(path, "There is no score in the compressed file.", _EXPORT_AGAIN)


def _check_name(name: str, path: Path) -> None:
    """Refuse names that lead out of the archive."""
    parts = PurePosixPath(name.replace("\\", "/"))
    if not name or parts.is_absolute() or ".." in parts.parts or ":" in parts.parts[0]:
        raise _fault(
            path,
            f"The compressed file points to a place outside itself: {name!r}.",
            "Do not use this file; ask where it comes from.",
        )


def _read_entry(archive: zipfile.ZipFile, name: str, path: Path) -> bytes:
    """Read an entry, counting what comes out: what the archive says of itself is not believed."""
    limit = min(
        LARGEST_DOCUMENT, max(archive.getinfo(name).compress_size, 1) * LARGEST_RATIO + _CHUNK
    )
    pieces = []
    size = 0
    with archive.open(name) as entry:
        while piece := entry.read(_CHUNK):
            size += len(piece)
            if size > limit:
                raise _fault(
                    path,
                    "Unpacked, the file would be far larger than any score.",
                    "Do not use this file; ask where it comes from.",
                )
            pieces.append(piece)
    return b"".join(pieces)


class _Declared(Exception):  # noqa: N818 - never leaves this module
    """The document declares an entity."""


def _check_xml(document: bytes, path: Path) -> tuple[str, str]:
    """Check that a document is well-formed and declares no entities.

    Returns
    -------
    tuple
        The name of the root element, and the encoding.
    """
    found = {"root": "", "encoding": "utf-8"}
    if document[:2] in (b"\xff\xfe", b"\xfe\xff"):
        found["encoding"] = "utf-16"
    parser = expat.ParserCreate()

    def declared(*_: object) -> None:
        raise _Declared

    def started(name: str, _: object) -> None:
        found["root"] = name
        parser.StartElementHandler = None

    def said(_version: str, encoding: str | None, _standalone: int) -> None:
        found["encoding"] = encoding or found["encoding"]

    parser.EntityDeclHandler = declared
    parser.StartElementHandler = started
    parser.XmlDeclHandler = said
    try:
        parser.Parse(document, True)
    except _Declared as error:
        raise _fault(
            path,
            "The file declares entities of its own, which no score needs and which can do harm.",
            "Do not use this file; ask where it comes from.",
        ) from error
    except expat.ExpatError as error:
        place = f"line {error.lineno}, column {error.offset + 1}"
        if not found["root"]:
            what = f"This is not an XML file: {expat.ErrorString(error.code)} ({place})."
        else:
            what = f"The file is damaged or cut off: {expat.ErrorString(error.code)} ({place})."
        raise _fault(path, what, _EXPORT_AGAIN) from error
    return found["root"], found["encoding"]


def _parser() -> etree.XMLParser:
    return etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=True)


def partwise(document: bytes) -> bytes:
    """Turn a timewise MusicXML document into a partwise one; nothing is lost but the order."""
    root = etree.fromstring(document, _parser())
    measures = root.findall("measure")
    parts: dict[str, etree._Element] = {}
    for measure in measures:
        root.remove(measure)
        for part in measure.findall("part"):
            part_id = part.get("id", "")
            if part_id not in parts:
                parts[part_id] = etree.SubElement(root, "part", id=part_id)
            bar = etree.SubElement(parts[part_id], "measure", dict(measure.attrib))
            bar.extend(list(part))
    root.tag = "score-partwise"
    return bytes(etree.tostring(root, encoding="utf-8"))
