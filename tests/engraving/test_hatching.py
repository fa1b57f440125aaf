"""Hatches: what is drawn stays in its area, and no two look the same."""

from __future__ import annotations

import pytest

from stavelight.annotation.palette import HATCHES
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.hatching import PLAIN, hatch_marks, line_colour

AREA = Rectangle(13.0, 7.0, 74.0, 31.0)


@pytest.mark.parametrize("hatch", [one.id for one in HATCHES])
def test_every_hatch_of_the_palette_is_drawn_within_its_area(hatch):
    marks = hatch_marks(AREA, hatch)
    points = [(x, y) for line in marks.lines for x, y in (line[:2], line[2:])] + list(marks.dots)
    assert len(points) > 10
    assert all(AREA.contains(x, y, margin=1e-9) for x, y in points)


@pytest.mark.parametrize("one", HATCHES)
def test_lines_run_as_the_palette_says(one):
    for x1, y1, x2, y2 in hatch_marks(AREA, one.id).lines:
        run, rise = x2 - x1, y1 - y2  # y points downwards
        slopes = {
            0: rise == 0,
            90: run == 0,
            45: abs(run - rise) < 1e-9,
            135: abs(run + rise) < 1e-9,
        }
        assert any(slopes[angle] for angle in one.angles_degrees)


def test_hatches_differ():
    drawn = {hatch_marks(AREA, one.id) for one in HATCHES}
    assert len(drawn) == len(HATCHES)


def test_plain_has_no_marks():
    assert hatch_marks(AREA, PLAIN).lines == hatch_marks(AREA, PLAIN).dots == ()


def test_only_light_colours_get_darker_lines():
    assert line_colour("#0072B2") == "#0072b2"
    assert line_colour("#F0E442") < "#f0e442"
