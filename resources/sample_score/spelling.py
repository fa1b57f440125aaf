"""Which notes show an accidental, and which are beamed together: common practice of engravers."""

from __future__ import annotations

from sample_score.pitch import Pitch
from sample_score.shorthand import EIGHTH, QUARTER, Event

_SHARP_ORDER = (3, 0, 4, 1, 5, 2, 6)
"""Steps in the order in which sharps are added to a key signature; flats go backwards."""

_NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def key_alterations(fifths: int) -> dict[int, int]:
    """Return the alteration of each step, C = 0, under a key signature."""
    altered = dict.fromkeys(range(7), 0)
    if fifths > 0:
        altered.update(dict.fromkeys(_SHARP_ORDER[:fifths], 1))
    elif fifths < 0:
        altered.update(dict.fromkeys(_SHARP_ORDER[::-1][:-fifths], -1))
    return altered


class Accidentals:
    """The accidentals of one staff, bar by bar.

    An accidental holds to the barline, for its own octave. In the bar after, the first return to
    the key signature is shown as a reminder. A note tied over the barline shows none.
    """

    def __init__(self) -> None:
        self._key: dict[int, int] = key_alterations(0)
        self._in_force: dict[tuple[int, int], int] = {}
        self._to_remind: dict[tuple[int, int], int] = {}

    def set_key(self, fifths: int) -> None:
        """Change the key signature; nothing of the old key needs a reminder."""
        self._key = key_alterations(fifths)
        self._in_force.clear()
        self._to_remind.clear()

    def next_bar(self) -> None:
        """Cross a barline."""
        self._to_remind = {
            place: alteration
            for place, alteration in self._in_force.items()
            if alteration != self._key[place[0]]
        }
        self._in_force = {}

    def of(self, pitch: Pitch, tied_from_before: bool) -> tuple[str, bool] | None:
        """Return the accidental to print, and whether it is only a reminder."""
        place = pitch.step, pitch.octave
        if tied_from_before:
            return None
        current = self._in_force.get(place, self._key[pitch.step])
        self._in_force[place] = pitch.alteration
        reminder = self._to_remind.pop(place, None)
        if pitch.alteration != current:
            return _NAMES[pitch.alteration], False
        if reminder is not None and reminder != pitch.alteration:
            return _NAMES[pitch.alteration], True
        return None


def beams(events: tuple[Event, ...], beat_type: int) -> list[list[str]]:
    """Return the beam of each event at each level (``begin``, ``continue``, ``end``, hooks).

    In 6/8 three eighths are beamed together, in 3/4 what falls on one quarter.
    """
    unit = 3 * EIGHTH if beat_type == 8 else QUARTER
    result: list[list[str]] = [[] for _ in events]
    for group in _groups(events, unit):
        if len(group) < 2:
            continue
        levels = [_levels(events[index]) for index in group]
        for level in range(1, max(levels) + 1):
            for position, index in enumerate(group):
                if levels[position] < level:
                    continue
                before = position > 0 and levels[position - 1] >= level
                after = position + 1 < len(group) and levels[position + 1] >= level
                result[index].append(_beam(before, after, position))
    return result


def _beam(before: bool, after: bool, position: int) -> str:
    """Return a beam's value from whether the neighbours have it too."""
    if before and after:
        return "continue"
    if before:
        return "end"
    if after:
        return "begin"
    return "backward hook" if position else "forward hook"


def _levels(event: Event) -> int:
    """Return how many beams a note value has."""
    return {"eighth": 1, "16th": 2, "32nd": 3}.get(event.value, 0)


def _groups(events: tuple[Event, ...], unit: int) -> list[list[int]]:
    """Return runs of notes with beams inside one unit; rests part them."""
    groups: list[list[int]] = []
    ticks, open_unit = 0, -1
    for index, event in enumerate(events):
        if not event.pitches or not _levels(event):
            open_unit = -1
        elif ticks // unit == open_unit:
            groups[-1].append(index)
        else:
            groups.append([index])
            open_unit = ticks // unit
        ticks += event.ticks
    return groups
