"""Check an XML document before anything reads it: encoding, form, and what it declares.

No tree is built, nothing is fetched, and no entity is resolved: a document that declares entities
of its own is refused. A document type with a public identifier is usual in MusicXML and harmless.
"""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from xml.parsers import expat

from stavelight.errors import ScoreFileError

LARGEST_DOCUMENT = 512 * 1024 * 1024
"""Most bytes that a document may have."""

_EXPORT_AGAIN = "Export it again from the program that it comes from."
_DECLARED = re.compile(rb"""^(\s*<\?xml[^>]{0,200}?encoding\s*=\s*["'])([A-Za-z0-9._:-]{1,40})""")
_DECLARED_TEXT = re.compile(r"""^(\s*<\?xml[^>]{0,200}?encoding\s*=\s*["'])[^"']{0,40}""")
_BYTE_ORDER_MARKS = (  # the longer ones first
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CUT_OFF = {
    expat.errors.XML_ERROR_NO_ELEMENTS,
    expat.errors.XML_ERROR_UNCLOSED_TOKEN,
    expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    expat.errors.XML_ERROR_PARTIAL_CHAR,
}
_PARSED_AS_THEY_STAND = {"utf-8", "ascii"}
_OTHER_TEXT = re.compile(
    r"(iso8859-\d+|cp125\d|cp437|cp850|mac-roman|koi8-[ru]|shift_jis|cp932|euc_jp|euc_kr|gbk"
    r"|gb2312|gb18030|big5)"
)


@dataclass(frozen=True, slots=True)
class Document:
    """A well-formed XML document that declares no entities.

    Attributes
    ----------
    data
        The document in UTF-8, without byte order mark.
    root
        The name of its outermost element, without prefix.
    """

    data: bytes
    root: str


class _EntityDeclared(Exception):  # noqa: N818 - caught below
    """The document declares an entity, or refers to one that it does not declare."""


def check_document(raw: bytes, where: str) -> Document:
    """Return a document in UTF-8 that can be parsed without harm.

    Parameters
    ----------
    raw
        The document as it stands in the file.
    where
        The file's name, for messages.

    Raises
    ------
    ScoreFileError
        If it is empty, not XML, not well-formed, in an unknown encoding, or declares entities.
    """
    if not raw.strip(b" \t\r\n\0"):
        raise ScoreFileError("The file is empty.", where=where, remedy=_EXPORT_AGAIN)
    data = _in_utf8(raw, where)
    root = ""

    def take_root(name: str, _attributes: object) -> None:
        nonlocal root
        root = name
        parser.StartElementHandler = None  # one call, not one for each element

    def refuse(*_declaration: object) -> None:
        raise _EntityDeclared

    parser = expat.ParserCreate()
    parser.StartElementHandler = take_root
    parser.EntityDeclHandler = refuse
    parser.SkippedEntityHandler = refuse
    try:
        parser.Parse(data, True)
    except _EntityDeclared as fault:
        raise ScoreFileError(
            "The file works with entities of its own, which no score needs and which can do harm.",
            where=f"{where}, line {parser.CurrentLineNumber}",
            remedy="Do not use this file; ask where it comes from.",
        ) from fault
    except expat.ExpatError as fault:
        raise ScoreFileError(
            f"{_in_words(fault, root)} ({expat.ErrorString(fault.code)}).",
            where=f"{where}, line {fault.lineno}, column {fault.offset + 1}",
            remedy=_EXPORT_AGAIN,
        ) from fault
    return Document(data, root.rpartition(":")[2])


def _in_words(fault: expat.ExpatError, root: str) -> str:
    if not root:
        return "This is not an XML file"
    if expat.ErrorString(fault.code) in _CUT_OFF:
        return "The file is cut off: its end is missing"
    return "The file is damaged: it is not well-formed XML"


def _in_utf8(raw: bytes, where: str) -> bytes:
    """Return a document in UTF-8, with its declaration changed to say so."""
    if raw.startswith(codecs.BOM_UTF8):
        return _declared_as_utf8(raw[len(codecs.BOM_UTF8) :])
    for mark, encoding in _BYTE_ORDER_MARKS:
        if raw.startswith(mark):
            return _decoded(raw, encoding, where)
    if raw[:2] in (b"<\0", b"\0<"):
        return _decoded(raw, "utf-16-le" if raw[1] == 0 else "utf-16-be", where)
    declared = _DECLARED.match(raw)
    if declared is None:
        return raw
    name = declared[2].decode("ascii")
    try:
        encoding = codecs.lookup(name).name
    except LookupError:
        encoding = name
    if encoding.startswith(("utf-16", "utf-32")):  # it cannot be: the declaration was readable
        return _declared_as_utf8(raw)
    if encoding in _PARSED_AS_THEY_STAND:
        return raw
    if not _OTHER_TEXT.fullmatch(encoding):
        raise ScoreFileError(
            f"The file is in an encoding that is not known here: {name}.",
            where=where,
            remedy="Save it in UTF-8.",
        )
    return _decoded(raw, encoding, where)


def _declared_as_utf8(data: bytes) -> bytes:
    return _DECLARED.sub(rb"\1UTF-8", data, count=1)


def _decoded(raw: bytes, encoding: str, where: str) -> bytes:
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as fault:
        raise ScoreFileError(
            f"The file says that it is encoded in {encoding}, but it is not.",
            where=f"{where}, byte {fault.start + 1}",
            remedy=_EXPORT_AGAIN,
        ) from fault
    return _DECLARED_TEXT.sub(r"\1UTF-8", text, count=1).encode("utf-8")
