"""Engraving in other processes: nothing is lost with a process."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from engraving.small_scores import small_score
from stavelight.engraving.engraver import SOME_TIME, Engraver
from stavelight.engraving.page_maker import ExcerptRequest
from stavelight.engraving.paper import PageLayout
from stavelight.errors import EngravingError, ScoreFileError

WAIT_SECONDS = 60


@pytest.fixture(scope="module")
def engraver():
    engraver = Engraver(workers=1)
    yield engraver
    engraver.close()


@pytest.fixture
def score_path(tmp_path: Path) -> Path:
    path = tmp_path / "small.musicxml"
    path.write_bytes(small_score(40))
    return path


def test_pages_come_from_another_process(engraver, score_path):
    score = engraver.open(score_path)
    plan, page = score.first.result(WAIT_SECONDS)
    assert len(plan.pages) == 1
    assert page.number == 1
    whole = score.plan.result(WAIT_SECONDS)
    assert whole.pages[0] == plan.pages[0]
    second = score.page(2).result(WAIT_SECONDS)
    assert second.number == 2
    assert score.page(2).result(0) is second  # kept
    assert os.getpid() not in engraver.process_ids
    with pytest.raises(IndexError):
        score.page(len(whole.pages) + 1)


def test_excerpts(engraver, score_path):
    score = engraver.open(score_path)
    excerpt = score.excerpt(ExcerptRequest(range(2, 4), (0,), 200.0, 60.0)).result(WAIT_SECONDS)
    assert excerpt.geometry.first_bar == 2


def test_another_layout_of_the_same_score(engraver, score_path):
    upright = engraver.open(score_path).plan.result(WAIT_SECONDS)
    level = engraver.open(score_path, PageLayout(landscape=True)).plan.result(WAIT_SECONDS)
    assert (level.width, level.height) == (upright.height, upright.width)


def test_a_killed_process_is_replaced_and_its_job_done(engraver, score_path):
    score = engraver.open(score_path)
    score.plan.result(WAIT_SECONDS)
    (before,) = engraver.process_ids
    os.kill(before, signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    page = score.page(1).result(WAIT_SECONDS)
    assert page.number == 1
    assert engraver.process_ids != (before,)


def test_a_job_that_takes_too_long_is_given_up(score_path):
    engraver = Engraver(workers=1, patience_seconds=0.0)
    try:
        failure = engraver.open(score_path).first.exception(WAIT_SECONDS)
        assert isinstance(failure, EngravingError)
        assert "too long" in failure.what
    finally:
        engraver.close()


def test_a_broken_file_is_told_in_three_parts(engraver, tmp_path):
    path = tmp_path / "broken.musicxml"
    path.write_text("<score-partwise><part-list>")
    failure = engraver.open(path).first.exception(WAIT_SECONDS)
    assert isinstance(failure, ScoreFileError)
    assert failure.what
    assert "broken.musicxml" in failure.where
    assert failure.remedy


def test_a_missing_file_is_told_at_once(engraver, tmp_path):
    with pytest.raises(EngravingError, match="cannot be read"):
        engraver.open(tmp_path / "nowhere.musicxml")


def test_a_file_that_changed_is_noticed(engraver, score_path):
    score = engraver.open(score_path)
    score.plan.result(WAIT_SECONDS)
    other = score_path.with_name("other.musicxml")
    other.write_bytes(small_score(3))
    engraver.open(other).plan.result(WAIT_SECONDS)
    score_path.write_bytes(small_score(10))
    failure = score.page(1).exception(WAIT_SECONDS)
    assert isinstance(failure, EngravingError)
    assert "changed" in failure.what


def test_waiting_jobs_can_be_dropped(engraver, score_path):
    score = engraver.open(score_path)
    plan = score.plan.result(WAIT_SECONDS)
    futures = [score.page(page.number, SOME_TIME) for page in plan.pages]
    score.close()
    deadline = time.monotonic() + WAIT_SECONDS
    while not all(future.done() for future in futures) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert any(future.cancelled() for future in futures)


def test_after_closing_nothing_is_taken(score_path):
    engraver = Engraver(workers=1)
    score = engraver.open(score_path)
    score.first.result(WAIT_SECONDS)
    engraver.close()
    engraver.close()
    assert score.excerpt(ExcerptRequest(range(1), (0,), 100, 50)).cancelled()
