"""What Ctrl+C does while the libraries written in C and C++ are loaded."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager

STOPPED = 130
"""Exit code of what Ctrl+C has stopped: 128 and the number of the signal, as shells count."""


@contextmanager
def stop_at_once() -> Iterator[None]:
    """End the process at once, and quietly, if Ctrl+C comes within the block.

    An exception that is raised while Qt's modules are imported is lost, or ends the process with
    a dump of its memory. Nothing is under way at that time that would have to be tidied up.
    """
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield
        return
    signal.signal(signal.SIGINT, lambda *_: os._exit(STOPPED))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
