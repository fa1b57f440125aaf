"""The text of a layer file: JSON in UTF-8, keys sorted, one value a line, a newline at the end.

So a change of one value is a change of one line in a version control system. `json.dumps` of the
standard library with ``indent=2, sort_keys=True, ensure_ascii=False`` writes the same.
"""

from __future__ import annotations

import json
import re
from typing import Any

import msgspec

from stavelight.annotation.layer import FORMAT_VERSION, Layer
from stavelight.annotation.record import with_unknown_fields, without_unknown_fields
from stavelight.errors import LayerFileError

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_ENCODER = msgspec.json.Encoder(order="sorted")
_DECODER = msgspec.json.Decoder(Layer)
_PATH_IN_MESSAGE = re.compile(r"(?P<what>.*?)(?: - at `(?P<path>.*)`)?", re.DOTALL)
_CONFLICT = re.compile(rb"^(<<<<<<<|>>>>>>>)", re.MULTILINE)
_FROM_A_COPY = "Mend it in a text editor, or put a copy of it back."


def encode_layer(layer: Layer) -> bytes:
    """Return the bytes of a layer's file.

    Raises
    ------
    ValueError
        If the layer holds values that could not be read again: a fault of the program.
    """
    data = _ENCODER.encode(layer)
    _DECODER.decode(data)
    if b'"unknown_fields":' in data:
        data = _ENCODER.encode(without_unknown_fields(msgspec.json.decode(data)))
    return msgspec.json.format(data, indent=2) + b"\n"


def decode_layer(data: bytes, where: str) -> Layer:
    """Return the layer that the bytes of a file hold.

    A file of a newer format version is read as far as this version knows its fields.

    Parameters
    ----------
    data
        The bytes.
    where
        The file, for messages.

    Raises
    ------
    LayerFileError
        If they are not JSON, with the line and the column; or not a layer, with the path to the
        value, such as ``$.regions[3].spans[0].start``.
    """
    plain = _decode_plain(data)
    if plain is not None:
        return plain
    raw = decode_json(data, where)
    try:
        gathered = with_unknown_fields(raw, Layer)
    except RecursionError as error:
        raise LayerFileError(
            "A field that this program does not know is nested too deeply.",
            where=where,
            remedy=_FROM_A_COPY,
        ) from error
    version = format_version(raw)
    if version is None:
        raise LayerFileError(
            "This is not an annotation layer: it does not say its format_version.",
            where=where,
            remedy="Choose a file that ends in .layer.json.",
        )
    try:
        return msgspec.convert(gathered, Layer)
    except msgspec.ValidationError as error:
        if version > FORMAT_VERSION:
            raise LayerFileError(
                f"The layer is of format version {version}, which this program cannot read.",
                where=where,
                remedy="Install a newer version of the program.",
            ) from error
        what, path = what_and_path(error)
        raise LayerFileError(what, where=f"{where}: {path}", remedy=_FROM_A_COPY) from error


def _decode_plain(data: bytes) -> Layer | None:
    """Return the layer of a file exactly as this program writes it, quickly; else None.

    If the bytes come out the same when they are written again, there is nothing in them that
    this version does not know.
    """
    if b'"unknown_fields":' in data:
        return None
    try:
        layer = _DECODER.decode(data)
    except (msgspec.DecodeError, ValueError, RecursionError):
        return None
    again = msgspec.json.format(_ENCODER.encode(layer), indent=2) + b"\n"
    return layer if again == data else None


def format_version(raw: Any) -> int | None:
    """Return the format version that decoded JSON says it is of, or None if it says none."""
    version = raw.get("format_version") if isinstance(raw, dict) else None
    is_version = isinstance(version, int) and not isinstance(version, bool) and version >= 1
    return version if is_version else None


def what_and_path(error: msgspec.ValidationError) -> tuple[str, str]:
    """Return what is wrong with a value, as a sentence, and the path to the value."""
    match = _PATH_IN_MESSAGE.fullmatch(str(error))
    what, path = (match["what"], match["path"]) if match is not None else (str(error), None)
    return f"{what.replace('`', '')}.", path or "$"


def decode_json(data: bytes, where: str) -> Any:
    """Return what JSON in UTF-8 stands for.

    Raises
    ------
    LayerFileError
        If it is not JSON, with the line and the column where it stops being so.
    """
    text = data.removeprefix(_BYTE_ORDER_MARK)
    try:
        return msgspec.json.decode(text)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        conflict = _CONFLICT.search(text)
        if conflict is not None:
            line = text.count(b"\n", 0, conflict.start()) + 1
            raise LayerFileError(
                "The file holds two versions that a version control system could not merge.",
                where=f"{where}, line {line}",
                remedy="Settle the conflict there first.",
            ) from error
        what, place = _json_fault(text, error)
        raise LayerFileError(
            f"The file is not complete and correct JSON: {what}.",
            where=f"{where}{place}",
            remedy=_FROM_A_COPY,
        ) from error


def _json_fault(data: bytes, error: Exception) -> tuple[str, str]:
    """Return what is wrong with broken JSON, and where as ``, line 3, column 7``."""
    if not data.strip():
        return "it is empty", ""
    if isinstance(error, RecursionError):
        return "it is nested too deeply", ""
    try:
        json.loads(data.decode("utf-8"))
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return "it is not UTF-8 text", f", line {line}"
    except json.JSONDecodeError as fault:
        what = fault.msg[:1].lower() + fault.msg[1:]
        return what, f", line {fault.lineno}, column {fault.colno}"
    except ValueError:
        return "a number is too long", ""
    # The standard library lets pass what JSON forbids, such as NaN.
    byte = re.search(r"\(byte ([0-9]+)\)", str(error))
    if byte is None:
        return "a character or a value that JSON does not allow", ""
    before = data[: int(byte[1])]
    line, column = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
    return "a value that JSON does not allow", f", line {line}, column {column}"
