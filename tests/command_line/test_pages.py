"""`stavelight pages`: pictures and PDF of pages, read by other programs."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest
from lxml import etree

from stavelight.command_line import program

SVG = "{http://www.w3.org/2000/svg}"


def run(*words: str | Path) -> int:
    return program.run(["pages", *map(str, words)], lambda path: pytest.fail("opened the window"))


@pytest.fixture
def long_score(project: Path) -> Path:
    """A thousand bars: more than two pages."""
    path = project / "tune.musicxml"
    text = path.read_text(encoding="utf-8")
    second = text[text.index('<measure number="2">') : text.index("</part>")]
    bars = "".join(second.replace('"2"', f'"{number}"') for number in range(2, 1001))
    path.write_text(text.replace(second, bars), encoding="utf-8")
    return path


def test_pages_as_one_pdf(project: Path, tmp_path: Path, capsys):
    before = {path.name: path.read_bytes() for path in project.iterdir()}
    assert run(project, "-o", tmp_path / "pages", "--format", "pdf") == 0
    (page,) = pypdf.PdfReader(tmp_path / "pages" / "tune.pdf").pages
    # ISO 216: A4 is 210 mm by 297 mm; a point is 1/72 inch.
    assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=1)
    assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=1)
    assert {path.name: path.read_bytes() for path in project.iterdir()} == before
    assert capsys.readouterr() == ("", "")


def colours(path: Path) -> set[str]:
    tree = etree.parse(path)
    return {one.get("fill") for one in tree.iter(SVG + "rect")} - {None, "#ffffff"}


def test_regions_are_shown_unless_they_are_not_wanted(project: Path, tmp_path: Path):
    assert run(project, "-o", tmp_path / "with", "--format", "svg") == 0
    assert run(project, "-o", tmp_path / "without", "--format", "svg", "--without-regions") == 0
    assert len(colours(tmp_path / "with" / "page-001.svg")) == 1
    assert colours(tmp_path / "without" / "page-001.svg") == set()


def test_a_broken_layer_stops_the_pages_with_regions_only(project, tmp_path, capsys):
    (project / "tune.layer.json").write_text("{", encoding="utf-8")
    score = project / "tune.musicxml"
    assert run(score, "-o", tmp_path / "pages", "--format", "svg") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "tune.layer.json" in line
    assert run(score, "-o", tmp_path / "pages", "--format", "svg", "--without-regions") == 0


def test_only_the_pages_with_the_wanted_bars(long_score: Path, tmp_path: Path):
    alone = "--without-regions"
    assert run(long_score, "-o", tmp_path / "all", "--format", "svg", alone) == 0
    everything = sorted(path.name for path in (tmp_path / "all").iterdir())
    assert len(everything) >= 3
    assert run(long_score, "-o", tmp_path / "last", "--format", "svg", "--bars", "1000", alone) == 0
    assert [path.name for path in (tmp_path / "last").iterdir()] == everything[-1:]
    assert run(long_score, "-o", tmp_path / "few", "--format", "svg", "--bars", "1-2", alone) == 0
    assert [path.name for path in (tmp_path / "few").iterdir()] == everything[:1]


def test_bars_that_are_not_there_are_told(project: Path, tmp_path: Path, capsys):
    assert run(project, "-o", tmp_path / "pages", "--format", "png", "--bars", "1-9") == 1
    assert "No bar has the number 9." in capsys.readouterr().err
    assert not (tmp_path / "pages").exists()


def test_an_output_that_cannot_be_written_is_told(project: Path, tmp_path: Path, capsys):
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    assert run(project, "-o", tmp_path / "taken", "--format", "png") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "taken" in line
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "a file"
