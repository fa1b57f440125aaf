"""The files that were opened lately, kept in the user's settings."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings

_KEY = "recent/paths"
_MOST = 10


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
