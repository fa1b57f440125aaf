"""Progress is for people: on a terminal, on one line that is gone in the end."""

from __future__ import annotations

import io

import pytest

from stavelight.command_line.progress import ProgressLine


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def visible(text: str) -> str:
    """Return what a terminal shows in the end: a carriage return goes back, letters overwrite."""
    line: list[str] = []
    position = 0
    for letter in text:
        if letter == "\r":
            position = 0
        else:
            line[position : position + 1] = [letter]
            position += 1
    return "".join(line).rstrip()


def test_on_a_terminal_the_latest_state_is_seen_and_nothing_in_the_end():
    terminal = Terminal()
    with ProgressLine(terminal) as progress:
        progress(9, 10)
        progress(10, 10)
        assert visible(terminal.getvalue()) == "10 of 10"
        progress(1, 2)
        assert visible(terminal.getvalue()) == "1 of 2"
    assert visible(terminal.getvalue()) == ""
    assert "\n" not in terminal.getvalue()


def test_the_line_is_gone_before_an_error_is_told():
    terminal = Terminal()

    def fail() -> None:
        with ProgressLine(terminal) as progress:
            progress(1, 2)
            raise ValueError("bad")

    with pytest.raises(ValueError, match="bad"):
        fail()
    terminal.write("stavelight: bad")
    assert visible(terminal.getvalue()) == "stavelight: bad"


def test_elsewhere_nothing_is_written():
    file = io.StringIO()
    with ProgressLine(file) as progress:
        progress(1, 2)
    assert file.getvalue() == ""
