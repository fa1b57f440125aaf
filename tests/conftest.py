"""What all tests share: no display, and no trace in the user's own folders."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True, scope="session")
def user_folders(tmp_path_factory: pytest.TempPathFactory):
    """Keep settings, state and recovery copies of the tests in a folder of their own."""
    home = tmp_path_factory.mktemp("user")
    with pytest.MonkeyPatch.context() as patch:
        for kind in ("CONFIG", "DATA", "STATE", "CACHE"):
            folder = home / kind.lower()
            folder.mkdir()
            patch.setenv(f"XDG_{kind}_HOME", str(folder))
        yield home


@pytest.fixture(autouse=True, scope="session")
def application(qapp):
    """One application with widgets for all tests: exports would make one without."""
    return qapp


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds README.md."""
    return Path(__file__).resolve().parents[1]
