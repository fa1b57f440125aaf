"""Whole pages: do they fit, is everything where the geometry says?"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from lxml import etree

from stavelight.engraving.page_maker import ExcerptRequest, PageMaker
from stavelight.engraving.page_plan import SystemPlan
from stavelight.engraving.paper import PageLayout
from stavelight.engraving.press import Press


@pytest.fixture(scope="module")
def press() -> Press:
    return Press()


def _pages(source, press, layout=None):
    maker = PageMaker(source, layout or PageLayout(), press)
    plan = maker.plan()
    return plan, [maker.page(page, is_last=page is plan.pages[-1]) for page in plan.pages]


@pytest.mark.parametrize(
    "work", ["beethoven/opus59no1/movement3", "schumann_clara/polonaise_op1n1", "webern"]
)
def test_every_system_fits_on_its_page_and_pages_are_full(work, corpus_source, press):
    plan, pages = _pages(corpus_source(work), press)
    margin = PageLayout().margin
    for page in pages:
        boxes = page.geometry.systems
        assert boxes[0].outer_top >= margin - 0.01
        assert boxes[-1].outer_bottom <= plan.height - margin + 0.5
        for above, below in pairwise(boxes):
            assert above.outer_bottom <= below.outer_top + 0.01
        assert all(box.right <= plan.width - margin + 0.5 for box in boxes)
    for page in pages[:-1]:
        assert page.geometry.systems[-1].outer_bottom > plan.height / 2


def test_cells_cover_every_bar_on_every_staff(small, press):
    _, pages = _pages(small, press)
    cells = np.concatenate([page.geometry.cells for page in pages])
    found = {(int(cell["bar"]), int(cell["staff"])) for cell in cells}
    assert found == {(bar, staff) for bar in range(8) for staff in range(4)}
    assert len(cells) == len(found)


def test_noteheads_stand_in_their_cells(corpus_source, press):
    _, pages = _pages(corpus_source("haydn/opus74no1/movement3"), press)
    for page in pages:
        geometry = page.geometry
        cells = geometry.cells[geometry.notes["cell"]]
        assert np.all(geometry.notes["x"] > cells["left"] - 0.1)
        assert np.all(geometry.notes["x"] < cells["right"] + 0.1)
        for note_id, cell in zip(geometry.note_ids, cells, strict=True):
            assert int(note_id.split("-")[1]) == cell["bar"]


def test_moments_go_from_left_to_right(corpus_source, press):
    _, pages = _pages(corpus_source("schoenberg/opus19/movement2"), press)
    for page in pages:
        moments = page.geometry.moments
        for bar in set(moments["bar"]):
            xs = moments["x"][moments["bar"] == bar]
            assert np.all(np.diff(xs) > -page.geometry.staff_space)


def test_beats_and_places_answer_each_other(small, press):
    _, pages = _pages(small, press)
    geometry = pages[0].geometry
    for beat in range(4):
        x = geometry.x_at(1, Fraction(beat, 4))
        assert geometry.offset_at(1, x) == pytest.approx(beat / 4, abs=1e-6)
    box = geometry.systems[0]
    spot = geometry.spot_at(geometry.x_at(1, 0.5) + 0.01, box.top)
    assert (spot.bar, spot.staff, spot.system) == (1, 0, 0)
    assert spot.offset == pytest.approx(0.5, abs=0.02)
    note_x, note_y = (float(value) for value in geometry.notes[0][["x", "y"]])
    assert geometry.note_at(note_x, note_y) == geometry.note_ids[0]
    assert geometry.note_at(-50, -50) is None


def test_areas_follow_systems_and_staves(small, press):
    _, (page, *_) = _pages(small, press, PageLayout(staff_height=9.0))
    geometry = page.geometry
    assert len(geometry.systems) >= 2
    last = geometry.systems[0].last_bar
    areas = geometry.areas((last, Fraction(1, 2)), (last + 1, Fraction(1, 2)), (0, 1, 3))
    assert len(areas) == 4  # two groups of neighbouring staves in each of two systems
    assert areas[0].left > areas[2].left  # ends at the barline, goes on at the next system's start
    assert areas[0].right == pytest.approx(geometry.systems[0].right, abs=0.2)
    assert areas[0].bottom < areas[1].top
    assert geometry.areas((5, Fraction(0)), (5, Fraction(0)), (0,)) == ()


def test_an_area_that_ends_at_a_barline_stops_there(small, press):
    _, (page, *_) = _pages(small, press)
    (area,) = page.geometry.areas((1, Fraction(0)), (2, Fraction(0)), (0,))
    assert area.left == pytest.approx(page.geometry.edge_at(1, 0))
    assert area.right == pytest.approx(page.geometry.edge_at(1, 1), abs=1e-4)


def test_first_page_has_titles_and_full_names(small, press):
    _, pages = _pages(small, press, PageLayout(staff_height=14.0))
    first, second = (
        ["".join(text.itertext()) for text in etree.fromstring(page.svg).iter("{*}text")]
        for page in pages[:2]
    )
    assert {"A Small Score", "Nobody", "Flute"} <= set(first)
    assert "Fl." in second
    assert "Flute" not in second


def test_drawings_hold_nothing_that_qt_cannot_read(small, press):
    _, (page, *_) = _pages(small, press)
    root = etree.fromstring(page.svg)
    assert len(list(root.iter("{*}svg"))) == 1
    assert root.find(".//{*}style") is None
    assert not list(root.iterfind(".//{*}tspan/{*}tspan"))
    assert b"currentColor" not in page.svg
    names = {element.get("id") for element in root.find("{*}defs")}
    used = {use.get("{http://www.w3.org/1999/xlink}href")[1:] for use in root.iter("{*}use")}
    assert used <= names


@pytest.mark.parametrize(("bars", "parts"), [(range(1, 3), (0,)), (range(1, 8), (0, 1, 2))])
def test_excerpts_fill_their_space_and_stay_inside(bars, parts, small, press):
    maker = PageMaker(small, PageLayout(), press)
    excerpt = maker.excerpt(ExcerptRequest(bars, parts, 250.0, 110.0))
    assert excerpt.number == 0
    assert excerpt.width <= 250.5
    assert excerpt.height <= 110.5
    assert excerpt.width > 230 or excerpt.height > 95
    assert excerpt.geometry.first_bar == bars.start
    assert excerpt.geometry.last_bar == bars.stop - 1
    text = ["".join(t.itertext()) for t in etree.fromstring(excerpt.svg).iter("{*}text")]
    assert "Flute" in text


def test_a_strip_is_one_system(small, press):
    maker = PageMaker(small, PageLayout(), press)
    strip = maker.excerpt(ExcerptRequest(range(0, 8), (0, 1), 0.0, 0.0, largest_staff_height=8.0))
    assert len(strip.geometry.systems) == 1


def test_sounding_pitch_changes_the_clarinet_only(small, press):
    def signatures(layout):
        maker = PageMaker(small, layout, press)
        page = maker.page(maker.plan().pages[0])
        root = etree.fromstring(page.svg)
        heads = dict(zip(page.geometry.note_ids, page.geometry.notes["y"], strict=True))
        return len(re.findall(rb"#E262", page.svg)), heads, root

    written, written_heads, _ = signatures(PageLayout())
    sounding, sounding_heads, _ = signatures(PageLayout(sounding_pitch=True))
    # Three sharps for the clarinet in B flat become one: D flat lower by a tone (G major).
    assert written - sounding >= 2
    space = 6.5 / 8
    step = sounding_heads["n1-1-0"] - sounding_heads["n1-1-1"]
    assert step == pytest.approx(written_heads["n1-1-0"] - written_heads["n1-1-1"], abs=space)


def test_every_staff_changes_to_its_own_key(small, press):
    # A clarinet in B flat is written a whole tone higher, so with two sharps more than what sounds:
    # common practice, no source.
    maker = PageMaker(small, PageLayout(), press)
    drawings, _ = maker._print([SystemPlan(range(3, 6), (0, 1, 2))], 30000, 9.0)
    (drawing,) = drawings
    root = etree.fromstring(
        b"<g xmlns:xlink='http://www.w3.org/1999/xlink'>" + drawing.content + b"</g>"
    )
    signs = [
        float(re.search(r"translate\([\d.]+, ([\d.]+)", use.get("transform"))[1])
        for use in root.iter("{*}use")
        if use.get("{http://www.w3.org/1999/xlink}href") == "#E262"
    ]
    tops = sorted({cell.top for cell in drawing.cells})
    counts = [sum(top - 400 < y < top + 1100 for y in signs) for top in tops]
    # At the head and at the change: G to D major, and A to E major for the clarinet.
    assert counts == [1 + 2, 3 + 4, 1 + 2, 1 + 2]
