from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from stavelight.errors import StavelightError
from stavelight.window.notices import Notice, Notices, Remedy


@pytest.fixture
def strip(qtbot: QtBot) -> Notices:
    made = Notices()
    qtbot.addWidget(made)
    return made


def texts(notice: Notice) -> list[str]:
    return [label.text() for label in notice.findChildren(QLabel) if label.text()]


def test_an_error_is_told_in_its_three_parts(strip: Notices) -> None:
    strip.tell(StavelightError("It broke.", where="a.xml", remedy="Mend it."))
    assert texts(strip.shown[0]) == ["It broke.", "a.xml", "Mend it."]
    assert strip.shown[0].accessibleName() == "It broke. a.xml Mend it."


def test_the_same_error_stands_there_once(strip: Notices) -> None:
    for _ in range(3):
        strip.tell(StavelightError("It broke.", where="a.xml"))
    assert len(strip.shown) == 1


def test_the_strip_takes_no_room_when_all_is_read(qtbot: QtBot, strip: Notices) -> None:
    notice = strip.tell(StavelightError("It broke."))
    strip.show()
    assert strip.isVisible()
    qtbot.keyClick(notice, Qt.Key.Key_Escape)
    assert not strip.isVisible()
    assert strip.shown == ()


def test_a_remedy_is_done_once_and_closes_the_notice(qtbot: QtBot, strip: Notices) -> None:
    done: list[int] = []
    notice = strip.say("Question", buttons=[Remedy("Do it", lambda: done.append(1))])
    [button] = notice.findChildren(QPushButton)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert done == [1]
    assert strip.shown == ()


def test_a_standing_remark_is_replaced_and_lifted(strip: Notices) -> None:
    strip.keep("read only", "The layer is newer.")
    strip.keep("read only", "The layer is of another score.")
    for number in range(5):
        strip.tell(StavelightError(f"Fault {number}."))
    assert [notice.what for notice in strip.shown].count("The layer is of another score.") == 1
    assert "The layer is newer." not in [notice.what for notice in strip.shown]
    strip.lift("read only")
    assert "The layer is of another score." not in [notice.what for notice in strip.shown]


def test_only_the_latest_few_stay(strip: Notices) -> None:
    for number in range(10):
        strip.tell(StavelightError(f"Fault {number}."))
    assert [notice.what for notice in strip.shown] == ["Fault 9.", "Fault 8.", "Fault 7."]
