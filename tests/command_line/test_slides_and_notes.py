"""`stavelight slides` and `stavelight notes`: the files that come out, read by other programs."""

from __future__ import annotations

import csv
import os
import struct
import subprocess
import sys
from pathlib import Path

import pptx
import pypdf
import pytest

from stavelight.command_line import program


def run(*words: str | Path) -> int:
    return program.run([*map(str, words)], lambda path: pytest.fail("opened the window"))


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_slides_as_a_presentation(project: Path, tmp_path: Path, capsys):
    before = bytes_of(project)
    assert run("slides", project, "-o", tmp_path / "lesson.pptx") == 0
    slides = list(pptx.Presentation(tmp_path / "lesson.pptx").slides)
    assert len(slides) == 2  # the title and the one region
    texts = [shape.text_frame.text for shape in slides[1].shapes if shape.has_text_frame]
    assert any("Long note" in text for text in texts)
    assert bytes_of(project) == before
    assert capsys.readouterr() == ("", "")


def test_slides_as_pdf(project: Path, tmp_path: Path):
    assert run("slides", project / "tune.musicxml", "-o", tmp_path / "new" / "lesson.pdf") == 0
    pages = pypdf.PdfReader(tmp_path / "new" / "lesson.pdf").pages
    assert len(pages) == 2
    assert float(pages[0].mediabox.width) / float(pages[0].mediabox.height) == pytest.approx(
        16 / 9, rel=0.01
    )


@pytest.mark.parametrize("name", ["slides/", "slides"])
def test_slides_as_pictures(project: Path, tmp_path: Path, name: str):
    assert run("slides", project / "tune.layer.json", "-o", f"{tmp_path}/{name}") == 0
    pictures = sorted((tmp_path / "slides").iterdir())
    assert len(pictures) == 2
    for picture in pictures:
        # PNG specification, 3rd edition, 5.2 and 11.2.1: signature, then IHDR with the width.
        data = picture.read_bytes()
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        assert struct.unpack_from(">II", data, 16) == (1920, 1080)


@pytest.mark.parametrize("display", [{}, {"DISPLAY": ":nowhere"}])
def test_slides_need_no_display(project: Path, tmp_path: Path, display):
    variables = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    words = ["-m", "stavelight", "slides", str(project), "-o", str(tmp_path / "lesson.pdf")]
    done = subprocess.run(
        [sys.executable, *words],
        env=variables | display,
        check=False,
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert len(pypdf.PdfReader(tmp_path / "lesson.pdf").pages) == 2


def test_slides_of_a_score_that_was_changed_say_so_and_are_made(project, tmp_path, capsys):
    score = project / "tune.musicxml"
    score.write_text(score.read_text("utf-8").replace("Oboe", "Oboes"), encoding="utf-8")
    assert run("slides", project, "-o", tmp_path / "lesson.pdf") == 0
    assert (tmp_path / "lesson.pdf").exists()
    (line,) = capsys.readouterr().err.splitlines()
    assert "tune.layer.json" in line


def test_slides_without_a_layer_are_refused(project: Path, tmp_path: Path, capsys):
    (project / "tune.layer.json").unlink()
    assert run("slides", project, "-o", tmp_path / "lesson.pdf") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "There is no layer beside this score." in line
    assert not (tmp_path / "lesson.pdf").exists()


def test_notes_as_a_table(project: Path, tmp_path: Path, capsysbinary):
    assert run("notes", project, "-o", tmp_path / "notes.csv") == 0
    with (tmp_path / "notes.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    told = [(row["part_name"], row["printed_bar"], row["sounding_pitch"]) for row in rows]
    assert told == [("Oboe", "1", "A4"), ("Oboe", "2", "B4")]
    assert run("notes", project / "tune.musicxml", "-o", "-") == 0
    assert capsysbinary.readouterr().out == (tmp_path / "notes.csv").read_bytes()


def test_notes_into_a_folder_that_is_not_there_are_refused(project, tmp_path, capsys):
    assert run("notes", project, "-o", tmp_path / "nowhere" / "notes.csv") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "notes.csv" in line
