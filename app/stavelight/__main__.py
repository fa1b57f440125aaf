"""The `stavelight` command: opens the window, or does one job without it."""

from __future__ import annotations

import sys
from pathlib import Path

from stavelight.command_line import program
from stavelight.command_line.display import require_display
from stavelight.command_line.interruption import stop_at_once


def main() -> int:
    """Run the command with the arguments of this process; return its exit code."""
    return program.run(sys.argv[1:], open_window)


def open_window(path: Path | None) -> int:
    """Open the window and stay until it is closed; return the exit code.

    Raises
    ------
    StavelightError
        If there is no display to open it on, or a system library is missing.
    """
    require_display()
    with stop_at_once():
        from stavelight.window.program import run_window

    return run_window(path)


if __name__ == "__main__":
    sys.exit(main())
