"""The orchestra map: what it shows, and what clicks and drags do."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from music21 import corpus
from PySide6.QtCore import QPoint, QPointF, Qt

from stavelight.delivery.map_picture import MapArea, MapSection
from stavelight.score.reading import read_score
from stavelight.score.structure import Point, Span
from stavelight.window.orchestra_map import OrchestraMapView


@pytest.fixture(scope="module")
def quartet():
    return read_score(Path(corpus.getWork("haydn/opus74no1/movement3")))


@pytest.fixture
def view(qtbot, quartet):
    view = OrchestraMapView()
    qtbot.addWidget(view)
    view.resize(900, 160)
    view.set_score(quartet)
    view.show()
    return view


def _middle(view, bar: int, part: int) -> QPoint:
    return view._frame().rectangle(bar, bar + 1, part, part).center().toPoint()


def test_it_is_dark_where_a_part_plays_and_light_where_it_rests(view, quartet):
    image = view.grab().toImage()
    shades = view._plan.shades
    loud = [tuple(map(int, cell)) for cell in zip(*(shades > 0.7).nonzero(), strict=True)]
    silent = [tuple(map(int, cell)) for cell in zip(*(shades == 0).nonzero(), strict=True)]
    assert loud
    assert silent
    scale = view.devicePixelRatioF()
    for cells, is_dark in ((loud[:20], True), (silent[:20], False)):
        for part, bar in cells:
            place = QPointF(_middle(view, bar, part)) * scale
            assert (image.pixelColor(place.toPoint()).lightnessF() < 0.5) == is_dark


def test_a_click_goes_to_the_bar(qtbot, view):
    with qtbot.waitSignal(view.bar_chosen) as chosen:
        qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=_middle(view, 40, 2))
    assert chosen.args == [40]


def test_a_drag_marks_whole_bars_and_parts(qtbot, view, quartet):
    start, end = _middle(view, 50, 3), _middle(view, 44, 1)
    with qtbot.waitSignal(view.region_drawn) as drawn:
        qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
        qtbot.mouseMove(view, (start + end) / 2)
        qtbot.mouseMove(view, end)
        qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    (span,) = drawn.args
    assert span.start == Point(44)
    assert span.end == Point(50, quartet.bar_length(50))
    assert span.staves == (1, 2, 3)


def test_nothing_is_drawn_where_nothing_may_be_changed(qtbot, view):
    view.set_editable(False)
    with qtbot.assertNotEmitted(view.region_drawn):
        start, end = _middle(view, 10, 0), _middle(view, 20, 1)
        qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
        qtbot.mouseMove(view, end)
        qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)


def test_the_keyboard_moves_over_it(qtbot, view):
    view.set_visible(8, 15)
    view.setFocus()
    for _ in range(3):
        qtbot.keyClick(view, Qt.Key.Key_Right)
    qtbot.keyClick(view, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    with qtbot.waitSignal(view.bar_chosen) as chosen:
        qtbot.keyClick(view, Qt.Key.Key_Return)
    assert chosen.args == [21]


def test_regions_and_sections_are_seen(view):
    before = view.grab().toImage()
    span = Span(Point(10), Point(20, Fraction(0)), (0,))
    view.set_areas([MapArea((span,), "#E69F00")])
    tinted = view.grab().toImage()
    inside, outside = _middle(view, 15, 0), _middle(view, 22, 0)
    assert tinted.pixelColor(inside) != before.pixelColor(inside)
    assert tinted.pixelColor(outside) == before.pixelColor(outside)
    view.set_sections([MapSection(0, 30, "Minuet", "#56B4E9")])
    assert view.grab().toImage() != tinted


def test_what_is_under_the_pointer(view, quartet):
    words = view.words_at(QPointF(_middle(view, 12, 1)))
    assert quartet.parts[1].name in words
    assert f"b. {quartet.bars[12].printed_number}" in words


def test_without_a_score_it_says_what_it_is_for(qtbot):
    view = OrchestraMapView()
    qtbot.addWidget(view)
    view.resize(600, 100)
    blank = view.grab().toImage()
    assert any(
        blank.pixelColor(x, y) != blank.pixelColor(0, 0) for x in range(200, 400) for y in (48, 52)
    )
