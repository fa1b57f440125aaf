"""Get engraved pages for the view: ask the engraver, go on, and be told by signal."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from stavelight.engraving.engraver import AT_ONCE, SOON, EngravedScore
from stavelight.engraving.page_maker import EngravedPage
from stavelight.engraving.page_plan import ScorePlan
from stavelight.errors import StavelightError

_KEPT_PAGES = 12


class _Post(QObject):
    """Carries what comes in other threads over to the UI thread.

    It has no parent and no slots: the callbacks of futures own it, and may outlive the window.
    """

    arrived = Signal(object)


@dataclass(frozen=True, slots=True)
class _Letter:
    opening: int
    kind: str
    number: int
    future: Future[Any]


class PageSupply(QObject):
    """The pages of the score that is shown, as far as they are engraved.

    Attributes
    ----------
    plan
        Of all pages; of the first alone while the rest is being planned; None before that.
    is_planned
        Whether the plan is that of all pages.

    Signals
    -------
    planned
        The plan, or more of it, is known.
    page_arrived
        (number) A page that was asked for is there.
    page_failed
        (number, StavelightError) A page cannot be engraved. Number 1 also stands for a score of
        which nothing can be engraved.
    """

    planned = Signal()
    page_arrived = Signal(int)
    page_failed = Signal(int, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._post = _Post()
        self._post.arrived.connect(self._take_in, Qt.ConnectionType.QueuedConnection)
        self._engraved: EngravedScore | None = None
        self._opening = 0
        self._pages: dict[int, EngravedPage] = {}
        self._errors: dict[int, StavelightError] = {}
        self._asked: set[int] = set()
        self.plan: ScorePlan | None = None
        self.is_planned = False

    @property
    def engraved(self) -> EngravedScore | None:
        """The score that pages come from."""
        return self._engraved

    @property
    def page_count(self) -> int:
        """How many pages there are; 0 while that is not known."""
        return len(self.plan.pages) if self.plan and self.is_planned else 0

    def open(self, engraved: EngravedScore | None) -> None:
        """Show another score; what still comes for the one before is dropped."""
        self._opening += 1
        self._engraved = engraved
        self._pages.clear()
        self._errors.clear()
        self._asked.clear()
        self.plan, self.is_planned = None, False
        if engraved is not None:
            self._follow("first", 1, engraved.first)
            self._follow("plan", 1, engraved.plan)

    def page(self, number: int) -> EngravedPage | None:
        """Return a page if it is there."""
        page = self._pages.pop(number, None)
        if page is not None:
            self._pages[number] = page  # the last to be forgotten
        return page

    def error(self, number: int) -> StavelightError | None:
        """Return why a page cannot be shown, if so."""
        return self._errors.get(number)

    def ask(self, looked_at: Iterable[int], soon: Iterable[int] = ()) -> None:
        """Ask for pages that are looked at, and for those that may be next."""
        if self._engraved is None or not self.is_planned:
            return
        for numbers, urgency in ((looked_at, AT_ONCE), (soon, SOON)):
            for number in numbers:
                if number in self._pages or number in self._errors:
                    continue
                if not 1 <= number <= self.page_count:
                    continue
                future = self._engraved.page(number, urgency)
                if future.done() and not future.cancelled() and future.exception() is None:
                    self._keep(number, future.result())
                elif number not in self._asked:
                    self._asked.add(number)
                    self._follow("page", number, future)

    def retry(self, number: int) -> None:
        """Ask once more for a page that failed."""
        self._errors.pop(number, None)
        self.ask([number])

    def _follow(self, kind: str, number: int, future: Future[Any]) -> None:
        post, opening = self._post, self._opening
        future.add_done_callback(
            lambda done: post.arrived.emit(_Letter(opening, kind, number, done))
        )

    def _take_in(self, letter: _Letter) -> None:
        if letter.opening != self._opening:
            return
        if letter.kind == "page":
            self._asked.discard(letter.number)
        if letter.future.cancelled():
            return
        failure = letter.future.exception()
        if isinstance(failure, StavelightError):
            known = self._errors.get(letter.number)
            self._errors[letter.number] = failure
            if known is None or str(known) != str(failure):
                self.page_failed.emit(letter.number, failure)
        elif failure is not None:
            raise failure
        elif letter.kind == "first":
            plan, page = letter.future.result()
            if not self.is_planned:
                self.plan = plan
            self._keep(1, page)
            self.planned.emit()
            self.page_arrived.emit(1)
        elif letter.kind == "plan":
            self.plan, self.is_planned = letter.future.result(), True
            self.planned.emit()
        else:
            self._keep(letter.number, letter.future.result())
            self.page_arrived.emit(letter.number)

    def _keep(self, number: int, page: EngravedPage) -> None:
        self._errors.pop(number, None)
        self._pages.pop(number, None)
        self._pages[number] = page
        while len(self._pages) > _KEPT_PAGES:
            del self._pages[next(iter(self._pages))]
