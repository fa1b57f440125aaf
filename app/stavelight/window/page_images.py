"""Pictures of pages, made in other threads and kept for the next time.

Qt's SVG renderer, called from Python, holds the interpreter lock while it reads a page and while
it paints it (15 to 70 ms for a page of an orchestral score). Its image reader does the same work,
pixel for pixel, and lets go of the lock. So pages are read as images, and the window never waits.

A page is made whole as long as it has no more pixels than `LARGEST_PICTURE`; at higher zoom only
the part that can be seen is made, with a margin, and a coarse picture of the whole page stands in
for what has not come yet.
"""

from __future__ import annotations

import itertools
from collections import OrderedDict
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QImage, QImageReader

from stavelight.engraving.page_maker import EngravedPage
from stavelight.errors import EngravingError

LARGEST_PICTURE = 12_000_000
"""Pixels that a picture has at most."""

STAND_IN = 2_500_000
"""Pixels of the coarse picture of a page that is too large to be made whole."""

_KEPT_BYTES = 288 * 1024 * 1024
_BYTES_PER_PIXEL = 4


@dataclass(frozen=True, slots=True)
class PictureWant:
    """A picture that is wanted.

    Attributes
    ----------
    number
        Of the page.
    width, height
        Of the whole page in pixels.
    part
        What of it is wanted, in pixels; None: the whole.
    """

    number: int
    width: int
    height: int
    part: tuple[int, int, int, int] | None = None

    @property
    def scale(self) -> int:
        """What tells sharper pictures of a page from coarser ones."""
        return self.width


@dataclass(frozen=True, slots=True)
class PagePicture:
    """A picture of a page, and what it is a picture of."""

    want: PictureWant
    image: QImage


class _Post(QObject):
    """Carries pictures to the UI thread; owned by the work that is under way."""

    arrived = Signal(int, object, object)


class PageImages(QObject):
    """Makes pictures of pages and keeps the latest ones.

    Parameters
    ----------
    parent
        The view.
    kept_bytes
        How much is kept.

    Signals
    -------
    arrived
        (page number) A picture is there.
    failed
        (page number, EngravingError) A page cannot be painted.
    """

    arrived = Signal(int)
    failed = Signal(int, object)

    def __init__(self, parent: QObject | None = None, kept_bytes: int = _KEPT_BYTES) -> None:
        super().__init__(parent)
        self._post = _Post()
        self._post.arrived.connect(self._take_in, Qt.ConnectionType.QueuedConnection)
        self._threads = ThreadPoolExecutor(max_workers=2, thread_name_prefix="page pictures")
        self._kept_bytes = kept_bytes
        self._kept: OrderedDict[PictureWant, QImage] = OrderedDict()
        self._numbers = itertools.count(1)
        self._under_way: dict[PictureWant, tuple[int, Future[None]]] = {}

    @property
    def used_bytes(self) -> int:
        """How much the kept pictures take."""
        return sum(image.sizeInBytes() for image in self._kept.values())

    @property
    def is_busy(self) -> bool:
        """Whether pictures are being made."""
        return bool(self._under_way)

    def clear(self) -> None:
        """Forget all pictures, and those that are being made."""
        for _, future in self._under_way.values():
            future.cancel()
        self._under_way.clear()
        self._kept.clear()

    def close(self) -> None:
        """Make no more pictures; calling it again does nothing."""
        self.clear()
        self._threads.shutdown(wait=True, cancel_futures=True)

    def want(self, wants: Sequence[tuple[PictureWant, EngravedPage]]) -> None:
        """Say which pictures are wanted now, the most urgent first.

        What was wanted before and is not wanted any more is not made, or dropped when it comes.
        """
        missing = {want: page for want, page in wants if want not in self._kept}
        for want, (_, future) in list(self._under_way.items()):
            if future.cancel() or want not in missing:
                del self._under_way[want]
        for want, page in missing.items():
            if want not in self._under_way:
                number = next(self._numbers)
                future = self._threads.submit(_make, number, want, page.svg, self._post)
                self._under_way[want] = (number, future)
        for want, _ in reversed(wants):
            if want in self._kept:
                self._kept.move_to_end(want)

    def picture(self, want: PictureWant) -> QImage | None:
        """Return a picture if it is there."""
        return self._kept.get(want)

    def best(self, number: int, scale: int) -> PagePicture | None:
        """Return the whole page in the scale that suits best, if there is any picture of it."""
        found: PictureWant | None = None
        for want in self._kept:
            if want.number != number or want.part is not None:
                continue
            if found is None or _is_better(want.scale, found.scale, scale):
                found = want
        return PagePicture(found, self._kept[found]) if found else None

    def parts(self, number: int, scale: int) -> list[PagePicture]:
        """Return the pictures of parts of a page in one scale, the latest last."""
        return [
            PagePicture(want, image)
            for want, image in self._kept.items()
            if want.number == number and want.scale == scale and want.part is not None
        ]

    def _take_in(self, number: int, want: PictureWant, image: QImage | None) -> None:
        if want not in self._under_way or self._under_way[want][0] != number:
            return  # stale
        del self._under_way[want]
        if image is None:
            error = EngravingError(
                f"Page {want.number} cannot be painted.",
                remedy="Try a smaller zoom, or close other programs that take much memory.",
            )
            self.failed.emit(want.number, error)
            return
        if want.part is not None:
            for other in [kept for kept in self._kept if kept.part and kept.number == want.number]:
                del self._kept[other]
        self._kept[want] = image
        used = self.used_bytes
        while used > self._kept_bytes and len(self._kept) > 1:
            _, dropped = self._kept.popitem(last=False)
            used -= dropped.sizeInBytes()
        self.arrived.emit(want.number)


def _is_better(scale: int, other: int, wanted: int) -> bool:
    """Tell whether one scale looks better than another: shrunk rather than grown."""
    if (scale >= wanted) != (other >= wanted):
        return scale >= wanted
    return scale < other if scale >= wanted else scale > other


def _make(number: int, want: PictureWant, svg: bytes, post: _Post) -> None:
    """Make a picture; runs in a thread."""
    post.arrived.emit(number, want, page_image(svg, want))


def page_image(svg: bytes, want: PictureWant) -> QImage | None:
    """Return a page, or a part of it, as a picture on white; None if that fails.

    Parameters
    ----------
    svg
        The drawing of the page.
    want
        In which size, and which part.
    """
    buffer = QBuffer()
    buffer.setData(QByteArray(svg))
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer, QByteArray(b"svg"))
    reader.setBackgroundColor(QColor("white"))
    reader.setScaledSize(QSize(want.width, want.height))
    if want.part is not None:
        reader.setScaledClipRect(QRect(*want.part))
    image = reader.read()
    if image.isNull():
        return None
    if image.format() == QImage.Format.Format_ARGB32_Premultiplied:
        # It is opaque: said so, it is copied to the screen and not blended.
        image.reinterpretAsFormat(QImage.Format.Format_RGB32)
    return image
