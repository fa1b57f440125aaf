"""Read a MusicXML score: its structure, and every note into the note table.

Parts are read one by one, each as a tree of its own that is let go before the next: a tree of the
whole of a large score would take hundreds of megabytes.
"""

from __future__ import annotations

import re
from pathlib import Path

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.bar_drafts import BarDraft, Meter, finish_bars
from stavelight.score.musicxml_head import Head, PartEntry, read_head
from stavelight.score.musicxml_part import PartReader
from stavelight.score.musicxml_text import MusicXmlText
from stavelight.score.note_rows import NoteRows
from stavelight.score.structure import Part, Score, staves_of
from stavelight.score.tick_grid import tick_grid

_STAVES = re.compile(rb"<staves>\s*(\d{1,3})\s*<")
_EXPORT_AGAIN = "Export it again from the program that it comes from."


def read_musicxml(data: bytes, path: Path, sha256: str, warnings: tuple[str, ...] = ()) -> Score:
    """Read a partwise MusicXML document.

    Notes have the ids ``n{part}-{bar}-{k}`` for the k-th note element of that part and bar (all
    from 0, rests counted), bars have ``b{bar}``.

    Parameters
    ----------
    data
        The document in UTF-8, known to be well-formed.
    path
        Where it comes from.
    sha256
        Of the file as it lies on disk.
    warnings
        What was odd about the file so far.

    Raises
    ------
    ScoreFileError
        If there are no parts, no bars or no notes, if the parts have unequal numbers of bars, or
        if something in a bar makes no sense.
    """
    reading = _Reading(MusicXmlText(data, path.name), path.name)
    for part in range(len(reading.text.part_ids)):
        reading.read_part(part)
    if not len(reading.rows):
        raise ScoreFileError(
            "The score has no notes.", where=path.name, remedy="Export it again with its music."
        )
    bars = finish_bars(reading.drafts, reading.meters, reading.grid)
    return Score(
        path=path,
        sha256=sha256,
        file_format="musicxml",
        title=reading.head.title,
        subtitle=reading.head.subtitle,
        composer=reading.head.composer,
        credit=reading.head.credit,
        ticks_per_quarter=reading.grid,
        parts=tuple(reading.parts),
        staves=staves_of(reading.parts),
        bars=bars,
        notes=reading.rows.table([bar.start_ticks for bar in bars]),
        warnings=(*warnings, *reading.warnings),
    )


class _Reading:
    """What has been read of one document so far."""

    def __init__(self, text: MusicXmlText, file_name: str) -> None:
        self.text = text
        self.file_name = file_name
        self.head = self._read_head()
        self.warnings: list[str] = []
        self.grid, is_exact = tick_grid(text.data)
        if not is_exact:
            self.warnings.append("Durations have no common measure: they are rounded a little.")
        self.drafts = [BarDraft(f"b{bar}") for bar in range(text.bar_count)]
        self.drafts[0].may_be_short = True
        self.rows = NoteRows()
        self.parts: list[Part] = []
        self.meters: dict[int, Meter] = {}
        self._staff_total = 0

    def read_part(self, index: int) -> None:
        """Read the next part."""
        part_id = self.text.part_ids[index]
        entry = self.head.entries.get(part_id, PartEntry())
        staff_count = self._staff_count(index)
        where = f"{self.file_name}, part {entry.name or part_id}"
        reader = PartReader(
            index, self._staff_total, staff_count, self.grid, self.drafts, self.rows.voice, where
        )
        reader.read(self._part_element(index, where))
        if reader.rows:
            self.rows.add(reader.rows, reader.ids)
        else:
            self.warnings.append(f"The part {entry.name or part_id} has no notes.")
        self.warnings += reader.warnings
        # The first part that has time signatures speaks for all.
        self.meters = self.meters or reader.meters
        self.parts.append(
            Part(
                index=index,
                id=part_id,
                name=entry.name,
                abbreviation=entry.abbreviation,
                first_staff=self._staff_total,
                staff_count=staff_count,
                instrument_sound=entry.instrument_sound,
                midi_program=entry.midi_program,
                transposition=reader.first_transposition,
                group=entry.group,
            )
        )
        self._staff_total += staff_count

    def _read_head(self) -> Head:
        try:
            return read_head(self.text.head)
        except etree.XMLSyntaxError as fault:
            raise _unreadable(self.file_name, fault) from fault

    def _part_element(self, index: int, where: str) -> etree._Element:
        try:
            return self.text.part_element(index)
        except etree.XMLSyntaxError as fault:
            raise _unreadable(where, fault) from fault

    def _staff_count(self, index: int) -> int:
        """Return the largest number of staves that a part ever has."""
        found = (
            int(number)
            for _, attributes in self.text.attributes[index]
            for number in _STAVES.findall(attributes)
        )
        return max(found, default=1) or 1


def _unreadable(where: str, fault: etree.XMLSyntaxError) -> ScoreFileError:
    """Return the error for a document that is well-formed as a whole, but not in its pieces."""
    return ScoreFileError(
        f"The file cannot be read: {fault.msg or 'a part of it is not well-formed'}.",
        where=where,
        remedy=_EXPORT_AGAIN,
    )
