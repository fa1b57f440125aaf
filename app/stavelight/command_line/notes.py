"""List every note of a score in a table, with written and sounding pitch.

One row a notehead, in CSV (comma-separated, UTF-8, a heading line): part index from 0 and name,
staff, bar index from 0 and printed bar number, onset and duration in quarter notes, voice, written
and sounding pitch (spelled, and as MIDI number; C4 = 60 is middle C), ties, grace notes, and the
id of the note on the engraved page.
"""

from __future__ import annotations

import argparse
import io
import sys
from pathlib import Path

from stavelight.command_line.opening import open_score

EXAMPLES = """\
  stavelight notes symphony.mxl -o symphony.csv
  stavelight notes symphony.mei -o - | head
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the command."""
    parser.add_argument("score", metavar="SCORE", type=Path, help="a score, or a project's folder")
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE.csv",
        required=True,
        help="the table to write; - writes it to standard output",
    )


def run(options: argparse.Namespace) -> int:
    """Write the table.

    Raises
    ------
    StavelightError
        If the score cannot be read or the table cannot be written.
    """
    from stavelight.score.note_listing import print_note_listing, write_note_listing

    score = open_score(options.score)
    if options.output == "-":
        if isinstance(sys.stdout, io.TextIOWrapper):
            sys.stdout.reconfigure(encoding="utf-8", newline="")
        print_note_listing(score, sys.stdout)
    else:
        write_note_listing(score, Path(options.output))
    return 0
