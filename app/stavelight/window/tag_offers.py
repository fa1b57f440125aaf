"""Tags as the picker shows them."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtGui import QIcon

from stavelight.annotation.tags import Tag, TagMatch, Vocabulary
from stavelight.window.region_edits import RegionEdits
from stavelight.window.region_look import area_style
from stavelight.window.swatches import swatch
from stavelight.window.tag_picker import TagOffer

_ICON = (16, 12)


@lru_cache(maxsize=256)
def look_icon(colour: str, pattern: str) -> QIcon:
    """Return the small picture of a colour and a pattern, by their ids."""
    return swatch(area_style(colour, pattern), *_ICON)


def tag_offer(tag: Tag, vocabulary: Vocabulary, found_by: str = "") -> TagOffer:
    """Return a tag as the picker shows it."""
    return TagOffer(
        tag.id,
        tag.label,
        found_by,
        vocabulary.group_label(tag),
        tag.definition,
        look_icon(tag.colour, tag.pattern),
    )


def offers_of(tag_ids: tuple[str, ...], vocabulary: Vocabulary) -> tuple[TagOffer, ...]:
    """Return tags by their ids; one that the vocabulary does not have shows its id."""
    known = vocabulary.tag_by_id
    unknown = "This tag is not in the vocabulary of this version."
    return tuple(
        tag_offer(known[one], vocabulary)
        if one in known
        else TagOffer(one, one, "", "", unknown, QIcon())
        for one in tag_ids
    )


def search_offers(vocabulary: Vocabulary, edits: RegionEdits, text: str) -> tuple[TagOffer, ...]:
    """Return the tags that a text finds; for no text, those used lately come first."""
    matches = list(vocabulary.search(text))
    if not text.strip():
        recent = [
            TagMatch(vocabulary.tag_by_id[one])
            for one in edits.recent_tags
            if one in vocabulary.tag_by_id
        ]
        known = {match.tag.id for match in recent}
        matches = recent + [match for match in matches if match.tag.id not in known]
    return tuple(tag_offer(match.tag, vocabulary, match.found_by) for match in matches)
