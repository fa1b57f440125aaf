"""Check a layer file: all that is wrong with it, not only what comes first."""

from __future__ import annotations

import json
import typing
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from msgspec import inspect as shapes

from stavelight.annotation.commentary import Entry, OnRegion, OnSpans
from stavelight.annotation.layer import FORMAT_VERSION, Layer, ScoreReference
from stavelight.annotation.layer_text import decode_json, format_version, what_and_path
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.palette import COLOUR_BY_ID, HATCH_BY_ID
from stavelight.annotation.record import IdentifiedRecord, record_shape, with_unknown_fields
from stavelight.annotation.region import Place, Region, SpanRecord, StaffFinder, StaffRef
from stavelight.annotation.tags import Tag, Vocabulary, load_vocabulary
from stavelight.errors import LayerFileError
from stavelight.score.structure import Point, Score

_Kind = TypeVar("_Kind", bound=msgspec.Struct)
_Numbered = list[tuple[str, _Kind]]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    where
        The path to the value, such as ``$.regions[3].spans[0].start``, or a line of the file.
    what
        What is wrong with it, as a sentence.
    """

    where: str
    what: str

    def one_line(self) -> str:
        """Return it as one line of text."""
        return " ".join(f"{self.where}: {self.what}".split())


def check_layer(path: Path, score: Score | None = None) -> list[Fault]:
    """Return all that is wrong with a layer file, in the order of the file's own structure.

    Values of a wrong kind come first, then what does not fit together in the layer, then what
    does not fit the score.

    Parameters
    ----------
    path
        The file.
    score
        The score that it should belong to; None leaves out what only a score can tell.

    Raises
    ------
    LayerFileError
        If the file cannot be read at all.
    """
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise LayerFileError(
            f"The layer file cannot be read: {error.strerror or error}.", where=str(path)
        ) from error
    try:
        raw = decode_json(data, str(path))
    except LayerFileError as error:
        return [Fault(error.where.removeprefix(str(path)).strip(", ") or "$", error.what)]
    version = format_version(raw)
    if version is None:
        return [Fault("$.format_version", "This is not an annotation layer: it has no version.")]
    faults = [Fault("$", f"The key {key!r} stands twice in one object.") for key in _twice(data)]
    if version > FORMAT_VERSION:
        what = f"Version {version} is newer than what this program knows, version {FORMAT_VERSION}."
        faults.append(Fault("$.format_version", what))
    try:
        raw = with_unknown_fields(raw, Layer)
    except RecursionError as error:
        return [*faults, Fault("$", f"The file is not safe to read: {error}.")]
    faults += shape_faults(raw, Layer)
    return faults + _Check(raw, score).faults()


def _twice(data: bytes) -> list[str]:
    """Return the keys that stand twice in one object of a JSON text."""
    found: dict[str, None] = {}

    def note(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        result = dict(pairs)
        if len(result) < len(pairs):
            keys = [key for key, _ in pairs]
            found.update(dict.fromkeys(key for key in keys if keys.count(key) > 1))
        return result

    json.loads(data.decode("utf-8-sig"), object_pairs_hook=note)
    return list(found)


def shape_faults(raw: Any, kind: Any, path: str = "$") -> list[Fault]:
    """Return all values in decoded JSON that are not of the kind that they should be.

    Parameters
    ----------
    raw
        The decoded JSON.
    kind
        The type that it should be converted to: a record, or what a field of one may hold.
    path
        The path to `raw`.
    """
    try:
        msgspec.convert(raw, kind)
    except msgspec.ValidationError as error:
        found = list(_inner_faults(raw, kind, path))
        what, inside = what_and_path(error)
        return found or [Fault(path + inside.removeprefix("$"), what)]
    return []


def _inner_faults(raw: Any, kind: Any, path: str) -> Iterator[Fault]:
    """Yield the faults of what a value consists of."""
    shape = shapes.type_info(kind)
    if isinstance(raw, list) and isinstance(shape, shapes.VarTupleType):
        item = typing.get_args(kind)[0]
        for index, value in enumerate(raw):
            yield from shape_faults(value, item, f"{path}[{index}]")
    elif isinstance(raw, dict):
        record = record_shape(raw, shape)
        for field in msgspec.structs.fields(record.cls) if record is not None else ():
            if field.encode_name in raw:
                value = raw[field.encode_name]
                yield from shape_faults(value, field.type, f"{path}.{field.encode_name}")
            elif field.required:
                yield Fault(path, f"Object missing required field {field.encode_name}.")


class _Check:
    """What does not fit together in a layer, and what does not fit its score.

    Whatever cannot be converted is left out here: it is a fault already.
    """

    def __init__(self, raw: dict[str, Any], score: Score | None) -> None:
        self._found: list[Fault] = []
        self._score = score
        self._finder = StaffFinder(score) if score is not None else None
        self._raw = raw
        self._regions = _converted(raw.get("regions"), Region, "$.regions")
        self._entries = _converted(raw.get("entries"), Entry, "$.entries")
        self._lessons = _converted(raw.get("lessons"), Lesson, "$.lessons")
        self._own_tags = _converted(raw.get("own_tags"), Tag, "$.own_tags")
        self._region_ids = _ids_in(raw.get("regions"))
        self._item_ids = self._region_ids | _ids_in(raw.get("entries"))
        own = [tag for _, tag in self._own_tags]
        self._vocabulary: Vocabulary = load_vocabulary().with_own_tags(own)

    def faults(self) -> list[Fault]:
        self._check_ids([*self._regions, *self._entries])
        self._check_ids(self._lessons)
        self._check_ids(self._own_tags)
        self._check_reference()
        for path, region in self._regions:
            self._check_region(path, region)
        for path, entry in self._entries:
            self._check_entry(path, entry)
        for path, lesson in self._lessons:
            for index, item in enumerate(lesson.items):
                if item not in self._item_ids:
                    self._add(f"{path}.items[{index}]", f"There is no region or entry {item!r}.")
        for path, tag in self._own_tags:
            self._check_look(path, tag)
            if tag.broader is not None and tag.broader not in self._vocabulary.tag_by_id:
                self._add(f"{path}.broader", f"There is no tag {tag.broader!r}.")
        return self._found

    def _add(self, where: str, what: str) -> None:
        self._found.append(Fault(where, what))

    def _check_ids(self, items: Sequence[tuple[str, IdentifiedRecord]]) -> None:
        first: dict[str, str] = {}
        for path, item in items:
            if item.id in first:
                self._add(f"{path}.id", f"The id {item.id!r} is taken by {first[item.id]}.")
            first.setdefault(item.id, path)

    def _check_reference(self) -> None:
        if self._score is None:
            return
        try:
            reference = msgspec.convert(self._raw.get("score"), ScoreReference)
        except msgspec.ValidationError:
            return
        if reference.sha256 != self._score.sha256:
            what = f"The layer was made for another score than {self._score.path.name} as it is."
            self._add("$.score.sha256", what)

    def _check_region(self, path: str, region: Region) -> None:
        if not region.spans:
            self._add(f"{path}.spans", "The region has no span.")
        for index, span in enumerate(region.spans):
            self._check_span(f"{path}.spans[{index}]", span)
        for index, note in enumerate(region.notes):
            self._check_place(f"{path}.notes[{index}].place", note.place)
            self._check_staff(f"{path}.notes[{index}].staff", note.staff)
            if self._score is not None and note.id not in self._score.notes.row_by_id:
                self._add(f"{path}.notes[{index}].id", f"The score has no note {note.id!r}.")
        for index, tag in enumerate(region.tags):
            if tag not in self._vocabulary.tag_by_id:
                self._add(f"{path}.tags[{index}]", f"There is no tag {tag!r}.")
            if tag in region.tags[:index]:
                self._add(f"{path}.tags[{index}]", f"The tag {tag!r} is given twice.")
        self._check_look(path, region)
        self._check_moments(path, region)

    def _check_look(self, path: str, item: Region | Tag) -> None:
        colour = COLOUR_BY_ID.get(item.colour)
        if colour is None:
            self._add(f"{path}.colour", f"There is no colour {item.colour!r}.")
        elif not colour.for_regions:
            self._add(f"{path}.colour", f"{colour.name} belongs to the score, not to regions.")
        if item.pattern not in HATCH_BY_ID:
            self._add(f"{path}.pattern", f"There is no pattern {item.pattern!r}.")

    def _check_entry(self, path: str, entry: Entry) -> None:
        target = entry.target
        if isinstance(target, OnRegion):
            if target.region not in self._region_ids:
                self._add(f"{path}.target.region", f"There is no region {target.region!r}.")
        elif isinstance(target, OnSpans):
            if not target.spans:
                self._add(f"{path}.target.spans", "The entry has no span.")
            for index, span in enumerate(target.spans):
                self._check_span(f"{path}.target.spans[{index}]", span)
        start, end = entry.start_seconds, entry.end_seconds
        if end is not None and start is None:
            self._add(f"{path}.end_seconds", "The entry has an end time without a start time.")
        elif end is not None and start is not None and end < start:
            self._add(f"{path}.end_seconds", "The entry's time ends before it starts.")
        self._check_moments(path, entry)

    def _check_moments(self, path: str, item: Region | Entry) -> None:
        for name in ("created", "changed"):
            moment = getattr(item, name)
            if moment and not _is_date(moment):
                self._add(f"{path}.{name}", f"There is no such time as {moment}.")
        # To the second: fractions are optional.
        if item.created and item.changed and item.changed[:19] < item.created[:19]:
            self._add(f"{path}.changed", "It was changed before it was created.")

    def _check_span(self, path: str, span: SpanRecord) -> None:
        if not span.staves:
            self._add(f"{path}.staves", "The span has no staff.")
        for index, staff in enumerate(span.staves):
            self._check_staff(f"{path}.staves[{index}]", staff)
            if staff in span.staves[:index]:
                self._add(f"{path}.staves[{index}]", "The staff is given twice.")
        start = self._check_place(f"{path}.start", span.start)
        end = self._check_place(f"{path}.end", span.end)
        if end < start:
            self._add(f"{path}.end", "The span ends before it starts.")
        elif end == start:
            self._add(f"{path}.end", "The span ends where it starts.")

    def _check_place(self, path: str, place: Place) -> Point:
        if self._finder is not None:
            _, doubt = self._finder.find_point(place)
            if doubt:
                self._add(path, doubt)
        return place.point

    def _check_staff(self, path: str, staff: StaffRef) -> None:
        if self._finder is None:
            return
        found = self._finder.find_staff(staff)
        if found.staff is None:
            self._add(path, f"The score has no staff {staff.staff} of {staff.part} {staff.name!r}.")
        elif found.doubt:
            self._add(path, found.doubt)


def _converted(raw: Any, kind: type[_Kind], path: str) -> _Numbered[_Kind]:
    """Return the items of a list that are what they should be, with their paths."""
    found: _Numbered[_Kind] = []
    for index, value in enumerate(raw if isinstance(raw, list) else ()):
        try:
            found.append((f"{path}[{index}]", msgspec.convert(value, kind)))
        except msgspec.ValidationError:
            continue
    return found


def _ids_in(raw: Any) -> set[str]:
    """Return all ids of a list, also of items that are faulty otherwise."""
    items = raw if isinstance(raw, list) else ()
    ids = {item.get("id") for item in items if isinstance(item, dict)}
    return {one for one in ids if isinstance(one, str)}


def _is_date(moment: str) -> bool:
    try:
        datetime.fromisoformat(moment)
    except ValueError:
        return False
    return True
