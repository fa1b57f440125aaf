"""Projects: a score and the layer beside it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from stavelight.annotation.layer_file import is_layer, is_score, layer_path_for, load_layer
from stavelight.errors import StavelightError


class ProjectError(StavelightError):
    """A path does not lead to a score and its layer."""


@dataclass(frozen=True, slots=True)
class Project:
    """A score and the layer beside it.

    Attributes
    ----------
    folder
        Where both lie.
    score_path
        The score.
    layer_path
        Its layer, whether it is there yet or not.
    """

    folder: Path
    score_path: Path
    layer_path: Path

    @property
    def has_layer(self) -> bool:
        """Whether the layer is there."""
        return self.layer_path.is_file()


def find_project(path: Path) -> Project:
    """Return the project that a path stands for.

    Parameters
    ----------
    path
        A score; a layer, with its score beside it; or a folder that holds one score, or several
        of which one has a layer. Folders inside it are not looked into.

    Raises
    ------
    ProjectError
        If it is none of those.
    LayerFileError
        If it is a layer that cannot be read.
    """
    path = Path(path)
    if path.is_dir():
        return _project_of(_score_in(path))
    if not path.exists():
        raise ProjectError(
            "There is no such file or folder.", where=str(path), remedy="Check its name."
        )
    if is_layer(path):
        return Project(path.parent, _score_of_layer(path), path)
    if is_score(path):
        return _project_of(path)
    raise ProjectError(
        "This is neither a score nor a layer nor a folder.",
        where=str(path),
        remedy="Choose a file that ends in .musicxml, .xml, .mxl, .mei or .layer.json.",
    )


def _project_of(score_path: Path) -> Project:
    return Project(score_path.parent, score_path, layer_path_for(score_path))


def _scores_in(folder: Path) -> list[Path]:
    """Return the scores of a folder by name, hidden files left out."""
    try:
        return sorted(
            path
            for path in folder.iterdir()
            if is_score(path) and not path.name.startswith(".") and path.is_file()
        )
    except OSError as error:
        raise ProjectError(
            f"The folder cannot be read: {error.strerror or error}.",
            where=str(folder),
            remedy="Check that you may read it.",
        ) from error


def _score_in(folder: Path) -> Path:
    scores = _scores_in(folder)
    if not scores:
        raise ProjectError(
            "There is no score in this folder.",
            where=str(folder),
            remedy="Choose a folder with a .musicxml, .xml, .mxl or .mei file in it.",
        )
    with_layer = [score for score in scores if layer_path_for(score).is_file()]
    fitting = with_layer or scores
    if len(fitting) > 1:
        names = ", ".join(score.name for score in fitting)
        which = "scores with a layer" if with_layer else "scores"
        raise ProjectError(
            f"There are several {which} in this folder: {names}.",
            where=str(folder),
            remedy="Open one of them by itself.",
        )
    return fitting[0]


def _score_of_layer(layer_path: Path) -> Path:
    """Return the score that a layer belongs to: by its name, else by its content."""
    reference = load_layer(layer_path).layer.score
    # Only the name counts: a layer never leads out of its folder.
    name = Path(reference.file_name).name
    by_name = layer_path.with_name(name) if name else None
    if by_name is not None and is_score(by_name) and by_name.is_file():
        return by_name
    scores = _scores_in(layer_path.parent)
    for score in scores:
        if _sha256(score) == reference.sha256:
            return score
    for score in scores:
        if layer_path_for(score) == layer_path:
            return score
    raise ProjectError(
        f"The score {reference.file_name!r} of this layer is not beside it.",
        where=str(layer_path),
        remedy="Put the score into the same folder.",
    )


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""
