"""Put the lines that share a staff together: one voice, chords or two voices, and the labels."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sample_score.material import LAST_BAR
from sample_score.orchestra import Orchestra, PartPlan, StaffPlan
from sample_score.shorthand import Direction, Event, Line, bar_ticks


@dataclass(frozen=True, slots=True)
class StaffBar:
    """One bar of a staff: one or two voices (none: a bar's rest) and its directions."""

    voices: tuple[tuple[Event, ...], ...]
    directions: tuple[Direction, ...]


def staff_bars(orchestra: Orchestra, part: PartPlan, staff: StaffPlan) -> list[StaffBar]:
    """Return the bars of a staff."""
    lines = [orchestra[name] for name in staff.lines]
    if len(lines) == 1:
        return [_single(lines[0], bar) for bar in range(LAST_BAR + 1)]
    pairing = _Pairing(lines[0], lines[1], part.numbers)
    return [pairing.bar(bar) for bar in range(LAST_BAR + 1)]


def _single(line: Line, bar: int) -> StaffBar:
    """Return a bar of a staff that one line has to itself."""
    events = tuple(line.bars.get(bar, ())) if line.sounds_in(bar) else ()
    return StaffBar((events,) if events else (), _sorted(line.directions.get(bar, [])))


def _sorted(directions: list[Direction]) -> tuple[Direction, ...]:
    """Return directions in order of time, each once; ends of hairpins come first."""
    unique = list(dict.fromkeys(directions))
    return tuple(sorted(unique, key=lambda each: (each.ticks, each.text != "!")))


class _Pairing:
    """Two lines on one staff; remembers which label is in force."""

    def __init__(self, upper: Line, lower: Line, numbers: tuple[str, ...]) -> None:
        self.upper = upper
        self.lower = lower
        self.numbers = numbers
        self.label = "" if numbers else "unis."
        self.silent_bars = 0
        self.shared_slur = False

    def bar(self, bar: int) -> StaffBar:
        """Return one bar of the staff."""
        upper = tuple(self.upper.bars.get(bar, ()))
        lower = self._with_own_slurs(upper, tuple(self.lower.bars.get(bar, ())))
        directions = list(self.upper.directions.get(bar, []))
        upper_sounds, lower_sounds = self.upper.sounds_in(bar), self.lower.sounds_in(bar)
        directions += self._of_lower(bar, upper_sounds)
        if not (upper_sounds or lower_sounds):
            self.silent_bars += 1
            return StaffBar((), _sorted(directions))
        if upper_sounds and lower_sounds:
            merged = _merge(upper, lower)
            voices: tuple[tuple[Event, ...], ...] = (merged,) if merged else (upper, lower)
            label = self._label_of_two(upper, lower)
        else:
            voices = (upper if upper_sounds else lower,)
            label = self._label_of_one(upper_sounds)
        if label != self.label or (self.silent_bars > 1 and self.numbers):
            if label:
                directions.insert(0, Direction(_first_note(voices), "label", label))
            self.label = label
        self.silent_bars = 0
        return StaffBar(voices, _sorted(directions))

    def _with_own_slurs(
        self, upper: tuple[Event, ...], lower: tuple[Event, ...]
    ) -> tuple[Event, ...]:
        """Mark the lower line's slurs ``[ ]``; leave out those that the upper line shares."""
        same_rhythm = [each.ticks for each in upper] == [each.ticks for each in lower]
        result = []
        for index, event in enumerate(lower):
            signs = event.signs
            if ")" in signs:
                signs = signs.replace(")", "" if self.shared_slur else "]")
                self.shared_slur = False
            if "(" in signs:
                self.shared_slur = same_rhythm and "(" in upper[index].signs
                signs = signs.replace("(", "" if self.shared_slur else "[")
            result.append(replace(event, signs=signs))
        return tuple(result)

    def _of_lower(self, bar: int, upper_sounds: bool) -> list[Direction]:
        """Return the lower line's directions; beside a sounding upper line, words go below."""
        directions = self.lower.directions.get(bar, [])
        if not upper_sounds:
            return directions
        shared = self.upper.directions.get(bar, [])
        return [
            replace(each, kind="technique below")
            if each.kind == "technique" and each not in shared
            else each
            for each in directions
        ]

    def _label_of_two(self, upper: tuple[Event, ...], lower: tuple[Event, ...]) -> str:
        """Return the label where both lines have notes."""
        same = [each.pitches for each in upper] == [each.pitches for each in lower]
        if self.numbers:
            return "a 2" if same else ""
        return "unis." if same else "div."

    def _label_of_one(self, upper_sounds: bool) -> str:
        """Return the label where only one line has notes."""
        if self.numbers:
            return self.numbers[0 if upper_sounds else 1]
        return "unis."


def _first_note(voices: tuple[tuple[Event, ...], ...]) -> int:
    """Return the ticks from the barline to the first note of any voice."""
    starts = []
    for voice in voices:
        ticks = 0
        for event in voice:
            if event.pitches:
                starts.append(ticks)
                break
            ticks += event.ticks
    return min(starts)


def _merge(upper: tuple[Event, ...], lower: tuple[Event, ...]) -> tuple[Event, ...] | None:
    """Return the two lines as one voice of notes or chords, or None if their rhythms differ."""
    if len(upper) != len(lower):
        return None
    merged = []
    for above, below in zip(upper, lower, strict=True):
        if (above.ticks, bool(above.pitches)) != (below.ticks, bool(below.pitches)):
            return None
        pitches = sorted({*above.pitches, *below.pitches}, key=lambda each: each.midi)
        tied = tuple(each for each in pitches if each in above.tied or each in below.tied)
        signs = above.signs + "".join(sign for sign in below.signs if sign not in above.signs)
        merged.append(replace(above, pitches=tuple(pitches), tied=tied, signs=signs))
    return tuple(merged)


def check_full(bars: list[StaffBar]) -> None:
    """Check that every voice fills its bar.

    Raises
    ------
    ValueError
        If one does not.
    """
    for index, bar in enumerate(bars):
        for voice in bar.voices:
            if sum(event.ticks for event in voice) != bar_ticks(index):
                raise ValueError(f"bar {index} is not full")
