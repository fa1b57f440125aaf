from __future__ import annotations

import pytest

from stavelight.annotation.palette import (
    COLOURS,
    HATCHES,
    REGION_COLOURS,
    colour,
    hatch,
)

# Okabe and Ito, Color Universal Design, 2008, table of the colour set: red, green, blue in 0-255.
PUBLISHED = {
    "black": (0, 0, 0),
    "orange": (230, 159, 0),
    "sky-blue": (86, 180, 233),
    "bluish-green": (0, 158, 115),
    "yellow": (240, 228, 66),
    "blue": (0, 114, 178),
    "vermilion": (213, 94, 0),
    "reddish-purple": (204, 121, 167),
}


def test_the_colours_are_the_published_ones_in_the_published_order():
    assert [(one.id, one.rgb) for one in COLOURS] == list(PUBLISHED.items())


def test_the_colours_are_those_of_another_implementation():
    matplotlib = pytest.importorskip("matplotlib")
    try:
        theirs = matplotlib.colormaps["okabe_ito"].colors
    except KeyError:
        pytest.skip("this version has no such table")
    ours = [tuple(value / 255 for value in one.rgb) for one in COLOURS]
    assert ours == [pytest.approx(tuple(one)) for one in theirs]


def test_black_belongs_to_the_score():
    assert [one.id for one in COLOURS if not one.for_regions] == ["black"]
    assert len(REGION_COLOURS) == 7


def test_every_colour_has_a_hatch_of_its_own():
    patterns = [one.pattern for one in COLOURS]
    assert sorted(patterns) == sorted(one.id for one in HATCHES)


def test_no_two_hatches_look_the_same():
    assert len({(one.angles_degrees, one.mark) for one in HATCHES}) == len(HATCHES)


def test_unknown_ids_give_the_first():
    assert colour("mauve").id == "orange"
    assert hatch("spots").id == "rising"
    assert colour("blue").hex == "#0072B2"
    assert hatch("dots").mark == "dot"
