"""Zooming, turning, scrolling, and what is seen when something is not there."""

from __future__ import annotations

from concurrent.futures import Future
from fractions import Fraction

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPalette, QWheelEvent
from PySide6.QtWidgets import QApplication

from stavelight.engraving.engraver import EngravedScore
from stavelight.engraving.page_picture import PagePainter
from stavelight.engraving.paper import PageLayout
from stavelight.errors import EngravingError
from stavelight.window.page_images import LARGEST_PICTURE
from stavelight.window.score_view import ScoreView
from window.view_score import (
    HARP_LOWER,
    OBOE,
    drag,
    move,
    picture_of,
    place,
    shown,
    span,
)

QUARTER = Fraction(1, 4)
EIGHTH = Fraction(1, 8)
CTRL = Qt.KeyboardModifier.ControlModifier
LEFT = Qt.MouseButton.LeftButton
WAIT_MILLISECONDS = 20_000


def reference_page(view: ScoreView) -> np.ndarray:
    """Return the visible page as Qt's own SVG renderer paints it at the view's scale."""
    sheet = view._sheets[0]
    page = view._supply.page(sheet.number)
    image = QImage(sheet.width, sheet.height, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    PagePainter(page).paint(painter, QRectF(0, 0, sheet.width, sheet.height))
    painter.end()
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return rows[:, : image.width() * 4].reshape(image.height(), image.width(), 4)[:, :, :3].copy()


# Zooming and turning


def test_what_is_shown_is_sharp_at_every_zoom(view, settle):
    """Pixel for pixel what Qt's SVG renderer paints when it is asked for the whole page."""
    for zoom in ("page", "width", 1.37, 4.0):
        view.set_zoom(zoom)
        view.scroll_by(40, 300)
        settle(view)
        sheet = view._sheets[0]
        seen = picture_of(view)
        left, top, width, height = sheet.seen(seen.shape[1], seen.shape[0])
        got = seen[sheet.top + top :, sheet.left + left :][: height - 4, : width - 4]
        wanted = reference_page(view)[top:, left:][: height - 4, : width - 4]
        assert (np.abs(got.astype(int) - wanted) > 24).mean() < 0.001, zoom


def test_at_high_zoom_only_a_part_is_made(view, settle):
    view.set_zoom(16.0)
    settle(view)
    sheet = view._sheets[0]
    assert sheet.width * sheet.height > 5 * LARGEST_PICTURE
    sizes = [image.width() * image.height() for image in view._images._kept.values()]
    assert max(sizes) <= LARGEST_PICTURE


def fresh_picture_of(view: ScoreView) -> np.ndarray:
    view._redraw_layer()
    return picture_of(view)


def test_what_scrolling_leaves_behind_is_what_would_be_painted_anew(view, settle):
    view.set_regions([shown("a", span((0, 0), (5, 0), 0, 1, 2), label="all of it")])
    view.set_zoom(3.0)
    settle(view)
    picture_of(view)
    for across, down in ((0, 37), (25, 120), (-13, -90), (300, 500)):
        view.scroll_by(across, down)
        settle(view)
        assert (picture_of(view) == fresh_picture_of(view)).all(), (across, down)


def test_a_page_painted_ahead_is_what_would_be_painted_anew(qtbot, view, settle):
    def next_page_is_ready() -> bool:
        return view._ahead is not None and view._ahead[0] != view.still_key()

    qtbot.waitUntil(next_page_is_ready, timeout=WAIT_MILLISECONDS)
    view.set_regions([shown("a", span((6, 0), (9, 0), 0, 1, 2), label="on the next page")])
    assert view._ahead is None  # it does not show the region
    qtbot.waitUntil(next_page_is_ready, timeout=WAIT_MILLISECONDS)
    first = picture_of(view)
    view.next_page()
    ahead = picture_of(view)
    assert (ahead != first).any()
    assert (ahead == fresh_picture_of(view)).all()


def test_fit_page_and_fit_width(qtbot, view):
    view.set_zoom("page")
    sheet, window = view._sheets[0], view._window()
    assert window.contains(sheet.left, sheet.top)
    assert window.contains(sheet.left + sheet.width, sheet.top + sheet.height)
    view.resize(900, 500)
    with qtbot.waitSignal(view.zoom_shown) as caught:
        view.set_zoom("width")
    assert caught.args[1] == "width"
    sheet = view._sheets[0]
    assert view.horizontalScrollBar().maximum() == 0
    assert view.verticalScrollBar().maximum() > 0
    assert sheet.width > 0.9 * view._window().width()


def test_one_hundred_per_cent_is_true_size(view):
    view.set_zoom(1.0)
    sheet = view._sheets[0]
    dots = view.screen().physicalDotsPerInch()
    millimetres = sheet.width / view.devicePixelRatioF() / dots * 25.4
    assert millimetres == pytest.approx(210, abs=0.5)  # ISO 216: A4 is 210 mm wide


def wheel(view: ScoreView, at: QPoint, angle: int, modifiers=Qt.NoModifier) -> None:
    event = QWheelEvent(
        QPointF(at),
        QPointF(view.viewport().mapToGlobal(at)),
        QPoint(),
        QPoint(0, angle),
        Qt.MouseButton.NoButton,
        modifiers,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view.viewport(), event)


def test_ctrl_and_wheel_zoom_at_the_pointer(view):
    view.set_zoom(2.0)
    at = place(view, 2, QUARTER, OBOE)
    for _ in range(3):
        wheel(view, at, 120, CTRL)
    assert view.zoom > 3
    now = place(view, 2, QUARTER, OBOE)
    assert (now - at).manhattanLength() <= 3


def test_the_wheel_turns_the_page_where_nothing_is_left_to_scroll(qtbot, view):
    view.set_zoom("page")
    pages = []
    view.page_shown.connect(lambda first, last, count: pages.append((first, last)))
    wheel(view, QPoint(400, 400), -120)
    wheel(view, QPoint(400, 400), 120)
    assert pages == [(2, 2), (1, 1)]


def test_page_down_scrolls_first_and_then_turns(qtbot, view):
    view.resize(900, 500)
    view.set_zoom("width")
    bar = view.verticalScrollBar()
    qtbot.keyClick(view, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: bar.value() > 300)
    assert view.page_number == 1
    view.scroll_by(0, 10_000)
    qtbot.keyClick(view, Qt.Key.Key_PageDown)
    assert view.page_number == 2
    assert bar.value() == 0
    qtbot.keyClick(view, Qt.Key.Key_PageUp)
    assert view.page_number == 1
    assert bar.value() == bar.maximum()


def test_arrows_home_and_end_turn_pages_that_fit(qtbot, view):
    view.set_zoom("page")
    last = view._supply.page_count
    numbers = []
    for name in ("Right", "Left", "End", "Right", "Home"):
        qtbot.keyClick(view, Qt.Key[f"Key_{name}"])
        numbers.append(view.page_number)
    assert numbers == [2, 1, last, last, 1]


def test_a_spread_lays_even_pages_to_the_left(view):
    told = []
    view.page_shown.connect(lambda *page: told.append(page))
    view.set_spread(True)
    assert [sheet.number for sheet in view._sheets] == [1]
    view.next_page()
    assert [sheet.number for sheet in view._sheets] == [2, 3]
    assert view._sheets[0].left < view._sheets[1].left
    assert told[-1] == (2, 3, view._supply.page_count)


def test_the_middle_button_and_the_space_bar_move_the_page(qtbot, view):
    view.set_zoom(4.0)
    view.scroll_by(200, 200)
    bar = view.verticalScrollBar()
    before = bar.value()
    qtbot.mousePress(view.viewport(), Qt.MouseButton.MiddleButton, pos=QPoint(300, 300))
    move(view, QPoint(300, 250), buttons=Qt.MouseButton.MiddleButton)
    qtbot.mouseRelease(view.viewport(), Qt.MouseButton.MiddleButton, pos=QPoint(300, 250))
    assert bar.value() == before + 50
    qtbot.keyPress(view, Qt.Key.Key_Space)
    assert view.viewport().cursor().shape() == Qt.CursorShape.OpenHandCursor
    with qtbot.assertNotEmitted(view.region_drawn):
        drag(qtbot, view, QPoint(300, 300), QPoint(300, 330))
    qtbot.keyRelease(view, Qt.Key.Key_Space)
    assert bar.value() == before + 20


def test_going_to_a_span_shows_it(view, settle):
    wanted = span((20, 0), (20, 3 * EIGHTH), HARP_LOWER)
    view.set_zoom(4.0)
    view.show_span(wanted)
    settle(view)
    at = place(view, 20, EIGHTH, HARP_LOWER)
    assert view.viewport().rect().contains(at)


def test_going_somewhere_before_the_plan_is_known(qtbot, engraver, score_path, score, settle):
    view = ScoreView()
    qtbot.addWidget(view)
    view.resize(900, 1100)
    view.show()
    view.set_score(engraver.open(score_path, PageLayout(paper="A4", staff_height=8.0)), None)
    view.go_to_bar(24)
    qtbot.waitUntil(lambda: view.page_number > 1, timeout=WAIT_MILLISECONDS)
    settle(view)
    assert view._supply.page(view.page_number).geometry.last_bar >= 24


def test_another_layout_of_the_same_file_stays_at_its_place(
    qtbot, view, engraver, score_path, score, settle
):
    view.go_to_bar(20)
    settle(view)
    view.set_score(engraver.open(score_path, PageLayout(paper="A4", staff_height=7.0)), score)
    qtbot.waitUntil(lambda: view._supply.page_count > 0, timeout=WAIT_MILLISECONDS)
    settle(view)
    geometry = view._supply.page(view.page_number).geometry
    assert geometry.first_bar <= 20 <= geometry.last_bar


# What is not there


def test_an_empty_desk_tells_how_to_begin(qtbot):
    view = ScoreView()
    qtbot.addWidget(view)
    view.resize(700, 500)
    view.show()
    view.set_score(None, None)
    picture = picture_of(view)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 5  # letters on the desk
    qtbot.keyClick(view, Qt.Key.Key_PageDown)
    qtbot.mouseClick(view.viewport(), LEFT, pos=QPoint(300, 300))
    assert view.accessibleName() == "Score"


class BrokenScore:
    """An engraved score whose second page fails a number of times."""

    def __init__(self, engraved: EngravedScore, failures: int) -> None:
        self.first, self.plan = engraved.first, engraved.plan
        self.path, self.layout = engraved.path, engraved.layout
        self._engraved = engraved
        self._left = failures

    def page(self, number: int, urgency: int = 0) -> Future:
        if number != 2 or self._left <= 0:
            return self._engraved.page(number, urgency)
        self._left -= 1
        future: Future = Future()
        future.set_exception(
            EngravingError("Page 2 took too long, twice.", where="x", remedy="Try again.")
        )
        return future


def test_a_failed_page_says_so_once_and_can_be_tried_again(qtbot, engraved, score, settle):
    view = ScoreView()
    qtbot.addWidget(view)
    view.resize(900, 1100)
    view.show()
    failed = []
    view.page_failed.connect(failed.append)
    view.set_score(BrokenScore(engraved, 1), score)
    settle(view)
    view.go_to_page(2)
    qtbot.waitUntil(lambda: view._retry.isVisible(), timeout=WAIT_MILLISECONDS)
    assert [error.what for error in failed] == ["Page 2 took too long, twice."]
    qtbot.mouseClick(view._retry, LEFT)
    settle(view)
    assert not view._retry.isVisible()
    assert view._supply.page(2) is not None


def test_pages_of_a_score_that_was_closed_are_dropped(qtbot, view, engraved, score, settle):
    late: Future = Future()
    other = BrokenScore(engraved, 0)
    other.first = late
    other.plan = Future()
    view.set_score(other, None)
    view.set_score(engraved, score)
    settle(view)
    before = view._supply.plan
    late.set_exception(EngravingError("Too late."))
    with qtbot.assertNotEmitted(view.page_failed, wait=50):
        QApplication.processEvents()
    assert view._supply.plan is before


def test_the_palette_changes_the_desk_and_not_the_page(qtbot, view):
    sheet = view._sheets[0]
    dark = QPalette()
    dark.setColor(QPalette.ColorRole.Window, QColor("#202428"))
    view.setPalette(dark)
    picture = picture_of(view)
    assert picture[3, 3].max() < 60
    assert (picture[sheet.top + 5, sheet.left + 5] == 255).all()


def test_five_hundred_regions_are_found_by_page(view):
    regions = [
        shown(f"r{index}", span((index % 24, 0), (index % 24 + 1, 0), index % 5))
        for index in range(500)
    ]
    view.set_regions(regions)
    geometry = view._supply.page(1).geometry
    on_page = {shape.region.id for shape in view.shapes.on_page(1, geometry)}
    bars = range(geometry.first_bar, geometry.last_bar + 1)
    assert on_page == {region.id for region in regions if region.spans[0].start.bar in bars}
