"""Keep plans and pages on disk, so that a score that was open before is there at once.

Entries are named by all that they depend on: the content of the score file, the layout, the page,
the version of verovio and that of this program's drawing. A damaged entry is thrown away and made
anew. Any number of windows may use the folder at once: entries are written aside and then put in
place, and are never changed.
"""

from __future__ import annotations

import hashlib
import os
import threading
import zlib
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from platformdirs import user_cache_path

from stavelight.engraving.geometry import CELLS, MOMENTS, NOTES, PageGeometry, SystemBox
from stavelight.engraving.page_maker import EngravedPage
from stavelight.engraving.page_plan import PagePlan, ScorePlan, SystemPlan

DRAWING_VERSION = 3
"""To be raised whenever pages of the same score and layout come out differently."""

LARGEST_STORE = 400 * 1024 * 1024
"""Bytes that the store may take; what was not used for longest goes first."""

_TRIM_EVERY = 64
_SUFFIX = ".page"


def default_folder() -> Path:
    """Return the folder in which pages are kept: in the user's cache folder."""
    return user_cache_path("stavelight", appauthor=False) / "pages"


class PageStore:
    """A folder of engraved pages.

    Parameters
    ----------
    folder
        Where; it is made when the first page is kept.
    largest
        How many bytes it may take.
    """

    def __init__(self, folder: Path, largest: int = LARGEST_STORE) -> None:
        self.folder = folder
        self.largest = largest
        self._kept_since_trim = 0
        self._lock = threading.Lock()

    def find(self, key: str) -> Any | None:
        """Return a plan or page that was kept, or a pair of both; None if there is none."""
        path = self._path(key)
        try:
            raw = path.read_bytes()
        except OSError:
            return None
        try:
            answer = _decode(raw)
        except (ValueError, KeyError, TypeError, zlib.error, msgspec.MsgspecError):
            with suppress(OSError):
                path.unlink()
            return None
        with suppress(OSError):
            os.utime(path)
        return answer

    def keep(self, key: str, answer: Any) -> None:
        """Keep a plan, a page, or a pair of both.

        A store that cannot be written keeps nothing, and nobody needs to know.
        """
        path = self._path(key)
        aside = path.with_name(f"{path.name}.{os.getpid()}.{threading.get_ident()}")
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            aside.write_bytes(_encode(answer))
            aside.replace(path)
        except OSError:
            with suppress(OSError):
                aside.unlink()
            return
        with self._lock:
            self._kept_since_trim += 1
            due = self._kept_since_trim >= _TRIM_EVERY
            if due:
                self._kept_since_trim = 0
        if due:
            self.trim()

    def trim(self) -> None:
        """Remove what was not used for longest until the store is small enough."""
        entries = []
        with suppress(OSError):
            for entry in os.scandir(self.folder):
                with suppress(OSError):
                    status = entry.stat()
                    entries.append((status.st_mtime_ns, status.st_size, entry.path))
        size = sum(entry[1] for entry in entries)
        for _, entry_size, entry_path in sorted(entries):
            if size <= self.largest:
                break
            with suppress(OSError):
                Path(entry_path).unlink()
            size -= entry_size

    def _path(self, key: str) -> Path:
        return self.folder / (hashlib.sha256(key.encode()).hexdigest()[:40] + _SUFFIX)


def key_of(digest: str, *what: object) -> str:
    """Return the key of an entry.

    Parameters
    ----------
    digest
        Of the content of the score file.
    what
        All else that it depends on; each must print itself in full.
    """
    return repr((DRAWING_VERSION, version("verovio"), digest, *what))


def _encode(answer: Any) -> bytes:
    payload = zlib.compress(msgspec.msgpack.encode(_plain(answer)), level=1)
    return zlib.crc32(payload).to_bytes(4, "big") + payload


def _decode(raw: bytes) -> Any:
    if len(raw) < 4 or zlib.crc32(raw[4:]) != int.from_bytes(raw[:4], "big"):
        raise ValueError("damaged")
    return _rebuilt(msgspec.msgpack.decode(zlib.decompress(raw[4:])))


def _plain(answer: Any) -> dict[str, Any]:
    """Return plans and pages as what can be written."""
    if isinstance(answer, tuple):
        return {"both": [_plain(piece) for piece in answer]}
    if isinstance(answer, ScorePlan):
        return {
            "plan": [answer.width, answer.height, answer.staff_height],
            "pages": [
                [
                    page.number,
                    [[s.bars.start, s.bars.stop, list(s.parts)] for s in page.systems],
                ]
                for page in answer.pages
            ],
        }
    geometry: PageGeometry = answer.geometry
    return {
        "page": answer.number,
        "svg": answer.svg,
        "messages": list(answer.messages),
        "size": [geometry.width, geometry.height],
        "systems": [
            [
                *(box.first_bar, box.last_bar, box.left, box.right, box.top, box.bottom),
                *(box.outer_top, box.outer_bottom, list(box.staves)),
            ]
            for box in geometry.systems
        ],
        "cells": geometry.cells.tobytes(),
        "notes": geometry.notes.tobytes(),
        "moments": geometry.moments.tobytes(),
        "note_ids": list(geometry.note_ids),
        "bar_lengths": list(geometry.bar_lengths.items()),
    }


def _rebuilt(found: dict[str, Any]) -> Any:
    if "both" in found:
        return tuple(_rebuilt(piece) for piece in found["both"])
    if "plan" in found:
        pages = tuple(
            PagePlan(
                number,
                tuple(SystemPlan(range(a, b), tuple(parts)) for a, b, parts in systems),
            )
            for number, systems in found["pages"]
        )
        width, height, staff_height = found["plan"]
        return ScorePlan(width, height, staff_height, pages)
    width, height = found["size"]
    geometry = PageGeometry(
        width,
        height,
        tuple(_system_box(box) for box in found["systems"]),
        np.frombuffer(found["cells"], CELLS),
        tuple(found["note_ids"]),
        np.frombuffer(found["notes"], NOTES),
        np.frombuffer(found["moments"], MOMENTS),
        {int(bar): float(length) for bar, length in found["bar_lengths"]},
    )
    return EngravedPage(found["page"], found["svg"], geometry, tuple(found["messages"]))


def _system_box(box: list[Any]) -> SystemBox:
    first_bar, last_bar, left, right, top, bottom, outer_top, outer_bottom, staves = box
    return SystemBox(
        first_bar, last_bar, left, right, top, bottom, outer_top, outer_bottom, tuple(staves)
    )
