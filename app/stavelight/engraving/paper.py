"""Paper and how a score is laid out on it."""

from __future__ import annotations

from dataclasses import dataclass, replace

PAPER_SIZES = {
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "Tabloid": (279.4, 431.8),
    "Letter": (215.9, 279.4),
}
"""Width and height in millimetres, upright. Sources: ISO 216:2007; ANSI/ASME Y14.1 (from memory).
"""

LARGE_SCORE_STAVES = 14
"""From this many staves on, the automatic paper is A3."""


@dataclass(frozen=True, slots=True)
class PageLayout:
    """How a score is laid out. Lengths in millimetres.

    Attributes
    ----------
    paper
        A key of `PAPER_SIZES`, or "automatic": A3 for large scores, A4 for others.
    landscape
        Whether the long side lies below.
    margin
        On all four sides.
    staff_height
        Height of a five-line staff; None: so that the tallest system fits on a page.
    edition_breaks
        Whether systems and pages break where the file says, if it says so.
    hide_resting
        Whether parts that rest throughout a system are left out of it. The first system of the
        score is always complete.
    never_hidden
        What must stay although it rests, because something is marked there: (first bar, last bar,
        part), all indices.
    parts
        Indices of the parts to show, ascending; None: all.
    sounding_pitch
        Whether to show the pitch that sounds instead of the written one.
    """

    paper: str = "automatic"
    landscape: bool = False
    margin: float = 14.0
    staff_height: float | None = None
    edition_breaks: bool = False
    hide_resting: bool = False
    never_hidden: tuple[tuple[int, int, int], ...] = ()
    parts: tuple[int, ...] | None = None
    sounding_pitch: bool = False

    def page_size(self, staff_count: int) -> tuple[float, float]:
        """Return width and height of a page for a score of so many staves."""
        paper = self.paper
        if paper == "automatic":
            paper = "A3" if staff_count >= LARGE_SCORE_STAVES else "A4"
        width, height = PAPER_SIZES[paper]
        return (height, width) if self.landscape else (width, height)

    def showing(self, parts: tuple[int, ...] | None) -> PageLayout:
        """Return the same layout for other parts."""
        return replace(self, parts=parts)
