"""Pages on disk: the same when they come back, and never in the way."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from engraving.small_scores import small_score
from stavelight.engraving.engraver import Engraver
from stavelight.engraving.page_maker import ExcerptRequest, PageMaker
from stavelight.engraving.page_store import PageStore, key_of
from stavelight.engraving.paper import PageLayout

WAIT_SECONDS = 60


@pytest.fixture
def store(tmp_path: Path) -> PageStore:
    return PageStore(tmp_path / "pages")


def _entries(store: PageStore) -> list[Path]:
    return sorted(store.folder.iterdir())


def test_pages_and_plans_come_back_as_they_were(small, store):
    maker = PageMaker(small, PageLayout())
    plan = maker.plan()
    page = maker.page(plan.pages[0])
    store.keep("both", (plan, page))
    plan_again, page_again = store.find("both")
    assert plan_again == plan
    assert page_again.svg == page.svg
    assert page_again.number == page.number
    for name in ("cells", "notes", "moments"):
        assert np.array_equal(getattr(page_again.geometry, name), getattr(page.geometry, name))
    for name in ("systems", "note_ids", "bar_lengths", "width", "height"):
        assert getattr(page_again.geometry, name) == getattr(page.geometry, name)


def test_what_is_not_there_is_none(store):
    assert store.find("nothing") is None


@pytest.mark.parametrize("damage", [lambda raw: raw[:50], lambda raw: b"", lambda raw: b"x" + raw])
def test_damaged_entries_are_thrown_away(small, store, damage):
    store.keep("plan", PageMaker(small, PageLayout()).plan())
    (entry,) = _entries(store)
    entry.write_bytes(damage(entry.read_bytes()))
    assert store.find("plan") is None
    assert _entries(store) == []


def test_what_was_not_used_for_longest_goes_first(small, store):
    plan = PageMaker(small, PageLayout()).plan()
    for number, name in enumerate("abc"):
        store.keep(name, plan)
        os.utime(store._path(name), (1000 + number, 1000 + number))
    store.find("a")
    store.largest = 2 * _entries(store)[0].stat().st_size
    store.trim()
    assert [store.find(name) is not None for name in "abc"] == [True, False, True]


def test_keys_tell_apart_all_that_matters():
    keys = {
        key_of("digest", PageLayout(), 1),
        key_of("other", PageLayout(), 1),
        key_of("digest", PageLayout(landscape=True), 1),
        key_of("digest", PageLayout(), 2),
    }
    assert len(keys) == 4


def test_a_folder_that_cannot_be_written_is_no_matter(small, tmp_path):
    (tmp_path / "file").write_text("in the way")
    store = PageStore(tmp_path / "file" / "pages")
    store.keep("plan", PageMaker(small, PageLayout()).plan())
    assert store.find("plan") is None


def test_a_second_engraver_finds_the_pages_of_the_first(store, tmp_path):
    path = tmp_path / "small.musicxml"
    path.write_bytes(small_score(12))
    answers = []
    for _ in range(2):
        engraver = Engraver(workers=1, store=store)
        score = engraver.open(path)
        first = score.first.result(WAIT_SECONDS)
        excerpt = score.excerpt(ExcerptRequest(range(2), (0,), 100, 50)).result(WAIT_SECONDS)
        answers.append((first[0], first[1].svg, excerpt.svg))
        engraver.close()
        entries = len(_entries(store))
    assert answers[0] == answers[1]
    assert entries >= 3
    path.write_bytes(small_score(13))
    engraver = Engraver(workers=1, store=store)
    plan = engraver.open(path).plan.result(WAIT_SECONDS)
    engraver.close()
    assert plan.pages[-1].bars.stop == 13
