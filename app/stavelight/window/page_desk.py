"""Where pages lie on the desk: zoom, margins, one page or two, all in device pixels."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stavelight.engraving.geometry import Rectangle

SMALLEST_ZOOM = 0.1
LARGEST_ZOOM = 16.0
ZOOM_STEPS = tuple(
    percent / 100
    for percent in (
        10,
        15,
        25,
        33,
        50,
        67,
        75,
        90,
        100,
        125,
        150,
        200,
        300,
        400,
        600,
        800,
        1200,
        1600,
    )
)

FIT_WIDTH = "width"
FIT_PAGE = "page"
PERCENT = "percent"

MARGIN = 18
"""Logical pixels around the pages."""

GAP = 2
"""Logical pixels between two pages side by side."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page on the desk.

    Attributes
    ----------
    number
        Of the page.
    left, top, width, height
        In device pixels, from the upper left corner of what is seen of the desk.
    scale
        Device pixels to a millimetre.
    """

    number: int
    left: int
    top: int
    width: int
    height: int
    scale: float

    def moved(self, across: int, down: int) -> Sheet:
        """Return the page elsewhere on the desk."""
        return replace(self, left=self.left + across, top=self.top + down)

    def holds(self, x: float, y: float) -> bool:
        """Tell whether a point, in device pixels, lies on the page."""
        return 0 <= x - self.left < self.width and 0 <= y - self.top < self.height

    def distance(self, x: float, y: float) -> float:
        """Return how far a point is from the page, 0 if it lies on it."""
        across = max(self.left - x, x - self.left - self.width, 0.0)
        down = max(self.top - y, y - self.top - self.height, 0.0)
        return float(across + down)

    def to_page(self, x: float, y: float) -> tuple[float, float]:
        """Return the millimetres on the page of a point in device pixels."""
        return (x - self.left) / self.scale, (y - self.top) / self.scale

    def to_desk(self, x: float, y: float) -> tuple[float, float]:
        """Return the device pixels of a point in millimetres on the page."""
        return self.left + x * self.scale, self.top + y * self.scale

    def seen(self, width: int, height: int) -> tuple[int, int, int, int]:
        """Return left, top, width and height of what a window shows of the page, in its pixels."""
        left, top = max(0, -self.left), max(0, -self.top)
        right = min(self.width, width - self.left)
        bottom = min(self.height, height - self.top)
        return left, top, max(0, right - left), max(0, bottom - top)


@dataclass(frozen=True, slots=True)
class Desk:
    """The desk and what lies on it, before it is scrolled.

    Attributes
    ----------
    page_width, page_height
        In millimetres, of every page.
    places
        How many pages lie side by side: 1 or 2.
    width, height
        Of the window without scroll bars, in logical pixels.
    bar_extent
        How much a scroll bar takes away, in logical pixels.
    pixels_per_millimetre
        Logical pixels at true size.
    ratio
        Device pixels to a logical one.
    """

    page_width: float
    page_height: float
    places: int
    width: int
    height: int
    bar_extent: int
    pixels_per_millimetre: float
    ratio: float

    def zoom_for(self, mode: str, percent: float) -> float:
        """Return the zoom that a mode means, 1 being true size."""
        if mode == PERCENT:
            return min(max(percent, SMALLEST_ZOOM), LARGEST_ZOOM)
        taken = 2 * MARGIN + (self.places - 1) * GAP
        across = self.page_width * self.places * self.pixels_per_millimetre
        down = self.page_height * self.pixels_per_millimetre
        if mode == FIT_PAGE:
            zoom = min((self.width - taken) / across, (self.height - 2 * MARGIN) / down)
        else:
            zoom = (self.width - taken) / across
            if down * zoom + 2 * MARGIN > self.height:
                zoom = (self.width - self.bar_extent - taken) / across
        return min(max(zoom, SMALLEST_ZOOM), LARGEST_ZOOM)

    def content(self, zoom: float) -> tuple[int, int]:
        """Return width and height that the pages take with their margins, in logical pixels."""
        scale = zoom * self.pixels_per_millimetre
        return (
            round(self.page_width * scale) * self.places + (self.places - 1) * GAP + 2 * MARGIN,
            round(self.page_height * scale) + 2 * MARGIN,
        )

    def window(self, zoom: float) -> tuple[int, int]:
        """Return width and height of what is seen, without the scroll bars, in logical pixels."""
        width, height = self.width, self.height
        across, down = self.content(zoom)
        if down > height:
            width -= self.bar_extent
        if across > width:
            height -= self.bar_extent
            if down > height and width == self.width:
                width -= self.bar_extent
        return max(width, 1), max(height, 1)

    def sheets(
        self, numbers: tuple[int, ...], zoom: float, scroll_x: int, scroll_y: int
    ) -> tuple[Sheet, ...]:
        """Return where some pages lie.

        Parameters
        ----------
        numbers
            One or two; page 0 leaves its place empty.
        zoom
            1 is true size.
        scroll_x, scroll_y
            In logical pixels.
        """
        scale = zoom * self.pixels_per_millimetre * self.ratio
        width, height = round(self.page_width * scale), round(self.page_height * scale)
        seen_width, seen_height = self.window(zoom)
        content_width, content_height = self.content(zoom)
        left = max((seen_width - content_width) // 2, 0) + MARGIN - scroll_x
        top = max((seen_height - content_height) // 2, 0) + MARGIN - scroll_y
        return tuple(
            Sheet(
                number,
                round(left * self.ratio) + index * (width + round(GAP * self.ratio)),
                round(top * self.ratio),
                width,
                height,
                scale,
            )
            for index, number in enumerate(numbers)
            if number > 0
        )


def opening_of(number: int, count: int, *, spread: bool) -> tuple[int, ...]:
    """Return the pages that are seen together with one; 0 where there is none.

    In a spread even pages lie on the left and odd ones on the right, as in a bound score (common
    practice), so that page 1 lies alone.
    """
    if not spread or count == 1:
        return (number,)
    left = number - number % 2
    return (left, left + 1 if left < count or not count else 0)


def neighbours_of(opening: tuple[int, ...], count: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the pages that come after those that are seen, and those before, the nearest first."""
    here = [number for number in opening if number]
    reach = range(1, len(opening) + 1)
    after = (here[-1] + step for step in reach)
    before = (here[0] - step for step in reach)
    return (
        tuple(number for number in after if number <= count),
        tuple(number for number in before if number >= 1),
    )


def window_part(
    sheet: Sheet, width: int, height: int, largest: int
) -> tuple[int, int, int, int] | None:
    """Return which part of a page to make a picture of: what is seen, with a margin around it.

    Parameters
    ----------
    sheet
        The page.
    width, height
        Of what is seen of the desk.
    largest
        How many pixels the part may have.

    Returns
    -------
    tuple or None
        Left, top, width, height in the page's pixels; None if nothing of it is seen.
    """
    left, top, across, down = sheet.seen(width, height)
    if not across or not down:
        return None
    margin = 0.5
    while margin > 0.02 and across * down * (1 + 2 * margin) ** 2 > largest:
        margin /= 2
    first_x, first_y = max(0, int(left - across * margin)), max(0, int(top - down * margin))
    last_x = min(sheet.width, int(left + across * (1 + margin)) + 1)
    last_y = min(sheet.height, int(top + down * (1 + margin)) + 1)
    return first_x, first_y, last_x - first_x, last_y - first_y


def covers(part: tuple[int, int, int, int], wanted: tuple[int, int, int, int]) -> bool:
    """Tell whether a rectangle lies within another."""
    return (
        part[0] <= wanted[0]
        and part[1] <= wanted[1]
        and part[0] + part[2] >= wanted[0] + wanted[2]
        and part[1] + part[3] >= wanted[1] + wanted[3]
    )


def scroll_to_show(target: Rectangle, sheet: Sheet, width: int, height: int) -> tuple[int, int]:
    """Return by how many device pixels to scroll so that a rectangle of a page is seen well.

    Nothing if it is seen already; else so that its middle comes to the middle, or its upper left
    corner into view if it is larger than the window.
    """
    left, top = sheet.to_desk(target.left, target.top)
    right, bottom = sheet.to_desk(target.right, target.bottom)
    return (
        _shift(left, right, width, MARGIN * 2),
        _shift(top, bottom, height, MARGIN * 2),
    )


def _shift(first: float, last: float, room: int, margin: int) -> int:
    if first >= 0 and last <= room:
        return 0
    if last - first > room - 2 * margin:
        return round(first - margin)
    return round((first + last) / 2 - room / 2)
