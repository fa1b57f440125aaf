"""Label plates: readable, on the page, and not over each other."""

from __future__ import annotations

import itertools

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QFont

from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_picture import AreaStyle
from stavelight.window.page_desk import Sheet
from stavelight.window.region_labels import ink_on, label_font, luminance, place_plates
from stavelight.window.region_shapes import Piece, RegionOnPage, ShownRegion

SHEET = Sheet(1, 50, 20, 630, 891, 3.0)  # A4 at three pixels to a millimetre
OKABE_ITO = ("#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7", "#000000")
"""Okabe and Ito, "Color Universal Design" (2008): the palette of the regions."""


def region(name: str, left: float, top: float, right: float, bottom: float) -> RegionOnPage:
    shown = ShownRegion(name, (), AreaStyle("#0072b2"), name)
    return RegionOnPage(shown, (Piece(0, 0, Rectangle(left, top, right, bottom)),))


def plates(*regions: RegionOnPage) -> dict[str, QRectF]:
    font = label_font(QFont(), SHEET, 1.0)
    return {plate.region_id: plate.place for plate in place_plates(regions, SHEET, font, 1.0, 2.0)}


def test_a_plate_stands_at_the_upper_left(qapp):
    place = plates(region("melody", 40, 50, 120, 70))["melody"]
    assert place.left() == SHEET.left + 40 * 3
    assert place.top() < SHEET.top + 50 * 3 < place.bottom()


@pytest.mark.parametrize(
    "area", [(1, 0, 20, 8), (200, 100, 209, 110), (100, 290, 150, 297), (0, 0, 1, 1)]
)
def test_plates_stay_on_the_page(qapp, area):
    place = plates(region("a rather long label", *area))["a rather long label"]
    assert QRectF(SHEET.left, SHEET.top, SHEET.width, SHEET.height).contains(place)


def test_plates_do_not_cover_each_other(qapp):
    same = [region(f"label {index}", 40, 100, 160, 140) for index in range(4)]
    near = [region(f"near {index}", 60 + index, 101, 150, 120) for index in range(3)]
    places = plates(*same, *near)
    assert len(places) == 7
    assert not any(
        one.intersects(other) for one, other in itertools.combinations(places.values(), 2)
    )


def test_without_a_label_there_is_no_plate(qapp):
    assert plates(region("", 40, 100, 160, 140)) == {}


@pytest.mark.parametrize("colour", OKABE_ITO)
def test_letters_are_read_easily_on_every_colour_of_the_palette(colour):
    """W3C Web Content Accessibility Guidelines 2.1, criterion 1.4.3: at least 4.5 to 1."""
    ground, ink = luminance(QColor(colour)), luminance(ink_on(QColor(colour)))
    assert (max(ground, ink) + 0.05) / (min(ground, ink) + 0.05) >= 4.5


def test_luminance_of_known_colours():
    """Black, white, and sRGB red by the definition's own coefficients (ITU-R BT.709)."""
    assert luminance(QColor("black")) == 0
    assert luminance(QColor("white")) == pytest.approx(1)
    assert luminance(QColor("#ff0000")) == pytest.approx(0.2126)
