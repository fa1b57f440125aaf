from __future__ import annotations

import pytest

from stavelight.engraving.page_plan import PagePlanner
from stavelight.engraving.paper import PAPER_SIZES, PageLayout


@pytest.mark.parametrize("work", ["beethoven/opus59no1/movement3", "joplin/maple_leaf_rag"])
def test_every_bar_stands_on_one_page_in_order(work, corpus_source):
    source = corpus_source(work)
    plan = PagePlanner(source, PageLayout()).plan()
    bars = [bar for page in plan.pages for system in page.systems for bar in system.bars]
    assert bars == list(range(source.bar_count))
    assert [page.number for page in plan.pages] == list(range(1, len(plan.pages) + 1))
    for bar in (0, 10, source.bar_count - 1):
        assert bar in plan.pages[plan.page_of_bar(bar) - 1].bars


def test_the_first_pages_are_the_same_when_planned_alone(corpus_source):
    source = corpus_source("beethoven/opus59no1/movement3")
    whole = PagePlanner(source, PageLayout()).plan()
    assert PagePlanner(source, PageLayout()).plan(page_limit=2).pages == whole.pages[:2]


def test_paper(small):
    planner = PagePlanner(small, PageLayout(paper="A3", landscape=True))
    assert (planner.width, planner.height) == (420.0, 297.0)
    # ISO 216: the sides are as 1 to the square root of 2, rounded to whole millimetres.
    for name in ("A3", "A4"):
        width, height = PAPER_SIZES[name]
        assert height / width == pytest.approx(2**0.5, abs=0.003)


def test_large_scores_get_large_paper():
    assert PageLayout().page_size(4) == PAPER_SIZES["A4"]
    assert PageLayout().page_size(30) == PAPER_SIZES["A3"]


def test_staff_size_can_be_chosen(small):
    assert PagePlanner(small, PageLayout(staff_height=5.0)).staff_height == 5.0
    tall = PagePlanner(small, PageLayout(staff_height=12.0)).plan()
    assert len(tall.pages) > len(PagePlanner(small, PageLayout(staff_height=5.0)).plan().pages)


def test_parts_that_rest_are_hidden_when_wanted(small):
    planner = PagePlanner(small, PageLayout(hide_resting=True, staff_height=16.0))
    systems = [system for page in planner.plan().pages for system in page.systems]
    assert systems[0].parts == (0, 1, 2)
    resting = [system for system in systems[1:] if set(system.bars) <= {2, 3, 4}]
    assert resting
    assert all(system.parts == (0, 1) for system in resting)


def test_what_is_marked_is_never_hidden(small):
    layout = PageLayout(hide_resting=True, staff_height=16.0, never_hidden=((3, 3, 2),))
    systems = [s for page in PagePlanner(small, layout).plan().pages for s in page.systems]
    for system in systems[1:]:
        if set(system.bars) <= {2, 3, 4}:
            assert (2 in system.parts) == (3 in system.bars)


def test_breaks_of_the_edition(small):
    from stavelight.engraving.musicxml_source import MusicXmlSource

    data = small.text.data.replace(
        b'<measure number="3">', b'<measure number="3"><print new-system="yes"/>'
    ).replace(b'<measure number="6">', b'<measure number="6"><print new-page="yes"/>')
    source = MusicXmlSource(data, "breaks.musicxml")
    plan = PagePlanner(source, PageLayout(edition_breaks=True)).plan()
    assert [[s.bars for s in page.systems] for page in plan.pages] == [
        [range(0, 3), range(3, 6)],
        [range(6, 8)],
    ]
