"""Every edit of regions that the window can make, each one a step that can be undone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from stavelight.annotation import editing, palette
from stavelight.annotation.region import Region, SpanRecord, new_region, span_record
from stavelight.score.structure import Span
from stavelight.window.layer_desk import LayerDesk

_DEFAULT = palette.REGION_COLOURS[0]


class RegionEdits:
    """Edits regions of the layer on the desk; where it may not be changed, nothing happens.

    Parameters
    ----------
    desk
        The layer.
    """

    def __init__(self, desk: LayerDesk) -> None:
        self._desk = desk
        self._look = (_DEFAULT.id, _DEFAULT.pattern)
        self._looks_by_hand: set[str] = set()
        self._last_tags: tuple[str, ...] = ()
        self._recent_tags: list[str] = []

    @property
    def recent_tags(self) -> tuple[str, ...]:
        """Ids of the tags that were given lately, the latest first."""
        return tuple(self._recent_tags)

    def add(self, span: Span) -> None:
        """Mark a region, in the look of the tag that was used last, and select it."""
        layer, score = self._desk.layer, self._desk.score
        if layer is None or score is None or not self._desk.is_editable:
            return
        colour, pattern = self._look
        region = new_region(
            (span_record(span, score),), colour=colour, pattern=pattern, author=self._desk.author
        )
        self._desk.record(editing.add_region(layer, region), "Mark a region")
        self._desk.select(region.id)

    def reshape(self, region_id: str, spans: Sequence[Span]) -> None:
        """Put a region elsewhere.

        Parameters
        ----------
        region_id
            Which region.
        spans
            As many as `LayerDesk.spans` gave. What this score does not have of the region, such
            as the staves of a part that is missing, stays as it is recorded.
        """
        score, region = self._desk.score, self._desk.region(region_id)
        if score is None or region is None:
            return
        coming = iter(spans)
        records: list[SpanRecord] = []
        for before, found in zip(region.spans, self._desk.found_spans(region), strict=True):
            span = next(coming, None) if found.span is not None else None
            if span is None:
                records.append(before)
                continue
            after = span_record(span, score)
            records.append(replace(after, staves=(*after.staves, *found.missing)))
        self._change(region_id, "Move the region", spans=tuple(records))

    def delete(self, region_id: str) -> None:
        """Delete a region; what is written about it stays."""
        layer = self._desk.layer
        if (
            layer is not None
            and self._desk.is_editable
            and self._desk.region(region_id) is not None
        ):
            self._desk.record(editing.remove_region(layer, region_id), "Delete the region")

    def set_label(self, region_id: str, label: str) -> None:
        """Give a region a name."""
        self._change(region_id, "Label the region", label=label)

    def set_memo(self, region_id: str, memo: str) -> None:
        """Write a memo on a region."""
        self._change(region_id, "Write a memo", memo=memo)

    def set_certainty(self, region_id: str, certainty: str) -> None:
        """Say how sure one is of a region."""
        self._change(region_id, "Say how sure", certainty=certainty)

    def set_colour(self, region_id: str, colour: str) -> None:
        """Recolour a region by hand; its pattern follows if it was that of the old colour."""
        region = self._desk.region(region_id)
        if region is None:
            return
        self._looks_by_hand.add(region_id)
        pattern = region.pattern
        if pattern == palette.colour(region.colour).pattern:
            pattern = palette.colour(colour).pattern
        self._change(region_id, "Recolour the region", colour=colour, pattern=pattern)

    def set_pattern(self, region_id: str, pattern: str) -> None:
        """Give a region another pattern by hand."""
        self._looks_by_hand.add(region_id)
        self._change(region_id, "Change the pattern", pattern=pattern)

    def add_tag(self, region_id: str, tag_id: str) -> None:
        """Give a region a tag, and with its first tag that tag's look."""
        region = self._desk.region(region_id)
        if region is not None and tag_id not in region.tags:
            self._set_tags(
                region, (*region.tags, tag_id), f"Tag: {self._desk.vocabulary.label(tag_id)}"
            )
            if tag_id in self._recent_tags:
                self._recent_tags.remove(tag_id)
            self._recent_tags.insert(0, tag_id)

    def remove_tag(self, region_id: str, tag_id: str) -> None:
        """Take a tag from a region."""
        region = self._desk.region(region_id)
        if region is not None and tag_id in region.tags:
            tags = tuple(tag for tag in region.tags if tag != tag_id)
            self._set_tags(region, tags, f"Remove tag: {self._desk.vocabulary.label(tag_id)}")

    def repeat_tags(self, region_id: str) -> None:
        """Give a region the tags and the look of the one that was tagged before."""
        region = self._desk.region(region_id)
        if region is not None and self._last_tags:
            tags = tuple(dict.fromkeys((*region.tags, *self._last_tags)))
            colour, pattern = self._look
            self._change(
                region_id, "Tag like the one before", tags=tags, colour=colour, pattern=pattern
            )

    def _set_tags(self, region: Region, tags: tuple[str, ...], name: str) -> None:
        colour, pattern = region.colour, region.pattern
        if tags[:1] != region.tags[:1] and tags and not self._is_look_by_hand(region):
            tag = self._desk.vocabulary.tag_by_id.get(tags[0])
            if tag is not None:
                colour, pattern = tag.colour, tag.pattern
        self._change(region.id, name, tags=tags, colour=colour, pattern=pattern)
        if tags:
            self._last_tags = tags
            self._look = (colour, pattern)

    def _is_look_by_hand(self, region: Region) -> bool:
        if region.id in self._looks_by_hand:
            return True
        tag = self._desk.vocabulary.tag_by_id.get(region.tags[0]) if region.tags else None
        return tag is not None and (region.colour, region.pattern) != (tag.colour, tag.pattern)

    def _change(self, region_id: str, name: str, **fields: Any) -> None:
        layer = self._desk.layer
        if (
            layer is not None
            and self._desk.is_editable
            and self._desk.region(region_id) is not None
        ):
            self._desk.record(editing.change_region(layer, region_id, **fields), name)
