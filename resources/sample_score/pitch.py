"""Spelled pitches, and the intervals between what is written and what sounds."""

from __future__ import annotations

import re
from dataclasses import dataclass

STEPS = "CDEFGAB"
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_ALTERATIONS = {"": 0, "b": -1, "bb": -2, "#": 1, "##": 2}
_PITCH = re.compile(r"([a-g])(##|#|bb|b)?(\d)")


@dataclass(frozen=True, slots=True)
class Interval:
    """A signed interval: so many staff steps, so many semitones."""

    steps: int = 0
    semitones: int = 0

    def reversed(self) -> Interval:
        """Return the same interval in the other direction."""
        return Interval(-self.steps, -self.semitones)


UNISON = Interval()


def octaves(count: int) -> Interval:
    """Return `count` octaves, upwards if positive."""
    return Interval(7 * count, 12 * count)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch; `step` counts from C = 0, octave 4 begins at middle C."""

    step: int
    alteration: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI note number, middle C = 60."""
        return 12 * (self.octave + 1) + _SEMITONES[self.step] + self.alteration

    @property
    def letter(self) -> str:
        """Name of the step, a capital letter."""
        return STEPS[self.step]

    def moved(self, interval: Interval) -> Pitch:
        """Return the pitch moved by an interval, spelled by its steps."""
        octave, step = divmod(self.octave * 7 + self.step + interval.steps, 7)
        natural = Pitch(step, 0, octave)
        return Pitch(step, self.midi + interval.semitones - natural.midi, octave)


def pitch(text: str) -> Pitch:
    """Read a pitch such as ``eb4`` (E flat above middle C).

    Raises
    ------
    ValueError
        If the text is not a pitch.
    """
    match = _PITCH.fullmatch(text)
    if match is None:
        raise ValueError(f"not a pitch: {text!r}")
    letter, alteration, octave = match.groups()
    return Pitch(STEPS.index(letter.upper()), _ALTERATIONS[alteration or ""], int(octave))


def pitch_class(text: str) -> int:
    """Return the pitch class, C = 0, of a name such as ``eb``."""
    return pitch(text + "4").midi % 12
