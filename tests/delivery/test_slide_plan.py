"""Slides: bars that can be read, text that fits, nothing over something else."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from delivery.lecture import PLAYERS, RESTING, entry_on, layer_of, region, span
from stavelight.annotation.commentary import new_entry
from stavelight.annotation.palette import REGION_COLOURS
from stavelight.annotation.tags import load_vocabulary
from stavelight.delivery.commentary_text import plain_text
from stavelight.delivery.slide_frame import (
    SLIDE_HEIGHT,
    SLIDE_WIDTH,
    WHOLE_SLIDE,
    Arrangement,
    Box,
)
from stavelight.delivery.slide_model import SlideOptions, passages
from stavelight.delivery.slide_picture import foot_block, heading_block, place_block
from stavelight.delivery.slide_plan import Slide, SlidePlanner
from stavelight.delivery.text_layout import TextBlock

LONG = (
    "The melody lies in the **first violin** and climbs by step. The second violin follows in "
    "thirds below it. What matters is the *silence* of the lower strings; they only come in with "
    "the cadence. Listen to bb. 5\u20136 again, where the viola answers. "
) * 6
UNBROKEN = "Antidisestablishmentarianism" * 12


def slides_of(opened, regions, entries=None, **options) -> list[Slide]:
    layer = layer_of(opened.score, regions, entries)
    chosen = SlideOptions(**options)
    planner = SlidePlanner(
        opened.score, "A line of credit. " * 4, opened.engraved, chosen, lambda: False
    )
    made: list[Slide] = []
    for passage in passages(opened.score, layer, load_vocabulary(), chosen):
        made += planner.slides(passage, len(made) + 2)
    return made


def staff_height(slide: Slide) -> float:
    return slide.excerpt.geometry.staff_space * 4


def bars_of(slide: Slide) -> set[int]:
    return {int(bar) for bar in slide.excerpt.geometry.cells["bar"]}


def staves_of(slide: Slide) -> set[int]:
    return {int(staff) for staff in slide.excerpt.geometry.cells["staff"]}


def assert_tidy(slide: Slide) -> None:
    """All parts of a slide lie on it, apart from each other, with their text inside."""
    frame = slide.frame
    parts = {"heading": frame.heading, "place": frame.place, "foot": frame.foot}
    parts["number"] = frame.number
    if slide.excerpt is not None:
        parts["excerpt"] = slide.excerpt_box
        assert frame.excerpt.contains(slide.excerpt_box, 0.05)
    if slide.text:
        parts["text"] = frame.text
        block = TextBlock(slide.text, frame.text.width, slide.text_size)
        assert block.height <= frame.text.height
        assert slide.text_size >= 20  # points; common practice, no source
    for index, entry in enumerate(slide.key):
        assert frame.key.contains(entry.words, 0.05)
        parts[f"key {index}"] = entry.words
        if entry.colour:
            parts[f"sample {index}"] = entry.sample
            assert frame.key.contains(entry.sample, 0.05)
    for box in parts.values():
        assert WHOLE_SLIDE.contains(box)
    for (one, a), (other, b) in combinations(parts.items(), 2):
        assert not overlap(a, b), f"{one} lies over {other}"
    for block, box in (
        (heading_block(slide, frame.heading), frame.heading),
        (place_block(slide.place, frame.place), frame.place),
        (foot_block(slide.foot, frame.foot), frame.foot),
    ):
        assert block.height <= box.height


def overlap(a: Box, b: Box, tolerance: float = 0.05) -> bool:
    return (
        a.left < b.right - tolerance
        and b.left < a.right - tolerance
        and a.top < b.bottom - tolerance
        and b.top < a.bottom - tolerance
    )


def test_a_slide_is_wide():
    assert pytest.approx(16 / 9) == SLIDE_WIDTH / SLIDE_HEIGHT


def test_a_region_gets_its_own_bars_and_staves(quartet):
    (slide,) = slides_of(quartet, [region(quartet.score, span(10, 13, 0, 2), label="Here")])
    assert bars_of(slide) == {10, 11, 12}
    assert staves_of(slide) == {0, 2}
    assert slide.place == "bb. 11\u201313"
    assert "Violin I" in slide.excerpt_name
    assert_tidy(slide)


def test_all_parts_on_request(quartet):
    (slide,) = slides_of(
        quartet, [region(quartet.score, span(10, 13, 0), label="Here")], all_parts=True
    )
    assert staves_of(slide) == {0, 1, 2, 3}


def test_staves_can_be_read_from_the_back_of_a_hall(quartet):
    """1/28 of the slide: a staff as high as 20-point text (common practice, no source)."""
    slides = slides_of(
        quartet, [region(quartet.score, span(0, 40, 0, 1, 2, 3), label="Long")], most_slides=40
    )
    assert len(slides) > 2
    for slide in slides:
        assert staff_height(slide) >= SLIDE_HEIGHT / 28
        assert_tidy(slide)
    assert [bar for slide in slides for bar in sorted(bars_of(slide))] == list(range(40))
    assert [slide.is_continued for slide in slides] == [False] + [True] * (len(slides) - 1)


def test_passages_without_end_are_cut_short_and_say_so(quartet):
    slides = slides_of(
        quartet, [region(quartet.score, span(0, 118, 0, 1, 2, 3), label="All")], most_slides=3
    )
    assert len(slides) == 3
    assert slides[-1].place.endswith(" of bb. 1\u2013118")
    assert "bb. 1\u2013118" in slides[-1].notes
    assert "beginning" in slides[-1].notes
    assert "beginning" not in slides[0].notes


def test_a_tutti_is_divided_by_its_staves(orchestra):
    everybody = tuple(range(len(PLAYERS)))
    slides = slides_of(orchestra, [region(orchestra.score, span(0, 2, *everybody), label="Tutti")])
    shown = [staff for slide in slides for staff in sorted(staves_of(slide))]
    playing = [staff for staff in everybody if PLAYERS[staff] != RESTING]
    assert shown == playing, "each staff once, in order, without those that rest"
    for slide in slides:
        assert len(staves_of(slide)) <= 11
        assert staff_height(slide) >= SLIDE_HEIGHT / 34
        assert bars_of(slide) == {0, 1}
        assert_tidy(slide)
    # Players of one instrument stay together.
    for above, below in pairwise(slides):
        assert (
            PLAYERS[max(staves_of(above))].split()[0] != PLAYERS[min(staves_of(below))].split()[0]
        )


def test_a_passage_that_returns_is_shown_at_both_places(quartet):
    slides = slides_of(
        quartet, [region(quartet.score, span(3, 5, 0), span(50, 52, 1, 2), label="Twice")]
    )
    assert [bars_of(slide) for slide in slides] == [{3, 4}, {50, 51}]
    assert [staves_of(slide) for slide in slides] == [{0}, {1, 2}]


@pytest.mark.parametrize("staves", [(0,), (0, 1, 2, 3), tuple(range(8))])
@pytest.mark.parametrize("text", ["Short.", LONG, UNBROKEN, "- one\n- two\n- **three**\n" * 9])
def test_texts_fit_whatever_their_length(orchestra, staves, text):
    one = region(orchestra.score, span(2, 4, *staves), tags=("melody",))
    (slide,) = slides_of(orchestra, [one], [entry_on(one, text, title="On the slope")])
    assert_tidy(slide)
    words = plain_text(slide.text)
    if text == LONG:
        assert words.endswith("\u2026")
        assert words.startswith("The melody lies in the first violin")
    if text == "Short.":
        assert words == "Short."
        assert slide.text_size > 20
    assert "".join(plain_text(slide.text).rstrip("\u2026 ").split()) in "".join(slide.notes.split())


def test_the_whole_text_stands_in_the_notes(orchestra):
    one = region(orchestra.score, span(2, 4, 0), tags=("melody",))
    (slide,) = slides_of(orchestra, [one], [entry_on(one, LONG)])
    assert LONG.replace("*", "").strip() in slide.notes


def test_text_runs_on_over_the_slides_of_its_passage(quartet):
    one = region(quartet.score, span(0, 30, 0, 1, 2, 3), label="Long")
    slides = slides_of(quartet, [one], [entry_on(one, LONG)])
    first, second = plain_text(slides[0].text), plain_text(slides[1].text)
    whole = LONG.replace("*", "")
    assert whole.startswith(first)
    assert whole[len(first) :].strip().startswith(second.rstrip(" \u2026"))
    for slide in slides:
        assert_tidy(slide)


def test_a_commentary_on_the_whole_score_is_a_slide_of_text(quartet):
    (slide,) = slides_of(quartet, [], [new_entry(text=LONG, title="In general")])
    assert slide.excerpt is None
    assert slide.frame.arrangement is Arrangement.TEXT
    assert_tidy(slide)


@pytest.mark.parametrize("staves", [(0,), tuple(range(4)), tuple(range(8))])
@pytest.mark.parametrize("text", ["", LONG])
def test_many_regions_and_long_labels_keep_their_places(orchestra, staves, text):
    regions = [
        region(
            orchestra.score,
            span(4, 6, staff),
            colour=colour.id,
            pattern=pattern,
            label=f"A label that goes on for quite a while, number {number} of {staff}",
        )
        for number, colour in enumerate(REGION_COLOURS)
        for staff, pattern in zip(staves, ("rising", "level", "dots", "grid") * 2, strict=False)
    ]
    target = region(orchestra.score, span(4, 6, *staves), label="What a heading: " + "long " * 60)
    entries = [entry_on(target, text)] if text else []
    slides = slides_of(orchestra, [*regions, target], entries)
    for slide in slides:
        assert_tidy(slide)
    shown = next(slide for slide in slides if slide.heading.startswith("What"))
    assert len(shown.areas) == len(regions) + 1
    assert {area.region.id for area in shown.areas if area.is_own} == {target.id}
    for one in regions:
        assert one.label in shown.notes
    looks = {(one.colour, one.pattern) for one in (*regions, target)}
    if len(shown.key) < len(looks):
        assert shown.key[-1].text.startswith("and ")


def test_regions_that_look_the_same_share_an_entry_of_the_key(quartet):
    regions = [
        region(quartet.score, span(10, 12, 0), label="One"),
        region(quartet.score, span(11, 12, 0), label="Other"),
        region(quartet.score, span(10, 12, 0), label="Apart", pattern="grid"),
    ]
    slide = slides_of(quartet, regions)[0]
    assert [entry.text for entry in slide.key] == ["One; Other", "Apart"]


def test_a_credit_of_usual_length_is_shown_whole(quartet):
    (slide,) = slides_of(quartet, [region(quartet.score, span(10, 12, 0))])
    credit = "Composer of the Work: Title of the Work in a Key. " + "Edition, source, encoder. " * 6
    block = foot_block(credit, slide.frame.foot)
    assert block.paragraphs[0].text == credit


def test_a_band_grows_with_its_text(quartet):
    one = region(quartet.score, span(10, 12, 0))
    texts = ["Short.", LONG[:430]]
    short, long = (slides_of(quartet, [one], [entry_on(one, text)])[0] for text in texts)
    assert short.frame.arrangement is long.frame.arrangement is Arrangement.BAND
    assert long.frame.text.height > short.frame.text.height
    assert plain_text(long.text) == LONG[:430].replace("*", "").strip()


def test_the_mark_of_a_continued_slide_survives_a_long_heading(quartet):
    one = region(quartet.score, span(0, 30, 0, 1, 2, 3), label="long " * 80)
    slides = slides_of(quartet, [one])
    words = heading_block(slides[1], slides[1].frame.heading).paragraphs[0].text
    assert words.endswith("\u2026 (continued)")


def test_areas_lie_between_the_barlines_of_their_bars(quartet):
    one = region(quartet.score, span(11, 12, 1), label="One bar")
    context = region(quartet.score, span(10, 13, 0, 1), label="Three")
    slide = slides_of(quartet, [one, context])[0]
    area = next(area for area in slide.areas if area.region.name == "One bar")
    (rectangle,) = area.rectangles
    geometry = slide.excerpt.geometry
    (cell,) = [c for c in geometry.cells if c["bar"] == 11 and c["staff"] == 1]
    left, top = slide.excerpt_box.left, slide.excerpt_box.top
    assert rectangle.left == pytest.approx(cell["left"] + left, abs=0.01)
    assert rectangle.right == pytest.approx(cell["right"] + left, abs=0.01)
    assert rectangle.top < cell["top"] + top < cell["bottom"] + top < rectangle.bottom
    assert area.bars == "b. 12"
