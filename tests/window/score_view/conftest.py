"""Really engraved pages in a really shown view."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from stavelight.engraving.engraver import EngravedScore, Engraver
from stavelight.engraving.paper import PageLayout
from stavelight.score.reading import read_score
from stavelight.score.structure import Score
from stavelight.window.score_view import ScoreView
from window.view_score import (
    view_score_text,
)

WAIT_MILLISECONDS = 20_000


@pytest.fixture(scope="module")
def score_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("view") / "two metres.musicxml"
    path.write_text(view_score_text(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def score(score_path: Path) -> Score:
    return read_score(score_path)


@pytest.fixture(scope="module")
def engraver() -> Iterator[Engraver]:
    engraver = Engraver(workers=1)
    yield engraver
    engraver.close()


@pytest.fixture(scope="module")
def engraved(engraver: Engraver, score_path: Path) -> EngravedScore:
    """Three or four pages of two systems, so that a region can go over both."""
    return engraver.open(score_path, PageLayout(paper="A4", staff_height=9.0))


@pytest.fixture
def settle(qtbot) -> Callable[[ScoreView], None]:
    """Wait until a view shows everything sharply."""
    return lambda view: qtbot.waitUntil(lambda: view.is_settled, timeout=WAIT_MILLISECONDS)


@pytest.fixture
def view(qtbot, engraved, score, settle) -> ScoreView:
    view = ScoreView()
    qtbot.addWidget(view)
    view.resize(900, 1100)
    view.show()
    view.set_score(engraved, score)
    settle(view)
    qtbot.waitUntil(lambda: view._supply.page_count > 1, timeout=WAIT_MILLISECONDS)
    return view
