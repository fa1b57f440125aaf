"""Turn what verovio draws into what Qt can paint, and read the places of things from it.

Qt's SVG reader knows neither drawings inside drawings, nor text runs inside text runs, nor style
sheets that go by ancestors: here all that is made plain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from lxml import etree

_SVG = "{http://www.w3.org/2000/svg}"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_SHAPES = {_SVG + name for name in ("path", "ellipse", "polygon", "polyline", "rect")}
_LINE_PATH = re.compile(r"M\s*(-?[\d.]+)[ ,](-?[\d.]+)\s+L\s*(-?[\d.]+)[ ,](-?[\d.]+)\s*$")
_TRANSLATE = re.compile(r"translate\(\s*(-?[\d.]+)[ ,]+(-?[\d.]+)")
_BOLD = frozenset({"ending", "fing", "reh", "tempo"})
_ITALIC = frozenset({"dir", "dynam", "mNum"})
_SOUNDING = frozenset({"note", "rest", "mRest"})
_HEAD_HALF_WIDTH = 0.59
"""Half the width of a black notehead, in staff spaces."""

TEXT_FAMILY = "Liberation Serif"
"""The text font that ships with verovio, by the name that the font itself bears."""


@dataclass(frozen=True, slots=True)
class DrawnCell:
    """One bar on one staff: its edges in the coordinates of the drawing."""

    bar_id: str
    staff_number: int
    left: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class DrawnNote:
    """A notehead or a rest: its middle in the coordinates of the drawing."""

    id: str
    x: float
    y: float
    cell: int
    is_whole_rest: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """One system as drawn by verovio.

    Attributes
    ----------
    content
        SVG elements, to be put into a group.
    glyphs
        SVG definitions by id.
    width, height
        Of the drawing, in its own coordinates.
    cells, notes
        What stands where.
    bar_ids
        The ids of the bars, from left to right.
    """

    content: bytes
    glyphs: dict[str, bytes]
    width: float
    height: float
    cells: tuple[DrawnCell, ...]
    notes: tuple[DrawnNote, ...]
    bar_ids: tuple[str, ...]


def read_drawing(svg: str) -> Drawing:
    """Return a system from the drawing of a page that holds nothing else.

    Parameters
    ----------
    svg
        What verovio drew.
    """
    root = etree.fromstring(svg.encode("utf-8"))
    inner = root.find(f"{_SVG}svg")
    _, _, width, height = (float(value) for value in inner.get("viewBox").split())
    glyphs, renamed = _glyphs(root)
    margin = inner.find(f"{_SVG}g")
    cells: list[DrawnCell] = []
    notes: list[DrawnNote] = []
    bar_ids: list[str] = []
    for measure in margin.iter(f"{_SVG}g"):
        if measure.get("class") == "measure":
            bar_ids.append(measure.get("id"))
            _read_measure(measure, cells, notes)
    _make_plain(margin, renamed)
    content = b"".join(etree.tostring(child) for child in margin if isinstance(child.tag, str))
    return Drawing(content, glyphs, width, height, tuple(cells), tuple(notes), tuple(bar_ids))


def _glyphs(root: etree._Element) -> tuple[dict[str, bytes], dict[str, str]]:
    """Return the glyphs under names that are the same in all drawings, and the new names."""
    glyphs: dict[str, bytes] = {}
    renamed: dict[str, str] = {}
    defs = root.find(f"{_SVG}defs")
    for glyph in defs if defs is not None else ():
        name = glyph.get("id")
        plain_name = name.split("-")[0]
        renamed["#" + name] = "#" + plain_name
        glyph.set("id", plain_name)
        glyphs[plain_name] = etree.tostring(glyph)
    return glyphs, renamed


def _read_measure(measure: etree._Element, cells: list[DrawnCell], notes: list[DrawnNote]) -> None:
    for staff in measure.iterchildren(f"{_SVG}g"):
        if staff.get("class") != "staff":
            continue
        lines = [
            [float(value) for value in found.groups()]
            for path in staff.iterchildren(f"{_SVG}path")
            if (found := _LINE_PATH.match(path.get("d", "")))
        ]
        if not lines:
            continue
        ys = [line[1] for line in lines]
        cells.append(
            DrawnCell(
                measure.get("id"),
                int(staff.get("data-n", "1")),
                lines[0][0],
                lines[0][2],
                min(ys),
                max(ys),
            )
        )
        for element in staff.iter(f"{_SVG}g"):
            if element.get("class") in _SOUNDING:
                place = _place(element)
                if place is not None:
                    whole_rest = element.get("class") == "mRest"
                    notes.append(DrawnNote(element.get("id"), *place, len(cells) - 1, whole_rest))


def _place(element: etree._Element) -> tuple[float, float] | None:
    """Return the middle of a notehead or rest."""
    for use in element.iter(f"{_SVG}use"):
        found = _TRANSLATE.search(use.get("transform", ""))
        if found:
            return float(found[1]) + _HEAD_HALF_WIDTH * 180, float(found[2])
    return None


def _make_plain(group: etree._Element, renamed: dict[str, str]) -> None:
    for element in list(group.iter(f"{_SVG}use")):
        href = element.get(_XLINK_HREF)
        element.set(_XLINK_HREF, renamed.get(href, href))
    for element in list(group.iter(f"{_SVG}text")):
        _flatten_text(element)
    for element in list(group.iter()):
        if not isinstance(element.tag, str):
            continue
        if element.tag != _SVG + "tspan":
            element.text = element.tail = None
        kind = element.get("class", "")
        if "placeholder" in kind or "Milestone" in kind.split(" ")[0]:
            if not len(element) or "placeholder" in kind:
                parent = element.getparent()
                if parent is not None:
                    parent.remove(element)
            continue
        if element.tag in _SHAPES:
            if element.get("stroke") in (None, "currentColor"):
                element.set("stroke", "#000000")
            if element.get("fill") == "currentColor":
                element.set("fill", "#000000")
        element.attrib.pop("class", None)
        for name in [name for name in element.attrib if name.startswith("data-")]:
            del element.attrib[name]
        if element.tag == _SVG + "g" and not element.get("id", "").startswith(("n", "b")):
            element.attrib.pop("id", None)


def _flatten_text(text: etree._Element) -> None:
    """Replace nested runs by plain ones: one text for each run that has a place of its own."""
    runs = _runs(text, {}, None)
    weight, style = _style_of_ancestors(text)
    anchor = text.get("text-anchor")
    groups: list[tuple[str, str, list[tuple[str, dict[str, str]]]]] = []
    for content, attributes, place in runs:
        if place is not None or not groups:
            x, y = place if place is not None else (text.get("x", "0"), text.get("y", "0"))
            groups.append((x or text.get("x", "0"), y or text.get("y", "0"), []))
        groups[-1][2].append((content, attributes))
    parent = text.getparent()
    for x, y, pieces in groups:
        plain = etree.Element(f"{_SVG}text", x=x, y=y)
        plain.set("font-family", TEXT_FAMILY)
        plain.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
        if anchor:
            plain.set("text-anchor", anchor)
        for content, attributes in pieces:
            run = etree.SubElement(plain, f"{_SVG}tspan")
            run.set("font-size", attributes.get("font-size", "405px").removesuffix("px"))
            run.set("font-family", attributes.get("font-family", TEXT_FAMILY))
            if "Leipzig" not in run.get("font-family", ""):
                if attributes.get("font-weight", weight) == "bold":
                    run.set("font-weight", "bold")
                if attributes.get("font-style", style) == "italic":
                    run.set("font-style", "italic")
            if attributes.get("fill"):
                run.set("fill", attributes["fill"])
            run.text = content
        parent.insert(parent.index(text), plain)
    parent.remove(text)


def _runs(
    element: etree._Element, inherited: dict[str, str], place: tuple[str, str] | None
) -> list[tuple[str, dict[str, str], tuple[str, str] | None]]:
    """Return the runs of a text: content, attributes, and a place if one is given."""
    attributes = inherited | {
        name: value
        for name, value in element.attrib.items()
        if name in ("font-size", "font-family", "font-style", "font-weight", "fill")
    }
    if element.get("color"):
        attributes["fill"] = element.get("color")
    if element.tag != f"{_SVG}text" and (element.get("x") or element.get("y")):
        place = (element.get("x", ""), element.get("y", ""))
    found: list[tuple[str, dict[str, str], tuple[str, str] | None]] = []
    own = element.text or ""
    if own.strip() or (own and not len(element)):
        found.append((own, attributes, place))
        place = None
    for child in element:
        inner = _runs(child, attributes, place)
        if inner:
            place = None
        found.extend(inner)
    return found


def _style_of_ancestors(text: etree._Element) -> tuple[str, str]:
    weight = style = "normal"
    for ancestor in text.iterancestors(f"{_SVG}g"):
        kinds = set(ancestor.get("class", "").split())
        if kinds & _BOLD:
            weight = "bold"
        if kinds & _ITALIC:
            style = "italic"
        if ancestor.get("font-weight"):
            weight = ancestor.get("font-weight")
        if ancestor.get("font-style"):
            style = ancestor.get("font-style")
    return weight, style
