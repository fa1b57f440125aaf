"""Engrave in other processes: ask for a page, go on, and be told when it is there."""

from __future__ import annotations

import hashlib
import heapq
import itertools
import multiprocessing
import threading
from collections import OrderedDict
from concurrent.futures import Future
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from stavelight.engraving.page_maker import EngravedPage, ExcerptRequest
from stavelight.engraving.page_plan import ScorePlan
from stavelight.engraving.page_store import PageStore, key_of
from stavelight.engraving.paper import PageLayout
from stavelight.engraving.worker import (
    ExcerptJob,
    FirstPageJob,
    Job,
    Opening,
    PageJob,
    PlanJob,
    serve,
    stamp_of,
)
from stavelight.errors import EngravingError

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

AT_ONCE = 0
SOON = 1
SOME_TIME = 2
"""How urgent a page is: somebody looks at it, it is next to such a one, or neither."""

_PATIENCE_SECONDS = 60.0
_KEPT_PAGES = 48


@dataclass(order=True)
class _Order:
    urgency: int
    number: int
    opening: Opening = field(compare=False)
    job: Job = field(compare=False)
    future: Future[Any] = field(compare=False)
    taken: bool = field(default=False, compare=False)


class Engraver:
    """A few processes that engrave, and the jobs that wait for them.

    Answers come as futures; their callbacks run in threads of the engraver. A process that
    crashes or hangs is replaced and its job tried once more, then given up.

    Parameters
    ----------
    workers
        How many processes.
    patience_seconds
        How long a job may take before its process is replaced.
    store
        Where pages are kept on disk; None: nowhere.
    """

    def __init__(
        self,
        *,
        workers: int = 1,
        patience_seconds: float = _PATIENCE_SECONDS,
        store: PageStore | None = None,
    ) -> None:
        self._patience_seconds = patience_seconds
        self._store = store
        self._digests: dict[tuple[Path, tuple[int, int]], str] = {}
        self._waiting: list[_Order] = []
        self._changed = threading.Condition()
        self._numbers = itertools.count()
        self._closed = False
        self._hands = [_Hand(self) for _ in range(workers)]

    def open(self, path: Path, layout: PageLayout | None = None) -> EngravedScore:
        """Return a score whose pages can be asked for.

        Raises
        ------
        EngravingError
            If the file is not there.
        """
        path = path.resolve()
        return EngravedScore(self, Opening(path, stamp_of(path), layout or PageLayout()))

    def submit(self, opening: Opening, job: Job, urgency: int) -> tuple[Future[Any], _Order]:
        """Put a job among those that wait."""
        order = _Order(urgency, next(self._numbers), opening, job, Future())
        with self._changed:
            if self._closed:
                order.future.cancel()
            else:
                heapq.heappush(self._waiting, order)
                self._changed.notify()
        return order.future, order

    def hasten(self, order: _Order, urgency: int) -> None:
        """Move a waiting job forward."""
        with self._changed:
            if not order.taken and urgency < order.urgency:
                order.urgency = urgency
                heapq.heapify(self._waiting)

    def forget(self, opening: Opening) -> None:
        """Cancel all jobs that wait for one score."""
        with self._changed:
            dropped = [order for order in self._waiting if order.opening == opening]
            self._waiting = [order for order in self._waiting if order.opening != opening]
            heapq.heapify(self._waiting)
        for order in dropped:
            order.future.cancel()

    def take(self) -> _Order | None:
        """Wait for the most urgent job; None when the engraver is closed."""
        with self._changed:
            while not self._closed:
                while self._waiting:
                    order = heapq.heappop(self._waiting)
                    order.taken = True
                    if order.future.set_running_or_notify_cancel():
                        return order
                self._changed.wait()
        return None

    def kept(self, order: _Order) -> tuple[str, Any]:
        """Return the key of a job's answer in the store, and the answer if it is there."""
        if self._store is None:
            return "", None
        opening = order.opening
        file = (opening.path, opening.stamp)
        digest = self._digests.get(file)
        if digest is None:
            try:
                digest = hashlib.sha256(opening.path.read_bytes()).hexdigest()
            except OSError:
                return "", None
            self._digests[file] = digest
        key = key_of(digest, opening.layout, order.job)
        return key, self._store.find(key)

    def keep(self, key: str, answer: Any) -> None:
        """Put an answer into the store."""
        if self._store is not None and key:
            self._store.keep(key, answer)

    @property
    def patience_seconds(self) -> float:
        """How long a job may take."""
        return self._patience_seconds

    @property
    def process_ids(self) -> tuple[int, ...]:
        """The ids of the processes that engrave at this moment."""
        return tuple(pid for hand in self._hands if (pid := hand.process_id) is not None)

    def close(self) -> None:
        """Cancel what waits and end the processes; calling it again does nothing."""
        with self._changed:
            dropped, self._waiting = self._waiting, []
            self._closed = True
            self._changed.notify_all()
        for order in dropped:
            order.future.cancel()
        for hand in self._hands:
            hand.close()


class _Hand:
    """One process and the thread that talks to it."""

    def __init__(self, engraver: Engraver) -> None:
        self._engraver = engraver
        self._process: SpawnProcess | None = None
        self._connection: Connection | None = None
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="engraving", daemon=True)
        self._thread.start()

    @property
    def process_id(self) -> int | None:
        process = self._process
        return process.pid if process is not None else None

    def _run(self) -> None:
        self._start()
        while (order := self._engraver.take()) is not None:
            key, kept = self._engraver.kept(order)
            if kept is not None:
                order.future.set_result(kept)
                continue
            for attempt in (1, 2):
                try:
                    error, answer = self._ask(order)
                except (EOFError, OSError) as failure:
                    self._stop()
                    if self._closing:
                        order.future.set_exception(EngravingError("Engraving was stopped."))
                        return
                    self._start()
                    if attempt == 2:
                        order.future.set_exception(_given_up(order, failure))
                    continue
                if error is not None:
                    order.future.set_exception(error)
                else:
                    order.future.set_result(answer)
                    self._engraver.keep(key, answer)
                break
        self._stop()

    def _ask(self, order: _Order) -> tuple[Exception | None, Any]:
        connection = cast(Connection, self._connection)
        connection.send((order.opening, order.job))
        if not connection.poll(self._engraver.patience_seconds):
            raise TimeoutError("no answer")
        return cast("tuple[Exception | None, Any]", connection.recv())

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._process = context.Process(target=serve, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        self._connection = ours

    def _stop(self) -> None:
        if self._connection is not None:
            self._connection.close()
        process = self._process
        if process is not None and process.is_alive():
            process.terminate()
            process.join(timeout=2)
            if process.is_alive():
                process.kill()
                process.join()

    def close(self) -> None:
        self._closing = True
        process = self._process
        if process is not None and process.is_alive():
            process.terminate()
        self._thread.join(timeout=5)


def _given_up(order: _Order, failure: Exception) -> EngravingError:
    job = order.job
    what = "This score"
    if isinstance(job, PageJob):
        what = f"Page {job.plan.number}"
    elif isinstance(job, ExcerptJob):
        what = "This excerpt"
    reason = "took too long" if isinstance(failure, TimeoutError) else "made the engraver stop"
    return EngravingError(
        f"{what} {reason}, twice.",
        where=order.opening.path.name,
        remedy="Try again, or show fewer parts.",
    )


class EngravedScore:
    """One score in one layout, engraved page by page.

    Parameters
    ----------
    engraver
        Who does the work.
    opening
        The score and the layout.

    Attributes
    ----------
    first
        The plan of the first page alone, and that page.
    plan
        The plan of all pages.
    """

    def __init__(self, engraver: Engraver, opening: Opening) -> None:
        self._engraver = engraver
        self._opening = opening
        self._kept: OrderedDict[int, EngravedPage] = OrderedDict()
        self._under_way: dict[int, tuple[Future[EngravedPage], _Order]] = {}
        self._lock = threading.Lock()
        first, _ = engraver.submit(opening, FirstPageJob(), AT_ONCE)
        self.first: Future[tuple[ScorePlan, EngravedPage]] = first
        plan, _ = engraver.submit(opening, PlanJob(), SOON)
        self.plan: Future[ScorePlan] = plan

    @property
    def path(self) -> Path:
        """The score file."""
        return self._opening.path

    @property
    def layout(self) -> PageLayout:
        """The layout."""
        return self._opening.layout

    def page(self, number: int, urgency: int = AT_ONCE) -> Future[EngravedPage]:
        """Return a page, by its number from 1; waits for the plan of all pages if need be.

        Raises
        ------
        IndexError
            If there is no such page.
        """
        plan = self.plan.result()
        if not 1 <= number <= len(plan.pages):
            raise IndexError(f"there is no page {number}")
        with self._lock:
            if number in self._kept:
                self._kept.move_to_end(number)
                done: Future[EngravedPage] = Future()
                done.set_result(self._kept[number])
                return done
            if number in self._under_way:
                future, order = self._under_way[number]
                if not future.cancelled():
                    self._engraver.hasten(order, urgency)
                    return future
            job = PageJob(plan.pages[number - 1], number == len(plan.pages))
            future, order = self._engraver.submit(self._opening, job, urgency)
            self._under_way[number] = (future, order)
        future.add_done_callback(lambda done: self._keep(number, done))
        return future

    def _keep(self, number: int, done: Future[EngravedPage]) -> None:
        with self._lock:
            self._under_way.pop(number, None)
            if not done.cancelled() and done.exception() is None:
                self._kept[number] = done.result()
                while len(self._kept) > _KEPT_PAGES:
                    self._kept.popitem(last=False)

    def engrave_all(self) -> None:
        """Ask for all pages, when nothing else is to be done, so that they lie in the store."""
        for page in self.plan.result().pages:
            self.page(page.number, SOME_TIME)

    def excerpt(self, request: ExcerptRequest, urgency: int = AT_ONCE) -> Future[EngravedPage]:
        """Return an excerpt."""
        future, _ = self._engraver.submit(self._opening, ExcerptJob(request), urgency)
        return future

    def close(self) -> None:
        """Cancel all that waits for this score."""
        self._engraver.forget(self._opening)
