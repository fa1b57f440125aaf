"""Open what a command is given: a score, perhaps with a layer, and an engraver for its pages."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from stavelight.errors import LayerFileError

if TYPE_CHECKING:
    from stavelight.annotation.layer import Layer
    from stavelight.annotation.tags import Vocabulary
    from stavelight.engraving.engraver import EngravedScore
    from stavelight.score.structure import Score


@dataclass(frozen=True)
class Opened:
    """A score and what people added to it.

    Attributes
    ----------
    score
        The score.
    layer
        Its layer; an empty one if there is none on disk.
    vocabulary
        The tags that ship, and the layer's own.
    doubts
        What the user should know about the layer, a sentence each.
    """

    score: Score
    layer: Layer
    vocabulary: Vocabulary
    doubts: tuple[str, ...] = ()


def open_path(path: Path, *, with_layer: bool = True, needs_layer: bool = False) -> Opened:
    """Read the score that a path stands for, and the layer beside it.

    Parameters
    ----------
    path
        A score, a layer, or a folder that holds them.
    with_layer
        Whether the layer is wanted at all.
    needs_layer
        Whether it must be there.

    Raises
    ------
    StavelightError
        If there is no score, if it or its layer cannot be read, or if a layer is needed and
        there is none.
    """
    from stavelight.annotation.layer import new_layer
    from stavelight.annotation.layer_file import load_layer
    from stavelight.annotation.project import find_project
    from stavelight.annotation.tags import load_vocabulary
    from stavelight.score.reading import read_score

    project = find_project(path)
    score = read_score(project.score_path)
    vocabulary = load_vocabulary()
    if needs_layer and not project.has_layer:
        raise missing_layer(project.score_path, project.layer_path)
    if not with_layer or not project.has_layer:
        return Opened(score, new_layer(score), vocabulary)
    loaded = load_layer(project.layer_path, score_sha256=score.sha256)
    doubts = (f"{project.layer_path}: {loaded.read_only_reason}",) if loaded.cause else ()
    layer = loaded.layer
    return Opened(score, layer, vocabulary.with_own_tags(layer.own_tags), doubts)


def warn(doubts: tuple[str, ...]) -> None:
    """Tell the user about doubts, on standard error."""
    for doubt in doubts:
        print(f"stavelight: {doubt}", file=sys.stderr)


def missing_layer(score_path: Path, layer_path: Path) -> LayerFileError:
    """Return the error for a score without a layer."""
    return LayerFileError(
        "There is no layer beside this score.",
        where=str(score_path),
        remedy=f"It would be called {layer_path.name}.",
    )


def open_score(path: Path) -> Score:
    """Read the score that a path stands for, and no layer.

    Raises
    ------
    StavelightError
        If there is no score, or if it cannot be read.
    """
    from stavelight.annotation.project import find_project
    from stavelight.score.reading import read_score

    return read_score(find_project(path).score_path)


@contextmanager
def engraved(score_path: Path) -> Iterator[EngravedScore]:
    """Give the pages of a score, as long as the block lasts."""
    from stavelight.engraving.engraver import Engraver

    if sys.platform.startswith("linux"):  # what is painted here is never shown
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    engraver = Engraver(workers=min(2, os.cpu_count() or 1))
    try:
        yield engraver.open(score_path)
    finally:
        engraver.close()
