"""The sounding lines of a score: tied notes joined, divided parts taken apart.

Every finder works on these arrays instead of on noteheads. They are made once for a score and
kept as long as the score is.

A *sound* is what a player begins and holds: one or more tied noteheads. Grace notes, cue notes and
unpitched notes are no sounds of a line; they stand apart.

A *strand* is one voice for one player, as it can be followed by the ear: at most one sound at a
time. A part with one player is one strand. A part that is divided (two voices on the staff, or
notes in chords) is several: from above, from below, and what lies between. Where the players come
together again, the strands run on with the same notes: those are not a strand's own.
"""

from __future__ import annotations

import weakref
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag
from stavelight.score.structure import Score

Integers = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

SOUND_COLUMNS = np.dtype(
    [
        ("onset", np.int64),
        ("end", np.int64),
        ("midi", np.int16),
        ("steps", np.int16),
        ("part", np.int16),
        ("staff", np.int16),
        ("voice", np.int16),
        ("bar", np.int32),
        ("row", np.int64),
        ("flags", np.uint32),
    ]
)
_FEWEST_OWN_NOTES = 3


@dataclass(frozen=True)
class Strand:
    """One line of one staff.

    Attributes
    ----------
    index
        Position among all strands of the score.
    part, staff
        Indices in the score.
    place
        ``whole`` if the staff is never divided; else ``upper``, ``lower``, ``second`` (from
        above) or ``third``.
    sounds
        Indices into `Lines.sounds`, ascending in time; onsets never repeat.
    own
        For each of them, whether the strand has it for itself: False where the staff is not
        divided and an earlier strand has the same note.
    """

    index: int
    part: int
    staff: int
    place: str
    sounds: Integers
    own: Truths


@dataclass(frozen=True)
class Lines:
    """All sounds and strands of a score.

    Attributes
    ----------
    sounds
        Structured array (number of sounds,), sorted by onset, then staff, then pitch: ``onset``
        and ``end`` in ticks, sounding ``midi`` number, sounding ``steps`` (7 x octave + step of
        the spelled pitch), ``part``, ``staff``, ``voice`` and ``bar`` as in the note table,
        ``row`` of the first notehead, ``flags`` of all its noteheads.
    sound_of_row
        For each row of the note table, the index of its sound; -1 for notes that have none.
    grace_rows
        Rows of grace notes.
    strands
        All strands, by staff from above.
    """

    sounds: npt.NDArray[Any]
    sound_of_row: Integers
    grace_rows: Integers
    strands: tuple[Strand, ...]

    @cached_property
    def rows_by_sound(self) -> tuple[Integers, Integers]:
        """Rows in order of their sounds, and where each sound's rows begin among them."""
        order = np.argsort(self.sound_of_row, kind="stable")
        starts = np.searchsorted(self.sound_of_row[order], np.arange(len(self.sounds) + 1))
        return order, starts.astype(np.int64)

    def rows_of(self, sounds: Integers) -> tuple[int, ...]:
        """Return the rows of the note table that some sounds consist of, ascending."""
        wanted = np.zeros(len(self.sounds) + 1, dtype=bool)
        wanted[sounds] = True  # notes without a sound have the index -1: the last place
        return tuple(np.flatnonzero(wanted[self.sound_of_row]).tolist())


_kept: dict[int, Lines] = {}


def lines_of(score: Score) -> Lines:
    """Return the lines of a score: made at the first call, then kept as long as its notes are."""
    key = id(score.notes)
    lines = _kept.get(key)
    if lines is None:
        lines = _kept[key] = _read_lines(score.notes.rows)
        weakref.finalize(score.notes, _kept.pop, key, None)
    return lines


def _read_lines(table: npt.NDArray[Any]) -> Lines:
    sounds, sound_of_row = _sounds(table)
    strands: list[Strand] = []
    by_staff = np.argsort(sounds["staff"], kind="stable")
    staves, starts = np.unique(sounds["staff"][by_staff], return_index=True)
    for indices in np.split(by_staff, starts[1:]) if len(staves) else ():
        strands += _strands(sounds, indices, len(strands))
    return Lines(sounds, sound_of_row, np.flatnonzero(table["grace"] > 0), tuple(strands))


def _sounds(table: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], Integers]:
    """Return the sounds, sorted, and the sound of each row."""
    left_out = int(NoteFlag.CUE | NoteFlag.UNPITCHED)
    rows = np.flatnonzero((table["grace"] == 0) & ((table["flags"] & left_out) == 0))
    notes = table[rows]
    ends = notes["onset_ticks"] + notes["duration_ticks"]
    before = _tied_before(notes, ends)
    heads = _chain_heads(before)
    firsts, numbers = np.unique(heads, return_inverse=True)
    sounds = np.zeros(len(firsts), SOUND_COLUMNS)
    first = notes[firsts]
    sounds["onset"] = first["onset_ticks"]
    np.maximum.at(sounds["end"], numbers, ends)
    sounds["midi"] = first["sounding_midi"]
    sounds["steps"] = 7 * first["sounding_octave"].astype(np.int16) + first["sounding_step"]
    for column in ("part", "staff", "voice", "bar"):
        sounds[column] = first[column]
    sounds["row"] = rows[firsts]
    np.bitwise_or.at(sounds["flags"], numbers, notes["flags"])
    order = np.lexsort((sounds["midi"], sounds["staff"], sounds["onset"]))
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    sound_of_row = np.full(len(table), -1, dtype=np.int64)
    sound_of_row[rows] = place[numbers]
    return sounds[order], sound_of_row


def _tied_before(notes: npt.NDArray[Any], ends: Integers) -> Integers:
    """Return for each note the one that it is tied to from before, or itself.

    Ties are sought within a voice first; then across voices, as where a divided staff unites.
    """
    before = np.arange(len(notes))
    continues = (notes["tie"] & TIE_FROM_BEFORE) != 0
    holds = (notes["tie"] & TIE_TO_NEXT) != 0
    for keys in (("part", "voice", "sounding_midi"), ("part", "sounding_midi")):
        order = np.lexsort((notes["onset_ticks"], *(notes[key] for key in reversed(keys))))
        earlier, later = order[:-1], order[1:]
        joined = holds[earlier] & continues[later] & (ends[earlier] == notes["onset_ticks"][later])
        for key in keys:
            joined &= notes[key][earlier] == notes[key][later]
        before[later[joined]] = earlier[joined]
        continues[later[joined]] = False
        holds[earlier[joined]] = False
    return before


def _chain_heads(before: Integers) -> Integers:
    """Follow each chain back to its beginning, all chains at once in doubling steps."""
    while True:
        further = before[before]
        if np.array_equal(further, before):
            return before
        before = further


def _strands(sounds: npt.NDArray[Any], indices: Integers, first: int) -> list[Strand]:
    """Take the sounds of one staff apart into strands."""
    staff = sounds[indices]
    voice_from_above, voices_below = _voice_ranks(staff)
    from_above, from_below = _chord_ranks(staff)
    size = from_above + from_below + 1
    top, bottom = voice_from_above == 0, voices_below == 0
    places = {
        "upper": top & (from_above == 0),
        "lower": bottom & (from_below == 0),
        "second": top & (from_above == np.minimum(1, size - 1)),
        "third": bottom & (from_below == np.minimum(1, size - 1)),
    }
    found: list[Strand] = []
    taken = np.zeros(len(staff), dtype=bool)
    for place, chosen in places.items():
        own = chosen & ~taken
        if found and own.sum() < _FEWEST_OWN_NOTES:
            continue
        taken |= chosen
        members = np.flatnonzero(chosen)
        _, once = np.unique(staff["onset"][members], return_index=True)
        members = members[once]
        found.append(
            Strand(
                first + len(found),
                int(staff["part"][0]),
                int(staff["staff"][0]),
                place,
                indices[members],
                own[members],
            )
        )
    return found if len(found) > 1 else [replace(strand, place="whole") for strand in found]


def _voice_ranks(staff: npt.NDArray[Any]) -> tuple[Integers, Integers]:
    """Return for each sound how many voices its bar has before and after its own."""
    cells, cell = np.unique(
        staff["bar"].astype(np.int64) << 16 | staff["voice"], return_inverse=True
    )
    bars, first, count = np.unique(cells >> 16, return_index=True, return_counts=True)
    bar_of_cell = np.repeat(np.arange(len(bars)), count)
    before = np.arange(len(cells)) - first[bar_of_cell]
    after = count[bar_of_cell] - 1 - before
    return before[cell], after[cell]


def _chord_ranks(staff: npt.NDArray[Any]) -> tuple[Integers, Integers]:
    """Return for each sound how many of its voice's chord lie above and below it."""
    order = np.lexsort((staff["midi"], staff["voice"], staff["onset"]))
    chord = staff["onset"][order] * 65536 + staff["voice"][order]
    _, first, count = np.unique(chord, return_index=True, return_counts=True)
    below_sorted = np.arange(len(order)) - np.repeat(first, count)
    above_sorted = np.repeat(count, count) - 1 - below_sorted
    above, below = np.empty_like(order), np.empty_like(order)
    above[order], below[order] = above_sorted, below_sorted
    return above, below
