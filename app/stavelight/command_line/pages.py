"""Engrave the pages of a score as pictures or as one PDF.

SVG and PNG make a file for each page; PDF makes one file with all pages. If a layer lies beside the
score, its regions are shown in colour.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from stavelight.command_line.bar_range import printed_bars
from stavelight.command_line.interruption import stop_at_once
from stavelight.command_line.opening import engraved, open_path, warn
from stavelight.command_line.progress import ProgressLine

EXAMPLES = """\
  stavelight pages symphony.mxl -o pages --format pdf
  stavelight pages symphony.mei -o pages --format png --bars 12-27
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the command."""
    parser.add_argument("score", metavar="SCORE", type=Path, help="a score, or a project's folder")
    parser.add_argument(
        "-o",
        "--output",
        metavar="DIR",
        type=Path,
        required=True,
        help="the folder to write to; it is made if it is not there",
    )
    parser.add_argument(
        "--format", choices=("svg", "png", "pdf"), required=True, help="of the files"
    )
    parser.add_argument(
        "--bars",
        metavar="A-B",
        type=printed_bars,
        help="only the pages on which these bars stand, by the numbers that the edition prints",
    )
    parser.add_argument(
        "--without-regions",
        action="store_true",
        help="the score alone, without the coloured regions of its layer",
    )


def run(options: argparse.Namespace) -> int:
    """Write the pages.

    Raises
    ------
    StavelightError
        If the score or its layer cannot be read, if there are no such bars, or if the pages cannot
        be written.
    """
    with stop_at_once():
        from stavelight.delivery.pages import export_pages
        from stavelight.delivery.slide_model import marked_regions

    opened = open_path(options.score, with_layer=not options.without_regions)
    warn(opened.doubts)
    score = opened.score
    bars = options.bars.in_score(score) if options.bars is not None else None
    regions = marked_regions(score, opened.layer, opened.vocabulary)
    with engraved(score.path) as pages, ProgressLine() as progress:
        export_pages(
            pages,
            options.output,
            options.format,
            bars,
            regions,
            title=score.title,
            progress=progress,
        )
    return 0
