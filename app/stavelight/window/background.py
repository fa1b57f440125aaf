"""The one room that has slow work done elsewhere and brings back by signal what comes of it.

The UI thread only draws. What takes time runs in a thread, or, where it would hold the
interpreter lock for long, in a process of its own. Each piece of work belongs to a channel such as
"reading"; asking for new work in a channel makes the answers of older work in it stale, and stale
answers are dropped by their number.
"""

from __future__ import annotations

import itertools
import multiprocessing
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from multiprocessing.connection import Connection
from typing import Any, TypeVar, cast

from PySide6.QtCore import QObject, Qt, Signal

from stavelight.errors import Cancelled, StavelightError

_Result = TypeVar("_Result")

_LOOK_SECONDS = 0.05
"""How often the thread that waits for a process looks whether the work was cancelled."""


class Request:
    """One piece of work that was asked for.

    Attributes
    ----------
    channel
        What kind of work it is.
    number
        Rises with every request of the window.
    """

    def __init__(self, room: Background, channel: str, number: int) -> None:
        self._room = room
        self._cancelled = threading.Event()
        self.channel = channel
        self.number = number

    @property
    def is_cancelled(self) -> bool:
        """Whether nobody waits for the answer any more."""
        return self._cancelled.is_set()

    def cancel(self) -> None:
        """Give the work up: its answer will not come."""
        self._cancelled.set()

    def report(self, fraction: float, text: str = "") -> None:
        """Tell how far the work is; for the work itself, in its own thread.

        Parameters
        ----------
        fraction
            0 to 1; below 0 when it cannot be known.
        text
            What is being done now.

        Raises
        ------
        Cancelled
            If the work was given up meanwhile.
        """
        if self.is_cancelled:
            raise Cancelled
        self._room.post(lambda: self._room.tell_progress(self, fraction, text))


class Background(QObject):
    """Has work done in threads and processes.

    Signals
    -------
    progressed
        (channel, fraction, text), for the latest request of a channel.
    busy_changed
        A channel has become busy or free.
    """

    progressed = Signal(str, float, str)
    busy_changed = Signal(str)
    _arrived = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._numbers = itertools.count(1)
        self._latest: dict[str, Request] = {}
        self._closed = threading.Event()
        self._threads = ThreadPoolExecutor(max_workers=4, thread_name_prefix="background")
        self._arrived.connect(self._take_in, Qt.ConnectionType.QueuedConnection)

    def in_thread(
        self,
        channel: str,
        work: Callable[[Request], _Result],
        then: Callable[[_Result], None],
        otherwise: Callable[[StavelightError], None],
    ) -> Request:
        """Do something in a thread.

        Parameters
        ----------
        channel
            What kind of work it is; older work of that kind is cancelled.
        work
            What to do; it is handed the request, to tell its progress.
        then
            Called in the UI thread with the result.
        otherwise
            Called in the UI thread with an expected failure. Any other is raised there as a bug.
        """
        request = self._new_request(channel)
        self._follow(request, self._threads.submit(work, request), then, otherwise)
        return request

    def in_process(
        self,
        channel: str,
        work: Callable[..., _Result],
        *arguments: object,
        then: Callable[[_Result], None],
        otherwise: Callable[[StavelightError], None],
    ) -> Request:
        """Do something in a process of its own, which ends when the work is cancelled.

        Parameters
        ----------
        channel, then, otherwise
            As for :meth:`in_thread`.
        work
            A function of a module.
        arguments
            What to call it with.
        """

        def wait(request: Request) -> _Result:
            return cast(_Result, _ask_process(request, work, arguments))

        return self.in_thread(channel, wait, then, otherwise)

    def when_done(
        self,
        channel: str,
        future: Future[_Result],
        then: Callable[[_Result], None],
        otherwise: Callable[[StavelightError], None],
    ) -> Request:
        """Wait for something that is being done already; see :meth:`in_thread`."""
        request = self._new_request(channel)
        self._follow(request, future, then, otherwise)
        return request

    def is_busy(self, channel: str) -> bool:
        """Tell whether an answer is awaited in a channel."""
        return channel in self._latest

    def drop(self, *channels: str) -> None:
        """Give up whatever is being done in some channels."""
        for channel in channels:
            request = self._latest.pop(channel, None)
            if request is not None:
                request.cancel()
                self.busy_changed.emit(channel)

    def close(self) -> None:
        """Give up everything; calling it again does nothing."""
        self._closed.set()
        for request in self._latest.values():
            request.cancel()
        self._latest.clear()
        self._threads.shutdown(wait=True, cancel_futures=True)

    def post(self, call: Callable[[], None]) -> None:
        """Have something called in the UI thread, from any thread."""
        if not self._closed.is_set():
            self._arrived.emit(call)

    def tell_progress(self, request: Request, fraction: float, text: str) -> None:
        """Announce how far the latest request of a channel is."""
        if self._latest.get(request.channel) is request:
            self.progressed.emit(request.channel, fraction, text)

    def _new_request(self, channel: str) -> Request:
        before = self._latest.get(channel)
        if before is not None:
            before.cancel()
        request = Request(self, channel, next(self._numbers))
        self._latest[channel] = request
        self.busy_changed.emit(channel)
        return request

    def _follow(
        self,
        request: Request,
        future: Future[_Result],
        then: Callable[[_Result], None],
        otherwise: Callable[[StavelightError], None],
    ) -> None:
        def deliver(done: Future[_Result]) -> None:
            self.post(lambda: self._deliver(request, done, then, otherwise))

        future.add_done_callback(deliver)

    def _deliver(
        self,
        request: Request,
        done: Future[_Result],
        then: Callable[[_Result], None],
        otherwise: Callable[[StavelightError], None],
    ) -> None:
        if self._latest.get(request.channel) is not request:
            return  # stale
        del self._latest[request.channel]
        self.busy_changed.emit(request.channel)
        if request.is_cancelled or done.cancelled():
            return
        failure = done.exception()
        if failure is None:
            then(done.result())
        elif isinstance(failure, StavelightError):
            otherwise(failure)
        elif not isinstance(failure, Cancelled | CancelledError):
            raise failure

    def _take_in(self, call: Callable[[], None]) -> None:
        if not self._closed.is_set():
            call()


def _ask_process(request: Request, work: Callable[..., Any], arguments: tuple[object, ...]) -> Any:
    """Start a process for one piece of work and wait for what it says."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_work_alone, args=(theirs, work, arguments), daemon=True)
    process.start()
    theirs.close()
    try:
        while not ours.poll(_LOOK_SECONDS):
            if request.is_cancelled:
                raise Cancelled
        failure, result = ours.recv()
    except EOFError:
        raise StavelightError(
            "The work was broken off: its process ended without an answer.",
            remedy="Close other programs that take much memory, and try again.",
        ) from None
    finally:
        ours.close()
        if process.is_alive():
            process.terminate()
        process.join()
    if failure is not None:
        raise failure
    return result


def _work_alone(
    connection: Connection, work: Callable[..., Any], arguments: tuple[object, ...]
) -> None:
    """Do one piece of work and send back (error, None) or (None, result)."""
    try:
        answer: tuple[Exception | None, Any] = (None, work(*arguments))
    except StavelightError as error:
        answer = (error, None)
    except Exception:  # the edge of the process: a bug must reach the one who reports bugs
        answer = (RuntimeError(traceback.format_exc()), None)
    connection.send(answer)
