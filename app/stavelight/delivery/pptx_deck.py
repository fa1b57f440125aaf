"""An empty deck in the wide format: its theme, its master, and three layouts.

It starts from the deck that ships with python-pptx. The fonts are the theme's, Times New Roman for
both: it is on nearly every computer, free fonts of the same widths stand in for it elsewhere, and
the engraver's text font is one of these, so texts measured with that one fit. The theme's accents
are the colours of regions, so that a slide program offers them for recolouring.
"""

from __future__ import annotations

from typing import Any

from lxml import etree
from pptx import Presentation
from pptx.opc.constants import RELATIONSHIP_TYPE
from pptx.oxml.ns import qn
from pptx.presentation import Presentation as Deck
from pptx.slide import SlideLayout

from stavelight.annotation.palette import REGION_COLOURS
from stavelight.delivery.pptx_shapes import emu, set_place, staff_lines
from stavelight.delivery.slide_frame import (
    BODY_SIZES,
    FOOT_SIZES,
    HEADING_SIZES,
    INK,
    LESSON_SIZE,
    QUIET_INK,
    SLIDE_HEIGHT,
    SLIDE_WIDTH,
    SUBTITLE_BOX,
    TITLE_BOX,
    TITLE_SIZES,
    TITLE_STAFF,
    Arrangement,
    slide_frame,
)

FONT = "Times New Roman"

_A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
_NEEDLESS = ("thumbnail", "printerSettings")
_APPLICATION = (
    b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    b'<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
    b"<Application>Stavelight</Application></Properties>"
)
_LAYOUTS = {0: "Title", 1: "Excerpt and commentary", 5: "Excerpt"}
"""Those that are kept, by their place in the deck that is started from, with their new names."""


def empty_deck() -> tuple[Deck, dict[str, SlideLayout]]:
    """Return a deck without slides, and its layouts by name."""
    deck = Presentation()
    deck.slide_width, deck.slide_height = emu(SLIDE_WIDTH), emu(SLIDE_HEIGHT)
    layouts = {}
    for index, layout in enumerate(list(deck.slide_layouts)):
        if index in _LAYOUTS:
            layout.name = _LAYOUTS[index]
            layouts[layout.name] = layout
        else:
            deck.slide_layouts.remove(layout)
    _set_theme(deck)
    _drop_needless_parts(deck)
    _set_master(deck)
    _set_layouts(layouts)
    return deck, layouts


def _set_theme(deck: Deck) -> None:
    theme = deck.slide_master.part.part_related_by(RELATIONSHIP_TYPE.THEME)
    root = etree.fromstring(theme.blob)
    _set_fonts_and_colours(root)
    theme.blob = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
    # That of the notes is made anew by python-pptx, and so it is there as a tree.
    notes_theme: Any = deck.notes_master.part.part_related_by(RELATIONSHIP_TYPE.THEME)
    _set_fonts_and_colours(notes_theme._element)


def _set_fonts_and_colours(root: Any) -> None:
    root.set("name", "Stavelight")
    for font in root.iter(f"{_A}majorFont", f"{_A}minorFont"):
        font.find(f"{_A}latin").set("typeface", FONT)
    colours = {"dk1": INK, "dk2": QUIET_INK, "lt2": "#eef0f2"}
    names = [colour.hex for colour in REGION_COLOURS if colour.id != "yellow"]
    colours |= {f"accent{place}": name for place, name in enumerate(names, 1)}
    scheme = next(root.iter(f"{_A}clrScheme"))
    for name, value in colours.items():
        slot = scheme.find(_A + name)
        slot.clear()
        etree.SubElement(slot, f"{_A}srgbClr", val=value[1:].upper())


def _drop_needless_parts(deck: Deck) -> None:
    """Drop what tells of the deck that was started from: its picture, its printer, its program."""
    package = deck.part.package
    for holder in (package, deck.part):
        rels: Any = holder._rels
        for key in [key for key, rel in rels.items() if rel.reltype.endswith(_NEEDLESS)]:
            rels.pop(key)
    application = package.part_related_by(RELATIONSHIP_TYPE.EXTENDED_PROPERTIES)
    application.blob = _APPLICATION


def _set_master(deck: Deck) -> None:
    frame = slide_frame(Arrangement.COLUMN, 0.0)
    boxes = {
        "TITLE": frame.heading,
        "BODY": frame.text,
        "FOOTER": frame.foot,
        "SLIDE_NUMBER": frame.number,
    }
    master = deck.slide_master
    for placeholder in list(master.placeholders):
        kind = placeholder.placeholder_format.type.name
        if kind == "DATE":
            placeholder.element.getparent().remove(placeholder.element)
            continue
        set_place(placeholder, boxes[kind])
        _set_body_properties(placeholder.element)
        if kind in ("FOOTER", "SLIDE_NUMBER"):
            _set_level(
                placeholder.element.find(f".//{_A}lstStyle"),
                FOOT_SIZES[0],
                align="r" if kind == "SLIDE_NUMBER" else "l",
                quiet=True,
            )
    styles = master.element.find(qn("p:txStyles"))
    _set_level(styles.find(qn("p:titleStyle")), HEADING_SIZES[0], bold=True)
    _set_level(styles.find(qn("p:bodyStyle")), BODY_SIZES[-1])


def _set_layouts(layouts: dict[str, SlideLayout]) -> None:
    for layout in layouts.values():
        placeholders: Any = layout.placeholders
        for placeholder in list(placeholders):
            kind = placeholder.placeholder_format.type.name
            if kind == "DATE" or (layout.name == "Title" and kind in ("FOOTER", "SLIDE_NUMBER")):
                placeholder.element.getparent().remove(placeholder.element)
    title = layouts["Title"]
    placeholders = title.placeholders
    for placeholder in placeholders:
        is_title = placeholder.placeholder_format.type.name == "CENTER_TITLE"
        set_place(placeholder, TITLE_BOX if is_title else SUBTITLE_BOX)
        _set_body_properties(placeholder.element, anchor="b" if is_title else "t")
        style = placeholder.element.find(f".//{_A}lstStyle")
        _set_level(
            style,
            TITLE_SIZES[0] if is_title else LESSON_SIZE,
            bold=is_title,
            quiet=not is_title,
        )
    lines = staff_lines(2000, TITLE_STAFF)
    title.shapes._spTree.insert(2, lines)


def _set_body_properties(element: Any, anchor: str = "t") -> None:
    """Let text begin at the very edge of its place, as the painted slides have it."""
    body = element.find(f".//{_A}bodyPr")
    for side in ("lIns", "tIns", "rIns", "bIns"):
        body.set(side, "0")
    body.set("anchor", anchor)
    body.set("wrap", "square")


def _set_level(
    style: Any, size: float, *, align: str = "l", bold: bool = False, quiet: bool = False
) -> None:
    """Set the first level of a list style: no bullet, single spacing.

    Texts were measured with wider spacing, so that they also fit where another font stands in.
    """
    before = style.find(f"{_A}lvl1pPr")
    if before is not None:
        style.remove(before)
    level = etree.Element(f"{_A}lvl1pPr", marL="0", indent="0", algn=align)
    spacing = etree.SubElement(level, f"{_A}lnSpc")
    etree.SubElement(spacing, f"{_A}spcPct", val="100000")
    before_paragraph = etree.SubElement(level, f"{_A}spcBef")
    etree.SubElement(before_paragraph, f"{_A}spcPts", val="0")
    etree.SubElement(level, f"{_A}buNone")
    run = etree.SubElement(level, f"{_A}defRPr", sz=str(round(size * 100)), b="1" if bold else "0")
    fill = etree.SubElement(run, f"{_A}solidFill")
    etree.SubElement(fill, f"{_A}schemeClr", val="tx2" if quiet else "tx1")
    for slot, name in (("latin", "lt"), ("ea", "ea"), ("cs", "cs")):
        etree.SubElement(run, _A + slot, typeface=f"+{'mj' if bold else 'mn'}-{name}")
    style.insert(0, level)
