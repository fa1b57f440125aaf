"""Export the pages of a score: as SVG or PNG files, or as one PDF document."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Literal, Protocol, TypeVar

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter

from stavelight.delivery.pdf import PdfDocument, with_glyphs_as_text
from stavelight.delivery.qt_ground import ensure_gui
from stavelight.delivery.safe_writing import cannot_write, file_to_replace, folder_to_fill
from stavelight.delivery.slide_model import MarkedRegion
from stavelight.engraving.fonts import style_sheet
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.hatching import hatch_marks, line_colour
from stavelight.engraving.page_maker import EngravedPage
from stavelight.engraving.page_picture import AreaStyle, PagePainter, paint_area
from stavelight.engraving.page_plan import ScorePlan
from stavelight.errors import Cancelled, DeliveryError

PageFormat = Literal["svg", "png", "pdf"]

_NUMBER = re.compile(r"page-\d{3,}")
_Answer = TypeVar("_Answer")
_RESOLUTIONS = range(50, 1201)
_INCH = 25.4


class PageSource(Protocol):
    """Who engraves: `stavelight.engraving.engraver.EngravedScore` does."""

    plan: Future[ScorePlan]

    @property
    def path(self) -> Path:
        """The score file."""

    def page(self, number: int) -> Future[EngravedPage]:
        """Return a page, by its number from 1."""


def export_pages(
    engraved: PageSource,
    output_folder: Path,
    file_format: PageFormat,
    bars: range | None = None,
    regions: Sequence[MarkedRegion] = (),
    *,
    dots_per_inch: int = 300,
    title: str = "",
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Path, ...]:
    """Write pages of a score.

    Parameters
    ----------
    engraved
        Who engraves the score; its layout is the layout of the pages.
    output_folder
        Where the files are put: ``page-001.svg`` and so on, or one PDF named after the score.
        It is made if it is not there; pages of an earlier export are replaced.
    file_format
        ``svg``: each file carries its fonts along; ``png``; ``pdf``: one document in vectors.
    bars
        Half-open range of bar indices: only the pages on which these bars stand. None: all.
    regions
        What to show in colour; see `stavelight.delivery.slide_model.marked_regions`.
    dots_per_inch
        Of PNG pictures.
    title
        For the properties of a PDF document.
    progress
        Told how many of how many pages are done.
    cancelled
        Asked whether to stop.

    Returns
    -------
    tuple
        The files, in the order of the pages.

    Raises
    ------
    DeliveryError
        If the folder cannot be written, or the resolution is out of bounds.
    StavelightError
        If the score cannot be read or engraved.
    Cancelled
        If the user stopped; nothing is written then.
    """
    if dots_per_inch not in _RESOLUTIONS:
        raise DeliveryError(
            f"Pictures cannot have {dots_per_inch} dots an inch.",
            remedy=f"Choose from {_RESOLUTIONS.start} to {_RESOLUTIONS.stop - 1}.",
        )
    ensure_gui()
    stop = cancelled or (lambda: False)
    plan = _wait(engraved.plan, stop)
    numbers = [
        page.number
        for page in plan.pages
        if bars is None or (page.bars.start < bars.stop and bars.start < page.bars.stop)
    ]
    # All are asked for at once, so that several processes can work on them.
    futures = [engraved.page(number) for number in numbers]
    pages = _Pages(futures, regions, progress, stop)
    try:
        if file_format == "pdf":
            path = output_folder / f"{engraved.path.stem}.pdf"
            with file_to_replace(path) as temporary:
                _write_pdf(pages, temporary, title or path.stem)
            return (path,)
        with _folder(output_folder, file_format) as temporary:
            names = []
            for page, number in zip(pages, numbers, strict=True):
                name = f"page-{number:03}.{file_format}"
                _write_page(page, regions, temporary / name, dots_per_inch)
                names.append(name)
        return tuple(output_folder / name for name in names)
    finally:
        for future in futures:
            future.cancel()


class _Pages:
    """Pages as they come, with progress."""

    def __init__(
        self,
        futures: Sequence[Future[EngravedPage]],
        regions: Sequence[MarkedRegion],
        progress: Callable[[int, int], None] | None,
        cancelled: Callable[[], bool],
    ) -> None:
        self.regions = regions
        self._waiting = list(futures)
        self._done = 0
        self._count = len(futures)
        self._progress = progress
        self._cancelled = cancelled

    def __iter__(self) -> _Pages:
        return self

    def __next__(self) -> EngravedPage:
        if self._progress is not None:
            self._progress(self._done, self._count)
        if self._cancelled():
            raise Cancelled
        if not self._waiting:
            raise StopIteration
        page = _wait(self._waiting.pop(0), self._cancelled)
        self._done += 1
        return page


def _wait(future: Future[_Answer], cancelled: Callable[[], bool]) -> _Answer:
    while True:
        if cancelled():
            raise Cancelled
        try:
            return future.result(timeout=0.1)
        except TimeoutError:
            continue
        except CancelledError as error:
            raise Cancelled from error


def _folder(folder: Path, file_format: str) -> AbstractContextManager[Path]:
    return folder_to_fill(folder, re.compile(rf"{_NUMBER.pattern}\.{file_format}"))


def _write_pdf(pages: _Pages, path: Path, title: str) -> None:
    document = PdfDocument(path, title)
    try:
        for page in pages:
            painter = document.page(page.width, page.height)
            _paint(painter, with_glyphs_as_text(page), pages.regions)
        document.close()
    finally:
        document.release()


def _write_page(
    page: EngravedPage, regions: Sequence[MarkedRegion], path: Path, dots_per_inch: int
) -> None:
    if path.suffix == ".svg":
        path.write_bytes(self_contained_svg(page, regions))
        return
    scale = dots_per_inch / _INCH
    size = round(page.width * scale), round(page.height * scale)
    image = QImage(*size, QImage.Format.Format_RGB32)
    if image.isNull():
        raise DeliveryError(
            "The picture of a page is too large for the memory.",
            remedy="Choose fewer dots an inch.",
        )
    image.fill(Qt.GlobalColor.white)
    image.setDotsPerMeterX(round(scale * 1000))
    image.setDotsPerMeterY(round(scale * 1000))
    painter = QPainter(image)
    painter.scale(scale, scale)
    _paint(painter, page, regions)
    painter.end()
    if image.allGray():
        image = image.convertToFormat(QImage.Format.Format_Grayscale8)
    if not image.save(str(path)):
        raise cannot_write(path)


def _paint(painter: QPainter, page: EngravedPage, regions: Sequence[MarkedRegion]) -> None:
    for region, rectangle in _areas(page, regions):
        paint_area(painter, rectangle, AreaStyle(region.colour, region.hatch))
    PagePainter(page).paint(painter, QRectF(0, 0, page.width, page.height))


def _areas(
    page: EngravedPage, regions: Sequence[MarkedRegion]
) -> list[tuple[MarkedRegion, Rectangle]]:
    return [
        (region, rectangle)
        for region in regions
        for span in region.spans
        for rectangle in page.geometry.areas(
            (span.start.bar, span.start.offset), (span.end.bar, span.end.offset), span.staves
        )
    ]


def self_contained_svg(page: EngravedPage, regions: Sequence[MarkedRegion] = ()) -> bytes:
    """Return a page as an SVG document that needs nothing else: paper, regions, notes and fonts.

    Parameters
    ----------
    page
        The page.
    regions
        What to show in colour.
    """
    head, mark, notes = page.svg.partition(b"</defs>")
    sheet = style_sheet(with_music=b"Leipzig" in notes)
    style = f"<style>{sheet}</style>".encode()
    paper = f'<rect width="{page.width:.3f}" height="{page.height:.3f}" fill="#ffffff"/>'
    areas = "".join(_svg_area(rectangle, one) for one, rectangle in _areas(page, regions))
    return head + style + mark + (paper + areas).encode() + notes


def _svg_area(area: Rectangle, region: MarkedRegion) -> str:
    style = AreaStyle(region.colour, region.hatch)
    marks = hatch_marks(area, region.hatch)
    line = line_colour(region.colour)
    ends = "".join(f"M{x1:.3f} {y1:.3f}L{x2:.3f} {y2:.3f}" for x1, y1, x2, y2 in marks.lines)
    dots = "".join(f"M{x:.3f} {y:.3f}h0" for x, y in marks.dots)
    opacity = min(1.0, style.opacity * 2.2)
    hatch = (
        f'<path d="{ends}" stroke="{line}" stroke-opacity="{opacity:.2f}" stroke-width="0.3"/>'
        if ends
        else ""
    ) + (
        f'<path d="{dots}" stroke="{line}" stroke-opacity="{opacity:.2f}" stroke-width="0.8" '
        'stroke-linecap="round"/>'
        if dots
        else ""
    )
    return (
        f'<g><rect x="{area.left:.3f}" y="{area.top:.3f}" width="{area.width:.3f}" '
        f'height="{area.height:.3f}" fill="{region.colour}" fill-opacity="{style.opacity:.2f}" '
        f'stroke="{line}" stroke-width="0.4"/>{hatch}</g>'
    )
