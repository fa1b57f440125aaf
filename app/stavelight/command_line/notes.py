"""List every note of a score in a table, with written and sounding pitch.

One row a notehead, in CSV (comma-separated, UTF-8, a heading line): part index and name, staff,
bar index from 0 and printed bar number, onset and duration in quarter notes, written and sounding
pitch, both as MIDI number and spelled (C4 is middle C).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from stavelight.errors import DeliveryError

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
