"""Examine the music as a teacher would: harmony, outer voices, dynamics at entries.

Each function returns its complaints, in plain words; an empty list is a pass.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sample_score.material import HARMONY, LAST_BAR
from sample_score.orchestra import PARTS, Orchestra
from sample_score.pitch import Pitch, pitch_class
from sample_score.shorthand import BAR, EIGHTH, PICKUP, Line

PEDALS = (
    # line, first and last bar: holds its tone, or repeats its figure, whatever the chord
    ("hp_l", 1, 4),
    ("vn1", 1, 4),
    ("vn1b", 1, 4),
    ("vn1", 45, 53),
    ("hp_l", 53, 56),
)

_NO_PITCH = {
    name
    for part in PARTS
    if part.percussion_key is not None
    for staff in part.staves
    for name in staff.lines
}


@dataclass(frozen=True, slots=True)
class Tone:
    """A sounding note of a line, ties joined; ticks from the beginning of the piece."""

    start: int
    end: int
    pitch: Pitch
    bar: int


def bar_start(bar: int) -> int:
    """Return the ticks from the beginning of the piece to a barline."""
    return PICKUP + (bar - 1) * BAR if bar else 0


def tones(line: Line) -> list[Tone]:
    """Return the notes of a line in order of time, tied notes as one."""
    found: list[Tone] = []
    held: dict[Pitch, Tone] = {}
    for bar in sorted(line.bars):
        ticks = bar_start(bar)
        for event in line.bars[bar]:
            still_held = {}
            for pitch in event.pitches:
                before = held.get(pitch)
                if before is not None and before.end == ticks:
                    found.remove(before)
                    tone = Tone(before.start, ticks + event.ticks, pitch, before.bar)
                else:
                    tone = Tone(ticks, ticks + event.ticks, pitch, bar)
                found.append(tone)
                if pitch in event.tied:
                    still_held[pitch] = tone
            held = still_held
            ticks += event.ticks
    return sorted(found, key=lambda tone: (tone.start, tone.pitch.midi))


def chords() -> list[tuple[int, int, str, frozenset[int]]]:
    """Return the planned chords: start and end in ticks, name, pitch classes."""
    spans: list[tuple[int, str, frozenset[int]]] = []
    for bar, text in HARMONY.items():
        for word in text.split():
            if ":" in word:
                eighth, rest = word.split(":")
                name, tone = rest.split("=")
                start = bar_start(bar) + int(eighth) * EIGHTH
                spans.append((start, name, frozenset({pitch_class(tone)})))
            else:
                start, name, classes = spans[-1]
                spans[-1] = (start, name, classes | {pitch_class(word)})
    ends = [start for start, _, _ in spans[1:]] + [bar_start(LAST_BAR + 1)]
    return [
        (start, end, name, classes) for (start, name, classes), end in zip(spans, ends, strict=True)
    ]


def foreign_tones(orchestra: Orchestra) -> list[str]:
    """Return tones outside the planned chord that no rule of counterpoint explains.

    Explained are passing and neighbouring tones (step in, step out), suspensions (prepared, left
    by step), anticipations, escape tones (an eighth at most, reached by step), and the pedals and
    figures listed in `PEDALS`.
    """
    complaints = []
    plan = chords()
    for name, line in orchestra.items():
        if name in _NO_PITCH:
            continue
        own = tones(line)
        for index, tone in enumerate(own):
            pedal = any(name == who and a <= tone.bar <= b for who, a, b in PEDALS)
            for start, end, chord, classes in plan:
                if tone.start >= end or tone.end <= start or tone.pitch.midi % 12 in classes:
                    continue
                if pedal or _explained(own, index, start):
                    continue
                complaints.append(
                    f"bar {tone.bar} {name}: {tone.pitch.letter}{tone.pitch.alteration:+d} "
                    f"octave {tone.pitch.octave} over {chord}"
                )
    return complaints


def _explained(own: list[Tone], index: int, chord_start: int) -> bool:
    """Whether step motion, preparation or anticipation explains it (common practice)."""
    tone = own[index]
    before = [each for each in own if each.end == tone.start]
    after = [each for each in own if each.start == tone.end]
    step_in = any(abs(each.pitch.midi - tone.pitch.midi) <= 2 for each in before)
    step_out = any(1 <= abs(each.pitch.midi - tone.pitch.midi) <= 2 for each in after)
    anticipates = any(each.pitch == tone.pitch for each in after)
    prepared = tone.start < chord_start
    escapes = step_in and tone.end - tone.start <= EIGHTH
    left_well = (step_in or prepared) and step_out
    return left_well or escapes or (step_in and anticipates)


def parallels(upper: Line, lower: Line, first_bar: int, last_bar: int) -> list[str]:
    """Return consecutive perfect fifths and octaves between two lines."""
    first, last = bar_start(first_bar), bar_start(last_bar + 1)
    above = [tone for tone in tones(upper) if first <= tone.start < last]
    below = [tone for tone in tones(lower) if first <= tone.start < last]
    moments = sorted({tone.start for tone in above} | {tone.start for tone in below})
    pairs = []
    for moment in moments:
        high = [tone for tone in above if tone.start <= moment < tone.end]
        low = [tone for tone in below if tone.start <= moment < tone.end]
        if high and low:
            pairs.append((moment, high[-1].pitch.midi, low[0].pitch.midi, high[-1].bar))
    complaints = []
    for (_, high1, low1, _), (_, high2, low2, bar) in pairwise(pairs):
        interval = (high2 - low2) % 12
        moved = (high2 - high1) * (low2 - low1) > 0
        if moved and interval in (0, 7) and (high1 - low1) % 12 == interval:
            complaints.append(f"bar {bar}: parallel {'octaves' if interval == 0 else 'fifths'}")
    return complaints


def entries_without_dynamic(orchestra: Orchestra) -> list[str]:
    """Return entries after at least two silent bars that have no dynamic.

    Where two lines share a staff, or two staves a player, one dynamic serves both.
    """
    complaints = []
    for part in PARTS:
        names = [name for staff in part.staves for name in staff.lines]
        silent = 2
        for bar in range(LAST_BAR + 1):
            sounding = [orchestra[name] for name in names if orchestra[name].sounds_in(bar)]
            if sounding and silent >= 2:
                marked = any(
                    each.kind == "dynamic"
                    for name in names
                    for each in orchestra[name].directions.get(bar, [])
                )
                if not marked:
                    complaints.append(f"bar {bar} {part.id}: entry without dynamic")
            silent = 0 if sounding else silent + 1
    return complaints
