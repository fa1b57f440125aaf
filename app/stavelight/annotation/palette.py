"""The colours and hatch patterns of regions.

The colours are the eight of Masataka Okabe and Kei Ito, *Color Universal Design: How to make
figures and presentations that are friendly to colorblind people*, 2002, revised 2008, which stay
apart under the common colour-vision deficiencies; their RGB figures are taken from the table
there. Each goes with a hatch of its own, so that meaning never rests on colour alone. The hatches
are this project's; they are told as directions and marks, and whoever draws them sets their width.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Hatch:
    """A pattern that is laid over a region's colour.

    Attributes
    ----------
    id, name
        Its id in the layer file, and what a person calls it.
    angles_degrees
        The directions of its lines, counter-clockwise from the horizontal; dots stand in rows
        along them.
    mark
        What the lines are made of.
    """

    id: str
    name: str
    angles_degrees: tuple[int, ...]
    mark: Literal["line", "dash", "dot"] = "line"


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour of the palette.

    Attributes
    ----------
    id, name
        Its id in the layer file, and what a person calls it.
    hex
        ``#RRGGBB``, sRGB.
    pattern
        Id of the hatch that goes with it unless a person chooses another.
    for_regions
        False for black, which belongs to the score.
    """

    id: str
    name: str
    hex: str
    pattern: str
    for_regions: bool = True

    @property
    def rgb(self) -> tuple[int, int, int]:
        """Red, green and blue, 0 to 255."""
        return int(self.hex[1:3], 16), int(self.hex[3:5], 16), int(self.hex[5:7], 16)


HATCHES = (
    Hatch("rising", "Rising lines", (45,)),
    Hatch("falling", "Falling lines", (135,)),
    Hatch("level", "Level lines", (0,)),
    Hatch("upright", "Upright lines", (90,)),
    Hatch("grid", "Grid", (0, 90)),
    Hatch("lattice", "Lattice", (45, 135)),
    Hatch("dots", "Dots", (0,), "dot"),
    Hatch("dashes", "Dashes", (0,), "dash"),
)
"""All hatches."""

COLOURS = (
    Colour("black", "Black", "#000000", "dashes", for_regions=False),
    Colour("orange", "Orange", "#E69F00", "rising"),
    Colour("sky-blue", "Sky blue", "#56B4E9", "falling"),
    Colour("bluish-green", "Bluish green", "#009E73", "level"),
    Colour("yellow", "Yellow", "#F0E442", "lattice"),
    Colour("blue", "Blue", "#0072B2", "upright"),
    Colour("vermilion", "Vermilion", "#D55E00", "dots"),
    Colour("reddish-purple", "Reddish purple", "#CC79A7", "grid"),
)
"""All colours, in the published order."""

REGION_COLOURS = tuple(colour for colour in COLOURS if colour.for_regions)
"""The colours that a region may have: all but black."""

COLOUR_BY_ID = {colour.id: colour for colour in COLOURS}
HATCH_BY_ID = {hatch.id: hatch for hatch in HATCHES}


def colour(colour_id: str) -> Colour:
    """Return the colour of this id; the first one for regions if the palette does not have it."""
    return COLOUR_BY_ID.get(colour_id, REGION_COLOURS[0])


def hatch(hatch_id: str) -> Hatch:
    """Return the hatch of this id; the first one if there is none of this id."""
    return HATCH_BY_ID.get(hatch_id, HATCHES[0])
