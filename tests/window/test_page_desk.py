"""Zoom and the places of pages, without a screen."""

from __future__ import annotations

import pytest

from stavelight.engraving.geometry import Rectangle
from stavelight.window.page_desk import (
    FIT_PAGE,
    FIT_WIDTH,
    PERCENT,
    Desk,
    covers,
    neighbours_of,
    opening_of,
    scroll_to_show,
    window_part,
)

A4 = (210.0, 297.0)
SCALE = 4.0  # logical pixels to a millimetre at true size


def desk(width: int = 1000, height: int = 800, places: int = 1, ratio: float = 1.0) -> Desk:
    return Desk(*A4, places, width, height, 14, SCALE, ratio)


def test_a_fitted_page_is_seen_whole_at_every_device_pixel_ratio():
    for ratio in (1.0, 1.25, 1.5, 2.0):
        made = desk(ratio=ratio)
        zoom = made.zoom_for(FIT_PAGE, 1.0)
        (sheet,) = made.sheets((1,), zoom, 0, 0)
        assert made.window(zoom) == (1000, 800)
        assert sheet.left >= 0
        assert sheet.top > 0
        assert sheet.top + sheet.height < 800 * ratio
        assert sheet.height == round(297 * zoom * SCALE * ratio)  # pixel for pixel


def test_a_fitted_width_leaves_room_for_the_scroll_bar_only():
    made = desk()
    zoom = made.zoom_for(FIT_WIDTH, 1.0)
    assert made.window(zoom) == (986, 800)
    assert made.content(zoom)[0] <= 986
    tall = desk(width=400, height=2000)
    assert tall.window(tall.zoom_for(FIT_WIDTH, 1.0)) == (400, 2000)


@pytest.mark.parametrize("wanted", [0.01, 99.0])
def test_zoom_has_limits(wanted):
    assert 0.05 < desk().zoom_for(PERCENT, wanted) < 20


def test_openings_of_a_bound_score():
    assert opening_of(1, 6, spread=True) == (0, 1)
    assert opening_of(2, 6, spread=True) == opening_of(3, 6, spread=True) == (2, 3)
    assert opening_of(6, 6, spread=True) == (6, 0)
    assert opening_of(1, 1, spread=True) == (1,)
    assert opening_of(4, 6, spread=False) == (4,)


def test_neighbours():
    assert neighbours_of((2, 3), 6) == ((4, 5), (1,))
    assert neighbours_of((6, 0), 6) == ((), (5, 4))
    assert neighbours_of((3,), 6) == ((4,), (2,))


def test_a_part_holds_what_is_seen_and_is_not_too_large():
    made = desk()
    (sheet,) = made.sheets((1,), 16.0, 5000, 7000)
    part = window_part(sheet, 986, 786, 3_000_000)
    assert part is not None
    assert covers(part, sheet.seen(986, 786))
    assert part[2] * part[3] <= 3_000_000
    assert part[0] >= 0
    assert part[0] + part[2] <= sheet.width


def test_a_page_that_is_not_seen_needs_no_part():
    made = desk()
    (sheet,) = made.sheets((1,), 4.0, 0, 0)
    assert window_part(sheet.moved(5000, 0), 986, 786, 3_000_000) is None


def test_places_on_page_and_desk_are_each_others_reverse():
    (sheet,) = desk(ratio=1.5).sheets((1,), 1.7, 30, 40)
    x, y = sheet.to_page(*sheet.to_desk(12.5, 99.0))
    assert (x, y) == pytest.approx((12.5, 99.0))


def test_scrolling_to_show_does_nothing_for_what_is_seen():
    (sheet,) = desk().sheets((1,), 1.0, 0, 0)
    assert scroll_to_show(Rectangle(10, 10, 30, 30), sheet, 986, 800) == (0, 0)
    across, down = scroll_to_show(Rectangle(10, 250, 30, 270), sheet, 986, 800)
    assert across == 0
    moved = sheet.moved(-across, -down)
    assert 0 < moved.to_desk(10, 250)[1] < moved.to_desk(10, 270)[1] < 800
