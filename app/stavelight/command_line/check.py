"""Check a layer against the schema of layer files and against its score.

Nothing is printed and the exit code is 0 if all is well; otherwise each fault is one line, and the
exit code is 1. Nothing is changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from stavelight.command_line.opening import missing_layer
from stavelight.errors import LayerFileError

EXAMPLES = """\
  stavelight check symphony.layer.json
  stavelight check lesson
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of the command."""
    parser.add_argument(
        "path",
        metavar="PATH",
        type=Path,
        help="a layer, a project's folder, or a score with a layer",
    )


def run(options: argparse.Namespace) -> int:
    """Print the faults of the layer; return 1 if there are any.

    Raises
    ------
    StavelightError
        If there is no layer, or if a file cannot be read.
    """
    from stavelight.annotation.checking import check_layer
    from stavelight.annotation.project import find_project
    from stavelight.score.reading import read_score

    path: Path = options.path
    try:
        project = find_project(path)
    except LayerFileError:  # too broken to tell its score: say all that is wrong with it
        faults = check_layer(path)
        if not faults:
            raise
        layer_path = path
    else:
        layer_path = project.layer_path
        if not project.has_layer:
            raise missing_layer(project.score_path, layer_path)
        faults = check_layer(layer_path, read_score(project.score_path))
    for fault in faults:
        print(f"{layer_path}: {fault.one_line()}")
    return 1 if faults else 0
