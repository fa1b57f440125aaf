"""How far a job has come, on one line of the terminal."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self, TextIO


class ProgressLine:
    """A line on standard error that says how far a job has come; on a terminal only.

    Parameters
    ----------
    stream
        Where to write; standard error if not given.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._is_shown = self._stream.isatty()
        self._length = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._show("")

    def __call__(self, done: int, total: int) -> None:
        """Say that `done` of `total` pieces are done."""
        self._show(f"{done} of {total}")

    def _show(self, text: str) -> None:
        if self._is_shown:
            self._stream.write(f"\r{text.ljust(self._length)}" + ("" if text else "\r"))
            self._stream.flush()
            self._length = len(text)
