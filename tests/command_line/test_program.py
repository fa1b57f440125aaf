"""The command as a user meets it: help, exit codes, one line for what is wrong, quick help."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import start
from stavelight import __version__
from stavelight.command_line import display, program
from stavelight.command_line.interruption import stop_at_once
from stavelight.errors import ScoreFileError, StavelightError


def never_open(path: Path | None) -> int:
    pytest.fail(f"the window was opened on {path}")


def stavelight(*words: str | Path, **options) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "stavelight", *map(str, words)],
        check=False,
        capture_output=True,
        text=True,
        **options,
    )


def test_help_names_every_command_and_says_what_it_does(capsys):
    assert program.run(["--help"], never_open) == 0
    text = capsys.readouterr().out
    for name in program.COMMANDS:
        (line,) = [line for line in text.splitlines() if line.startswith(f"  {name} ")]
        assert line.endswith(".")
        assert len(line) <= 100


@pytest.mark.parametrize("name", program.COMMANDS)
def test_each_command_has_help_with_examples_that_it_accepts(name, capsys):
    assert program.run([name, "--help"], never_open) == 0
    text = capsys.readouterr().out
    assert f"usage: stavelight {name}" in text
    examples = text.split("examples:\n")[1].splitlines()
    commands = [line.split(" | ")[0].split() for line in examples if line.strip()]
    assert commands
    for words in commands:
        assert words[:2] == ["stavelight", name]
        program.command_parser(name).parse_args(words[2:])


def test_version(capsys):
    assert program.run(["--version"], never_open) == 0
    assert capsys.readouterr().out == f"stavelight {__version__}\n"


def test_without_a_command_the_window_opens_on_the_path(tmp_path):
    opened = []

    def open_window(path):
        opened.append(path)
        return 7

    assert program.run([], open_window) == 7
    assert program.run([str(tmp_path)], open_window) == 7
    assert opened == [None, tmp_path]


def test_a_command_counts_only_as_the_first_word(tmp_path, monkeypatch):
    opened = []
    monkeypatch.chdir(tmp_path)
    Path("notes").mkdir()
    assert program.run(["./notes"], lambda path: opened.append(path) or 0) == 0
    assert opened == [Path("notes")]


@pytest.mark.parametrize(
    "words",
    [
        ["--no-such-option"],
        ["one.mxl", "two.mxl"],
        ["pages"],
        ["pages", "a.mxl", "-o", "out", "--format", "bmp"],
        ["pages", "a.mxl", "-o", "out", "--format", "svg", "--bars", "1-2-3"],
        ["pages", "a.mxl", "-o", "out", "--format", "svg", "--bars", "-"],
        ["slides", "a.mxl"],
        ["slides", "a.mxl", "-o", "lesson.docx"],
        ["check"],
        ["notes", "a.mxl"],
    ],
)
def test_wrong_usage_is_told_on_standard_error_and_ends_with_2(words, capsys):
    assert program.run(words, never_open) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "usage: stavelight" in captured.err


@pytest.mark.parametrize(
    "words",
    [
        ["missing.mxl"],
        ["pages", "missing.mxl", "-o", "out", "--format", "svg"],
        ["slides", "missing", "-o", "lesson.pptx"],
        ["check", "missing.layer.json"],
        ["notes", "missing.mei", "-o", "notes.csv"],
    ],
)
def test_a_missing_file_is_told_in_one_line(words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert program.run(words, never_open) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    (line,) = captured.err.splitlines()
    assert line.startswith("stavelight: ")
    assert "missing" in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "content", [b"", b"not a score", b"<html/>", b"<score-partwise/>", b"\x00" * 64, b"PK\x03\x04"]
)
@pytest.mark.parametrize("suffix", [".musicxml", ".xml", ".mxl", ".mei"])
def test_what_is_no_score_is_told_in_one_line(content, suffix, capsys, tmp_path):
    path = tmp_path / f"bad{suffix}"
    path.write_bytes(content)
    out = tmp_path / "notes.csv"
    assert program.run(["notes", str(path), "-o", str(out)], never_open) == 1
    captured = capsys.readouterr()
    (line,) = captured.err.splitlines()
    assert path.name in line
    assert not out.exists()
    assert path.read_bytes() == content


def test_an_error_of_several_lines_is_told_in_one(capsys):
    def open_window(path):
        raise ScoreFileError("It is\nbroken.", where="a.mxl", remedy="Mend\tit.")

    assert program.run([], open_window) == 1
    assert capsys.readouterr().err == "stavelight: a.mxl: It is broken. Mend it.\n"


def test_a_missing_system_library_is_told_without_a_traceback(capsys):
    def open_window(path):
        raise ImportError("libEGL.so.1: cannot open shared object file: No such file or directory")

    assert program.run([], open_window) == 1
    assert "The system library libEGL.so.1 is missing" in capsys.readouterr().err


def test_other_import_errors_are_bugs():
    def open_window(path):
        raise ModuleNotFoundError("No module named 'stavelight.nowhere'")

    with pytest.raises(ModuleNotFoundError):
        program.run([], open_window)


def test_ctrl_c_ends_with_130(capsys):
    def open_window(path):
        raise KeyboardInterrupt

    assert program.run([], open_window) == 130
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells by the environment")
def test_without_a_display_the_window_says_so():
    variables = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    done = stavelight(env=variables)
    assert done.returncode == 1
    assert done.stderr.startswith("stavelight: There is no display")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(sys.platform != "linux", reason="X11 libraries")
def test_a_library_that_x11_needs_is_missed_before_qt_gives_up(monkeypatch):
    for name in ("WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(display, "X11_LIBRARIES", ("libc.so.6", "libsurely-not-there.so.7"))
    with pytest.raises(StavelightError, match=r"system library libsurely-not-there\.so\.7 is"):
        display.require_display()
    monkeypatch.setattr(display, "X11_LIBRARIES", ("libc.so.6",))
    display.require_display()
    monkeypatch.setattr(display, "X11_LIBRARIES", ("libsurely-not-there.so.7",))
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    display.require_display()


@pytest.mark.skipif(sys.platform != "linux", reason="X11 libraries")
def test_the_bootstrap_installs_what_the_command_looks_for():
    assert set(display.X11_LIBRARIES) <= set(start.X11_LIBRARIES)


@pytest.mark.parametrize("words", [["--help"], ["slides", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(words):
    code = (
        "import sys; from stavelight.__main__ import main; sys.argv[1:] = "
        f"{words!r}; code = main(); heavy = {{'PySide6', 'verovio', 'music21', 'numpy', 'lxml', "
        "'pptx', 'msgspec'}; "
        "sys.exit(code or ' '.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def run_main_with(run: str, **options) -> subprocess.CompletedProcess[str]:
    """Run the real command, the work of `check` replaced by some code."""
    code = f"""
import os, signal, sys, time
from stavelight.__main__ import main
from stavelight.command_line import check
def run(options):
    {run}
    return 0
check.run = run
sys.argv[1:] = ["check", "some.layer.json"]
sys.exit(main())
"""
    return subprocess.run(
        [sys.executable, "-c", code], check=False, stderr=subprocess.PIPE, text=True, **options
    )


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_a_real_ctrl_c_leaves_no_traceback():
    done = run_main_with("os.kill(os.getpid(), signal.SIGINT); time.sleep(60)")
    assert (done.returncode, done.stderr) == (130, "")


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_ctrl_c_while_modules_are_loaded_cannot_be_swallowed():
    done = run_main_with(
        """
    from stavelight.command_line.interruption import stop_at_once
    with stop_at_once():
        try:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(60)
        except KeyboardInterrupt:
            pass  # as Qt's modules do
"""
    )
    assert (done.returncode, done.stderr) == (130, "")


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_afterwards_ctrl_c_is_an_exception_again():
    before = signal.getsignal(signal.SIGINT)
    with stop_at_once():
        during = signal.getsignal(signal.SIGINT)
    assert before is signal.default_int_handler
    assert during is not before
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.skipif(os.name == "nt", reason="pipes")
@pytest.mark.parametrize("run", ["print('x' * 1_000_000)", "print('x')"])
def test_nobody_reads_our_output(run):
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = run_main_with(run, stdout=writer)
    finally:
        os.close(writer)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.skipif(os.name == "nt", reason="pipes")
def test_nobody_reads_our_help():
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "stavelight", "--help"],
            check=False,
            stdout=writer,
            stderr=subprocess.PIPE,
        )
    finally:
        os.close(writer)
    # argparse itself passes over a broken pipe where output is not buffered.
    assert done.returncode in (0, 1)
    assert done.stderr == b""


def test_a_terminal_that_lacks_a_letter_shows_a_question_mark():
    done = run_main_with(
        "print('Clarinet in B' + chr(0x266D))",  # the flat sign
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "Clarinet in B?\n", "")
