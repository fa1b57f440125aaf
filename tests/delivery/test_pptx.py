"""The deck, reopened with python-pptx and read against facts of ECMA-376 (Office Open XML).

Facts used: lengths are EMU, 914 400 to the inch (Part 1, 20.1.2.1); ``a:alpha`` is counted in
thousandths of a per cent (20.1.2.3.1); the children of ``p:spPr`` come in the order transform,
geometry, fill, line (schema type CT_ShapeProperties); the ids of shapes are unique on a slide
(19.3.1.12); a wide slide is 13.333 by 7.5 inches (common practice of slide programs).
"""

from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest
from PIL import Image
from pptx import Presentation
from pptx.enum.shapes import MSO_SHAPE_TYPE, PP_PLACEHOLDER

from delivery.lecture import entry_on, layer_of, region, span
from stavelight.annotation.palette import HATCHES, REGION_COLOURS
from stavelight.annotation.tags import load_vocabulary
from stavelight.delivery.slide_model import SlideOptions, passages
from stavelight.delivery.slide_plan import SlidePlanner
from stavelight.delivery.slides import export_slides

EMU_PER_INCH = 914_400
EMU_PER_MILLIMETRE = 36_000
A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
TEXT = (
    "The first violin *leads*; the second follows in **thirds**.\n\n"
    "- then the viola\n- then all\n\n"
    "And more of the same. " + "It goes on for long. " * 40
)


@pytest.fixture(scope="module")
def lesson(quartet):
    score = quartet.score
    words = load_vocabulary()
    told = region(
        score,
        span(10, 13, 0, 1),
        tags=("melody", "thirds"),
        label="Leading pair",
        colour="vermilion",
        pattern="dots",
        author="R. Quill",
    )
    under = region(
        score,
        span(11, 12, 1, after="1/4", until="1/2"),
        label="Below",
        colour="blue",
        pattern="grid",
    )
    layer = layer_of(
        score, [told, under], [entry_on(told, TEXT, title="Who leads?", start_seconds=62.0)], "Duos"
    )
    return score, layer, words


@pytest.fixture(scope="module")
def path(lesson, quartet, tmp_path_factory):
    score, layer, words = lesson
    path = tmp_path_factory.mktemp("deck") / "lesson.pptx"
    assert export_slides(score, layer, words, quartet.engraved, path) == 3
    return path


@pytest.fixture(scope="module")
def deck(path):
    return Presentation(path)


@pytest.fixture(scope="module")
def planned(lesson, quartet):
    """The slides as they were planned, in millimetres."""
    score, layer, words = lesson
    planner = SlidePlanner(score, "", quartet.engraved, SlideOptions(), lambda: False)
    made = []
    for passage in passages(score, layer, words, SlideOptions()):
        made += planner.slides(passage, len(made) + 2)
    return made


def shapes_named(slide, beginning):
    return [shape for shape in slide.shapes if shape.name.startswith(beginning)]


def test_it_is_wide_and_begins_with_a_title(deck):
    assert deck.slide_width == round(40 / 3 * EMU_PER_INCH)
    assert deck.slide_height == 7.5 * EMU_PER_INCH
    assert len(deck.slides) == 3
    title = deck.slides[0]
    assert title.shapes.title.text_frame.text == "Quartet No.2 in D Major, K.155"
    below = title.placeholders[1].text_frame.text
    assert "W.A. Mozart" in below
    assert "Duos" in below


def test_regions_are_shapes_where_the_regions_are(deck, planned):
    for slide, plan in zip(list(deck.slides)[1:], planned, strict=True):
        shapes = shapes_named(slide, "Region: ")
        wanted = [rectangle for area in plan.areas for rectangle in area.rectangles]
        assert len(shapes) == len(wanted) > 0
        for shape, rectangle in zip(shapes, wanted, strict=True):
            assert shape.shape_type == MSO_SHAPE_TYPE.FREEFORM
            edges = (shape.left, shape.top, shape.left + shape.width, shape.top + shape.height)
            expected = (rectangle.left, rectangle.top, rectangle.right, rectangle.bottom)
            for edge, value in zip(edges, expected, strict=True):
                assert edge == pytest.approx(value * EMU_PER_MILLIMETRE, abs=1000)


def test_regions_lie_on_their_notes_in_the_picture(deck):
    """Looked up in the picture itself: barlines at both edges, five lines to each staff."""
    slide = deck.slides[1]
    (shape,) = shapes_named(slide, "Region: Leading pair")
    (picture,) = shapes_named(slide, "Score")
    image = Image.open(io.BytesIO(picture.image.blob)).convert("L")
    pixels = np.asarray(image) < 128
    scale = image.width / picture.width

    def x(emu):
        return round((emu - picture.left) * scale)

    def y(emu):
        return round((emu - picture.top) * scale)

    top, bottom = y(shape.top), y(shape.top + shape.height)
    left, right = x(shape.left), x(shape.left + shape.width)
    # The longest runs of dark pixels: staff lines from edge to edge.
    inside = pixels[top:bottom, left:right]
    dark_rows = np.flatnonzero(inside.mean(axis=1) > 0.9)
    lines = 1 + np.count_nonzero(np.diff(dark_rows) > 2)
    assert lines == 10, "two staves of five lines"
    first, last = dark_rows[0], dark_rows[-1]
    assert 0 < first < (bottom - top) / 4
    assert (bottom - top) * 3 / 4 < last < bottom - top
    # Barlines of each staff at the right edge; the left edge is the beginning of the system.
    reach = 6
    for edge in (left, right):
        band = pixels[top + first : top + last, max(edge - reach, 0) : edge + reach]
        assert band.mean(axis=0).max() > 0.6, "no barline at the edge of the region"
    # And three bars between them: two barlines inside.
    columns = np.flatnonzero(inside[first:last].mean(axis=0) > 0.6)
    inner = columns[(columns > reach) & (columns < right - left - reach)]
    assert 1 + np.count_nonzero(np.diff(inner) > 2) == 2


def test_regions_can_be_seen_through_and_have_native_fill_and_line(deck):
    (shape,) = shapes_named(deck.slides[1], "Region: Leading pair")
    properties = shape._element.spPr
    order = [child.tag.removeprefix(A) for child in properties]
    assert order == ["xfrm", "custGeom", "solidFill", "ln"]
    assert str(shape.fill.fore_color.rgb) == "D55E00"  # vermilion of Okabe and Ito
    alpha = properties.find(f"{A}solidFill/{A}srgbClr/{A}alpha")
    assert 10_000 <= int(alpha.get("val")) <= 40_000
    assert shape._element.find(f"{P}style") is None, "effects of the theme would hide the notes"
    paths = properties.findall(f".//{A}path")
    assert [one.get("fill") for one in paths] == [None, "none"]
    for one in paths:
        assert (int(one.get("w")), int(one.get("h"))) == (shape.width, shape.height)


def test_a_hatch_is_in_every_shape_and_each_is_different(quartet, tmp_path):
    score = quartet.score
    regions = [
        region(score, span(10 + i, 11 + i, 0), colour=REGION_COLOURS[0].id, pattern=one.id)
        for i, one in enumerate(HATCHES)
    ]
    path = tmp_path / "hatches.pptx"
    export_slides(score, layer_of(score, regions), load_vocabulary(), quartet.engraved, path)
    drawn = set()
    for slide in list(Presentation(path).slides)[1:]:
        shape = shapes_named(slide, "Key")[0].shapes[0]
        drawn.add(tuple(tuple(pt.values()) for pt in shape._element.iter(f"{A}pt")))
    assert len(drawn) == len(HATCHES)


def test_regions_have_names_and_alternative_text(deck, lesson):
    words = lesson[2]
    (shape,) = shapes_named(deck.slides[1], "Region: Leading pair")
    text = shape._element.nvSpPr.cNvPr.get("descr")
    for part in ("Leading pair", words.label("melody"), words.label("thirds"), "bb. 11\u201313"):
        assert part in text
    (picture,) = shapes_named(deck.slides[1], "Score")
    described = picture._element.nvPicPr.cNvPr.get("descr")
    assert "bb. 11\u201313" in described
    assert "Violin I, Violin II" in described


def test_regions_lie_over_the_picture_and_under_nothing(deck):
    names = [shape.name for shape in deck.slides[1].shapes]
    picture = names.index("Score")
    places = [i for i, name in enumerate(names) if name.startswith("Region: ")]
    assert places == list(range(picture + 1, picture + 1 + len(places)))


def test_commentary_is_text_in_a_placeholder_with_its_style(deck):
    slide = deck.slides[1]
    assert slide.shapes.title.text_frame.text == "Who leads?"
    body = slide.placeholders[1]
    assert body.placeholder_format.type == PP_PLACEHOLDER.OBJECT
    runs = {run.text: run for one in body.text_frame.paragraphs for run in one.runs}
    assert runs["leads"].font.italic
    assert runs["thirds"].font.bold
    bullets = [
        one.text for one in body.text_frame.paragraphs if one._p.find(f".//{A}buChar") is not None
    ]
    assert bullets[:2] == ["then the viola", "then all"]
    for run in runs.values():
        assert run.font.size.pt >= 20


def test_the_whole_commentary_stands_in_the_notes(deck):
    notes = deck.slides[1].notes_slide.notes_text_frame.text
    assert notes.count("It goes on for long.") == 40
    assert "Leading pair" in notes


def test_bars_time_credit_and_number_are_there(deck):
    slide = deck.slides[1]
    texts = {shape.name: shape.text_frame.text for shape in slide.shapes if shape.has_text_frame}
    assert texts["Bars and time"] == "bb. 11\u201313 \u00b7 1:02"
    assert "W.A. Mozart: Quartet No.2 in D Major, K.155." in texts["Credit line"]
    kinds = {one.placeholder_format.type for one in slide.placeholders}
    assert {PP_PLACEHOLDER.FOOTER, PP_PLACEHOLDER.SLIDE_NUMBER} <= kinds
    fields = [one.get("type") for one in slide.shapes._spTree.iter(f"{A}fld")]
    assert fields == ["slidenum"]


def test_the_key_is_native(deck, lesson):
    words = lesson[2]
    (key,) = shapes_named(deck.slides[1], "Key")
    assert key.shape_type == MSO_SHAPE_TYPE.GROUP
    texts = [one.text_frame.text for one in key.shapes if one.text_frame.text]
    assert texts == [f"{words.label('melody')}, {words.label('thirds')}", "Below"]
    samples = [one for one in key.shapes if one.name.startswith("Key sample")]
    assert [str(one.fill.fore_color.rgb) for one in samples] == ["D55E00", "0072B2"]


def test_everything_lies_on_the_slide(deck):
    for slide in deck.slides:
        for shape in slide.shapes:
            assert shape.left >= 0
            assert shape.top >= 0
            assert shape.left + shape.width <= deck.slide_width
            assert shape.top + shape.height <= deck.slide_height


def test_the_picture_is_sharp(deck):
    (picture,) = shapes_named(deck.slides[1], "Score")
    width, _ = picture.image.size
    assert width / (picture.width / EMU_PER_INCH) >= 2 * 96  # twice a usual screen
    assert picture.image.content_type == "image/png"


def test_ids_are_unique_and_xml_refers_to_nothing_lost(deck):
    for slide in deck.slides:
        ids = [one.get("id") for one in slide.shapes._spTree.iter(f"{P}cNvPr")]
        assert len(ids) == len(set(ids))


def test_layouts_suit_the_wide_slide(deck):
    assert [one.name for one in deck.slide_layouts] == [
        "Title",
        "Excerpt and commentary",
        "Excerpt",
    ]
    for layout in deck.slide_layouts:
        for one in layout.placeholders:
            assert one.left + one.width <= deck.slide_width
            assert one.placeholder_format.type != PP_PLACEHOLDER.DATE


def test_properties_name_title_and_author(deck):
    assert deck.core_properties.title == "Quartet No.2 in D Major, K.155 \u2013 Duos"
    assert deck.core_properties.author == "R. Quill"


def test_nothing_of_the_deck_it_starts_from_is_left(path):
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        assert not [name for name in names if "thumbnail" in name or "printer" in name.lower()]
        everything = b"".join(archive.read(name) for name in names if name.endswith(".xml"))
    assert b"Calibri" not in everything
    assert b"Microsoft Macintosh" not in everything


def test_the_same_lesson_gives_the_same_bytes(lesson, quartet, path, tmp_path):
    score, layer, words = lesson
    again = tmp_path / "again.pptx"
    export_slides(score, layer, words, quartet.engraved, again)
    assert again.read_bytes() == path.read_bytes()


def test_odd_characters_do_no_harm(quartet, tmp_path):
    score = quartet.score
    one = region(score, span(3, 4, 0), label="a & b <c> \x0b \x00 \U0001f3bb")
    layer = layer_of(
        score, [one], [entry_on(one, "5 < 6 && \x07 bell \x1f", title='"quoted" & <b>')]
    )
    path = tmp_path / "odd.pptx"
    export_slides(score, layer, load_vocabulary(), quartet.engraved, path)
    slide = Presentation(path).slides[1]
    assert slide.shapes.title.text_frame.text.startswith('"quoted" & <b>')


def test_a_validator_of_office_open_xml_finds_nothing(path):
    """Source: the schemas of Office Open XML, as the package openxml-audit checks them."""
    openxml_audit = pytest.importorskip("openxml_audit")
    assert [str(error) for error in openxml_audit.validate_pptx(path).errors] == []
