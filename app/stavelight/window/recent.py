"""The files that were opened lately, and where layers lie, kept in the user's settings."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings

_KEY = "recent/paths"
_MOST = 10
_ELSEWHERE = "elsewhere"


class RecentFiles:
    """Paths of scores and projects, the latest first.

    Parameters
    ----------
    settings
        Where they are kept.
    """

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    def paths(self) -> tuple[Path, ...]:
        """Return the paths, whether there is still something there or not."""
        kept = self._settings.value(_KEY, [])
        if isinstance(kept, str):  # a list of one comes back as a plain text
            kept = [kept]
        return tuple(Path(str(path)) for path in kept) if isinstance(kept, list) else ()

    def add(self, path: Path) -> None:
        """Put a path first."""
        path = path.resolve()
        others = [other for other in self.paths() if other != path]
        self._settings.setValue(_KEY, [str(one) for one in [path, *others][:_MOST]])

    def remove(self, path: Path) -> None:
        """Forget a path."""
        self._settings.setValue(_KEY, [str(one) for one in self.paths() if one != path])

    def clear(self) -> None:
        """Forget all of them."""
        self._settings.remove(_KEY)


class LayersElsewhere:
    """Where layers lie that could not be saved beside their scores.

    Parameters
    ----------
    settings
        Where that is kept.
    """

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    def layer_of(self, score_path: Path) -> Path | None:
        """Return the layer that was last saved elsewhere for a score, if it is still there."""
        kept = self._settings.value(self._key(score_path))
        path = Path(str(kept)) if kept else None
        return path if path is not None and path.is_file() else None

    def remember(self, score_path: Path, layer_path: Path) -> None:
        """Keep where the layer of a score lies."""
        self._settings.setValue(self._key(score_path), str(layer_path.resolve()))

    def forget(self, score_path: Path) -> None:
        """Forget the place: the layer of a score lies beside it again."""
        self._settings.remove(self._key(score_path))

    @staticmethod
    def _key(score_path: Path) -> str:
        # Settings take slashes for groups.
        return f"{_ELSEWHERE}/{str(score_path.resolve()).replace('/', '|').replace(chr(92), '|')}"
