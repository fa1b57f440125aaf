"""A made-up score for the tests of the score view, and the places on its pages.

Flute, oboe, clarinet in B flat, and harp on two staves. Bar 0 is a pickup of one quarter; bars 1
to 12 are in 4/4, bars 13 to 24 in 6/8. The flute plays quarters (in 6/8 eighths), the oboe
eighths, the clarinet one note a bar; the harp rests.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QMouseEvent
from PySide6.QtWidgets import QApplication

from stavelight.engraving.page_picture import AreaStyle
from stavelight.score.structure import Point, Span
from stavelight.window.score_view import ScoreView, ShownRegion

BLUE = AreaStyle("#0072b2", "plain", 0.3)
FLUTE, OBOE, CLARINET, HARP_UPPER, HARP_LOWER = range(5)
BAR_COUNT = 25

_NAMES = (
    ("P1", "Flute", "Fl."),
    ("P2", "Oboe", "Ob."),
    ("P3", "Clarinet in B flat", "Cl."),
    ("P4", "Harp", "Hp."),
)


def view_score_text() -> str:
    """Return the score as MusicXML."""
    names = "".join(
        f'<score-part id="{part}"><part-name>{name}</part-name>'
        f"<part-abbreviation>{short}</part-abbreviation></score-part>"
        for part, name, short in _NAMES
    )
    parts = "".join(
        f'<part id="{part}">{"".join(_bar(part, bar) for bar in range(BAR_COUNT))}</part>'
        for part, _, _ in _NAMES
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<score-partwise version="4.0"><work><work-title>Two Metres</work-title></work>'
        f"<part-list>{names}</part-list>{parts}</score-partwise>"
    )


def _bar(part: str, bar: int) -> str:
    length = 2 if bar == 0 else 8 if bar <= 12 else 6  # in eighths
    attributes = ""
    if bar == 0:
        clefs = "<clef><sign>G</sign><line>2</line></clef>"
        if part == "P4":
            clefs = (
                '<staves>2</staves><clef number="1"><sign>G</sign><line>2</line></clef>'
                '<clef number="2"><sign>F</sign><line>4</line></clef>'
            )
        transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
        attributes = (
            "<attributes><divisions>2</divisions><key><fifths>0</fifths></key>"
            f"<time><beats>4</beats><beat-type>4</beat-type></time>{clefs}"
            f"{transpose if part == 'P3' else ''}</attributes>"
        )
    elif bar == 13:
        attributes = (
            "<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
        )
    if part == "P1":
        notes = _notes("A", 1 if bar > 12 else 2, length)
    elif part == "P2":
        notes = _notes("F", 1, length)
    elif part == "P3":
        notes = _notes("D", length, length)
    else:
        notes = f"<backup><duration>{length}</duration></backup>".join(
            f'<note><rest measure="yes"/><duration>{length}</duration>'
            f"<voice>{voice}</voice><staff>{staff}</staff></note>"
            for voice, staff in ((1, 1), (5, 2))
        )
    number = f'number="{bar}"' + (' implicit="yes"' if bar == 0 else "")
    return f"<measure {number}>{attributes}{notes}</measure>"


def _notes(step: str, each: int, length: int) -> str:
    kind = {
        1: "<type>eighth</type>",
        2: "<type>quarter</type>",
        6: "<type>half</type><dot/>",
        8: "<type>whole</type>",
    }[each]
    note = (
        f"<note><pitch><step>{step}</step><octave>4</octave></pitch>"
        f"<duration>{each}</duration><voice>1</voice>{kind}</note>"
    )
    return note * (length // each)


def place(view: ScoreView, bar: int, offset: Fraction | float, staff: int) -> QPoint:
    """Return where a moment of a bar stands on a staff, in the viewport."""
    for sheet, geometry in view.pages_seen():
        cells = geometry.cells
        rows = cells[(cells["bar"] == bar) & (cells["staff"] == staff)]
        if len(rows):
            middle = float(rows[0]["top"] + rows[0]["bottom"]) / 2
            x, y = sheet.to_desk(geometry.x_at(bar, offset), middle)
            ratio = view.devicePixelRatioF()
            return QPoint(round(x / ratio), round(y / ratio))
    raise AssertionError(f"bar {bar} is not on a page that is seen")


def move(
    view: ScoreView,
    to: QPoint,
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
    buttons: Qt.MouseButton = Qt.MouseButton.LeftButton,
) -> None:
    """Move the mouse over the viewport, with modifiers held."""
    at = QPointF(to)
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        at,
        QPointF(view.viewport().mapToGlobal(to)),
        Qt.MouseButton.NoButton,
        buttons,
        modifiers,
    )
    QApplication.sendEvent(view.viewport(), event)


def drag(
    qtbot: object,
    view: ScoreView,
    start: QPoint,
    end: QPoint,
    modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier,
) -> None:
    """Press the left button, move, and let go."""
    qtbot.mousePress(view.viewport(), Qt.MouseButton.LeftButton, modifiers, start)
    middle = (start + end) / 2
    move(view, middle, modifiers)
    move(view, end, modifiers)
    qtbot.mouseRelease(view.viewport(), Qt.MouseButton.LeftButton, modifiers, end)


def shown(region_id: str, *spans: Span, label: str = "", style: AreaStyle = BLUE) -> ShownRegion:
    return ShownRegion(region_id, spans, style, label)


def span(start: tuple, end: tuple, *staves: int) -> Span:
    return Span(Point(*start), Point(*end), staves)


def picture_of(view: ScoreView) -> np.ndarray:
    """Return what the viewport shows, as an array of height, width and blue-green-red."""
    image = view.viewport().grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return rows[:, : image.width() * 4].reshape(image.height(), image.width(), 4)[:, :, :3].copy()
