"""The desk with the pages of a score on it: what lies there, how large, and painting it.

Turning pages and the like is in `stavelight.window.page_browser`.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRect, Qt, Signal
from PySide6.QtGui import QFont, QKeySequence, QPainter, QPaintEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QPushButton, QStyle, QWidget

from stavelight.engraving.engraver import EngravedScore
from stavelight.engraving.fonts import load_fonts
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
from stavelight.window.page_scrolling import Glide
from stavelight.window.page_sheets import (
    desk_colour,
    paint_failure,
    paint_hint,
    paint_sheet,
    paint_waiting,
)
from stavelight.window.page_supply import PageSupply
from stavelight.window.sheet_pictures import SheetPictures

LINE = 72
"""Logical pixels that a notch of the wheel or two presses of an arrow key scroll."""

_LIKELY_DOTS_PER_INCH = (60.0, 400.0)
"""What screens report beyond these is taken for a mistake."""

_HINT = ("Open a score to begin", "Drop a MusicXML or MEI file here, or choose one with %s.")


class PageView(QAbstractScrollArea):
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
        self._layer: QPixmap | None = None
        self._settling = False
        self._shown: tuple[int, int, int] | None = None
        self._zoom_told: tuple[float, str] | None = None
        self._set_up_widgets()
        self._supply.planned.connect(self._plan_known)
        self._supply.page_arrived.connect(self._page_arrived)
        self._supply.page_failed.connect(self._page_failed)
        self._images.arrived.connect(self._redraw_layer)
        self._images.failed.connect(lambda _number, error: self.page_failed.emit(error))
        images = self._images
        self.destroyed.connect(lambda: images.close())

    def _set_up_widgets(self) -> None:
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._glide_x = Glide(self.horizontalScrollBar())
        self._glide_y = Glide(self.verticalScrollBar())
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

    def scroll_by(self, across: float, down: float) -> None:
        """Scroll at once by so many logical pixels."""
        self._glide_x.jump(self.horizontalScrollBar().value() + round(across))
        self._glide_y.jump(self.verticalScrollBar().value() + round(down))

    # The desk

    @property
    def _ratio(self) -> float:
        return float(self.devicePixelRatioF())

    def _device(self, point: QPointF) -> tuple[float, float]:
        return point.x() * self._ratio, point.y() * self._ratio

    def _window(self) -> QRect:
        """Return what is seen of the desk, in device pixels."""
        size = self.viewport().size()
        return QRect(0, 0, round(size.width() * self._ratio), round(size.height() * self._ratio))

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
        self._redraw_layer()
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
        if told != self._zoom_told:
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
        after, before = neighbours_of(self.opening, self._supply.page_count)
        ahead = [
            (number, page) for number in (*after, *before) if (page := self._supply.page(number))
        ]
        self._pictures.want(seen, ahead, self._window())

    def _plan_known(self) -> None:
        self.update_desk()

    def _page_arrived(self, number: int) -> None:
        self._want_pictures()
        if number in self.opening:
            self._place_retry()
            self._redraw_layer()

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
        self._place_retry()
        self._redraw_layer()
        self.setFocus()

    # Painting

    def text_font(self, points: float = 1.0) -> QFont:
        """Return the widget's font, so many times its size, for painting in device pixels."""
        font = QFont(self.font())
        font.setPixelSize(max(8, round(self.fontInfo().pixelSize() * points * self._ratio)))
        return font

    def _redraw_layer(self) -> None:
        self._layer = None
        self.viewport().update()

    def _make_layer(self) -> QPixmap:
        """Return everything that does not move: the desk, the pages and what lies on them."""
        window = self._window()
        layer = QPixmap(window.size())
        layer.fill(desk_colour(self.palette()))
        painter = QPainter(layer)
        font = self.text_font()
        if self._supply.engraved is None:
            title, text = _HINT
            text = text % QKeySequence(QKeySequence.StandardKey.Open).toString(
                QKeySequence.SequenceFormat.NativeText
            )
            paint_hint(painter, window, font, self.palette(), title, text)
        for sheet in self._sheets:
            paint_sheet(painter, sheet, self._ratio)
            error = self._supply.error(sheet.number)
            if self._supply.page(sheet.number):
                self._pictures.paint(painter, sheet, window)
            elif error:
                paint_failure(painter, sheet, font, window, error)
            else:
                paint_waiting(painter, sheet, font, window)
        self.paint_on_pages(painter)
        painter.end()
        return layer

    def paint_on_pages(self, painter: QPainter) -> None:
        """Paint what lies on the pages and does not move, in device pixels; nothing here."""

    def paint_above(self, painter: QPainter) -> None:
        """Paint what moves, above all else, in device pixels; nothing here."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the still layer and what moves above it."""
        if self._layer is None:
            self._layer = self._make_layer()
        painter = QPainter(self.viewport())
        painter.scale(1 / self._ratio, 1 / self._ratio)
        painter.drawPixmap(0, 0, self._layer)
        self.paint_above(painter)
        painter.end()

    # What happens to the widget

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay the pages anew."""
        super().resizeEvent(event)
        self.update_desk()

    def scrollContentsBy(self, dx: int, dy: int) -> None:  # noqa: N802 - Qt's name
        """Move the pages."""
        if not self._settling:
            self._place_sheets()

    def event(self, event: QEvent) -> bool:
        """Notice another screen or other colours."""
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self.update_desk()
        elif event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange):
            self._redraw_layer()
        return super().event(event)
