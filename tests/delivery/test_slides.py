"""Exports as a whole: formats, progress, stopping, and places that cannot be written."""

from __future__ import annotations

import io
import os

import numpy as np
import pypdf
import pytest
from PIL import Image

from delivery.lecture import entry_on, layer_of, region, span
from stavelight.annotation.tags import load_vocabulary
from stavelight.delivery.slide_model import SlideOptions
from stavelight.delivery.slides import export_slides
from stavelight.errors import Cancelled, DeliveryError

FORMATS = ("lesson.pptx", "lesson.pdf", "lesson")


@pytest.fixture(scope="module")
def layer(quartet):
    score = quartet.score
    regions = [
        region(score, span(10, 13, 0, 1), tags=("melody",), label="Pair", colour="vermilion"),
        region(score, span(20, 22, 2), label="Viola", colour="blue", pattern="upright"),
    ]
    return layer_of(score, regions, [entry_on(regions[0], "They *lead*.", title="Who leads?")])


def export(opened, layer, output, **extra):
    return export_slides(opened.score, layer, load_vocabulary(), opened.engraved, output, **extra)


def test_pdf_has_wide_pages_in_vectors_with_text(quartet, layer, tmp_path):
    """Read with pypdf. 13.333 by 7.5 inches are 960 by 540 points of 1/72 inch (ISO 32000)."""
    path = tmp_path / "lesson.pdf"
    assert export(quartet, layer, path) == 3
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) == 3
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(960, abs=1)
        assert float(page.mediabox.height) == pytest.approx(540, abs=1)
        assert not list(page.images), "a picture instead of vectors"
    words = reader.pages[1].extract_text().replace("\n", "")
    for part in ("Who leads?", "They lead", "bb. 11\u201313", "Violin I", "W.A. Mozart"):
        assert part in words
    fonts = {
        font.get_object()["/BaseFont"].split("+")[-1]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert {"/LiberationSerif-Regular", "/LiberationSerif-Bold", "/Leipzig"} <= {
        name if name.startswith("/") else f"/{name}" for name in fonts
    }
    assert reader.metadata.title == "Quartet No.2 in D Major, K.155"


def test_pdf_is_the_same_again(quartet, layer, tmp_path):
    for name in ("one.pdf", "two.pdf"):
        export(quartet, layer, tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


@pytest.mark.parametrize(("asked", "width"), [(1920, 1920), (2560, 2560)])
def test_pictures_are_numbered_and_large(quartet, layer, tmp_path, asked, width):
    folder = tmp_path / "new" / "slides"
    export(quartet, layer, folder, options=SlideOptions(picture_width=asked))
    names = sorted(path.name for path in folder.iterdir())
    assert names == ["slide-001.png", "slide-002.png", "slide-003.png"]
    for name in names:
        with Image.open(folder / name) as image:
            assert image.size == (width, width * 9 // 16)


def test_pictures_show_regions_in_their_colours(quartet, layer, tmp_path):
    export(quartet, layer, tmp_path / "slides")
    with Image.open(tmp_path / "slides" / "slide-003.png") as image:
        pixels = np.asarray(image.convert("RGB").resize((480, 270)), dtype=int)
    bluish = np.count_nonzero(pixels[..., 2] - pixels[..., 0] > 30)
    assert bluish > 2000


def test_a_new_export_replaces_the_old_one_and_nothing_else(quartet, layer, tmp_path):
    folder = tmp_path / "slides"
    folder.mkdir()
    for name in ("slide-001.png", "slide-009.png", "notes.txt", "slide-x.png"):
        (folder / name).write_text("old")
    export(quartet, layer, folder)
    names = sorted(path.name for path in folder.iterdir())
    assert names == [
        "notes.txt",
        "slide-001.png",
        "slide-002.png",
        "slide-003.png",
        "slide-x.png",
    ]
    assert (folder / "notes.txt").read_text() == "old"
    assert (folder / "slide-001.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("name", FORMATS)
def test_progress_runs_from_nothing_to_all(quartet, layer, tmp_path, name):
    told = []
    export(quartet, layer, tmp_path / name, progress=lambda done, of: told.append((done, of)))
    assert told == [(0, 2), (1, 2), (2, 2)]


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize("after", [0, 2, 4])
def test_stopping_leaves_things_as_they_were(quartet, layer, tmp_path, name, after):
    place = tmp_path / name
    if place.suffix:
        place.write_bytes(b"before")
    asked = iter(range(1000))
    with pytest.raises(Cancelled):
        export(quartet, layer, place, cancelled=lambda: next(asked) >= after)
    if place.suffix:
        assert place.read_bytes() == b"before"
        assert [one.name for one in tmp_path.iterdir()] == [name]
    else:
        assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_told(quartet, layer, tmp_path, name):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o500)
    try:
        with pytest.raises(DeliveryError) as told:
            export(quartet, layer, folder / name)
        assert str(folder / name) in told.value.where
        assert told.value.remedy
    finally:
        folder.chmod(0o700)


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_in_the_way_is_told(quartet, layer, tmp_path, name):
    (tmp_path / "file").write_text("x")
    with pytest.raises(DeliveryError):
        export(quartet, layer, tmp_path / "file" / name)
    assert (tmp_path / "file").read_text() == "x"


def test_a_file_is_no_folder_and_a_folder_is_no_file(quartet, layer, tmp_path):
    (tmp_path / "slides").write_text("x")
    (tmp_path / "lesson.pdf").mkdir()
    for name in ("slides", "lesson.pdf"):
        with pytest.raises(DeliveryError, match="There is a"):
            export(quartet, layer, tmp_path / name)


@pytest.mark.parametrize("name", ["lesson.ppt", "lesson.odp", "lesson.PNG", "lesson.key"])
def test_other_formats_are_refused_by_name(quartet, layer, tmp_path, name):
    with pytest.raises(DeliveryError, match="not written as"):
        export(quartet, layer, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_nothing_to_show_is_told(quartet, tmp_path):
    with pytest.raises(DeliveryError, match="nothing to show"):
        export(quartet, layer_of(quartet.score, []), tmp_path / "lesson.pptx")
    assert list(tmp_path.iterdir()) == []


def test_the_score_stays_as_it_is(orchestra, tmp_path):
    before = orchestra.score.path.read_bytes()
    one = region(orchestra.score, span(0, 2, 0, 1), label="Flutes")
    for name in FORMATS:
        export(orchestra, layer_of(orchestra.score, [one]), tmp_path / name)
    assert orchestra.score.path.read_bytes() == before


def test_every_format_shows_the_same_slides(chorale, tmp_path):
    """A pickup bar, in all three formats."""
    one = region(chorale.score, span(0, 2, 0, 3), label="Outer voices")
    layer = layer_of(chorale.score, [one])
    counts = [export(chorale, layer, tmp_path / name) for name in FORMATS]
    assert counts == [2, 2, 2]
    words = pypdf.PdfReader(io.BytesIO((tmp_path / "lesson.pdf").read_bytes())).pages[1]
    assert "bb. 0\u20131" in words.extract_text()
