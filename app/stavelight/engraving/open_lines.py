"""Lines that are still open at a bar: slurs, hairpins, octave lines, endings and their like.

A page is engraved from a slice of the score. A slur that begins before the slice, or ends after
it, would be lost; so the slice reopens it at its head and closes it at its end, and the page shows
the part of it that belongs there.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from stavelight.score.musicxml_text import MusicXmlText

_LINE = re.compile(
    rb"<(slur|wedge|octave-shift|dashes|bracket|wavy-line|glissando|slide|pedal|ending)"
    rb"(?=\s)([^>]*?)/?>"
)
_ATTRIBUTE = re.compile(rb"""([\w-]+)\s*=\s*["']([^"']*)["']""")
_VOICE = re.compile(rb"<voice>\s*([^<\s]*)")
_STAFF = re.compile(rb"<staff>\s*([^<\s]*)")

NOTE_LINES = frozenset({"slur", "wavy-line", "glissando", "slide"})
"""Lines that are written at notes; the others are written as directions or at barlines."""

_STARTS = frozenset({"start", "crescendo", "diminuendo", "up", "down", "sostenuto"})
_STOPS = frozenset({"stop", "discontinue"})


@dataclass(frozen=True, slots=True)
class OpenLine:
    """A line from one bar to a later one.

    Attributes
    ----------
    part
        Index of its part.
    kind
        The name of its MusicXML element.
    start_bar, stop_bar
        Indices of the bars in which it begins and ends.
    start_attributes
        The attributes of the element that starts it.
    voice, staff
        The voice and the staff within the part that it is written in; "" where not given.
    """

    part: int
    kind: str
    start_bar: int
    stop_bar: int
    start_attributes: tuple[tuple[str, str], ...]
    voice: str
    staff: str

    @property
    def number(self) -> str:
        """The number that tells it from others that are open at the same time."""
        return dict(self.start_attributes).get("number", "1")


def lines_over_barlines(text: MusicXmlText, stop: int | None = None) -> tuple[OpenLine, ...]:
    """Return all lines of a score that begin in one bar and end in another, in score order.

    Parameters
    ----------
    text
        The score.
    stop
        Look no further than to this bar; lines that are open there are said to end in it.
    """
    lines: list[OpenLine] = []
    for part in range(text.part_count):
        lines.extend(_lines_of_part(text, part, stop))
    return tuple(sorted(lines, key=lambda line: (line.start_bar, line.part)))


def _lines_of_part(text: MusicXmlText, part: int, stop: int | None) -> list[OpenLine]:
    lines: list[OpenLine] = []
    pending: dict[tuple[str, str], tuple[int, dict[str, str], str, str]] = {}
    bounds = text.bar_bounds(part)[:stop]
    bar = 0
    for found in _LINE.finditer(text.data, bounds[0][0], bounds[-1][1]):
        kind = found[1].decode()
        while bounds[bar][1] <= found.start():
            bar += 1
        attributes = {
            name.decode(): value.decode("utf-8", "replace")
            for name, value in _ATTRIBUTE.findall(found[2])
        }
        kind_of_end = attributes.get("type", "")
        key = (kind, attributes.get("number", "1"))
        if kind_of_end in _STARTS:
            voice, staff = _surroundings(text.data, found.start(), bounds[bar], kind)
            pending[key] = (bar, attributes, voice, staff)
        elif kind_of_end in _STOPS and key in pending:
            start_bar, start, voice, staff = pending.pop(key)
            if bar > start_bar:
                lines.append(
                    OpenLine(part, kind, start_bar, bar, tuple(start.items()), voice, staff)
                )
    if stop is not None and stop < text.bar_count:
        for (kind, _), (start_bar, start, voice, staff) in pending.items():
            lines.append(OpenLine(part, kind, start_bar, stop, tuple(start.items()), voice, staff))
    return lines


def _surroundings(data: bytes, at: int, bar: tuple[int, int], kind: str) -> tuple[str, str]:
    """Return the voice and the staff of the note or direction around a place."""
    holder = b"note" if kind in NOTE_LINES else b"direction"
    begin = max(data.rfind(b"<" + holder, bar[0], at), bar[0])
    end = data.find(b"</" + holder + b">", at, bar[1])
    around = data[begin : end if end >= 0 else bar[1]]
    voice, staff = _VOICE.search(around), _STAFF.search(around)
    return (voice[1].decode() if voice else "", staff[1].decode() if staff else "")
