"""The whole path in the real window: open, mark, tag, comment, save, open again, export."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from pptx import Presentation
from PySide6.QtCore import QPoint, QSettings, Qt
from PySide6.QtWidgets import QLineEdit

from stavelight.delivery.slides import SlideOptions
from stavelight.engraving.engraver import Engraver
from stavelight.window.main_window import MainWindow

WAIT = 30_000


@pytest.fixture
def window(qtbot, settings: QSettings) -> Iterator[MainWindow]:
    window = MainWindow(settings, Engraver(workers=1))
    qtbot.addWidget(window)
    window.resize(1300, 900)
    window.show()
    yield window
    if window.session.desk.history is not None:
        window.session.desk.history.mark_saved()
    window.close()


def _open(qtbot, window: MainWindow, path: Path) -> None:
    with qtbot.waitSignal(window.session.score_read, timeout=WAIT):
        window.open(path)
    qtbot.waitUntil(lambda: window.session.desk.layer is not None, timeout=WAIT)
    engraved = window.session.engraved
    assert engraved is not None
    engraved.page(1).result(30)
    qtbot.wait(300)


def _draw(qtbot, window: MainWindow) -> None:
    """Drag with the mouse over the flute and oboe, somewhere on the first page."""
    area = window.view.findChild(object, "page_area") or window.view
    target = area.viewport() if hasattr(area, "viewport") else area
    middle = target.rect().center()
    for start in (QPoint(-120, -150), QPoint(-120, -60), QPoint(-150, 20)):
        first, last = middle + start, middle + start + QPoint(220, 40)
        qtbot.mousePress(target, Qt.MouseButton.LeftButton, pos=first)
        for step in range(1, 6):
            qtbot.mouseMove(target, first + (last - first) * step / 5)
        qtbot.mouseRelease(target, Qt.MouseButton.LeftButton, pos=last)
        if window.session.desk.regions():
            return
    pytest.fail("no region was drawn")


def _type_tag(qtbot, window: MainWindow, letters: str) -> None:
    """Type part of a tag's name where the picker waits for it."""
    line = window.display.region_panel.tags.findChild(QLineEdit)
    qtbot.keyClicks(line, letters)
    qtbot.keyClick(line, Qt.Key.Key_Return)


def test_from_the_score_to_slides_and_back(qtbot, window, small_score, tmp_path):
    before = hashlib.sha256(small_score.read_bytes()).hexdigest()
    _open(qtbot, window, small_score)
    assert window.session.score.sha256 == before
    _draw(qtbot, window)
    desk = window.session.desk
    (region,) = desk.regions()
    assert desk.selected == region

    _type_tag(qtbot, window, "melod")
    assert desk.regions()[0].tags == ("melody",)
    window.display.begin_entry()
    entry = desk.chosen_entry
    assert entry is not None
    window.display.entries.set_text(entry.id, "The flute *leads*.")
    assert desk.layer.entries[0].text == "The flute *leads*."

    with qtbot.waitSignal(window.session.saved, timeout=WAIT) as saved:
        window.actions_["save"].trigger()
    layer_path = saved.args[0]
    assert layer_path == small_score.with_name(small_score.stem + ".layer.json")
    written = json.loads(layer_path.read_text("utf-8"))
    assert written["score"]["sha256"] == before
    assert written["regions"][0]["tags"] == ["melody"]
    assert hashlib.sha256(small_score.read_bytes()).hexdigest() == before

    kept = desk.layer
    with qtbot.waitSignal(window.session.closed, timeout=WAIT):
        window.actions_["close"].trigger()
    _open(qtbot, window, small_score)
    assert desk.layer.regions == kept.regions
    assert desk.layer.entries == kept.entries
    _export_and_check(window, tmp_path / "lesson.pptx")


def _export_and_check(window: MainWindow, output: Path) -> None:
    from stavelight.delivery.slides import export_slides

    session, desk = window.session, window.session.desk
    export_slides(
        session.score, desk.layer, desk.vocabulary, session.engraved, output, options=SlideOptions()
    )
    deck = Presentation(str(output))
    assert len(deck.slides) >= 2
    slide = deck.slides[1]
    assert any(shape.shape_type is not None for shape in slide.shapes)
    assert "flute" in slide.notes_slide.notes_text_frame.text


def test_everything_can_be_undone_and_redone(qtbot, window, small_score):
    _open(qtbot, window, small_score)
    _draw(qtbot, window)
    _type_tag(qtbot, window, "bass")
    desk = window.session.desk
    marked = desk.layer
    while desk.history.undo_name:
        window.actions_["undo"].trigger()
    assert desk.regions() == ()
    while desk.history.redo_name:
        window.actions_["redo"].trigger()
    assert desk.layer.regions == marked.regions
    window.actions_["delete_region"].trigger()
    assert len(desk.regions()) <= 1


def test_a_broken_file_is_told_and_what_was_open_stays(qtbot, window, small_score, tmp_path):
    _open(qtbot, window, small_score)
    broken = tmp_path / "broken.musicxml"
    broken.write_text("<score-partwise><part-list>")
    with qtbot.waitSignal(window.session.failed, timeout=WAIT) as failed:
        window.open(broken)
    assert "broken.musicxml" in failed.args[0].where
    assert window.session.score_path == small_score


def test_a_layer_of_a_newer_format_is_shown_and_never_written(qtbot, window, small_score):
    layer = small_score.with_name(small_score.stem + ".layer.json")
    digest = hashlib.sha256(small_score.read_bytes()).hexdigest()
    layer.write_text(
        json.dumps({"format_version": 99, "score": {"sha256": digest, "file_name": "x"}})
    )
    before = layer.read_bytes()
    _open(qtbot, window, small_score)
    assert window.session.read_only_reason
    window.actions_["save"].trigger()
    qtbot.wait(100)
    assert layer.read_bytes() == before


def test_layouts_and_the_map(qtbot, window, small_score):
    _open(qtbot, window, small_score)
    with qtbot.waitSignal(window.session.pages_laid_out, timeout=WAIT):
        window.actions_["sounding_pitch"].trigger()
    assert window.session.engraved.layout.sounding_pitch
    whole = window.whole.map
    assert whole.isVisible()
    qtbot.waitUntil(lambda: whole._visible is not None, timeout=WAIT)
    with qtbot.waitSignal(whole.bar_chosen):
        place = whole._frame().rectangle(20, 21, 1, 1).center().toPoint()
        qtbot.mouseClick(whole, Qt.MouseButton.LeftButton, pos=place)
    window.actions_["show_map"].trigger()
    assert not whole.isVisible()
