"""Regions drawn, selected and reshaped with real events on really engraved pages."""

from __future__ import annotations

from fractions import Fraction

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtWidgets import QApplication

from stavelight.score.structure import Point, Span
from stavelight.window.score_view import ScoreView
from window.view_score import (
    BAR_COUNT,
    CLARINET,
    FLUTE,
    HARP_LOWER,
    HARP_UPPER,
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
SHIFT = Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier
LEFT = Qt.MouseButton.LeftButton


def drawn_by(qtbot, view: ScoreView, start: QPoint, end: QPoint, modifiers=Qt.NoModifier) -> Span:
    with qtbot.waitSignal(view.region_drawn) as caught:
        drag(qtbot, view, start, end, modifiers)
    return caught.args[0]


# Drawing


def test_drag_from_beat_to_beat_takes_both_beats_and_both_staves(qtbot, view):
    read = []
    view.read_out.connect(read.append)
    got = drawn_by(qtbot, view, place(view, 1, 2 * QUARTER, FLUTE), place(view, 3, 0, CLARINET))
    assert got == span((1, 2 * QUARTER), (3, QUARTER), FLUTE, OBOE, CLARINET)
    assert "bb. 1.3-3.1, Fl., Ob., Cl." in read


def test_drag_backwards_and_upwards_gives_the_same(qtbot, view):
    got = drawn_by(qtbot, view, place(view, 3, 0, CLARINET), place(view, 1, 2 * QUARTER, FLUTE))
    assert got == span((1, 2 * QUARTER), (3, QUARTER), FLUTE, OBOE, CLARINET)


def test_shift_takes_whole_bars(qtbot, view):
    start, end = place(view, 1, 2 * QUARTER, OBOE), place(view, 2, QUARTER, OBOE)
    assert drawn_by(qtbot, view, start, end, SHIFT) == span((1, 0), (2, 1), OBOE)


def test_ctrl_takes_parts_of_beats(qtbot, view):
    start, end = place(view, 1, 3 * EIGHTH, OBOE), place(view, 1, 5 * EIGHTH, OBOE)
    assert drawn_by(qtbot, view, start, end, CTRL) == span((1, 3 * EIGHTH), (1, 6 * EIGHTH), OBOE)


def test_shift_pressed_while_dragging_counts_at_once(qtbot, view):
    read = []
    view.read_out.connect(read.append)
    qtbot.mousePress(view.viewport(), LEFT, pos=place(view, 1, QUARTER, FLUTE))
    move(view, place(view, 2, QUARTER, FLUTE))
    qtbot.keyPress(view, Qt.Key.Key_Shift)
    assert read[-2:] == ["bb. 1.2-2.2, Fl.", "bb. 1-2, Fl."]


def test_drag_over_two_systems_of_a_page(qtbot, view):
    page = view._supply.page(1).geometry
    first, second = page.systems[0], page.systems[1]
    start = place(view, first.first_bar + 1, 0, OBOE)
    end = place(view, second.first_bar, QUARTER, FLUTE)
    got = drawn_by(qtbot, view, start, end)
    assert got == span((first.first_bar + 1, 0), (second.first_bar, 2 * QUARTER), FLUTE, OBOE)


def test_a_page_turned_while_dragging_leads_to_a_region_over_both(qtbot, view, settle):
    qtbot.mousePress(view.viewport(), LEFT, pos=place(view, 1, 0, FLUTE))
    move(view, place(view, 1, 3 * QUARTER, FLUTE))
    view.next_page()
    settle(view)
    bar = view.first_bar
    end = place(view, bar, QUARTER, OBOE)
    move(view, end)
    with qtbot.waitSignal(view.region_drawn) as caught:
        qtbot.mouseRelease(view.viewport(), LEFT, pos=end)
    assert caught.args[0] == span((1, 0), (bar, 2 * QUARTER), FLUTE, OBOE)


def test_both_staves_of_a_part_can_be_taken_apart(qtbot, view):
    at = place(view, 1, 0, HARP_LOWER)
    got = drawn_by(qtbot, view, at, at + QPoint(6, 0), SHIFT)
    assert got.staves == (HARP_LOWER,)


def test_escape_breaks_a_drag_off(qtbot, view):
    qtbot.mousePress(view.viewport(), LEFT, pos=place(view, 1, 0, FLUTE))
    move(view, place(view, 2, 0, FLUTE))
    with qtbot.assertNotEmitted(view.region_drawn):
        qtbot.keyClick(view, Qt.Key.Key_Escape)
        qtbot.mouseRelease(view.viewport(), LEFT, pos=place(view, 2, 0, FLUTE))
    assert not view.is_drawing


def test_nothing_is_drawn_where_nothing_may_be_changed(qtbot, view):
    view.set_editable(False)
    with qtbot.assertNotEmitted(view.region_drawn):
        drag(qtbot, view, place(view, 1, 0, FLUTE), place(view, 2, 0, FLUTE))


def test_without_the_notes_pages_are_seen_and_a_drag_says_why_not(qtbot, engraved, settle):
    view = ScoreView()
    qtbot.addWidget(view)
    view.resize(900, 1100)
    view.show()
    view.set_score(engraved, None)
    settle(view)
    read = []
    view.read_out.connect(read.append)
    with qtbot.assertNotEmitted(view.region_drawn):
        drag(qtbot, view, place(view, 1, 0, FLUTE), place(view, 2, 0, FLUTE))
    assert "still reading the notes …" in read
    assert (picture_of(view) == 255).mean() > 0.3  # a page lies there


# Regions that are there


def test_a_region_is_painted_on_every_system_that_it_spans(view):
    systems = view._supply.page(1).geometry.systems
    before = picture_of(view).copy()
    bars = (systems[0].last_bar, systems[1].first_bar)
    view.set_regions([shown("a", span((bars[0], 0), (bars[1], 1), OBOE))])
    after = picture_of(view)
    for bar in bars:
        inside = place(view, bar, 0.3, OBOE)
        outside = place(view, bar, 0.3, CLARINET)
        assert (before[inside.y(), inside.x()] != after[inside.y(), inside.x()]).any()
        assert (before[outside.y(), outside.x()] == after[outside.y(), outside.x()]).all()


def test_click_selects_the_smallest_and_clicking_again_goes_round(qtbot, view):
    large = shown("large", span((1, 0), (4, 0), FLUTE, OBOE, CLARINET))
    small = shown("small", span((2, 0), (3, 0), OBOE))
    view.set_regions([small, large])
    chosen = []
    view.region_selected.connect(chosen.append)
    at = place(view, 2, 0.5, OBOE)
    for _ in range(3):
        qtbot.mouseClick(view.viewport(), LEFT, pos=at)
        move(view, at, buttons=Qt.MouseButton.NoButton)
    qtbot.mouseClick(view.viewport(), LEFT, pos=place(view, 4, 0.5, HARP_LOWER))
    assert chosen == ["small", "large", "small", ""]


def test_a_drag_of_few_pixels_is_a_click(qtbot, view):
    view.set_regions([shown("a", span((1, 0), (3, 0), OBOE))])
    at = place(view, 2, QUARTER, OBOE)
    with qtbot.assertNotEmitted(view.region_drawn):
        drag(qtbot, view, at, at + QPoint(2, 1))
    assert view.selected_region == "a"


def test_double_click_opens_without_going_round(qtbot, view):
    view.set_regions(
        [shown("a", span((1, 0), (4, 0), OBOE, CLARINET)), shown("b", span((1, 0), (3, 0), OBOE))]
    )
    at = place(view, 2, 0.5, OBOE)
    with qtbot.waitSignal(view.region_activated) as caught:
        qtbot.mouseClick(view.viewport(), LEFT, pos=at)
        qtbot.mouseDClick(view.viewport(), LEFT, pos=at)
    assert caught.args == ["b"]
    assert view.selected_region == "b"


@pytest.fixture
def selected(view) -> ScoreView:
    """A view with one selected region: bar 2 beat 2 to bar 3 beat 2, oboe and clarinet."""
    view.set_regions([shown("r", span((2, QUARTER), (3, 2 * QUARTER), OBOE, CLARINET), label="x")])
    view.select_region("r")
    return view


def edge_of(view: ScoreView, edge: str) -> QPoint:
    """Return a point on an edge of the selected region, from the geometry of its page alone."""
    sheet, geometry = next(iter(view.pages_seen()))
    region = view.shapes.get(view.selected_region)
    whole = region.spans[0]
    start = (whole.start.bar, whole.start.offset)
    area = geometry.areas(start, (whole.end.bar, whole.end.offset), whole.staves)[0]
    x, y = {
        "start": (area.left, area.top + area.height * 0.4),
        "end": (area.right, area.top + area.height * 0.4),
        "top": (area.left + area.width * 0.8, area.top),
        "bottom": (area.left + area.width * 0.8, area.bottom),
        "inside": (area.left + area.width * 0.3, area.top + area.height * 0.5),
    }[edge]
    return QPoint(*(round(value) for value in sheet.to_desk(x, y)))


def reshaped_by(qtbot, view: ScoreView, start: QPoint, end: QPoint) -> Span:
    with qtbot.waitSignal(view.region_reshaped) as caught:
        drag(qtbot, view, start, end)
    region_id, spans = caught.args
    assert region_id == "r"
    return spans[0]


@pytest.mark.parametrize(
    ("edge", "to", "wanted"),
    [
        ("start", (2, 0, OBOE), span((2, 0), (3, 2 * QUARTER), OBOE, CLARINET)),
        ("start", (1, 2 * QUARTER, OBOE), span((1, 2 * QUARTER), (3, 2 * QUARTER), 1, 2)),
        ("end", (3, 3 * QUARTER, OBOE), span((2, QUARTER), (3, 3 * QUARTER), OBOE, CLARINET)),
        ("end", (2, 2 * QUARTER, OBOE), span((2, QUARTER), (2, 2 * QUARTER), OBOE, CLARINET)),
        # never shorter than a beat
        ("end", (1, QUARTER, OBOE), span((2, QUARTER), (2, 2 * QUARTER), OBOE, CLARINET)),
    ],
)
def test_dragging_an_edge_in_time(qtbot, selected, edge, to, wanted):
    start = edge_of(selected, edge)
    target = place(selected, *to)
    assert reshaped_by(qtbot, selected, start, QPoint(target.x() - 8, target.y())) == wanted


@pytest.mark.parametrize(
    ("edge", "staff", "wanted"),
    [
        ("top", FLUTE, (FLUTE, OBOE, CLARINET)),
        ("top", CLARINET, (CLARINET,)),
        ("top", HARP_LOWER, (CLARINET,)),
        ("bottom", HARP_UPPER, (OBOE, CLARINET, HARP_UPPER)),
        ("bottom", OBOE, (OBOE,)),
    ],
)
def test_dragging_an_edge_over_staves(qtbot, selected, edge, staff, wanted):
    start = edge_of(selected, edge)
    own = OBOE if edge == "top" else CLARINET
    way = place(selected, 2, 0.5, staff).y() - place(selected, 2, 0.5, own).y()
    assert reshaped_by(qtbot, selected, start, start + QPoint(0, way)).staves == wanted


def test_dragging_within_the_selected_region_moves_it_by_beats(qtbot, selected):
    start = edge_of(selected, "inside")
    beat = place(selected, 2, 2 * QUARTER, OBOE).x() - place(selected, 2, QUARTER, OBOE).x()
    got = reshaped_by(qtbot, selected, start, start + QPoint(beat, 0))
    assert got == span((2, 2 * QUARTER), (3, 3 * QUARTER), OBOE, CLARINET)


def test_ctrl_draws_anew_within_the_selected_region(qtbot, selected):
    start, end = place(selected, 2, 2 * QUARTER, OBOE), place(selected, 2, 3 * QUARTER, OBOE)
    got = drawn_by(qtbot, selected, start, end, CTRL)
    assert got.start == Point(2, 2 * QUARTER)


@pytest.mark.parametrize(
    ("edge", "shape"),
    [
        ("start", Qt.CursorShape.SizeHorCursor),
        ("end", Qt.CursorShape.SizeHorCursor),
        ("top", Qt.CursorShape.SizeVerCursor),
        ("bottom", Qt.CursorShape.SizeVerCursor),
        ("inside", Qt.CursorShape.SizeAllCursor),
    ],
)
def test_the_pointer_tells_what_a_drag_would_do(selected, edge, shape):
    move(selected, edge_of(selected, edge), buttons=Qt.MouseButton.NoButton)
    assert selected.viewport().cursor().shape() == shape


def test_gone_regions_are_not_selected_any_more(selected):
    selected.set_regions([])
    assert selected.selected_region is None


def test_context_menu_for_the_region_under_the_pointer(qtbot, view):
    view.set_regions([shown("a", span((1, 0), (3, 0), OBOE))])
    at = place(view, 2, QUARTER, OBOE)
    with qtbot.waitSignal(view.context_menu_wanted) as caught:
        QApplication.sendEvent(
            view.viewport(),
            QContextMenuEvent(QContextMenuEvent.Reason.Mouse, at, view.viewport().mapToGlobal(at)),
        )
    assert caught.args == ["a", view.viewport().mapToGlobal(at)]


# The same with keys


@pytest.mark.parametrize(
    ("key", "modifiers", "wanted"),
    [
        (Qt.Key.Key_Right, SHIFT, span((2, QUARTER), (3, 3 * QUARTER), OBOE, CLARINET)),
        (Qt.Key.Key_Left, SHIFT, span((2, QUARTER), (3, QUARTER), OBOE, CLARINET)),
        (Qt.Key.Key_Left, SHIFT | CTRL, span((2, 0), (3, 2 * QUARTER), OBOE, CLARINET)),
        (Qt.Key.Key_Right, SHIFT | ALT, span((2, QUARTER), (3, 5 * EIGHTH), OBOE, CLARINET)),
        (Qt.Key.Key_Right, CTRL, span((2, 2 * QUARTER), (3, 3 * QUARTER), OBOE, CLARINET)),
        (Qt.Key.Key_Down, SHIFT, span((2, QUARTER), (3, 2 * QUARTER), 1, 2, 3)),
        (Qt.Key.Key_Up, SHIFT, span((2, QUARTER), (3, 2 * QUARTER), OBOE)),
        (Qt.Key.Key_Up, SHIFT | CTRL, span((2, QUARTER), (3, 2 * QUARTER), 0, 1, 2)),
        (Qt.Key.Key_Down, SHIFT | CTRL, span((2, QUARTER), (3, 2 * QUARTER), CLARINET)),
    ],
)
def test_keys_reshape_the_selected_region(qtbot, selected, key, modifiers, wanted):
    with qtbot.waitSignal(selected.region_reshaped) as caught:
        qtbot.keyClick(selected, key, modifiers)
    assert caught.args == ["r", (wanted,)]


def test_tab_goes_through_the_regions_of_the_page_and_then_out(qtbot, view):
    view.set_regions(
        [
            shown("later", span((4, 0), (5, 0), FLUTE)),
            shown("earlier", span((1, 0), (2, 0), HARP_LOWER)),
            shown("last page", span((BAR_COUNT - 1, 0), (BAR_COUNT - 1, EIGHTH), FLUTE)),
        ]
    )
    chosen = []
    view.region_selected.connect(chosen.append)
    assert view.focusNextPrevChild(True)
    assert view.focusNextPrevChild(True)
    view.focusNextPrevChild(True)
    view.focusNextPrevChild(False)
    assert chosen == ["earlier", "later", "earlier"]


def test_drawing_with_keys_alone(qtbot, view):
    qtbot.keyClick(view, Qt.Key.Key_Insert)
    for key, modifiers in [
        (Qt.Key.Key_Right, Qt.NoModifier),  # past the pickup: bar 1, beat 1
        (Qt.Key.Key_Down, Qt.NoModifier),  # oboe
        (Qt.Key.Key_Right, SHIFT),
        (Qt.Key.Key_Down, SHIFT),
    ]:
        qtbot.keyClick(view, key, modifiers)
    with qtbot.waitSignal(view.region_drawn) as caught:
        qtbot.keyClick(view, Qt.Key.Key_Return)
    assert caught.args[0] == span((1, 0), (1, 2 * QUARTER), OBOE, CLARINET)
    assert not view.is_drawing


def test_enter_opens_and_escape_selects_nothing(qtbot, selected):
    with qtbot.waitSignal(selected.region_activated) as caught:
        qtbot.keyClick(selected, Qt.Key.Key_Return)
    assert caught.args == ["r"]
    with qtbot.waitSignal(selected.region_selected) as caught:
        qtbot.keyClick(selected, Qt.Key.Key_Escape)
    assert caught.args == [""]


def test_a_region_without_a_place_can_be_selected_and_does_no_harm(qtbot, view):
    view.set_regions([shown("lost"), shown("there", span((1, 0), (2, 0), FLUTE))])
    view.select_region("lost")
    with qtbot.assertNotEmitted(view.region_reshaped):
        for modifiers in (SHIFT, CTRL, CTRL | SHIFT):
            qtbot.keyClick(view, Qt.Key.Key_Right, modifiers)
    assert view.selected_region == "lost"
    qtbot.keyClick(view, Qt.Key.Key_Insert)
    assert view.is_drawing
