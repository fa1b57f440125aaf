"""Write exports so that there is never half a file: beside the place, then moved to it."""

from __future__ import annotations

import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stavelight.errors import DeliveryError


@contextmanager
def file_to_replace(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`; move it there if all went well, else remove it.

    Raises
    ------
    DeliveryError
        If the folder cannot be made or written, or the file cannot be replaced.
    """
    if path.is_dir():
        raise DeliveryError(
            "There is a folder of this name.", where=str(path), remedy="Choose another name."
        )
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with _told(path):
            temporary.touch(exist_ok=False)
        yield temporary
        with _told(path):
            _flush(temporary)
            temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def folder_to_fill(folder: Path, own_names: re.Pattern[str]) -> Iterator[Path]:
    """Give an empty temporary folder; move its files into `folder` if all went well.

    Files of the same names are replaced one by one; files of `folder` that an earlier export made
    and this one did not are removed, everything else in it stays.

    Parameters
    ----------
    folder
        Made if it is not there.
    own_names
        What the names of this export's files look like, in full.

    Raises
    ------
    DeliveryError
        If the folder cannot be made or written, or a file cannot be replaced.
    """
    if folder.exists() and not folder.is_dir():
        raise DeliveryError(
            "There is a file of this name, not a folder.",
            where=str(folder),
            remedy="Choose another name.",
        )
    with _told(folder):
        folder.parent.mkdir(parents=True, exist_ok=True)
    temporary = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}.part")
    try:
        with _told(folder):
            temporary.mkdir()
        yield temporary
        with _told(folder):
            folder.mkdir(exist_ok=True)
            made = sorted(temporary.iterdir())
            for path in made:
                _flush(path)
                path.replace(folder / path.name)
            names = {path.name for path in made}
            for path in folder.iterdir():
                if own_names.fullmatch(path.name) and path.name not in names and path.is_file():
                    path.unlink()
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def _flush(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what the system says into words for the user."""
    try:
        yield
    except OSError as error:
        raise cannot_write(path, error) from error


def cannot_write(path: Path, error: OSError | None = None) -> DeliveryError:
    """Return the error for a place that cannot be written."""
    reason = f": {error.strerror}" if error is not None and error.strerror else ""
    return DeliveryError(
        f"This cannot be written{reason}.",
        where=str(path),
        remedy="Check that the folder may be written, that the disk has room, and that no other "
        "program has the file open; or choose another place.",
    )
