"""How the colours and patterns of the annotation layer look on a page."""

from __future__ import annotations

from stavelight.annotation import palette
from stavelight.engraving.page_picture import AreaStyle


def area_style(colour: str, pattern: str) -> AreaStyle:
    """Return how an area looks.

    Parameters
    ----------
    colour, pattern
        Ids of the palette.
    """
    return AreaStyle(palette.colour(colour).hex, palette.hatch(pattern).id)
