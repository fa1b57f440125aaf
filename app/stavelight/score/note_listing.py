"""List every note of a score in a CSV table (RFC 4180, UTF-8, a heading line, lines end in CRLF).

Columns:

====================  =======================================================================
``part_index``        from 0
``part_name``         as printed before the first system
``staff``             within the part, from 1
``bar_index``         from 0; a pickup bar is 0
``printed_bar``       what the edition prints
``onset_quarters``    quarter notes from the beginning of the score, repeats not expanded
``duration_quarters``  in quarter notes; 0 for grace notes
``voice``             as the file names it
``written_pitch``     spelled, such as ``Bb4`` (C4 = middle C); empty for unpitched notes
``written_midi``      MIDI number (60 = middle C); empty for unpitched notes
``sounding_pitch``    likewise, as it sounds
``sounding_midi``     likewise
``tie``               ``next``, ``before`` or ``both``: to which note it is tied; else empty
``grace``             ``plain`` or ``slashed`` for grace notes, else empty
``id``                the note's id on the engraved page
====================  =======================================================================

Times are exact where a decimal number can be (1.5), and else rounded at the ninth digit after the
point (0.333333333): a multiple of a third, fifth or seventh is found again by rounding to the
score's ticks.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TextIO

from stavelight.errors import DeliveryError
from stavelight.score.note_table import NoteFlag, pitch_name
from stavelight.score.structure import Score

HEADINGS = (
    "part_index",
    "part_name",
    "staff",
    "bar_index",
    "printed_bar",
    "onset_quarters",
    "duration_quarters",
    "voice",
    "written_pitch",
    "written_midi",
    "sounding_pitch",
    "sounding_midi",
    "tie",
    "grace",
    "id",
)
DIGITS_AFTER_POINT = 9
_TIES = ("", "next", "before", "both")
_GRACES = ("", "plain", "slashed")


def write_note_listing(score: Score, path: Path) -> None:
    """Write the table to a file: the whole of it or nothing.

    Raises
    ------
    DeliveryError
        If the file cannot be written.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as fault:
        raise _unwritable(path, fault) from fault
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            print_note_listing(score, file)
            file.flush()
            os.fsync(file.fileno())
        _give_usual_permissions(Path(name))
        Path(name).replace(path)
    except OSError as fault:
        raise _unwritable(path, fault) from fault
    finally:
        Path(name).unlink(missing_ok=True)


def print_note_listing(score: Score, file: TextIO) -> None:
    """Write the table to an open file (opened with ``newline=""``)."""
    writer = csv.writer(file)
    writer.writerow(HEADINGS)
    writer.writerows(listed_notes(score))


def listed_notes(score: Score) -> Iterator[tuple[str | int, ...]]:
    """Yield the table's rows, without the heading."""
    quarters: dict[int, str] = {}

    def in_quarters(ticks: int) -> str:
        if ticks not in quarters:
            quarters[ticks] = decimal_text(Fraction(ticks, score.ticks_per_quarter))
        return quarters[ticks]

    notes = score.notes
    names = notes.rows.dtype.names or ()
    for row, note_id in zip(notes.rows.tolist(), notes.ids, strict=True):
        note = dict(zip(names, row, strict=True))
        part = score.parts[note["part"]]
        yield (
            part.index,
            part.name,
            score.staves[note["staff"]].number,
            note["bar"],
            score.bars[note["bar"]].printed_number,
            in_quarters(note["onset_ticks"]),
            in_quarters(note["duration_ticks"]),
            notes.voices[note["voice"]],
            *_pitch(note, "written"),
            *_pitch(note, "sounding"),
            _TIES[note["tie"]],
            _GRACES[note["grace"]],
            note_id,
        )


def decimal_text(number: Fraction) -> str:
    """Return a number as a decimal, without needless zeros."""
    scaled = round(number * 10**DIGITS_AFTER_POINT)
    sign = "-" if scaled < 0 else ""
    whole, rest = divmod(abs(scaled), 10**DIGITS_AFTER_POINT)
    digits = f"{rest:0{DIGITS_AFTER_POINT}d}".rstrip("0")
    return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"


def _pitch(note: dict[str, int], kind: str) -> tuple[str, str | int]:
    if note["flags"] & NoteFlag.UNPITCHED:
        return "", ""
    spelled = (note[f"{kind}_{column}"] for column in ("step", "alter", "octave"))
    return pitch_name(*spelled), note[f"{kind}_midi"]


def _give_usual_permissions(path: Path) -> None:
    """Let a temporary file, made for its owner alone, be read like any other new file."""
    mask = os.umask(0)
    os.umask(mask)
    path.chmod(0o666 & ~mask)


def _unwritable(path: Path, fault: OSError) -> DeliveryError:
    return DeliveryError(
        f"The table of notes cannot be written: {fault.strerror or fault}.",
        where=str(path),
        remedy="Choose a folder that exists and that you may write to.",
    )
