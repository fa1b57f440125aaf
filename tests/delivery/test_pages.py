"""Pages as SVG, PNG and PDF."""

from __future__ import annotations

import re

import pypdf
import pytest
from lxml import etree
from PIL import Image
from PySide6.QtGui import QFont, QRawFont

from delivery.lecture import layer_of, region, span
from stavelight.annotation.tags import load_vocabulary
from stavelight.delivery.pages import export_pages
from stavelight.delivery.pdf import with_glyphs_as_text
from stavelight.delivery.qt_ground import ensure_gui
from stavelight.delivery.slide_model import marked_regions
from stavelight.errors import Cancelled, DeliveryError

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def regions(quartet):
    one = region(quartet.score, span(2, 4, 0, 1), label="Pair", colour="vermilion", pattern="dots")
    layer = layer_of(quartet.score, [one])
    return marked_regions(quartet.score, layer, load_vocabulary())


def test_all_pages_in_one_pdf(quartet, tmp_path):
    (path,) = export_pages(quartet.engraved, tmp_path / "pages", "pdf", title="A quartet")
    plan = quartet.engraved.plan.result()
    reader = pypdf.PdfReader(path)
    assert path.name == "movement1.pdf"
    assert len(reader.pages) == len(plan.pages)
    for page in reader.pages:  # ISO 216: A4 is 210 by 297 mm; a point is 1/72 inch
        assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=1)
        assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=1)
        assert not list(page.images)
    assert "Quartet" in reader.pages[0].extract_text()
    assert reader.metadata.title == "A quartet"


def test_only_the_pages_of_some_bars(quartet, tmp_path):
    plan = quartet.engraved.plan.result()
    second, third = plan.pages[1], plan.pages[2]
    made = export_pages(
        quartet.engraved, tmp_path, "svg", range(second.bars.stop - 1, third.bars.start + 1)
    )
    assert [path.name for path in made] == ["page-002.svg", "page-003.svg"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page-002.svg", "page-003.svg"]


def test_svg_needs_nothing_else(quartet, regions, tmp_path):
    (path, *_) = export_pages(quartet.engraved, tmp_path, "svg", range(0, 1), regions)
    root = etree.fromstring(path.read_bytes(), etree.XMLParser(huge_tree=True))
    assert root.get("width").endswith("mm")
    links = {one.get("{http://www.w3.org/1999/xlink}href") for one in root.iter(f"{SVG}use")}
    ids = {one.get("id") for one in root.iter() if one.get("id")}
    assert links
    assert {link.removeprefix("#") for link in links} <= ids
    sheet = root.find(f".//{SVG}style").text
    offered = set(re.findall(r"font-family:\s*[\"']([^\"']+)", sheet))
    used = {one.get("font-family") for one in root.iter() if one.get("font-family")}
    assert used <= offered
    assert not re.search(r"url\((?!data:)", sheet), "a font from elsewhere"
    assert root.xpath("//*[local-name()='rect'][@fill='#d55e00']"), "the region"


def test_png_has_the_resolution_asked_for(quartet, tmp_path):
    (path,) = export_pages(quartet.engraved, tmp_path, "png", range(0, 1), dots_per_inch=150)
    with Image.open(path) as image:
        assert image.width == pytest.approx(210 / 25.4 * 150, abs=1)
        assert image.height == pytest.approx(297 / 25.4 * 150, abs=1)
        assert image.info["dpi"][0] == pytest.approx(150, abs=0.1)
        assert image.convert("L").getextrema() == (0, 255)


def test_regions_are_in_colour(quartet, regions, tmp_path):
    (plain,) = export_pages(quartet.engraved, tmp_path / "a", "png", range(0, 1), dots_per_inch=60)
    (marked,) = export_pages(
        quartet.engraved, tmp_path / "b", "png", range(0, 1), regions, dots_per_inch=60
    )
    with Image.open(plain) as grey, Image.open(marked) as coloured:
        assert grey.mode == "L"
        assert coloured.mode == "RGB"


def test_pages_of_an_earlier_export_go_and_other_files_stay(quartet, tmp_path):
    for name in ("page-001.svg", "page-077.svg", "page-001.png", "mine.svg"):
        (tmp_path / name).write_text("old")
    export_pages(quartet.engraved, tmp_path, "svg", range(0, 1))
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["mine.svg", "page-001.png", "page-001.svg"]


def test_progress_and_stopping(quartet, tmp_path):
    told = []
    export_pages(
        quartet.engraved, tmp_path / "a", "svg", progress=lambda done, of: told.append((done, of))
    )
    count = len(quartet.engraved.plan.result().pages)
    assert told == [(done, count) for done in range(count + 1)]
    for file_format in ("svg", "png", "pdf"):
        asked = iter(range(100))
        with pytest.raises(Cancelled):
            export_pages(
                quartet.engraved,
                tmp_path / "b",
                file_format,
                cancelled=lambda asked=asked: next(asked) >= 4,
            )
    assert not [path for path in tmp_path.rglob("*") if path.is_file() and path.parent.name != "a"]


@pytest.mark.parametrize("dots", [0, -3, 100_000])
def test_impossible_resolutions_are_refused(quartet, tmp_path, dots):
    with pytest.raises(DeliveryError, match="dots an inch"):
        export_pages(quartet.engraved, tmp_path, "png", dots_per_inch=dots)


def test_the_music_font_has_every_sign_of_a_page(orchestra, quartet):
    ensure_gui()
    font = QRawFont.fromFont(QFont("Leipzig"))
    assert font.familyName() == "Leipzig"
    assert font.unitsPerEm() == 1000
    for opened in (orchestra, quartet):
        page = opened.engraved.page(1).result()
        changed = with_glyphs_as_text(page).svg.decode()
        notes = changed.partition("</defs>")[2]
        assert "<use" not in notes, "a sign that stayed a drawing"
        signs = {int(code, 16) for code in re.findall(r"&#x(E\w{3});", notes)}
        assert len(signs) > 5
        assert all(font.supportsCharacter(sign) for sign in signs)
