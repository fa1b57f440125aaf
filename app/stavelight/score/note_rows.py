"""Gather the notes that a reader finds, and make the note table of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from stavelight.score.note_table import COLUMNS, NoteTable


class SpelledPitch(NamedTuple):
    """A pitch with its spelling, as the columns of the note table want it.

    Attributes
    ----------
    midi
        MIDI number (C4 = 60), -1 if unpitched.
    step, alter, octave
        0 = C to 6 = B; semitones; octave from middle C = 4.
    """

    midi: int
    step: int
    alter: int
    octave: int


class NoteRows:
    """Gathers rows of notes, whose onsets in the score are not known before the last bar is read.

    A row is a tuple in the order of `COLUMNS`, with anything as its ``onset_ticks``.
    """

    def __init__(self) -> None:
        self._blocks = [np.empty(0, COLUMNS)]
        self._ids: list[str] = []
        self._voices: dict[str, int] = {}

    def __len__(self) -> int:
        return len(self._ids)

    def voice(self, name: str) -> int:
        """Return the number that stands for a voice's name."""
        return self._voices.setdefault(name, len(self._voices))

    def add(self, rows: Sequence[tuple[int, ...]], ids: Sequence[str]) -> None:
        """Add some rows and the ids of their notes, in the order of the file."""
        self._blocks.append(np.array(rows, COLUMNS))
        self._ids.extend(ids)

    def table(self, bar_starts: Sequence[int]) -> NoteTable:
        """Return the note table.

        Parameters
        ----------
        bar_starts
            Ticks from the beginning of the score to each bar.
        """
        rows = np.concatenate(self._blocks)
        starts = np.asarray(bar_starts, np.int64)
        rows["onset_ticks"] = starts[rows["bar"]] + rows["offset_ticks"]
        is_grace = rows["grace"] > 0
        height = 7 * rows["written_octave"].astype(np.int32) + rows["written_step"]
        order = np.lexsort(
            (
                height,
                rows["written_midi"],
                np.where(is_grace, np.arange(len(rows)), 0),
                ~is_grace,
                rows["voice"],
                rows["staff"],
                rows["onset_ticks"],
            )
        )
        ids = tuple(self._ids[row] for row in order.tolist())
        return NoteTable(rows[order], ids, tuple(self._voices))
