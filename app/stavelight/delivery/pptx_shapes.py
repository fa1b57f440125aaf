"""Regions as native shapes of a slide: one shape each, that can be moved, resized and recoloured.

A shape is a freeform (``a:custGeom`` of ECMA-376, Part 1, 20.1.9.8) of two paths: the rectangle,
filled and outlined, and the marks of the hatch, outlined only. A preset pattern (``a:pattFill``)
would be the other way; but its background and foreground cannot be relied on to be translucent in
every slide program, and an opaque one would hide the notes.
"""

from __future__ import annotations

from typing import Any

from pptx.enum.shapes import MSO_SHAPE
from pptx.oxml import parse_xml
from pptx.oxml.ns import nsdecls, qn
from pptx.util import Emu

from stavelight.delivery.slide_frame import PALE_LINE, Box
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.hatching import DISTANCE, Marks, hatch_marks, line_colour

EMU_PER_MILLIMETRE = 36_000

LINE_WIDTH = 0.3
LINE_OPACITY = 0.6
_DOT_RADIUS = 0.4
_MOST_MARKS = 400
"""Beyond that, the marks of a hatch stand further apart: slide programs grow slow."""


def emu(millimetres: float) -> Emu:
    """Return a length in English Metric Units, of which an inch has 914 400."""
    return Emu(round(millimetres * EMU_PER_MILLIMETRE))


def set_place(shape: Any, box: Box) -> None:
    """Move a shape to its place on the slide."""
    shape.left, shape.top = emu(box.left), emu(box.top)
    shape.width, shape.height = emu(box.width), emu(box.height)


def add_area(
    shapes: Any,
    rectangle: Rectangle,
    colour: str,
    hatch: str,
    opacity: float,
    *,
    name: str,
    description: str,
) -> Any:
    """Add a region to a slide, or a sample of one to a group; return the shape.

    Parameters
    ----------
    shapes
        Of the slide or of the group.
    rectangle
        Its place, in millimetres.
    colour
        As ``#rrggbb``.
    hatch
        Id of the hatch.
    opacity
        Of the fill, 0 to 1.
    name, description
        What the slide program lists it as, and its alternative text.
    """
    shape = shapes.add_shape(
        MSO_SHAPE.RECTANGLE,
        emu(rectangle.left),
        emu(rectangle.top),
        emu(rectangle.width),
        emu(rectangle.height),
    )
    shape.name = name
    element = shape._element
    element.nvSpPr.cNvPr.set("descr", description)
    style = element.find(qn("p:style"))
    if style is not None:
        element.remove(style)
    properties = element.spPr
    for child in list(properties):
        if child.tag != qn("a:xfrm"):
            properties.remove(child)
    properties.append(_geometry(rectangle, _marks(rectangle, hatch)))
    properties.append(_fill(colour, opacity))
    properties.append(_line(line_colour(colour), LINE_OPACITY, LINE_WIDTH))
    return shape


def staff_lines(shape_id: int, box: Box) -> Any:
    """Return the empty staff of the title slide as a shape."""
    lines = tuple(
        (box.left, y, box.right, y) for y in (box.top + box.height * line / 4 for line in range(5))
    )
    rectangle = Rectangle(box.left, box.top, box.right, box.bottom)
    shape = parse_xml(
        f"<p:sp {nsdecls('p', 'a')}><p:nvSpPr>"
        f'<p:cNvPr id="{shape_id}" name="Empty staff" descr=""/><p:cNvSpPr/><p:nvPr userDrawn="1"/>'
        "</p:nvSpPr><p:spPr><a:xfrm>"
        f'<a:off x="{emu(box.left)}" y="{emu(box.top)}"/>'
        f'<a:ext cx="{emu(box.width)}" cy="{emu(box.height)}"/>'
        "</a:xfrm></p:spPr></p:sp>"
    )
    properties = shape.find(qn("p:spPr"))
    properties.append(_geometry(rectangle, Marks(lines), has_outline=False))
    properties.append(parse_xml(f"<a:noFill {nsdecls('a')}/>"))
    properties.append(_line(PALE_LINE, 1.0, 0.4))
    return shape


def _marks(rectangle: Rectangle, hatch: str) -> Marks:
    distance = DISTANCE
    marks = hatch_marks(rectangle, hatch, distance)
    while len(marks.lines) + len(marks.dots) > _MOST_MARKS:
        distance *= 1.25
        marks = hatch_marks(rectangle, hatch, distance)
    return marks


def _geometry(rectangle: Rectangle, marks: Marks, *, has_outline: bool = True) -> Any:
    """Return the paths of a shape; their unit is the EMU, from the shape's upper left corner."""
    width, height = emu(rectangle.width), emu(rectangle.height)

    def point(x: float, y: float) -> str:
        return f'<a:pt x="{emu(x - rectangle.left)}" y="{emu(y - rectangle.top)}"/>'

    paths = []
    if has_outline:
        paths.append(
            f'<a:path w="{width}" h="{height}"><a:moveTo><a:pt x="0" y="0"/></a:moveTo>'
            f'<a:lnTo><a:pt x="{width}" y="0"/></a:lnTo>'
            f'<a:lnTo><a:pt x="{width}" y="{height}"/></a:lnTo>'
            f'<a:lnTo><a:pt x="0" y="{height}"/></a:lnTo><a:close/></a:path>'
        )
    if marks.lines:
        lines = "".join(
            f"<a:moveTo>{point(x1, y1)}</a:moveTo><a:lnTo>{point(x2, y2)}</a:lnTo>"
            for x1, y1, x2, y2 in marks.lines
        )
        paths.append(f'<a:path w="{width}" h="{height}" fill="none">{lines}</a:path>')
    if marks.dots:
        radius = emu(_DOT_RADIUS)
        dots = "".join(
            f"<a:moveTo>{point(x + _DOT_RADIUS, y)}</a:moveTo>"
            f'<a:arcTo wR="{radius}" hR="{radius}" stAng="0" swAng="21600000"/><a:close/>'
            for x, y in marks.dots
        )
        paths.append(f'<a:path w="{width}" h="{height}" fill="none">{dots}</a:path>')
    return parse_xml(
        f"<a:custGeom {nsdecls('a')}><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/>"
        '<a:rect l="0" t="0" r="r" b="b"/>'
        f"<a:pathLst>{''.join(paths)}</a:pathLst></a:custGeom>"
    )


def _fill(colour: str, opacity: float) -> Any:
    return parse_xml(f"<a:solidFill {nsdecls('a')}>{_colour(colour, opacity)}</a:solidFill>")


def _line(colour: str, opacity: float, width: float) -> Any:
    return parse_xml(
        f'<a:ln {nsdecls("a")} w="{emu(width)}"><a:solidFill>{_colour(colour, opacity)}'
        '</a:solidFill><a:miter lim="800000"/></a:ln>'
    )


def _colour(colour: str, opacity: float) -> str:
    """Return a colour with its opacity, which DrawingML counts in thousandths of a per cent."""
    return (
        f'<a:srgbClr val="{colour[1:].upper()}"><a:alpha val="{round(opacity * 100_000)}"/>'
        "</a:srgbClr>"
    )
