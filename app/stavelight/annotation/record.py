"""What all records of the layer file share: ids, times, and fields that this version ignores.

**Unknown fields.** A file may have been written by a newer version, or by a person's own script,
with fields that this version does not know. They must survive a save, wherever their record has
moved to in the meantime. So each record carries its own: when a file is read, `with_unknown_fields`
moves every key that a record does not know into its field ``unknown_fields``, as the text of a
JSON object (text, because a record is a frozen value and a dict is not); `without_unknown_fields`
puts them back where they stood when the file is written. A deleted record takes its unknown
fields with it, and undo brings both back.

**Ids.** `new_id` gives 16 characters of Crockford's base 32 in lower case (no i, l, o, u):
10 for the milliseconds since 1970, then 6 of chance. They sort by the time they were made. Within
a process the next one is always greater than the last, so that none is given twice; two people
who make a record within the same millisecond collide once in 2**30.
"""

from __future__ import annotations

import json
import secrets
import threading
import time
from datetime import UTC, datetime
from functools import cache
from typing import Annotated, Any

import msgspec
from msgspec import inspect as shapes

RecordId = Annotated[str, msgspec.Meta(min_length=1)]
Moment = Annotated[
    str,
    msgspec.Meta(
        pattern=r"^([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?Z)?$",
        description="A time in UTC as in ISO 8601, or nothing where it is not known.",
    ),
]

_BASE_32 = "0123456789abcdefghjkmnpqrstvwxyz"
_CHANCE_BITS = 30
_UNKNOWN = "unknown_fields"
_DEEPEST_UNKNOWN = 100


class Record(msgspec.Struct, kw_only=True, frozen=True, repr_omit_defaults=True):
    """Anything that stands in a layer file as a JSON object.

    Attributes
    ----------
    unknown_fields
        The fields of the file that this version does not know, as the text of a JSON object.
    """

    unknown_fields: str | msgspec.UnsetType = msgspec.UNSET


class IdentifiedRecord(Record, kw_only=True, frozen=True):
    """A record that others point to, or that is told apart from others of its kind.

    Attributes
    ----------
    id
        Never changes.
    """

    id: RecordId


class _IdSource:
    """Gives out ids that grow, whichever thread asks."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last = 0

    def next(self) -> int:
        fresh = (time.time_ns() // 1_000_000 << _CHANCE_BITS) | secrets.randbits(_CHANCE_BITS)
        with self._lock:
            self._last = max(fresh, self._last + 1)
            return self._last


_ids = _IdSource()


def new_id() -> str:
    """Return a new id: 16 characters that sort by the time of making."""
    number = _ids.next()
    return "".join(_BASE_32[number >> shift & 31] for shift in range(75, -1, -5))


def utc_now() -> str:
    """Return the present moment in UTC to the second, such as ``2031-05-01T12:00:00Z``."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def with_unknown_fields(raw: Any, kind: type[Record]) -> Any:
    """Return decoded JSON in which every record's unknown keys stand in ``unknown_fields``.

    Parameters
    ----------
    raw
        What a JSON decoder made of a file; it is not changed. Whatever does not fit `kind` is
        left as it is: to complain about it is the decoder's business.
    kind
        The record that `raw` should be.

    Raises
    ------
    RecursionError
        If an unknown field is nested deeper than could safely be written again.
    """
    return _gather(raw, shapes.type_info(kind))


def _gather(raw: Any, shape: shapes.Type) -> Any:
    if isinstance(raw, list) and isinstance(shape, shapes.VarTupleType):
        item = shape.item_type
        return [_gather(value, item) for value in raw] if holds_records(item) else raw
    if not isinstance(raw, dict):
        return raw
    record = record_shape(raw, shape)
    if record is None:
        return raw
    known, inner = _keys(record)
    if raw.keys() <= known and raw.keys().isdisjoint(inner):
        return raw
    result = {key: value for key, value in raw.items() if key in known}
    for key in inner.keys() & result.keys():
        result[key] = _gather(result[key], inner[key])
    if len(result) < len(raw):
        unknown = {key: value for key, value in raw.items() if key not in known}
        if _is_deeper_than(unknown, _DEEPEST_UNKNOWN):
            raise RecursionError("an unknown field is nested too deeply")
        result[_UNKNOWN] = json.dumps(unknown, ensure_ascii=False, sort_keys=True)
    return result


def _is_deeper_than(value: Any, levels: int) -> bool:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return levels < 0 or any(_is_deeper_than(one, levels - 1) for one in inner)


def without_unknown_fields(raw: Any) -> Any:
    """Put the unknown fields of all records back where they stood; the reverse of the above.

    `raw` is what a JSON decoder made of encoded records; it is changed and returned.
    """
    if isinstance(raw, list):
        for value in raw:
            without_unknown_fields(value)
    elif isinstance(raw, dict):
        for value in raw.values():
            without_unknown_fields(value)
        unknown = raw.pop(_UNKNOWN, None)
        if unknown is not None:
            for key, value in json.loads(unknown).items():
                raw.setdefault(key, value)
    return raw


def record_shape(raw: dict[str, Any], shape: shapes.Type) -> shapes.StructType | None:
    """Return which record a JSON object is, where a field may hold one of several kinds."""
    if isinstance(shape, shapes.StructType):
        return shape
    if not isinstance(shape, shapes.UnionType):
        return None
    for choice in shape.types:
        if isinstance(choice, shapes.StructType) and (
            choice.tag_field is None or raw.get(choice.tag_field) == choice.tag
        ):
            return choice
    return None


def holds_records(shape: shapes.Type) -> bool:
    """Tell whether a value of this shape is a record, or has records in it."""
    if isinstance(shape, shapes.VarTupleType):
        return holds_records(shape.item_type)
    if isinstance(shape, shapes.UnionType):
        return any(holds_records(choice) for choice in shape.types)
    return isinstance(shape, shapes.StructType)


def known_fields(record: shapes.StructType) -> tuple[shapes.Field, ...]:
    """Return the fields that a record of this shape has in a file."""
    return tuple(field for field in record.fields if field.encode_name != _UNKNOWN)


@cache
def _keys_of(kind: type) -> tuple[frozenset[str], dict[str, shapes.Type]]:
    record = shapes.type_info(kind)
    assert isinstance(record, shapes.StructType)
    fields = known_fields(record)
    known = {field.encode_name for field in fields}
    if record.tag_field is not None:
        known.add(record.tag_field)
    inner = {field.encode_name: field.type for field in fields if holds_records(field.type)}
    return frozenset(known), inner


def _keys(record: shapes.StructType) -> tuple[frozenset[str], dict[str, shapes.Type]]:
    """Return all keys that a record knows, and the shapes of those that hold records."""
    return _keys_of(record.cls)
