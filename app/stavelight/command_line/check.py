"""Check a layer against the schema of layer files and against its score.

Nothing is printed and the exit code is 0 if all is well; otherwise each fault is one line, and the
exit code is 1. Nothing is changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

EXAMPLES = """\
  stavelight check symphony.layer.json
  stavelight check lesson
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the command."""
    parser.add_argument(
        "path", metavar="PATH", type=Path, help="a layer, a project's folder, or a score with a layer"
    )
