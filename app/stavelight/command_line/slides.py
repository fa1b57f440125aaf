"""Make slides of the regions and the commentary of a project.

A title slide, then a slide for each commentary entry or region in the order of the score: the
engraved bars, the regions in colour with their key, the commentary, and the credit of the edition.
The ending of the output's name chooses the format: .pptx for slides that can be edited, with the
regions as shapes of their own; .pdf for one PDF; a folder, as in "slides/", for a picture a slide.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from stavelight.command_line.interruption import stop_at_once
from stavelight.command_line.opening import engraved, open_path, warn
from stavelight.command_line.progress import ProgressLine

EXAMPLES = """\
  stavelight slides lesson -o lesson.pptx
  stavelight slides symphony.mxl -o lesson.pdf
  stavelight slides lesson -o slides/
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the command."""
    parser.add_argument(
        "project", metavar="PROJECT", type=Path, help="a project's folder, a layer, or its score"
    )
    parser.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        type=_target,
        required=True,
        help="lesson.pptx, lesson.pdf, or a folder that ends in /",
    )


def run(options: argparse.Namespace) -> int:
    """Write the slides.

    Raises
    ------
    StavelightError
        If the project cannot be read, if there is nothing to show, or if the slides cannot be
        written.
    """
    with stop_at_once():
        from stavelight.delivery.slides import export_slides

    opened = open_path(options.project, needs_layer=True)
    warn(opened.doubts)
    with engraved(opened.score.path) as pages, ProgressLine() as progress:
        export_slides(
            opened.score, opened.layer, opened.vocabulary, pages, options.output, progress
        )
    return 0


def _target(text: str) -> Path:
    path = Path(text)
    is_folder = text.endswith(("/", "\\")) or path.is_dir() or not path.suffix
    if not is_folder and path.suffix.lower() not in (".pptx", ".pdf"):
        raise argparse.ArgumentTypeError(
            f"{text!r} ends neither in .pptx nor in .pdf, and is not a folder such as slides/"
        )
    return path
