"""What runs in an engraving process: it waits for jobs and answers them one by one.

verovio holds the interpreter lock while it works, so it must not share a process with the window.
A job says which score and layout it is for; a process that was just started, or that has another
score open, opens it first. So nothing is lost with a process.
"""

from __future__ import annotations

import signal
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from stavelight.engraving.page_maker import EngravedPage, ExcerptRequest, PageMaker
from stavelight.engraving.page_plan import PagePlan, ScorePlan
from stavelight.engraving.paper import PageLayout
from stavelight.errors import EngravingError, StavelightError


@dataclass(frozen=True, slots=True)
class Opening:
    """A score file in a layout.

    Attributes
    ----------
    path
        The file.
    stamp
        Size and time of change of the file, to notice that it is another one now.
    layout
        How to lay it out.
    """

    path: Path
    stamp: tuple[int, int]
    layout: PageLayout


@dataclass(frozen=True, slots=True)
class FirstPageJob:
    """Plan the first page and make it."""


@dataclass(frozen=True, slots=True)
class PlanJob:
    """Plan all pages."""


@dataclass(frozen=True, slots=True)
class PageJob:
    """Make one page."""

    plan: PagePlan
    is_last: bool


@dataclass(frozen=True, slots=True)
class ExcerptJob:
    """Make an excerpt."""

    request: ExcerptRequest


Job = FirstPageJob | PlanJob | PageJob | ExcerptJob
Answer = tuple[ScorePlan, EngravedPage] | ScorePlan | EngravedPage


class Bench:
    """Does jobs, and keeps the score of the last one open."""

    def __init__(self) -> None:
        self._opening: Opening | None = None
        self._maker: PageMaker | None = None

    def do(self, opening: Opening, job: Job) -> Answer:
        """Do one job.

        Raises
        ------
        StavelightError
            If the score cannot be read or engraved.
        """
        maker = self._maker_for(opening)
        if isinstance(job, FirstPageJob):
            plan = maker.plan(page_limit=1)
            return plan, maker.page(plan.pages[0])
        if isinstance(job, PlanJob):
            return maker.plan()
        if isinstance(job, PageJob):
            return maker.page(job.plan, is_last=job.is_last)
        return maker.excerpt(job.request)

    def _maker_for(self, opening: Opening) -> PageMaker:
        from stavelight.engraving.sources import open_source

        if self._maker is None or self._opening != opening:
            before = self._opening
            if (
                self._maker
                and before
                and (before.path, before.stamp)
                == (
                    opening.path,
                    opening.stamp,
                )
            ):
                self._maker = PageMaker(self._maker.source, opening.layout, self._maker.press)
            else:
                if stamp_of(opening.path) != opening.stamp:
                    raise EngravingError(
                        "The score file was changed while it was open.",
                        where=str(opening.path),
                        remedy="Open it again.",
                    )
                press = self._maker.press if self._maker else None
                self._maker = None
                self._maker = PageMaker(open_source(opening.path), opening.layout, press)
            self._opening = opening
        return self._maker


def stamp_of(path: Path) -> tuple[int, int]:
    """Return size and time of change of a file."""
    try:
        status = path.stat()
    except OSError as error:
        raise EngravingError(
            "The score file cannot be read: " + (error.strerror or str(error)) + ".",
            where=str(path),
            remedy="Check that the file is still there and readable.",
        ) from error
    return status.st_size, status.st_mtime_ns


def serve(connection: Connection) -> None:
    """Answer jobs from a connection until it closes.

    A message is (opening, job); an answer is (None, answer) or (error, None).
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    bench = Bench()
    while True:
        try:
            opening, job = connection.recv()
        except EOFError:
            return
        try:
            answer: tuple[StavelightError | None, Answer | None] = (None, bench.do(opening, job))
        except StavelightError as error:
            answer = (error, None)
        try:
            connection.send(answer)
        except BrokenPipeError:
            return
