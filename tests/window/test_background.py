from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future

import pytest
from PySide6.QtCore import QThread
from pytestqt.qtbot import QtBot

from stavelight.errors import ScoreFileError, StavelightError
from stavelight.window.background import Background, Request


@pytest.fixture
def room(qtbot: QtBot) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


def refuse(error: StavelightError) -> None:
    raise AssertionError(error)


def test_work_runs_elsewhere_and_its_result_comes_back_in_the_ui_thread(
    qtbot: QtBot, room: Background
) -> None:
    seen: list[tuple[object, bool]] = []
    here = QThread.currentThread()

    def then(result: object) -> None:
        seen.append((result, QThread.currentThread() is here))

    room.in_thread("reading", lambda _: threading.get_ident(), then, refuse)
    qtbot.waitUntil(lambda: bool(seen))
    [(worker, is_here)] = seen
    assert worker != threading.get_ident()
    assert is_here


def test_an_older_answer_is_dropped_even_if_it_comes_later(qtbot: QtBot, room: Background) -> None:
    go_on = threading.Event()
    seen: list[str] = []

    def slow(_: Request) -> str:
        go_on.wait(5)
        return "old"

    room.in_thread("reading", slow, seen.append, refuse)
    room.in_thread("reading", lambda _: "new", seen.append, refuse)
    qtbot.waitUntil(lambda: seen == ["new"])
    go_on.set()
    room.in_thread("another", lambda _: "marker", seen.append, refuse)
    qtbot.waitUntil(lambda: "marker" in seen)
    qtbot.wait(50)
    assert "old" not in seen


def test_channels_do_not_disturb_each_other(qtbot: QtBot, room: Background) -> None:
    seen: list[str] = []
    room.in_thread("reading", lambda _: "score", seen.append, refuse)
    room.in_thread("saving", lambda _: "layer", seen.append, refuse)
    qtbot.waitUntil(lambda: sorted(seen) == ["layer", "score"])


def fail(_: Request) -> None:
    raise ScoreFileError("This is not a score.", where="x.xml", remedy="Take another.")


def test_an_expected_failure_is_handed_over_with_its_three_parts(
    qtbot: QtBot, room: Background
) -> None:
    seen: list[StavelightError] = []
    room.in_thread("reading", fail, lambda _: None, seen.append)
    qtbot.waitUntil(lambda: bool(seen))
    assert (seen[0].what, seen[0].where, seen[0].remedy) == (
        "This is not a score.",
        "x.xml",
        "Take another.",
    )


def test_a_bug_is_raised_in_the_ui_thread(qtbot: QtBot, room: Background) -> None:
    with qtbot.captureExceptions() as caught:
        room.in_thread("reading", lambda _: 1 // 0, lambda _: None, refuse)
        qtbot.waitUntil(lambda: bool(caught))
    assert caught[0][0] is ZeroDivisionError


def test_progress_is_told_and_cancelling_stops_the_work(qtbot: QtBot, room: Background) -> None:
    stopped = threading.Event()
    told: list[tuple[str, float, str]] = []
    room.progressed.connect(lambda *what: told.append(what))

    def long(request: Request) -> None:
        try:
            while True:
                request.report(0.5, "half way")
                time.sleep(0.01)
        finally:
            stopped.set()

    room.in_thread("exporting", long, refuse, refuse)  # type: ignore[arg-type]
    qtbot.waitUntil(lambda: ("exporting", 0.5, "half way") in told)
    assert room.is_busy("exporting")
    room.drop("exporting")
    assert not room.is_busy("exporting")
    assert stopped.wait(5)


def test_work_in_a_process(qtbot: QtBot, room: Background) -> None:
    seen: list[int] = []
    room.in_process("reading", os.getpid, then=seen.append, otherwise=refuse)
    qtbot.waitUntil(lambda: bool(seen), timeout=20_000)
    assert seen[0] != os.getpid()


def test_a_process_ends_when_its_work_is_given_up(qtbot: QtBot, room: Background) -> None:
    import multiprocessing

    seen: list[object] = []
    before = set(multiprocessing.active_children())  # engravers of other tests

    def works() -> bool:
        return bool(set(multiprocessing.active_children()) - before)

    room.in_process("reading", time.sleep, 60, then=seen.append, otherwise=seen.append)
    qtbot.waitUntil(works, timeout=10_000)
    room.drop("reading")
    qtbot.waitUntil(lambda: not works(), timeout=10_000)
    assert not seen


def test_a_process_that_dies_is_an_expected_failure(qtbot: QtBot, room: Background) -> None:
    seen: list[StavelightError] = []
    room.in_process("reading", os._exit, 3, then=refuse, otherwise=seen.append)  # type: ignore[arg-type]
    qtbot.waitUntil(lambda: bool(seen), timeout=20_000)
    assert "broken off" in seen[0].what


def test_a_future_of_somebody_else_is_bridged(qtbot: QtBot, room: Background) -> None:
    future: Future[str] = Future()
    seen: list[str] = []
    room.when_done("page", future, seen.append, refuse)
    threading.Thread(target=lambda: future.set_result("engraved")).start()
    qtbot.waitUntil(lambda: seen == ["engraved"])


def test_nothing_comes_after_closing(qtbot: QtBot, room: Background) -> None:
    seen: list[object] = []
    future: Future[str] = Future()
    room.when_done("page", future, seen.append, refuse)
    room.close()
    future.set_result("too late")
    qtbot.wait(50)
    assert not seen
