"""A MusicXML file as text: where each part and each bar lies in its bytes.

A tree of a large orchestral movement takes hundreds of megabytes and the better part of a second.
Finding the places of its parts and bars takes a few hundredths: so a page of the score can be cut
out and engraved at once, and whoever reads the whole reads it part by part.
"""

from __future__ import annotations

import re
from functools import cached_property

from lxml import etree

from stavelight.errors import ScoreFileError

_PART = re.compile(rb"<part(?=[\s>/])([^>]*)>")
_PART_ID = re.compile(rb"\sid\s*=\s*[\"']([^\"']*)[\"']")
_PART_NAME = re.compile(rb"<part-name(?=[\s>])[^>]*>([^<]*)<")
_PART_END = re.compile(rb"</part\s*>")
_BAR = re.compile(rb"<measure(?=[\s>/])[^>]*>")
_BAR_END = re.compile(rb"</measure\s*>|<measure(?=[\s/])[^>]*/>")
_ATTRIBUTES = re.compile(rb"<attributes(?=[\s>])[^>]*>.*?</attributes\s*>", re.DOTALL)
_COMMENT = re.compile(rb"<!--.*?-->|<!\[CDATA\[.*?\]\]>|<\?(?!xml\s).*?\?>", re.DOTALL)
_NOTE_START = re.compile(rb"<note(?=[\s>/])([^>]*)>")
_OWN_ID = re.compile(rb"""\s(?:xml:)?id\s*=\s*("[^"]*"|'[^']*')""")


class MusicXmlText:
    """Places of the parts and bars in a partwise MusicXML document.

    Parameters
    ----------
    data
        The document in UTF-8, known to be well-formed.
    where
        The file's name, for messages.

    Raises
    ------
    ScoreFileError
        If there is no part or no bar, or if the parts have unequal numbers of bars.

    Attributes
    ----------
    data
        The document; without comments, if there were any that look like music.
    part_ids
        The ids of the parts, in the order of the document.
    bar_count
        How many bars each part has.
    head
        Everything before the first part: titles, part list, defaults.
    """

    def __init__(self, data: bytes, where: str) -> None:
        if any(b"<measure" in found[0] or b"part" in found[0] for found in _COMMENT.finditer(data)):
            data = _COMMENT.sub(b"", data)
        self.data = data
        self.where = where
        starts = list(_PART.finditer(data))
        if not starts:
            raise ScoreFileError(
                "The score has no parts.", where=where, remedy="Export it again with its music."
            )
        self.head = data[: starts[0].start()]
        self.part_ids = tuple(_part_id(found[1]) for found in starts)
        self._part_starts = [found.start() for found in starts]
        self._part_ends = self._find_part_ends(starts)
        self._bars = [
            self._bars_between(found.end(), end)
            for found, end in zip(starts, self._part_ends, strict=True)
        ]
        self.bar_count = len(self._bars[0])
        self._check_bar_counts()

    def _find_part_ends(self, starts: list[re.Match[bytes]]) -> list[int]:
        """Return where the end tag of each part begins; a part without content has none."""
        ends = [found.start() for found in _PART_END.finditer(self.data)]
        ends += [found.end() - 1 for found in starts if found[1].endswith(b"/")]
        if len(ends) != len(starts):
            raise ScoreFileError(
                "The parts of the score stand inside one another.",
                where=self.where,
                remedy="Export it again from the program that it comes from.",
            )
        return sorted(ends)

    def _bars_between(self, start: int, end: int) -> list[tuple[int, int]]:
        begins = [found.start() for found in _BAR.finditer(self.data, start, end)]
        ends = [found.end() for found in _BAR_END.finditer(self.data, start, end)]
        return list(zip(begins, ends, strict=True))

    def _check_bar_counts(self) -> None:
        counts = [len(bars) for bars in self._bars]
        if not any(counts):
            raise ScoreFileError(
                "The score has no bars.", where=self.where, remedy="Export it again with its music."
            )
        expected = max(set(counts) - {0}, key=lambda count: (counts.count(count), count))
        for part_id, count in zip(self.part_ids, counts, strict=True):
            if count != expected:
                raise ScoreFileError(
                    f"This part has {count} bars, but {expected} were expected: that is how many "
                    "most parts have.",
                    where=f"{self.where}, part {self._name_of(part_id)}",
                    remedy="Open it in the program that it comes from, give every part the same "
                    "number of bars, and export it again.",
                )

    def _name_of(self, part_id: str) -> str:
        """Return a part's name and id, for messages."""
        entry = self.head.partition(f'<score-part id="{part_id}"'.encode())[2]
        found = _PART_NAME.search(entry.partition(b"</score-part>")[0])
        name = " ".join(found[1].decode("utf-8").split()) if found else ""
        return f"{name} ({part_id})" if name else part_id

    @property
    def part_count(self) -> int:
        """How many parts there are."""
        return len(self.part_ids)

    def measure(self, part: int, bar: int) -> bytes:
        """Return the ``<measure>`` element of a part and a bar (both from 0), as it stands."""
        start, end = self._bars[part][bar]
        return self.data[start:end]

    def measure_length(self, part: int, bar: int) -> int:
        """Return how many bytes the ``<measure>`` element of a part and a bar takes."""
        start, end = self._bars[part][bar]
        return end - start

    def bar_bounds(self, part: int) -> list[tuple[int, int]]:
        """Return where each bar of a part begins and ends in `data`."""
        return self._bars[part]

    def measure_with_ids(self, part: int, bar: int) -> bytes:
        """Return a ``<measure>`` element whose notes and bar have ids.

        The ids are ``n{part}-{bar}-{k}`` for the k-th note element of that part and bar, rests
        counted, and ``b{bar}`` for the bar; ids that stand in the file are dropped.
        """
        raw = self.measure(part, bar)
        stem = f'<note id="n{part}-{bar}-'.encode()
        pieces: list[bytes] = []
        position = raw.index(b"<measure") + len(b"<measure")
        tag_end = raw.index(b">", position)
        pieces.append(b'<measure id="b%d"' % bar)
        pieces.append(_OWN_ID.sub(b"", raw[position:tag_end]))
        position = tag_end
        for number, found in enumerate(_NOTE_START.finditer(raw, tag_end)):
            pieces.append(raw[position : found.start()])
            pieces.append(b'%s%d"%s>' % (stem, number, _OWN_ID.sub(b"", found[1])))
            position = found.end()
        pieces.append(raw[position:])
        return b"".join(pieces)

    def part_element(self, part: int) -> etree._Element:
        """Return one whole ``<part>`` as a tree of its own."""
        start = self._part_starts[part]
        end = self.data.index(b">", self._part_ends[part]) + 1
        return etree.fromstring(self.data[start:end], huge_parser())

    @cached_property
    def attributes(self) -> tuple[tuple[tuple[int, bytes], ...], ...]:
        """For each part, every ``<attributes>`` element with the index of its bar, in order."""
        found_in_parts = []
        for bars in self._bars:
            first, last = bars[0][0], bars[-1][1]
            bar = 0
            found_in_part = []
            for found in _ATTRIBUTES.finditer(self.data, first, last):
                while bars[bar][1] <= found.start():
                    bar += 1
                found_in_part.append((bar, found[0]))
            found_in_parts.append(tuple(found_in_part))
        return tuple(found_in_parts)


def _part_id(attributes: bytes) -> str:
    found = _PART_ID.search(attributes)
    return found[1].decode("utf-8") if found else ""


def huge_parser() -> etree.XMLParser:
    """Return a parser that resolves nothing from outside and takes large documents."""
    return etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=True,
        remove_comments=True,
    )
