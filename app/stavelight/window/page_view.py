"""The desk with the pages of a score on it: what lies there, how large, and painting it.

Turning pages and the like is in `stavelight.window.page_browser`.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRect, Qt, Signal
from PySide6.QtGui import QKeySequence, QPainter, QResizeEvent
from PySide6.QtWidgets import QPushButton, QStyle, QWidget

from stavelight.engraving.engraver import EngravedScore
from stavelight.engraving.fonts import load_fonts
from stavelight.window.page_canvas import PageCanvas
from stavelight.window.page_desk import (
    FIT_PAGE,
    FIT_WIDTH,
    PERCENT,
    Desk,
    Sheet,
    neighbours_of,
    opening_of,
)
from stavelight.window.page_images import PageImages
from stavelight.window.page_sheets import (
    desk_colour,
    paint_edge,
    paint_failure,
    paint_hint,
    paint_paper,
    paint_waiting,
)
from stavelight.window.page_supply import PageSupply
from stavelight.window.sheet_pictures import SheetPictures

LINE = 72
"""Logical pixels that a notch of the wheel or two presses of an arrow key scroll."""

_LIKELY_DOTS_PER_INCH = (60.0, 400.0)
"""What screens report beyond these is taken for a mistake."""

_HINT = ("Open a score to begin", "Drop a MusicXML or MEI file here, or choose one with %s.")


class PageView(PageCanvas):
    """Shows the pages of a score.

    Signals
    -------
    page_shown
        (first page, last page, how many there are), from 1; 0 pages while that is not known.
    zoom_shown
        (factor, mode) 1.0 is true size; the mode is "width", "page" or "percent".
    page_failed
        (StavelightError) A page cannot be engraved or painted.
    """

    page_shown = Signal(int, int, int)
    zoom_shown = Signal(float, str)
    page_failed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        load_fonts()
        self._supply = PageSupply(self)
        self._images = PageImages(self)
        self._pictures = SheetPictures(self._images)
        self._number, self._spread = 1, False
        self._mode, self._percent = FIT_PAGE, 1.0
        self._guessed_size = (210.0, 297.0)
        self._sheets: tuple[Sheet, ...] = ()
        self._settling = False
        self._shown: tuple[int, int, int] | None = None
        self._zoom_told: tuple[float, str] | None = None
        self._supply.planned.connect(self._plan_known)
        self._supply.page_arrived.connect(self._page_arrived)
        self._supply.page_failed.connect(self._page_failed)
        self._images.arrived.connect(self._picture_arrived)
        self._images.failed.connect(lambda _number, error: self.page_failed.emit(error))
        images = self._images
        self.destroyed.connect(lambda: images.close())
        self._retry = QPushButton("&Try again", self.viewport())
        self._retry.setCursor(Qt.CursorShape.ArrowCursor)
        self._retry.clicked.connect(self._try_again)
        self._retry.hide()

    # What is shown

    @property
    def page_number(self) -> int:
        """The page that is looked at, from 1."""
        return self._number

    @property
    def is_settled(self) -> bool:
        """Whether all that is seen is there and sharp."""
        window = self._window()
        return bool(self._sheets) and all(
            self._pictures.is_sharp(sheet, window) for sheet in self._sheets
        )

    def open_pages(self, engraved: EngravedScore | None) -> None:
        """Show the pages of a score, from the first; None: an empty desk."""
        self._supply.open(engraved)
        self._pictures.clear()
        self._number, self._shown = 1, None
        self._glide_x.jump(0)
        self._glide_y.jump(0)
        self.update_desk()

    def guess_page_size(self, width: float, height: float) -> None:
        """Say how large pages will be, in millimetres, as long as no plan is there."""
        self._guessed_size = (width, height)
        if self._supply.plan is None:
            self.update_desk()

    @property
    def opening(self) -> tuple[int, ...]:
        """Numbers of the pages that lie on the desk, 0 for an empty place beside one."""
        return opening_of(self._number, self._supply.page_count, spread=self._spread)

    def set_zoom(self, zoom: str | float) -> None:
        """Fit the page ("width", "page"), or show it at a factor of its true size.

        Raises
        ------
        ValueError
            If there is no such way to fit it.
        """
        if isinstance(zoom, str):
            if zoom not in (FIT_WIDTH, FIT_PAGE):
                raise ValueError(f"no such zoom: {zoom}")
            self._mode = zoom
            self.update_desk()
        else:
            self.zoom_to(float(zoom), QPointF(self.viewport().rect().center()))

    def set_spread(self, spread: bool) -> None:
        """Show two pages side by side, or one."""
        if spread != self._spread:
            self._spread = spread
            self.update_desk()

    def zoom_to(self, factor: float, at: QPointF) -> None:
        """Zoom so that what lies at a point of the viewport stays there."""
        x, y = self._device(at)
        sheet = self.sheet_near(x, y)
        place = sheet.to_page(x, y) if sheet else None
        self._mode, self._percent = PERCENT, self._desk().zoom_for(PERCENT, factor)
        self.update_desk()
        after = next((s for s in self._sheets if sheet and s.number == sheet.number), None)
        if after and place:
            new_x, new_y = after.to_desk(*place)
            self.scroll_by((new_x - x) / self._ratio, (new_y - y) / self._ratio)

    # The desk

    def _true_scale(self) -> float:
        """Return logical pixels to a millimetre at true size, as far as the screen tells."""
        screen = self.screen()
        dots = screen.physicalDotsPerInch()
        low, high = _LIKELY_DOTS_PER_INCH
        if not low <= dots <= high:
            dots = screen.logicalDotsPerInch()
        return float(dots) / 25.4

    def _desk(self) -> Desk:
        plan = self._supply.plan
        width, height = (plan.width, plan.height) if plan else self._guessed_size
        room = self.maximumViewportSize()
        extent = self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent, None, self)
        return Desk(
            width,
            height,
            len(self.opening),
            room.width(),
            room.height(),
            extent,
            self._true_scale(),
            self._ratio,
        )

    @property
    def zoom(self) -> float:
        """The zoom, 1.0 being true size."""
        return self._desk().zoom_for(self._mode, self._percent)

    def update_desk(self, *, ask: bool = True) -> None:
        """Lay the pages anew: after another page, another zoom or another size of the window."""
        desk, zoom = self._desk(), self.zoom
        across, down = desk.content(zoom)
        seen_across, seen_down = desk.window(zoom)
        empty = self._supply.engraved is None
        self._settling = True
        for bar, content, seen in (
            (self.horizontalScrollBar(), across, seen_across),
            (self.verticalScrollBar(), down, seen_down),
        ):
            bar.setRange(0, 0 if empty else max(0, content - seen))
            bar.setPageStep(seen)
            bar.setSingleStep(LINE // 2)
        self._settling = False
        self._place_sheets()
        if ask:
            self._ask_pages()
        self._tell()

    def _place_sheets(self) -> None:
        if self._supply.engraved is None:
            self._sheets = ()
        else:
            self._sheets = self._desk().sheets(
                self.opening,
                self.zoom,
                self.horizontalScrollBar().value(),
                self.verticalScrollBar().value(),
            )
        self._place_retry()
        self._want_pictures()
        self._replace_layer()
        self.desk_moved()

    def desk_moved(self) -> None:
        """Do what has to be done when pages have moved; nothing here."""

    def _tell(self) -> None:
        numbers = [number for number in self.opening if number]
        shown = (numbers[0], numbers[-1], self._supply.page_count)
        if self._supply.plan is not None and shown != self._shown:
            self._shown = shown
            self.page_shown.emit(*shown)
        told = (self.zoom, self._mode)
        if self._supply.engraved is not None and told != self._zoom_told:
            self._zoom_told = told
            self.zoom_shown.emit(*told)

    def sheet_near(self, x: float, y: float) -> Sheet | None:
        """Return the page nearest to a point in device pixels."""
        return min(self._sheets, key=lambda sheet: sheet.distance(x, y), default=None)

    def _ask_pages(self) -> None:
        if self._supply.page_count:
            here = [number for number in self.opening if number]
            after, before = neighbours_of(self.opening, self._supply.page_count)
            self._supply.ask(here, (*after, *before))
            self._want_pictures()

    def _want_pictures(self) -> None:
        seen = [
            (sheet, page) for sheet in self._sheets if (page := self._supply.page(sheet.number))
        ]
        ahead = [
            (sheet, page)
            for sheet in (*self._sheets_beside(after=True), *self._sheets_beside(after=False))
            if (page := self._supply.page(sheet.number))
        ]
        self._pictures.want(seen, ahead, self._window())

    def _sheets_beside(self, *, after: bool) -> tuple[Sheet, ...]:
        """Return where the pages after or before will lie when they are turned to."""
        pages = neighbours_of(self.opening, self._supply.page_count)[0 if after else 1]
        if not pages:
            return ()
        opening = opening_of(pages[0], self._supply.page_count, spread=self._spread)
        down = 0 if after else self.verticalScrollBar().maximum()
        across = self.horizontalScrollBar().value()
        return self._desk().sheets(opening, self.zoom, across, down)

    def _plan_known(self) -> None:
        self.update_desk()

    def _page_arrived(self, number: int) -> None:
        self._want_pictures()
        if number in self.opening:
            self._place_retry()
            self._redraw_layer()

    def _picture_arrived(self, number: int) -> None:
        if number in self.opening:
            self._redraw_layer()
        else:
            self._idle.start()

    def _page_failed(self, _number: int, error: object) -> None:
        self._place_retry()
        self._redraw_layer()
        self.page_failed.emit(error)

    def _failed_sheets(self) -> list[Sheet]:
        return [
            sheet
            for sheet in self._sheets
            if self._supply.error(sheet.number) and not self._supply.page(sheet.number)
        ]

    def _place_retry(self) -> None:
        failed = self._failed_sheets()
        self._retry.setVisible(bool(failed) and self._supply.page_count > 0)
        if failed:
            seen = failed[0].seen(self._window().width(), self._window().height())
            x = (failed[0].left + seen[0] + seen[2] / 2) / self._ratio
            y = (failed[0].top + seen[1] + seen[3] / 2) / self._ratio
            size = self._retry.sizeHint()
            self._retry.setGeometry(
                round(x - size.width() / 2), round(y + 14), size.width(), size.height()
            )

    def _try_again(self) -> None:
        for sheet in self._failed_sheets():
            self._supply.retry(sheet.number)
        self._want_pictures()
        self._place_retry()
        self._redraw_layer()
        self.setFocus()

    # Painting

    def still_key(self) -> object:
        """Return where the pages lie, and in what window."""
        return (self._sheets, self._window())

    def use_idle_time(self) -> None:
        """Paint the next page ahead, so that turning to it is nothing but a copy."""
        here, after = self._sheets, self._sheets_beside(after=True)
        window = self._window()
        if after and all(self._pictures.is_sharp(sheet, window) for sheet in after):
            self._sheets = after
            key = self.still_key()
            if self._ahead is None or self._ahead[0] != key:
                self._ahead = (key, self._new_layer())
            self._sheets = here

    def paint_still(self, painter: QPainter, window: QRect, bare: QRect) -> None:
        """Paint the desk, the pages and what lies on them."""
        painter.fillRect(window, desk_colour(self.palette()))
        font = self.text_font()
        if self._supply.engraved is None:
            title, text = _HINT
            keys = QKeySequence(QKeySequence.StandardKey.Open)
            text = text % keys.toString(QKeySequence.SequenceFormat.NativeText)
            paint_hint(painter, window, font, self.palette(), title, text)
        for sheet in self._sheets:
            paint_edge(painter, sheet, self._ratio)
            error = self._supply.error(sheet.number)
            if self._supply.page(sheet.number) is not None:
                self._pictures.paint(painter, sheet, window)
                continue
            paint_paper(painter, sheet)
            if error:
                paint_failure(painter, sheet, font, window, error)
            else:
                paint_waiting(painter, sheet, font, window)
        self.paint_on_pages(painter, bare)

    def paint_on_pages(self, painter: QPainter, bare: QRect) -> None:
        """Paint what lies on the pages and does not move, in device pixels; nothing here."""

    # What happens to the widget

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay the pages anew."""
        super().resizeEvent(event)
        self.update_desk()

    def scrollContentsBy(self, dx: int, dy: int) -> None:  # noqa: N802 - Qt's name
        """Move the pages."""
        if self._settling:
            return
        before, layer = self._sheets, self._layer
        self._place_sheets()
        if before and self._sheets:
            across = self._sheets[0].left - before[0].left
            down = self._sheets[0].top - before[0].top
            if self._sheets == tuple(sheet.moved(across, down) for sheet in before):
                self._shift_layer(layer, across, down)

    def event(self, event: QEvent) -> bool:
        """Notice another screen."""
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self.update_desk()
        return super().event(event)
