"""Decide which pictures of the pages on the desk are needed, and paint them."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, QRectF
from PySide6.QtGui import QPainter

from stavelight.engraving.page_maker import EngravedPage
from stavelight.window.page_desk import Sheet, covers, window_part
from stavelight.window.page_images import LARGEST_PICTURE, STAND_IN, PageImages, PictureWant
from stavelight.window.page_sheets import paint_paper

_LARGEST_AHEAD = 8_000_000
"""Pixels up to which the whole of a neighbouring page is made ahead in full sharpness."""

_LARGEST_PART_AHEAD = 5_000_000
"""Pixels of the part of a neighbouring page that is made ahead at high zoom."""


class SheetPictures:
    """The pictures of the pages that are seen, and of their neighbours.

    Parameters
    ----------
    images
        Who makes and keeps them.
    """

    def __init__(self, images: PageImages) -> None:
        self.images = images
        self._parts: dict[int, PictureWant] = {}

    def clear(self) -> None:
        """Forget everything."""
        self._parts.clear()
        self.images.clear()

    def want(
        self,
        seen: Sequence[tuple[Sheet, EngravedPage]],
        ahead: Sequence[tuple[Sheet, EngravedPage]],
        window: QRect,
    ) -> None:
        """Ask for the pictures that are missing.

        Parameters
        ----------
        seen
            Pages on the desk, engraved.
        ahead
            Those that may be next, engraved, and where they will lie; the likeliest first.
        window
            What is seen of the desk.
        """
        wants: list[tuple[PictureWant, EngravedPage]] = []
        later: list[tuple[PictureWant, EngravedPage]] = []
        for sheet, page in seen:
            if sheet.width * sheet.height <= LARGEST_PICTURE:
                wants.append((_whole(sheet), page))
                continue
            part = self._part(sheet, window, LARGEST_PICTURE)
            if part is not None:
                wants.append((part, page))
            later.append((_stand_in(sheet), page))
        for sheet, page in ahead:
            if sheet.width * sheet.height <= _LARGEST_AHEAD:
                later.append((_whole(sheet), page))
                continue
            later.append((_stand_in(sheet), page))
            if sheet.width * sheet.height > LARGEST_PICTURE:
                part = self._part(sheet, window, _LARGEST_PART_AHEAD)
                if part is not None:
                    later.append((part, page))
        self.images.want(wants + later)

    def _part(self, sheet: Sheet, window: QRect, largest: int) -> PictureWant | None:
        """Return the part of a large page to make; the one that is there as long as it will do."""
        seen = sheet.seen(window.width(), window.height())
        last = self._parts.get(sheet.number)
        known = last.part if last and last.scale == sheet.width else None
        if known and covers(known, seen):
            return last
        part = window_part(sheet, window.width(), window.height(), largest)
        if part is None:
            return None
        want = PictureWant(sheet.number, sheet.width, sheet.height, part)
        self._parts[sheet.number] = want
        return want

    def is_sharp(self, sheet: Sheet, window: QRect) -> bool:
        """Tell whether all that is seen of a page can be painted pixel for pixel."""
        if self.images.picture(_whole(sheet)) is not None:
            return True
        seen = sheet.seen(window.width(), window.height())
        return any(
            picture.want.part and covers(picture.want.part, seen)
            for picture in self.images.parts(sheet.number, sheet.width)
        )

    def paint(self, painter: QPainter, sheet: Sheet, window: QRect) -> None:
        """Paint a page as sharply as can be done now; white where there is no picture yet."""
        whole = self.images.picture(_whole(sheet))
        if whole is not None:
            painter.drawImage(sheet.left, sheet.top, whole)
            return
        if not self.is_sharp(sheet, window) and not self._paint_scaled(painter, sheet, window):
            paint_paper(painter, sheet)
        for picture in self.images.parts(sheet.number, sheet.width):
            if picture.want.part:
                left, top = picture.want.part[:2]
                painter.drawImage(sheet.left + left, sheet.top + top, picture.image)

    def _paint_scaled(self, painter: QPainter, sheet: Sheet, window: QRect) -> bool:
        best = self.images.best(sheet.number, sheet.width)
        if best is None:
            return False
        left, top, width, height = sheet.seen(window.width(), window.height())
        across = best.image.width() / sheet.width
        down = best.image.height() / sheet.height
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(
            QRectF(sheet.left + left, sheet.top + top, width, height),
            best.image,
            QRectF(left * across, top * down, width * across, height * down),
        )
        painter.restore()
        return True


def _whole(sheet: Sheet) -> PictureWant:
    return PictureWant(sheet.number, sheet.width, sheet.height)


def _stand_in(sheet: Sheet) -> PictureWant:
    shrink = min(1.0, (STAND_IN / (sheet.width * sheet.height)) ** 0.5)
    return PictureWant(sheet.number, round(sheet.width * shrink), round(sheet.height * shrink))
