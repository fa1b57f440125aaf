"""Doublings: which parts play one line together, and at what distance.

A doubling is a run (see `parallel_runs`) that moves enough to be a line. What counts as enough is
this module's own judgement: at least three notes with two moves and three pitches, or four notes
with three moves between two pitches; more where one part simplifies the other, because parts that
share a harmony meet on single notes all the time. Repeated notes and chords that coincide are no
doubling of a line; they are kept apart as a shared harmony.

Terms are those of the treatises: Rimsky-Korsakov, Principles of Orchestration (1913), chapter II,
"Melody in ... doubled in unison, octaves, thirds and sixths"; Piston, Orchestration (1955), part
two, "doublings".
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from stavelight.orchestration.lines import Integers, Lines, Truths, lines_of
from stavelight.orchestration.parallel_runs import (
    Coincidences,
    coincidences,
    exact_runs,
    simplified_runs,
    strand_notes,
)
from stavelight.score.structure import Score

Manner = Literal["exact", "simplified", "repeated", "shared"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A doubling between two strands, while its interval stays the same.

    Attributes
    ----------
    strand_a, strand_b
        Indices into `Lines.strands`; the part of a stands before that of b.
    start_ticks, end_ticks
        From the first common onset to the end of the last common note.
    distance
        b minus a, sounding: semitones, or steps of the staff for parallel intervals.
    notes
        How many notes coincide.
    run
        Number of the run that it belongs to: several if the octave changes within it.
    manner
        ``exact``; ``simplified`` (one part has only some of the other's notes); ``repeated`` (one
        has repeated notes where the other has held ones); ``shared`` (they only meet on repeated
        notes or on chords: a shared harmony, not a line).
    simpler
        ``a`` or ``b``, whichever plays fewer notes; "" where neither does.
    sounds_a, sounds_b
        Indices into `Lines.sounds` of the notes that coincide.
    """

    strand_a: int
    strand_b: int
    start_ticks: int
    end_ticks: int
    distance: int
    notes: int
    run: int
    manner: Manner
    simpler: str
    sounds_a: Integers
    sounds_b: Integers


@dataclass(frozen=True, slots=True)
class Doublings:
    """All that runs in parallel in a score.

    Attributes
    ----------
    octaves
        At the unison and in octaves; distances are semitones.
    parallels
        In thirds, sixths, tenths and so on; distances are steps of the staff (2 = a third).
    """

    octaves: tuple[Stretch, ...]
    parallels: tuple[Stretch, ...]


def find_doublings(score: Score) -> Doublings:
    """Return all doublings between all pairs of parts, in score order."""
    lines = lines_of(score)
    bar_ticks = np.array([bar.length_ticks for bar in score.bars], dtype=np.int64)
    octaves, parallels = coincidences(strand_notes(lines, bar_ticks))
    exact = exact_runs(octaves, octave_changes=True)
    exact = exact[_is_own(exact)]
    is_line = _is_line(exact)
    found: list[_Source] = [(octaves, exact[is_line], "exact", "")]
    for simpler in "ab":
        runs = simplified_runs(octaves, simpler)
        found.append((octaves, runs[_is_simplified_line(runs, simpler)], "simplified", simpler))
    found += _in_repeated_notes(lines, bar_ticks, [runs for _, runs, _, _ in found])
    found.append((octaves, exact[~is_line], "shared", ""))
    third = exact_runs(parallels, octave_changes=False)
    third = third[_is_own(third) & (third["count"] >= 4)]
    third = third[(third["moves"] >= 3) & (third["pitches"] >= 3)]
    return Doublings(_stretches(found), _stretches([(parallels, third, "exact", "")]))


_Source = tuple[Coincidences, npt.NDArray[Any], Manner, str]


def _is_line(runs: npt.NDArray[Any]) -> Truths:
    moving: Truths = (runs["count"] >= 3) & (runs["moves"] >= 2) & (runs["pitches"] >= 3)
    to_and_fro = (runs["count"] >= 4) & (runs["moves"] >= 3) & (runs["pitches"] >= 2)
    return moving | to_and_fro


def _is_own(runs: npt.NDArray[Any]) -> Truths:
    """Return whether both strands have at least half of the notes to themselves."""
    own_a: Truths = 2 * runs["own_a"] >= runs["count"]
    return own_a & (2 * runs["own_b"] >= runs["count"])


def _is_simplified_line(runs: npt.NDArray[Any], simpler: str) -> Truths:
    left_out = runs["between_b" if simpler == "a" else "between_a"]
    share = runs["count"] / np.maximum(runs["count"] + left_out, 1)
    enough: Truths = (runs["count"] >= 6) & (runs["moves"] >= 4) & (runs["pitches"] >= 4)
    is_line: Truths = enough & (left_out > 0) & (share >= _SMALLEST_SHARE) & _is_own(runs)
    return is_line


_SMALLEST_SHARE = 0.2  # of the fuller part's notes


def _in_repeated_notes(
    lines: Lines, bar_ticks: Integers, known: list[npt.NDArray[Any]]
) -> list[_Source]:
    """Return runs that only show when repetitions of a note count as one long note."""
    octaves, _ = coincidences(strand_notes(lines, bar_ticks, joined=True))
    runs = exact_runs(octaves, octave_changes=True)
    runs = runs[_is_own(runs)]
    spans: dict[tuple[int, int], list[tuple[int, int]]] = {}
    columns = ("strand_a", "strand_b", "start", "end")
    for some in known:
        for a, b, start, end in zip(*(some[column].tolist() for column in columns), strict=True):
            spans.setdefault((a, b), []).append((start, end))
    new = [
        2
        * sum(max(0, min(end, until) - max(start, begin)) for begin, until in spans.get((a, b), ()))
        < end - start
        for a, b, start, end in zip(*(runs[column].tolist() for column in columns), strict=True)
    ]
    runs = runs[np.array(new, dtype=bool)]
    is_line = _is_line(runs)
    return [(octaves, runs[is_line], "repeated", ""), (octaves, runs[~is_line], "shared", "")]


def _covered(start: int, end: int, spans: list[tuple[int, int]]) -> int:
    """Return for how many ticks some spans cover the time from start to end."""
    return sum(max(0, min(end, until) - max(start, begin)) for begin, until in spans)


def _stretches(found: list[_Source]) -> tuple[Stretch, ...]:
    stretches: list[Stretch] = []
    number = 0
    for source, runs, manner, simpler in found:
        columns = ("strand_a", "strand_b", "first", "count", "start", "end", "changes")
        first_sounds, second_sounds = source.notes.sound[source.a], source.notes.sound[source.b]
        for a, b, first, count, start, end, changes in runs[list(columns)].tolist():
            stop = first + count
            cuts = [(first, stop, start, end)]
            if changes:
                cuts = _cut_at_octave_changes(source, first, stop, end)
            for begin, until, begins_at, ends_at in cuts:
                stretches.append(
                    Stretch(
                        a,
                        b,
                        begins_at,
                        ends_at,
                        int(source.distance[begin]),
                        until - begin,
                        number,
                        manner,
                        simpler,
                        first_sounds[begin:until],
                        second_sounds[begin:until],
                    )
                )
            number += 1
    stretches.sort(key=attrgetter("start_ticks", "strand_a", "strand_b"))
    return tuple(stretches)


def _cut_at_octave_changes(
    source: Coincidences, first: int, stop: int, end: int
) -> list[tuple[int, int, int, int]]:
    changes = first + 1 + np.flatnonzero(np.diff(source.distance[first:stop]))
    edges = [first, *changes.tolist(), stop]
    onsets = source.notes.onset[source.a[edges[:-1]]].tolist()
    return list(zip(edges[:-1], edges[1:], onsets, [*onsets[1:], end], strict=True))
