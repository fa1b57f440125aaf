"""The one place that calls verovio: a document goes in, a drawing of each page comes out."""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import verovio

from stavelight.engraving.key_changes import Slice, with_keys
from stavelight.errors import EngravingError

UNIT = 9.0
"""Half a staff space in verovio's units; a staff is eight of them high."""

STAFF_HEIGHT = 8 * UNIT * 10
"""Height of a five-line staff in the coordinates of the drawings."""

_LARGEST_PAGE = 100_000

_NOISE = re.compile(
    r"left open|could not be closed|could not be matched|unable to match|will not get rendered"
    r"|is ignored|no header found|could not be paired",
    re.IGNORECASE,
)


def verovio_version() -> str:
    """Return the version of verovio, as part of every key under which drawings are kept."""
    return str(verovio.toolkit(False).getVersion())


@dataclass(frozen=True, slots=True)
class PressResult:
    """What came out.

    Attributes
    ----------
    pages
        One SVG document a page.
    messages
        What verovio said about the document.
    """

    pages: tuple[str, ...]
    messages: tuple[str, ...]


class Press:
    """A verovio toolkit, set up once and used for one document after another."""

    def __init__(self) -> None:
        self._toolkit = verovio.toolkit()

    def print(
        self,
        piece: Slice,
        *,
        width: float,
        pages: slice,
        sounding_pitch: bool = False,
        staff_distance: float = 12.0,
    ) -> PressResult:
        """Engrave a document in which every page break is written.

        Parameters
        ----------
        piece
            MusicXML or MEI, with page breaks.
        width
            Width of a page in the coordinates of the drawings.
        pages
            Which of its pages to draw.
        sounding_pitch
            Whether to show the pitch that sounds.
        staff_distance
            The least distance between staves, in half staff spaces.

        Raises
        ------
        EngravingError
            If verovio refuses the document.
        """
        toolkit = self._toolkit
        toolkit.setOptions(
            {
                "adjustPageHeight": True,
                "breaks": "encoded",
                "condense": "none",
                "footer": "none",
                "header": "none",
                "justifyVertically": False,
                "pageHeight": 60000,
                "pageMarginBottom": 0,
                "pageMarginLeft": 0,
                "pageMarginRight": 0,
                "pageMarginTop": 0,
                "pageWidth": min(max(int(width / 10), 100), _LARGEST_PAGE),
                "scale": 100,
                "smuflTextFont": "none",
                "spacingStaff": staff_distance,
                "svgAdditionalAttribute": ["staff@n"],
                "transposeToSoundingPitch": sounding_pitch,
                "unit": UNIT,
                "xmlIdSeed": 1,
            }
        )
        said = _Said()
        with _listening(said):
            loaded = self._load(piece, sounding_pitch)
            wanted = range(1, int(toolkit.getPageCount()) + 1)[pages] if loaded else range(0)
            drawn = tuple(str(toolkit.renderToSVG(page)) for page in wanted)
        messages = tuple(line for line in said.lines if not _NOISE.search(line))
        if not loaded:
            raise EngravingError(
                "This passage cannot be engraved: " + "; ".join(messages or ("no reason given",)),
                remedy="Check the notation of these bars in the program that the score comes from.",
            )
        return PressResult(drawn, messages)

    def _load(self, piece: Slice, sounding_pitch: bool) -> bool:
        """Load a document; where keys change staff by staff, by way of verovio's own MEI."""
        toolkit = self._toolkit
        if piece.keys:
            toolkit.setOptions({"transposeToSoundingPitch": False})
        loaded = bool(toolkit.loadData(piece.document.decode("utf-8")))
        if loaded and piece.keys:
            mei = with_keys(str(toolkit.getMEI()).encode("utf-8"), piece.keys)
            toolkit.setOptions({"transposeToSoundingPitch": sounding_pitch})
            loaded = bool(toolkit.loadData(mei.decode("utf-8")))
        return loaded


@dataclass(slots=True)
class _Said:
    """What verovio wrote about a document, line by line."""

    lines: list[str] = field(default_factory=list)


@contextmanager
def _listening(said: _Said) -> Iterator[None]:
    """Collect what verovio writes to the process's standard error: it has no other way to say it.

    This redirects the file descriptor of the whole process, so it belongs into a process that
    does nothing else at that time.
    """
    sys.stderr.flush()
    kept = os.dup(2)
    with tempfile.TemporaryFile() as heard:
        os.dup2(heard.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
        heard.seek(0)
        text = heard.read().decode("utf-8", "replace")
    said.lines.extend(line.strip() for line in text.splitlines() if line.strip())
