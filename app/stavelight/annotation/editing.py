"""Edits of a layer: each takes one and returns another, and the one given stays as it is.

Layers share all records that an edit leaves alone. Whatever changes a region or an entry writes
down when.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from msgspec.structs import replace

from stavelight.annotation.commentary import Entry, OnRegion, OnScore, OnSpans, spans_of
from stavelight.annotation.layer import Layer, score_reference
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.record import IdentifiedRecord, utc_now
from stavelight.annotation.region import Place, Region, StaffRef
from stavelight.annotation.tags import Tag
from stavelight.score.structure import Score

_Item = TypeVar("_Item", bound=IdentifiedRecord)


def attach_to(layer: Layer, score: Score) -> Layer:
    """Return the layer, said to belong to another score, or to a revised file of its own.

    Places and staves stay as they are recorded.
    """
    return replace(layer, score=score_reference(score))


# ---- regions ---------------------------------------------------------------------------------


def add_regions(layer: Layer, regions: Iterable[Region]) -> Layer:
    """Return the layer with these regions after the others.

    Raises
    ------
    ValueError
        If an id is taken.
    """
    return replace(layer, regions=_added(layer.regions, regions))


def add_region(layer: Layer, region: Region) -> Layer:
    """Return the layer with one region more; see `add_regions`."""
    return add_regions(layer, (region,))


def change_regions(
    layer: Layer,
    region_ids: Iterable[str],
    change: Callable[[Region], Region],
    *,
    when: str | None = None,
) -> Layer:
    """Return the layer with several regions changed at once.

    Parameters
    ----------
    layer
        The layer.
    region_ids
        Which regions to change.
    change
        Returns the changed region; its id is left alone. Where it returns what it was given, the
        time of change stays, too.
    when
        The time of change in UTC; None is now.

    Raises
    ------
    KeyError
        If the layer has no region of an id.
    """
    regions = list(layer.regions)
    moment = when if when is not None else utc_now()
    for region_id in region_ids:
        position = layer.region_positions[region_id]
        before = regions[position]
        after = change(before)
        if after != before:
            regions[position] = replace(after, id=region_id, changed=moment)
    return replace(layer, regions=tuple(regions))


def change_region(layer: Layer, region_id: str, *, when: str | None = None, **fields: Any) -> Layer:
    """Return the layer with fields of one region changed, such as its label or its colour."""
    return change_regions(layer, (region_id,), lambda one: replace(one, **fields), when=when)


def replace_region(layer: Layer, region: Region, *, when: str | None = None) -> Layer:
    """Return the layer with this region in the place of the one of the same id."""
    return change_regions(layer, (region.id,), lambda _: region, when=when)


def move_edges(
    layer: Layer,
    region_id: str,
    *,
    span: int = 0,
    start: Place | None = None,
    end: Place | None = None,
    staves: Iterable[StaffRef] | None = None,
    when: str | None = None,
) -> Layer:
    """Return the layer with edges of one span of a region moved; None leaves an edge alone."""

    def moved(region: Region) -> Region:
        before = region.spans[span]
        after = replace(
            before,
            start=start if start is not None else before.start,
            end=end if end is not None else before.end,
            staves=tuple(staves) if staves is not None else before.staves,
        )
        spans = list(region.spans)
        spans[span] = after
        return replace(region, spans=tuple(spans))

    return change_regions(layer, (region_id,), moved, when=when)


def retag(
    layer: Layer,
    region_ids: Iterable[str],
    *,
    add: Iterable[str] = (),
    remove: Iterable[str] = (),
    when: str | None = None,
) -> Layer:
    """Return the layer with tags added to regions and removed from them."""
    added, removed = tuple(add), frozenset(remove)

    def retagged(region: Region) -> Region:
        tags = dict.fromkeys((*region.tags, *added))
        return replace(region, tags=tuple(tag for tag in tags if tag not in removed))

    return change_regions(layer, region_ids, retagged, when=when)


def remove_regions(layer: Layer, region_ids: Iterable[str], *, when: str | None = None) -> Layer:
    """Return the layer without some regions.

    Entries about them stay, and are about the same spans from now on. Lessons lose the regions
    from their lists.
    """
    gone = frozenset(region_ids)
    moment = when if when is not None else utc_now()

    def kept(entry: Entry) -> Entry:
        if not isinstance(entry.target, OnRegion) or entry.target.region not in gone:
            return entry
        spans = spans_of(entry, layer.region)
        target = OnSpans(spans=spans) if spans else OnScore()
        return replace(entry, target=target, changed=moment)

    return replace(
        layer,
        regions=tuple(region for region in layer.regions if region.id not in gone),
        entries=tuple(kept(entry) for entry in layer.entries),
        lessons=_without_items(layer.lessons, gone),
    )


def remove_region(layer: Layer, region_id: str, *, when: str | None = None) -> Layer:
    """Return the layer without one region; see `remove_regions`."""
    return remove_regions(layer, (region_id,), when=when)


# ---- entries, lessons, tags ----------------------------------------------------------------------


def add_entry(layer: Layer, entry: Entry) -> Layer:
    """Return the layer with one entry more.

    Raises
    ------
    ValueError
        If its id is taken.
    """
    return replace(layer, entries=_added(layer.entries, (entry,)))


def change_entry(layer: Layer, entry_id: str, *, when: str | None = None, **fields: Any) -> Layer:
    """Return the layer with fields of one entry changed, such as its text or its times.

    Raises
    ------
    KeyError
        If the layer has no entry of this id.
    """
    position = layer.entry_positions[entry_id]
    before = layer.entries[position]
    after = replace(before, **fields)
    if after == before:
        return layer
    after = replace(after, id=entry_id, changed=when if when is not None else utc_now())
    entries = (*layer.entries[:position], after, *layer.entries[position + 1 :])
    return replace(layer, entries=entries)


def replace_entry(layer: Layer, entry: Entry, *, when: str | None = None) -> Layer:
    """Return the layer with this entry in the place of the one of the same id."""
    fields = {name: getattr(entry, name) for name in Entry.__struct_fields__}
    return change_entry(layer, entry.id, when=when, **fields)


def remove_entry(layer: Layer, entry_id: str) -> Layer:
    """Return the layer without one entry; lessons lose it from their lists."""
    gone = frozenset((entry_id,))
    return replace(
        layer,
        entries=tuple(entry for entry in layer.entries if entry.id not in gone),
        lessons=_without_items(layer.lessons, gone),
    )


def put_lesson(layer: Layer, lesson: Lesson) -> Layer:
    """Return the layer with a lesson added, or put in the place of the one of its id."""
    return replace(layer, lessons=_put(layer.lessons, lesson))


def put_own_tag(layer: Layer, tag: Tag) -> Layer:
    """Return the layer with a tag of its own added, or put in the place of the one of its id."""
    return replace(layer, own_tags=_put(layer.own_tags, tag))


def _added(before: tuple[_Item, ...], new: Iterable[_Item]) -> tuple[_Item, ...]:
    added = tuple(new)
    ids = {item.id for item in added}
    if len(ids) < len(added) or any(item.id in ids for item in before):
        raise ValueError("an id is given twice")
    return (*before, *added)


def _put(before: tuple[_Item, ...], new: _Item) -> tuple[_Item, ...]:
    if any(item.id == new.id for item in before):
        return tuple(new if item.id == new.id else item for item in before)
    return (*before, new)


def _without_items(lessons: tuple[Lesson, ...], gone: frozenset[str]) -> tuple[Lesson, ...]:
    return tuple(
        replace(lesson, items=tuple(item for item in lesson.items if item not in gone))
        if not gone.isdisjoint(lesson.items)
        else lesson
        for lesson in lessons
    )
