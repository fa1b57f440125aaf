"""What engraving needs to know of an MEI score, and slices of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import cached_property

from stavelight.engraving.key_changes import Slice
from stavelight.engraving.mei_slice import MeiSlicer
from stavelight.engraving.musicxml_slice import SliceRequest
from stavelight.engraving.page_plan import Titles
from stavelight.engraving.rhythm import BarRhythm
from stavelight.score.file_intake import Source
from stavelight.score.mei import mei_tree_with_ids
from stavelight.score.note_table import NoteFlag
from stavelight.score.reading import read_score_from_source


class MeiSource:
    """An MEI score, ready to be laid out and cut.

    MEI files keep all parts of a bar together and are read as a whole.

    Parameters
    ----------
    source
        The file as it was read.
    """

    kind = "mei"

    def __init__(self, source: Source) -> None:
        self._score = read_score_from_source(source)
        self._slicer = MeiSlicer(mei_tree_with_ids(source.data))

    @property
    def bar_count(self) -> int:
        """How many bars there are."""
        return len(self._score.bars)

    @property
    def part_count(self) -> int:
        """How many parts there are."""
        return len(self._score.parts)

    @property
    def titles(self) -> Titles:
        """What stands above the first system."""
        return Titles(self._score.title, self._score.subtitle, self._score.composer)

    @cached_property
    def _rhythms(self) -> dict[tuple[int, int], BarRhythm]:
        quarter = self._score.ticks_per_quarter
        rhythms: dict[tuple[int, int], BarRhythm] = defaultdict(lambda: BarRhythm(is_rest=True))
        for row in self._score.notes.rows:
            rhythm = rhythms[int(row["part"]), int(row["bar"])]
            rhythm.is_rest = False
            onset = int(row["offset_ticks"]) / quarter
            if row["grace"]:
                rhythm.grace_count += 1
            else:
                rhythm.onsets.add(onset)
                if not row["flags"] & NoteFlag.CHORD and row["written_alter"]:
                    rhythm.accidental_count += 1
        return rhythms

    def rhythm(self, part: int, bar: int) -> BarRhythm:
        """Return what happens in a bar of a part; times in quarters."""
        rhythm = self._rhythms[part, bar]
        rhythm.length = self._score.bars[bar].length_ticks / self._score.ticks_per_quarter
        return rhythm

    def staff_count(self, part: int) -> int:
        """Return how many staves a part has."""
        return self._score.parts[part].staff_count

    def longest_name(self, parts: Sequence[int], *, full: bool) -> int:
        """Return how many letters the longest name of some parts has."""
        chosen = [self._score.parts[part] for part in parts]
        return max(
            (len(part.name if full else part.abbreviation or part.name) for part in chosen),
            default=0,
        )

    def breaks_before(self, bar: int) -> str:
        """Return ``page``, ``system`` or nothing: the break that the file has before a bar."""
        return self._slicer.breaks_before(bar)

    def staff_of(self, parts: Sequence[int], number: int) -> int:
        """Return the index in the score of the staff that has a number on the page."""
        return self._slicer.staff_numbers.index(str(number))

    def bar_of(self, bar_id: str) -> int:
        """Return the index of the bar that has an id on the page."""
        return self._slicer.bar_by_id[bar_id]

    def bar_length(self, bar: int, parts: Sequence[int]) -> float:
        """Return the length of a bar in whole notes."""
        return float(self._score.bar_length(bar))

    def offset_of(self, note_id: str) -> float | None:
        """Return how many whole notes after the barline a note begins.

        None for grace notes, and for rests, of which the note table knows nothing.
        """
        number = self._score.notes.row_by_id.get(note_id)
        if number is None:
            return None
        row = self._score.notes.rows[number]
        if row["grace"]:
            return None
        return int(row["offset_ticks"]) / (4 * self._score.ticks_per_quarter)

    def cut(self, request: SliceRequest) -> Slice:
        """Return a slice as a document of its own."""
        staves = [
            str(self._slicer.staff_numbers[staff])
            for part in request.parts
            for staff in self._score.parts[part].staff_indices
        ]
        return Slice(self._slicer.cut(request, staves))
