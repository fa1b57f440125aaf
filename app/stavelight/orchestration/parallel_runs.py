"""Where two lines run in parallel: the search that stands behind all doublings.

Two sounds that begin together, in strands of different parts, are a *coincidence*. Consecutive
coincidences of the same two strands at a constant distance are a *run*. In an exact run neither
strand has a sound between two coincidences. In a simplified run one of them has: the other plays a
selection of its sounds. Distances are in semitones for unisons and octaves, where changing by an
octave keeps the run together; and in steps of the staff for thirds, sixths and tenths, whose
quality may change.

All is done for all pairs of strands at once, in time that grows linearly with the score.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from stavelight.orchestration.lines import Integers, Lines, Truths

WIDEST_OCTAVES = 4
PARALLEL_STEPS = (2, 5, 9, 12, 16)  # a third, sixth, tenth, thirteenth (6th + 8ve), third + 2 8ves
MOST_LEFT_OUT = 12

RUN_COLUMNS = np.dtype(
    [
        ("strand_a", np.int32),
        ("strand_b", np.int32),
        ("first", np.int64),
        ("count", np.int64),
        ("start", np.int64),
        ("end", np.int64),
        ("moves", np.int64),
        ("pitches", np.int64),
        ("changes", np.int64),
        ("between_a", np.int64),
        ("between_b", np.int64),
        ("own_a", np.int64),
        ("own_b", np.int64),
    ]
)


@dataclass(frozen=True)
class StrandNotes:
    """The notes of all strands in one row of arrays, sorted by onset, then strand.

    Attributes
    ----------
    strand, place
        Which strand, and the how-manieth note in it.
    sound
        Index of the sound in `Lines.sounds`.
    onset, end
        Ticks.
    midi, steps, part
        As in `Lines.sounds`.
    own
        Whether the strand has it for itself.
    bar_ticks
        How long a bar lasts there.
    """

    strand: Integers
    place: Integers
    sound: Integers
    onset: Integers
    end: Integers
    midi: Integers
    steps: Integers
    part: Integers
    own: Truths
    bar_ticks: Integers


def strand_notes(lines: Lines, bar_ticks: Integers, *, joined: bool = False) -> StrandNotes:
    """Put the notes of all strands into one row.

    Parameters
    ----------
    lines
        Of a score.
    bar_ticks
        Length of each bar of the score, in ticks.
    joined
        Whether repetitions of a note without a rest between count as one long note, so that a
        line in repeated notes or tremolo can be compared with one in long notes.
    """
    sizes = [len(strand.sounds) for strand in lines.strands]
    strand = np.repeat(np.arange(len(sizes)), sizes)
    sound = (
        np.concatenate([one.sounds for one in lines.strands]) if sizes else np.empty(0, np.int64)
    )
    own = np.concatenate([one.own for one in lines.strands]) if sizes else np.empty(0, bool)
    sounds = lines.sounds[sound]
    onset, end, midi = (sounds[name].astype(np.int64) for name in ("onset", "end", "midi"))
    if joined and len(sound):
        begins = np.ones(len(sound), dtype=bool)
        begins[1:] = (strand[1:] != strand[:-1]) | (midi[1:] != midi[:-1]) | (onset[1:] > end[:-1])
        first = np.flatnonzero(begins)
        end = np.maximum.reduceat(end, first)
        strand, sound, own, onset, midi = (
            column[first] for column in (strand, sound, own, onset, midi)
        )
        sounds = sounds[first]
    starts = np.searchsorted(strand, np.arange(len(sizes)))
    place = np.arange(len(strand)) - starts[strand] if len(strand) else strand
    order = np.argsort(onset, kind="stable")
    return StrandNotes(
        strand[order],
        place[order],
        sound[order],
        onset[order],
        end[order],
        midi[order],
        sounds["steps"].astype(np.int64)[order],
        sounds["part"].astype(np.int64)[order],
        own[order],
        bar_ticks[sounds["bar"]][order],
    )


@dataclass(frozen=True)
class Coincidences:
    """Pairs of notes that begin together, sorted by pair of strands, then by onset.

    Attributes
    ----------
    a, b
        Indices into the notes; the strand of a stands before that of b.
    pair
        A number for each pair of strands.
    distance
        b minus a: semitones, or steps of the staff.
    """

    notes: StrandNotes
    a: Integers
    b: Integers
    pair: Integers
    distance: Integers


def coincidences(notes: StrandNotes) -> tuple[Coincidences, Coincidences]:
    """Return all coincidences at octaves (unisons included), and those at parallel intervals."""
    kept: tuple[list[Integers], list[Integers]] = ([], [])
    wide = np.zeros(2 * 128, dtype=bool)
    wide[128 + np.array([sign * steps for steps in PARALLEL_STEPS for sign in (-1, 1)])] = True
    candidates = np.arange(len(notes.onset))
    shift = 0
    while len(candidates):
        shift += 1
        candidates = candidates[candidates + shift < len(notes.onset)]
        others = candidates + shift
        together = notes.onset[others] == notes.onset[candidates]
        candidates, others = candidates[together], others[together]
        apart = notes.part[others] != notes.part[candidates]
        a, b = candidates[apart], others[apart]
        semitones = notes.midi[b] - notes.midi[a]
        at_octaves = (semitones % 12 == 0) & (np.abs(semitones) <= 12 * WIDEST_OCTAVES)
        kept[0].append(np.stack([a[at_octaves], b[at_octaves]]))
        parallel = wide[np.clip(notes.steps[b] - notes.steps[a], -128, 127) + 128]
        kept[1].append(np.stack([a[parallel], b[parallel]]))
    octaves, parallels = (np.concatenate(part, axis=1) if part else _NONE for part in kept)
    return _sorted(notes, octaves, notes.midi), _sorted(notes, parallels, notes.steps)


_NONE = np.empty((2, 0), dtype=np.int64)


def _sorted(notes: StrandNotes, pairs: Integers, height: Integers) -> Coincidences:
    a, b = pairs
    strands = int(notes.strand.max(initial=0)) + 1
    pair = notes.strand[a] * strands + notes.strand[b]
    # a is itself sorted by onset, so it serves as the second key.
    order = np.argsort(pair * (len(notes.onset) + 1) + a)
    a, b = a[order], b[order]
    return Coincidences(notes, a, b, pair[order], height[b] - height[a])


def exact_runs(found: Coincidences, *, octave_changes: bool) -> npt.NDArray[Any]:
    """Return the runs in which both strands play the same rhythm.

    Parameters
    ----------
    found
        The coincidences.
    octave_changes
        Whether a run may go on at another octave. It may not do so at every third note or more
        often: such a run is cut where the distance changes.
    """
    steps_a, steps_b = _steps(found)
    linked = _neighbours(found) & (steps_a == 1) & (steps_b == 1)
    same = found.distance[1:] == found.distance[:-1]
    runs = _runs(found, linked if octave_changes else linked & same)
    if octave_changes:
        restless = 3 * runs["changes"] > runs["count"]
        if restless.any():
            inside = np.zeros(len(found.a), dtype=bool)
            for run in runs[restless]:
                inside[run["first"] : run["first"] + run["count"]] = True
            runs = _runs(found, linked & (same | ~inside[1:]))
    return runs


def simplified_runs(found: Coincidences, simpler: str) -> npt.NDArray[Any]:
    """Return the runs in which one strand plays a selection of the other's notes.

    Parameters
    ----------
    found
        The coincidences.
    simpler
        ``a`` or ``b``: whose notes all coincide.
    """
    steps_a, steps_b = _steps(found)
    few, many = (steps_a, steps_b) if simpler == "a" else (steps_b, steps_a)
    linked = _neighbours(found) & (few == 1) & (many >= 1) & (many <= MOST_LEFT_OUT)
    linked &= found.distance[1:] == found.distance[:-1]
    return _runs(found, linked)


def _steps(found: Coincidences) -> tuple[Integers, Integers]:
    place = found.notes.place
    return np.diff(place[found.a]), np.diff(place[found.b])


def _neighbours(found: Coincidences) -> Truths:
    """Return whether each coincidence and the next are of one pair, with at most a bar's rest."""
    notes = found.notes
    end = np.maximum(notes.end[found.a], notes.end[found.b])
    rest = notes.onset[found.a][1:] - end[:-1]
    together: Truths = (found.pair[1:] == found.pair[:-1]) & (rest <= notes.bar_ticks[found.a][1:])
    return together


def _runs(found: Coincidences, linked: Truths) -> npt.NDArray[Any]:
    """Return the runs of more than one coincidence, described by `RUN_COLUMNS`."""
    size = len(found.a)
    begins = np.ones(size, dtype=bool)
    begins[1:] = ~linked
    first = np.flatnonzero(begins)
    count = np.diff(np.append(first, size))
    first, count = first[count > 1], count[count > 1]
    runs = np.zeros(len(first), RUN_COLUMNS)
    if not len(first):
        return runs
    members = _members(first, count)
    run = np.repeat(np.arange(len(first)), count)
    starts = np.cumsum(count) - count
    notes, a, b = found.notes, found.a[members], found.b[members]
    runs["strand_a"], runs["strand_b"] = notes.strand[a[starts]], notes.strand[b[starts]]
    runs["first"], runs["count"] = first, count
    runs["start"] = notes.onset[a[starts]]
    runs["end"] = np.maximum.reduceat(np.maximum(notes.end[a], notes.end[b]), starts)
    inner = run[1:] == run[:-1]
    runs["moves"] = _count(run[1:], inner & (np.diff(notes.midi[a]) != 0), len(first))
    distance = found.distance[members]
    runs["changes"] = _count(run[1:], inner & (np.diff(distance) != 0), len(first))
    runs["pitches"] = np.bincount(np.unique(run * 128 + notes.midi[a]) // 128, minlength=len(first))
    last = starts + count - 1
    runs["between_a"] = notes.place[a[last]] - notes.place[a[starts]] + 1 - count
    runs["between_b"] = notes.place[b[last]] - notes.place[b[starts]] + 1 - count
    runs["own_a"] = np.add.reduceat(notes.own[a].astype(np.int64), starts)
    runs["own_b"] = np.add.reduceat(notes.own[b].astype(np.int64), starts)
    return runs


def _members(first: Integers, count: Integers) -> Integers:
    """Return the indices first, first + 1, .. of all runs, one after the other."""
    starts = np.cumsum(count) - count
    return np.arange(count.sum()) - np.repeat(starts - first, count)


def _count(run: Integers, true: Truths, size: int) -> Integers:
    return np.bincount(run[true], minlength=size)
