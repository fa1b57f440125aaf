"""Tags: the words that a region is described with.

The vocabulary that ships is a data file built as the W3C's SKOS describes a vocabulary (Simple
Knowledge Organization System Reference, W3C Recommendation, 2009): every concept has an id that
never changes, one preferred label, alternative labels by language, a definition, and perhaps a
broader concept. A project may add tags of its own, which lie in its layer.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property

import msgspec

from stavelight.annotation.record import IdentifiedRecord, Record
from stavelight.resource_files import resource


class TagLabel(Record, kw_only=True, frozen=True):
    """An alternative label of a tag.

    Attributes
    ----------
    language
        A language tag as in IETF BCP 47, such as ``it``.
    label
        The label.
    """

    language: str
    label: str


class Tag(IdentifiedRecord, kw_only=True, frozen=True):
    """One word of a vocabulary.

    Attributes
    ----------
    id
        Never changes, even when the label does.
    label
        The preferred label, in English.
    alternatives
        What else it is called, abbreviated, or called in other languages.
    definition
        What it means.
    group
        Id of its group.
    sources
        Ids of works in the vocabulary's list that treat of it; any other text is a citation.
    broader
        Id of the tag that it is a kind of.
    colour, pattern
        Ids of the palette: how regions with this tag look unless a person chooses otherwise.
    """

    label: str
    alternatives: tuple[TagLabel, ...] = ()
    definition: str = ""
    group: str = ""
    sources: tuple[str, ...] = ()
    broader: str | None = None
    colour: str = "orange"
    pattern: str = "rising"


class TagGroup(IdentifiedRecord, kw_only=True, frozen=True):
    """A group of tags: roles, doublings, relations, playing techniques."""

    label: str
    definition: str = ""


class Work(IdentifiedRecord, kw_only=True, frozen=True):
    """A published work that a tag is taken from."""

    author: str
    title: str
    year: int | None

    @property
    def citation(self) -> str:
        """Author, title and year on one line."""
        return ", ".join(str(part) for part in (self.author, self.title, self.year) if part)


class _VocabularyFile(Record, kw_only=True, frozen=True):
    title: str
    language: str
    groups: tuple[TagGroup, ...]
    sources: tuple[Work, ...]
    tags: tuple[Tag, ...]


@dataclass(frozen=True, slots=True)
class TagMatch:
    """A tag that was found by typing.

    Attributes
    ----------
    tag
        The tag.
    found_by
        The alternative label that the letters stand in, or "" if it is the preferred one.
    """

    tag: Tag
    found_by: str = ""


@dataclass(frozen=True)
class Vocabulary:
    """All tags that there are.

    Attributes
    ----------
    groups, works, tags
        In the order in which they are shown.
    """

    groups: tuple[TagGroup, ...]
    works: tuple[Work, ...]
    tags: tuple[Tag, ...]

    @cached_property
    def tag_by_id(self) -> dict[str, Tag]:
        """Tags by their ids."""
        return {tag.id: tag for tag in self.tags}

    @cached_property
    def _groups_by_id(self) -> dict[str, TagGroup]:
        return {group.id: group for group in self.groups}

    @cached_property
    def _works_by_id(self) -> dict[str, Work]:
        return {work.id: work for work in self.works}

    def label(self, tag_id: str) -> str:
        """Return the label of a tag, or its id where the vocabulary does not have it."""
        tag = self.tag_by_id.get(tag_id)
        return tag.label if tag is not None else tag_id

    def group_label(self, tag: Tag) -> str:
        """Return the label of a tag's group, or its id where the vocabulary does not have it."""
        group = self._groups_by_id.get(tag.group)
        return group.label if group is not None else tag.group

    def citations(self, tag: Tag) -> tuple[str, ...]:
        """Return the works that a tag is taken from, a line each."""
        works = self._works_by_id
        return tuple(works[one].citation if one in works else one for one in tag.sources)

    def with_own_tags(self, own: Iterable[Tag]) -> Vocabulary:
        """Return this vocabulary with a project's own tags after it.

        An own tag whose id the vocabulary has already stands in its place.
        """
        own_by_id = {tag.id: tag for tag in own}
        kept = tuple(own_by_id.pop(tag.id, tag) for tag in self.tags)
        return Vocabulary(self.groups, self.works, kept + tuple(own_by_id.values()))

    @cached_property
    def _index(self) -> tuple[tuple[Tag, tuple[tuple[str, str], ...]], ...]:
        """Each tag with its labels as (as written, as searched)."""
        return tuple(
            (
                tag,
                tuple(
                    (label, _plain(label))
                    for label in (tag.label, *(other.label for other in tag.alternatives))
                ),
            )
            for tag in self.tags
        )

    def search(self, typed: str) -> tuple[TagMatch, ...]:
        """Return the tags that some typed letters may mean, the likeliest first.

        Letters are looked for at the beginnings of labels, then at the beginnings of words, then
        anywhere; the preferred label counts more than the others. Case, accents, hyphens and
        points make no difference. Nothing typed finds all tags, in their order.
        """
        wanted = _plain(typed)
        if not wanted:
            return tuple(TagMatch(tag) for tag in self.tags)
        found: list[tuple[int, int, TagMatch]] = []
        for position, (tag, labels) in enumerate(self._index):
            ranks = [
                (_rank(wanted, plain) + (written != tag.label), written)
                for written, plain in labels
                if _rank(wanted, plain) >= 0
            ]
            if ranks:
                rank, written = min(ranks, key=lambda pair: pair[0])
                by = "" if written == tag.label else written
                found.append((rank, position, TagMatch(tag, by)))
        return tuple(match for _, _, match in sorted(found, key=lambda one: one[:2]))


def _plain(text: str) -> str:
    """Return a text as it is searched: small letters, no accents, words parted by one blank."""
    letters = (
        letter
        for letter in unicodedata.normalize("NFKD", text.casefold())
        if not unicodedata.combining(letter)
    )
    kept = "".join(" " if letter in "-.'’,/" else letter for letter in letters)
    return " ".join(kept.split())


def _rank(wanted: str, label: str) -> int:
    """Return how well letters fit a label: 0 is best, then even numbers; -1 is not at all."""
    if label == wanted:
        return 0
    if label.startswith(wanted):
        return 2
    if f" {wanted}" in label:
        return 4
    words = label.split()
    if all(any(word.startswith(part) for word in words) for part in wanted.split()):
        return 6
    return 8 if wanted in label else -1


@cache
def load_vocabulary() -> Vocabulary:
    """Return the vocabulary that ships with the program."""
    data = resource("vocabulary/textures.json").read_bytes()
    file = msgspec.json.decode(data, type=_VocabularyFile)
    return Vocabulary(file.groups, file.sources, file.tags)
