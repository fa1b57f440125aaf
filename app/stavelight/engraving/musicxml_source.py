"""What engraving needs to know of a MusicXML score, and slices of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property

from lxml import etree

from stavelight.engraving.key_changes import Slice
from stavelight.engraving.musicxml_slice import MusicXmlSlicer, SliceRequest
from stavelight.engraving.page_plan import Titles, written_break
from stavelight.engraving.rhythm import BarRhythm, read_rhythm
from stavelight.score.musicxml_text import MusicXmlText, huge_parser

_DIVISIONS = re.compile(rb"<divisions>\s*([\d.]+)")
_STAVES = re.compile(rb"<staves>\s*(\d+)")


class MusicXmlSource:
    """A MusicXML score, ready to be laid out and cut.

    Parameters
    ----------
    data
        The document in UTF-8, known to be well-formed.
    where
        The file's name, for messages.
    """

    kind = "musicxml"

    def __init__(self, data: bytes, where: str) -> None:
        self.text = MusicXmlText(data, where)
        self._slicer = MusicXmlSlicer(self.text)
        self._rhythms: dict[tuple[int, int], BarRhythm] = {}

    @property
    def bar_count(self) -> int:
        """How many bars there are."""
        return self.text.bar_count

    @property
    def part_count(self) -> int:
        """How many parts there are."""
        return self.text.part_count

    def rhythm(self, part: int, bar: int) -> BarRhythm:
        """Return what happens in a bar of a part; times in quarters."""
        rhythm = self._rhythms.get((part, bar))
        if rhythm is None:
            rhythm = read_rhythm(self.text.measure(part, bar))
            rhythm = rhythm.scaled(1 / self._divisions(part, bar))
            self._rhythms[part, bar] = rhythm
        return rhythm

    def _divisions(self, part: int, bar: int) -> float:
        divisions = 1.0
        for at, value in self._all_divisions[part]:
            if at > bar:
                break
            divisions = value
        return divisions

    @cached_property
    def _all_divisions(self) -> list[list[tuple[int, float]]]:
        return [
            [
                (bar, float(found[1]))
                for bar, raw in attributes
                if (found := _DIVISIONS.search(raw)) and float(found[1]) > 0
            ]
            for attributes in self.text.attributes
        ]

    @cached_property
    def _staff_counts(self) -> list[int]:
        return [
            max((int(n) for _, raw in attributes for n in _STAVES.findall(raw)), default=1)
            for attributes in self.text.attributes
        ]

    def staff_count(self, part: int) -> int:
        """Return how many staves a part has."""
        return self._staff_counts[part]

    @cached_property
    def _names(self) -> list[tuple[str, str]]:
        root = etree.fromstring(self.text.head + b"</score-partwise>", huge_parser())
        names = {}
        for score_part in root.iter("score-part"):
            name = " ".join(score_part.findtext("part-name", "").split())
            short = " ".join(score_part.findtext("part-abbreviation", "").split())
            names[score_part.get("id")] = (name, short or name)
        return [names.get(part_id, ("", "")) for part_id in self.text.part_ids]

    def longest_name(self, parts: Sequence[int], *, full: bool) -> int:
        """Return how many letters the longest name of some parts has."""
        return max((len(self._names[part][0 if full else 1]) for part in parts), default=0)

    def breaks_before(self, bar: int) -> str:
        """Return ``page``, ``system`` or nothing: the break that the file has before a bar."""
        return written_break(self.text.measure(0, bar))

    @cached_property
    def titles(self) -> Titles:
        """What stands above the first system."""
        root = etree.fromstring(self.text.head + b"</score-partwise>", huge_parser())
        work = " ".join(root.findtext("work/work-title", "").split())
        movement = " ".join(root.findtext("movement-title", "").split())
        composer = ""
        for creator in root.iterfind("identification/creator"):
            if creator.get("type", "composer") == "composer":
                composer = " ".join((creator.text or "").split())
                break
        return Titles(work or movement, movement if work and movement != work else "", composer)

    def staff_of(self, parts: Sequence[int], number: int) -> int:
        """Return the index in the score of the n-th staff, from 1, of a slice of some parts."""
        for part in parts:
            if number <= self._staff_counts[part]:
                return sum(self._staff_counts[:part]) + number - 1
            number -= self._staff_counts[part]
        raise IndexError(number)

    def bar_of(self, bar_id: str) -> int:
        """Return the index of the bar that has an id on the page."""
        return int(bar_id[1:])

    def bar_length(self, bar: int, parts: Sequence[int]) -> float:
        """Return the length of a bar in whole notes."""
        return max(self.rhythm(part, bar).length for part in parts) / 4

    def offset_of(self, note_id: str) -> float | None:
        """Return how many whole notes after the barline a note or rest begins.

        None for grace notes.
        """
        part, bar, number = (int(value) for value in note_id[1:].split("-"))
        onset = self.rhythm(part, bar).note_onsets[number]
        return None if onset < 0 else onset / 4

    def cut(self, request: SliceRequest) -> Slice:
        """Return a slice as a document of its own."""
        return self._slicer.cut(request)
