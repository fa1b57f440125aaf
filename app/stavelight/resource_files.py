"""Find the data files that ship with the program, from a checkout or from a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parent.parent


def _folder(name: str) -> Path:
    """Return the folder `name` of the installed package, or of the checkout."""
    installed = _PACKAGE / name
    return installed if installed.is_dir() else _CHECKOUT / name


def resource(relative_path: str) -> Path:
    """Return the path of a file under ``resources/``.

    Raises
    ------
    FileNotFoundError
        If the installation is incomplete.
    """
    path = _folder("resources") / relative_path
    if not path.exists():
        raise FileNotFoundError(f"{path} is missing: the installation is incomplete")
    return path


def sample_projects_folder() -> Path:
    """Return the folder of the sample projects."""
    return _folder("sample_projects")
