"""Layer files: where they lie, and how they are read and written without ever losing one.

A file is written whole into the same folder under another name, brought to the disk, and then put
in the place of the old one in a single step. Whatever fails before that step leaves the old file
as it was. A file that changed on disk since it was read is not overwritten unless that is asked
for; nor is one that this program can only read.
"""

from __future__ import annotations

import contextlib
import enum
import errno
import hashlib
import os
import stat
import time
from dataclasses import dataclass
from pathlib import Path

from stavelight.annotation.layer import FORMAT_VERSION, Layer
from stavelight.annotation.layer_text import decode_json, decode_layer, encode_layer, format_version
from stavelight.annotation.record import new_id
from stavelight.errors import LayerFileError

LAYER_SUFFIX = ".layer.json"
SCORE_SUFFIXES = (".musicxml", ".xml", ".mxl", ".mei")

_LEFTOVER_SECONDS = 3600
_ELSEWHERE = "Save the layer in another place."
_FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))


class LayerChangedOnDiskError(LayerFileError):
    """The file is not as it was when it was last read or written here."""


class LayerReadOnlyError(LayerFileError):
    """The file must not be written by this program."""


class ReadOnlyCause(enum.StrEnum):
    """Why a layer can be read and not written."""

    NEWER_FORMAT = "newer format"
    ANOTHER_SCORE = "another score"
    WRITE_PROTECTED = "write-protected"


@dataclass(frozen=True, slots=True)
class LoadedLayer:
    """A layer as it stands on disk.

    Attributes
    ----------
    path
        The file.
    layer
        What it holds.
    digest
        Hexadecimal SHA-256 of its bytes.
    cause
        Why it must not be written, or None if it may.
    read_only_reason
        The same as a sentence for the user, with what can be done; or None.
    """

    path: Path
    layer: Layer
    digest: str
    cause: ReadOnlyCause | None = None
    read_only_reason: str | None = None


def is_score(path: Path) -> bool:
    """Tell whether a file has the name of a score."""
    return path.suffix.lower() in SCORE_SUFFIXES


def is_layer(path: Path) -> bool:
    """Tell whether a file has the name of a layer."""
    return path.name.lower().endswith(LAYER_SUFFIX)


def layer_path_for(score_path: Path) -> Path:
    """Return where the layer of a score lies, or would lie: beside it.

    The layer of ``serenade.mxl`` is ``serenade.layer.json``. Where several scores of one name lie
    side by side, such as ``serenade.mxl`` and ``serenade.mei``, that file belongs to the score
    that it names, and the others' layers are ``serenade.mei.layer.json`` and so on; where there
    is no layer yet, each gets the long name. The long name goes before the short one wherever it
    is there. The folder is looked at; nothing is written.
    """
    stem = score_path.stem if is_score(score_path) else score_path.name
    short = score_path.with_name(stem + LAYER_SUFFIX)
    long = score_path.with_name(score_path.name + LAYER_SUFFIX)
    if long.exists():
        return long
    siblings = _scores_of_the_same_name(score_path, stem)
    if not siblings:
        return short
    if short.exists():
        named = _score_named_in(short)
        return long if named != score_path.name and named in siblings else short
    return long


def _scores_of_the_same_name(score_path: Path, stem: str) -> set[str]:
    try:
        names = {path.name for path in score_path.parent.iterdir() if is_score(path)}
    except OSError:
        return set()
    return {name for name in names if Path(name).stem == stem} - {score_path.name}


def _score_named_in(layer_path: Path) -> str | None:
    """Return the score file that a layer says it belongs to; None if it cannot be read."""
    try:
        return load_layer(layer_path).layer.score.file_name
    except LayerFileError:
        return None


def load_layer(path: Path, *, score_sha256: str | None = None) -> LoadedLayer:
    """Read a layer file.

    Parameters
    ----------
    path
        The file.
    score_sha256
        Of the score that it should belong to; None asks nothing. A layer of another score is
        read, but as one that must not be written.

    Raises
    ------
    LayerFileError
        If the file cannot be read, is broken, or is not a layer.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
        protected = _is_protected(path)
    except OSError as error:
        raise _cannot_read(path, error) from error
    layer = decode_layer(data, str(path))
    cause, reason = None, None
    if layer.format_version > FORMAT_VERSION:
        cause = ReadOnlyCause.NEWER_FORMAT
        reason = (
            f"The layer is of format version {layer.format_version}, and this program writes "
            f"version {FORMAT_VERSION}: it can be read, not changed. Install a newer version."
        )
    elif score_sha256 is not None and layer.score.sha256 != score_sha256:
        cause = ReadOnlyCause.ANOTHER_SCORE
        reason = (
            f"The layer was made for {layer.score.file_name}, and not for the score file as it "
            "is now: bars and staves may have moved. It can be read, and changed only once you "
            "say that it belongs to this score."
        )
    elif protected:
        cause = ReadOnlyCause.WRITE_PROTECTED
        reason = "The layer file is protected against writing. Save the layer in another place."
    return LoadedLayer(path, layer, _digest(data), cause, reason)


def save_layer(
    path: Path, layer: Layer, *, loaded: LoadedLayer | None = None, overwrite: bool = False
) -> LoadedLayer:
    """Write a layer file whole, or leave the old one whole.

    Parameters
    ----------
    path
        The file. A symbolic link stays, and what it points to is written.
    layer
        What it shall hold.
    loaded
        What the last `load_layer` or `save_layer` of the same path returned; None for a file
        that is not there yet.
    overwrite
        Whether the user agreed to overwrite a file that is not as `loaded` says, or that belongs
        to another score. A file of a newer format, or one protected against writing, is never
        overwritten.

    Returns
    -------
    LoadedLayer
        What stands on disk now, to be given as `loaded` next time.

    Raises
    ------
    LayerReadOnlyError
        If the file, or the layer, must not be written.
    LayerChangedOnDiskError
        If the file is there and not as `loaded` says.
    LayerFileError
        If writing fails.
    """
    path = Path(path)
    target = Path(os.path.realpath(path))
    if loaded is not None and Path(os.path.realpath(loaded.path)) != target:
        loaded = None
    if layer.format_version > FORMAT_VERSION:
        raise LayerReadOnlyError(
            "The layer is of a newer format, which this program cannot write.",
            where=str(path),
            remedy="Install a newer version of the program.",
        )
    data = encode_layer(layer)
    try:
        on_disk = _bytes_if_there(target)
        mode = stat.S_IMODE(target.stat().st_mode) if on_disk is not None else None
    except OSError as error:
        raise _cannot_write(path, error) from error
    if on_disk is not None:
        _refuse_to_lose(path, target, on_disk, loaded, overwrite)
    try:
        _write_whole(target, data, mode)
    except OSError as error:
        raise _cannot_write(path, error) from error
    _remove_leftovers(target.parent)
    return LoadedLayer(path, layer, _digest(data))


def changed_on_disk(loaded: LoadedLayer) -> bool:
    """Tell whether a layer file is no longer as it was read or written; also if it is gone.

    Raises
    ------
    LayerFileError
        If it cannot be read.
    """
    try:
        data = _bytes_if_there(loaded.path)
    except OSError as error:
        raise _cannot_read(loaded.path, error) from error
    return data is None or _digest(data) != loaded.digest


def _refuse_to_lose(
    path: Path, target: Path, on_disk: bytes, loaded: LoadedLayer | None, overwrite: bool
) -> None:
    """Raise if the file must not be overwritten."""
    if _is_protected(target):
        raise LayerReadOnlyError(
            "The layer file is protected against writing.", where=str(path), remedy=_ELSEWHERE
        )
    is_as_loaded = loaded is not None and _digest(on_disk) == loaded.digest
    if overwrite:
        if _is_of_newer_format(on_disk):
            raise LayerReadOnlyError(
                "A layer of a newer format lies there, which would be lost.",
                where=str(path),
                remedy=_ELSEWHERE,
            )
        return
    if not is_as_loaded:
        raise LayerChangedOnDiskError(
            "Another layer lies there already."
            if loaded is None
            else "The layer file was changed by someone else since it was opened.",
            where=str(path),
            remedy="Open it to see what it holds, or save this layer in another place.",
        )
    if loaded is not None and loaded.read_only_reason is not None:
        raise LayerReadOnlyError(loaded.read_only_reason, where=str(path), remedy=_ELSEWHERE)


def _is_of_newer_format(data: bytes) -> bool:
    try:
        version = format_version(decode_json(data, ""))
    except LayerFileError:
        return False
    return version is not None and version > FORMAT_VERSION


def _is_protected(path: Path) -> bool:
    """Tell whether nobody may write the file, whatever the rights of the one who asks."""
    return path.stat().st_mode & 0o222 == 0


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _bytes_if_there(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _write_whole(target: Path, data: bytes, mode: int | None) -> None:
    """Put `data` in the place of a file in one step, with the rights that the old one had."""
    temporary = target.with_name(f".{new_id()}.layer.tmp")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(temporary, flags, 0o666), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            with contextlib.suppress(OSError):  # not all file systems have rights
                temporary.chmod(mode)
        temporary.replace(target)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    _sync_folder(target.parent)


def _sync_folder(folder: Path) -> None:
    """Bring a new name to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove_leftovers(folder: Path) -> None:
    """Remove what saves left behind that were killed half-way an hour ago or earlier."""
    with contextlib.suppress(OSError):
        for path in folder.glob(f".{'?' * 16}.layer.tmp"):
            if time.time() - path.stat().st_mtime > _LEFTOVER_SECONDS:
                path.unlink(missing_ok=True)


def _cannot_read(path: Path, error: OSError) -> LayerFileError:
    if isinstance(error, FileNotFoundError):
        return LayerFileError(
            "The layer file is not there.", where=str(path), remedy="Check its name and folder."
        )
    return LayerFileError(
        f"The layer file cannot be read: {error.strerror or error}.",
        where=str(path),
        remedy="Check that you may read it.",
    )


def _cannot_write(path: Path, error: OSError) -> LayerFileError:
    remedy = "Nothing is lost: an older file is as it was. " + _ELSEWHERE
    if error.errno in _FULL:
        what = "The disk is full: the layer could not be saved."
        remedy = "Nothing is lost: an older file is as it was. Free some space, or save elsewhere."
    elif isinstance(error, FileNotFoundError):
        what = "The folder is not there: the layer could not be saved."
    elif isinstance(error, PermissionError) or error.errno == errno.EROFS:
        what = f"The folder {path.parent} cannot be written to: the layer could not be saved."
    else:
        what = f"The layer could not be saved: {error.strerror or error}."
    return LayerFileError(what, where=str(path), remedy=remedy)
