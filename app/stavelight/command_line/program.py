"""Read the words after `stavelight`, do the job, and report how it went.

Exit codes: 0 fine, 1 bad input or findings, 2 wrong usage, 130 stopped by Ctrl+C.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol, cast

from stavelight import __version__
from stavelight.command_line.interruption import STOPPED
from stavelight.errors import Cancelled, ScoreFileError, StavelightError

FINE = 0
FAILED = 1
WRONG_USAGE = 2

COMMANDS = ("pages", "slides", "check", "notes")

_DESCRIPTION = """\
Stavelight opens orchestral scores, lets you mark bars and staves in colour, tag them and comment
on them, and makes slides of what you marked. What you add is kept in a layer file beside the
score; the score itself is never changed."""

_PATH_HELP = """\
a score (.musicxml, .xml, .mxl, .mei), a layer (.layer.json), or a folder that holds both; without
it, the sample project opens"""

_EPILOG = """\
commands:
{commands}

"stavelight COMMAND --help" tells more about a command. A score whose name is that of a command
opens as ./NAME.

examples:
  stavelight
  stavelight symphony.mxl
  stavelight pages symphony.mxl -o pages --format pdf
  stavelight slides lesson -o lesson.pptx
"""


class Command(Protocol):
    """What a command module offers."""

    EXAMPLES: str

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's arguments."""

    def run(self, options: argparse.Namespace) -> int:
        """Do the job; return the exit code."""


class _HelpFormat(argparse.RawTextHelpFormatter):
    """Keeps the lines of descriptions, and wraps the help of arguments."""

    def _split_lines(self, text: str, width: int) -> list[str]:
        return argparse.HelpFormatter._split_lines(self, text, width)


def run(arguments: Sequence[str], open_window: Callable[[Path | None], int]) -> int:
    """Do what the arguments ask for.

    Parameters
    ----------
    arguments
        The words after the program's name.
    open_window
        Opens the window on a path, or on the sample project; returns an exit code.

    Returns
    -------
    int
        The exit code.
    """
    try:
        code = _run(arguments, open_window)
        sys.stdout.flush()
    except StavelightError as error:
        _complain(error.one_line())
        return FAILED
    except (KeyboardInterrupt, Cancelled):
        return STOPPED
    except BrokenPipeError:
        # Whoever read our output has seen enough; keep Python from flushing into it once more.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except ImportError as error:
        if isinstance(error, ModuleNotFoundError) or "cannot open shared object" not in str(error):
            raise
        from stavelight.command_line.display import missing_library

        _complain(missing_library(str(error).partition(":")[0]).one_line())
        return FAILED
    return code


def _run(arguments: Sequence[str], open_window: Callable[[Path | None], int]) -> int:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if arguments and arguments[0] in COMMANDS:
        options = _parsed(command_parser(arguments[0]), arguments[1:])
        return options if isinstance(options, int) else _command(arguments[0]).run(options)
    options = _parsed(main_parser(), arguments)
    if isinstance(options, int):
        return options
    path: Path | None = options.path
    if path is not None and not path.exists():
        raise ScoreFileError(
            "There is no such file or folder.",
            where=str(path),
            remedy="Check the path; stavelight --help lists the commands.",
        )
    return open_window(path)


def _parsed(parser: argparse.ArgumentParser, arguments: Sequence[str]) -> argparse.Namespace | int:
    """Return the options, or an exit code where the parser has shown its help or its complaint."""
    try:
        return parser.parse_args(arguments)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else WRONG_USAGE


def _complain(line: str) -> None:
    print(f"stavelight: {line}", file=sys.stderr)


def _command(name: str) -> Command:
    return cast(Command, importlib.import_module(f"stavelight.command_line.{name}"))


def _summary(name: str) -> str:
    return (importlib.import_module(f"stavelight.command_line.{name}").__doc__ or "").split("\n")[0]


def main_parser() -> argparse.ArgumentParser:
    """Return the parser for everything but the commands."""
    width = max(len(name) for name in COMMANDS)
    commands = "\n".join(f"  {name:{width}}  {_summary(name)}" for name in COMMANDS)
    parser = argparse.ArgumentParser(
        prog="stavelight",
        usage="stavelight [PATH]\n       stavelight COMMAND ...",
        description=_DESCRIPTION,
        epilog=_EPILOG.format(commands=commands),
        formatter_class=_HelpFormat,
        allow_abbrev=False,
    )
    parser.add_argument("path", metavar="PATH", nargs="?", type=Path, help=_PATH_HELP)
    parser.add_argument("--version", action="version", version=f"stavelight {__version__}")
    return parser


def command_parser(name: str) -> argparse.ArgumentParser:
    """Return the parser of one command."""
    command = _command(name)
    parser = argparse.ArgumentParser(
        prog=f"stavelight {name}",
        description=(importlib.import_module(f"stavelight.command_line.{name}").__doc__ or ""),
        epilog=f"examples:\n{command.EXAMPLES}",
        formatter_class=_HelpFormat,
        allow_abbrev=False,
    )
    command.add_arguments(parser)
    return parser
