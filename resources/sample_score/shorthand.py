r"""The shorthand in which the music is written down, and the lines that it fills.

One bar after another, parted by ``|``. A note is a pitch and a value (``w h q e s t`` for whole to
thirty-second, a dot, a ``3`` for a triplet note), then its signs: ``a4q.``, ``<c4,e4>e'``, ``rq``
for a rest, ``R`` for a bar's rest. Signs: ``~`` tie, ``( )`` slur, ``'`` staccato, ``-`` tenuto,
``>`` accent, ``^`` strong accent, ``o`` harmonic, ``+`` stopped, ``%`` arpeggio, ``*`` fermata,
``/`` tremolo strokes, ``g`` and ``G`` the ends of a glissando.

Directions stand before the note they belong to: ``\mf``, ``\<`` and ``\>`` hairpins, ``\!``
their end, ``"arco"`` a technique, ``{dolce}`` an expression (slanted letters).

All pitches are sounding pitches.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from sample_score.pitch import UNISON, Interval, Pitch, pitch

QUARTER = 24
"""Ticks to a quarter note."""
BAR = 3 * QUARTER
"""Ticks to a bar: 6/8 and 3/4 alike."""
EIGHTH = QUARTER // 2
PICKUP = EIGHTH
"""Ticks in the pickup bar."""

_VALUES = {"w": 96, "h": 48, "q": 24, "e": 12, "s": 6, "t": 3}
_NAMES = {"w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
_NOTE = re.compile(r"(r|<[^>]*>|[a-g](?:##|#|bb|b)?\d)([whqest])(\.?)(3?)([~()'\-^>o+%*/gG]*)")
_TOKEN = re.compile(r'"[^"]*"|\{[^}]*\}|\S+')


@dataclass(frozen=True, slots=True)
class Event:
    """A note, a chord or a rest of one line; `signs` are the shorthand's."""

    ticks: int
    value: str
    dots: int = 0
    triplet: bool = False
    pitches: tuple[Pitch, ...] = ()
    tied: tuple[Pitch, ...] = ()
    signs: str = ""

    def moved(self, interval: Interval) -> Event:
        """Return the event at another pitch."""
        return replace(
            self,
            pitches=tuple(each.moved(interval) for each in self.pitches),
            tied=tuple(each.moved(interval) for each in self.tied),
        )


@dataclass(frozen=True, slots=True)
class Direction:
    """Something printed over or under the staff; `ticks` counts from the barline."""

    ticks: int
    kind: str
    text: str


@dataclass
class Line:
    """What one player, or one section of strings or half of it, plays; bars by index."""

    bars: dict[int, list[Event]] = field(default_factory=dict)
    directions: dict[int, list[Direction]] = field(default_factory=dict)

    def put(self, first_bar: int, text: str, by: Interval = UNISON) -> None:
        """Write bars, from `first_bar` on, over whatever stood there.

        Raises
        ------
        ValueError
            If a bar is not full.
        """
        for index, bar_text in enumerate(text.split("|"), first_bar):
            events, directions = _read_bar(bar_text)
            length = sum(event.ticks for event in events)
            if events and length != bar_ticks(index):
                raise ValueError(f"bar {index} holds {length} ticks: {bar_text}")
            self.bars[index] = [event.moved(by) for event in events]
            for direction in directions:
                self._direct(index, direction)

    def say(self, bar: int, eighth: float, text: str) -> None:
        """Add directions so many eighths into a bar."""
        _, directions = _read_bar(text)
        for each in directions:
            self._direct(bar, replace(each, ticks=round(eighth * EIGHTH)))

    def _direct(self, bar: int, direction: Direction) -> None:
        """Keep a direction; a hairpin that ends on a bar's first note ends at the barline."""
        if bar and direction.ticks == 0 and direction.text == "!":
            bar -= 1
            direction = replace(direction, ticks=bar_ticks(bar))
        self.directions.setdefault(bar, []).append(direction)

    def sounds_in(self, bar: int) -> bool:
        """Whether the line has a note in the bar."""
        return any(event.pitches for event in self.bars.get(bar, ()))


def bar_ticks(bar: int) -> int:
    """Return the length of a bar: the pickup is bar 0."""
    return BAR if bar else PICKUP


def say(lines: Iterable[Line], bar: int, eighth: float, text: str) -> None:
    """Add the same directions to several lines."""
    for line in lines:
        line.say(bar, eighth, text)


def _read_bar(text: str) -> tuple[list[Event], list[Direction]]:
    """Read one bar of shorthand."""
    events: list[Event] = []
    directions: list[Direction] = []
    ticks = 0
    for token in _TOKEN.findall(text):
        if token == "R":
            continue
        direction = _direction(token, ticks)
        if direction is not None:
            directions.append(direction)
            continue
        event = _event(token)
        events.append(event)
        ticks += event.ticks
    return events, directions


def _direction(token: str, ticks: int) -> Direction | None:
    """Read a direction, if the token is one."""
    if token.startswith('"'):
        return Direction(ticks, "technique", token.strip('"'))
    if token.startswith("{"):
        return Direction(ticks, "expression", token.strip("{}"))
    if token.startswith("\\"):
        sign = token[1:]
        return Direction(ticks, "hairpin" if sign in "<>!" else "dynamic", sign)
    return None


def _event(token: str) -> Event:
    """Read a note, a chord or a rest."""
    match = _NOTE.fullmatch(token)
    if match is None:
        raise ValueError(f"not a note: {token!r}")
    name, value, dot, three, signs = match.groups()
    ticks = _VALUES[value]
    ticks = ticks * 3 // 2 if dot else ticks
    ticks = ticks * 2 // 3 if three else ticks
    names = [] if name == "r" else name.strip("<>").split(",")
    pitches = tuple(sorted((pitch(each) for each in names), key=lambda each: each.midi))
    tied = pitches if "~" in signs else ()
    return Event(ticks, _NAMES[value], len(dot), bool(three), pitches, tied, signs.replace("~", ""))
