"""Slides as a .pptx file: text as text, regions as shapes, the whole commentary in the notes.

The notes of the music are a picture. It is a PNG of 300 dots an inch and not a drawing in vectors,
because that is what every slide program shows alike.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pptx.enum.dml import MSO_THEME_COLOR
from pptx.enum.text import MSO_AUTO_SIZE, PP_ALIGN
from pptx.oxml.ns import qn
from pptx.util import Pt
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF
from PySide6.QtGui import QImage, QImageWriter

from stavelight.delivery.commentary_text import Paragraph
from stavelight.delivery.pptx_deck import empty_deck
from stavelight.delivery.pptx_shapes import add_area, emu, set_place
from stavelight.delivery.slide_frame import MILLIMETRES_PER_POINT, TITLE_FOOT_BOX, Box
from stavelight.delivery.slide_key import KeyEntry
from stavelight.delivery.slide_model import TitleSlide
from stavelight.delivery.slide_picture import (
    KEY_OPACITY,
    OTHER_OPACITY,
    OWN_OPACITY,
    foot_block,
    heading_block,
    place_block,
    title_blocks,
)
from stavelight.delivery.slide_plan import Slide
from stavelight.delivery.text_layout import (
    BULLET_INDENT,
    LINE_SPACING,
    PARAGRAPH_GAP,
    TextBlock,
    one_style,
)
from stavelight.engraving.geometry import Rectangle
from stavelight.engraving.page_maker import EngravedPage
from stavelight.engraving.page_picture import PagePainter

_PIXELS_PER_MILLIMETRE = 300 / 25.4
BLEED = 1.5
"""Millimetres around an excerpt that its picture shows, too."""

_A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
_ROOM_FOR_LINE = 1.25
"""Height of a line in font sizes, for fonts that stand in and are taller than ours."""

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of every file inside: the first that the format can hold. So bytes are repeatable."""


class PptxSlides:
    """Makes a deck and writes it to a file when it is complete.

    Parameters
    ----------
    path
        The file.
    title
        The title slide, for the document's properties.
    """

    def __init__(self, path: Path, title: TitleSlide) -> None:
        self._path = path
        self._deck, self._layouts = empty_deck()
        properties = self._deck.core_properties
        properties.title = " – ".join(part for part in (title.title, title.lesson) if part)[:255]
        properties.author = title.author[:255]
        properties.last_modified_by = title.author[:255]
        properties.subject = title.composer[:255]
        properties.comments = title.credit[:255]
        properties.keywords = ""
        properties.revision = 1
        when = _moment(title.changed)
        properties.created = properties.modified = when

    def add_title(self, slide: TitleSlide) -> None:
        """Add the title slide."""
        made = self._deck.slides.add_slide(self._layouts["Title"])
        title, below, foot = title_blocks(slide)
        _write(made.shapes.title, title)
        subtitle = made.placeholders[1]
        _write(subtitle, *below)
        if not below:
            _remove(subtitle)
        if foot is not None:
            box = TITLE_FOOT_BOX
            height = foot.height * LINE_SPACING
            place = Box(box.left, box.bottom - height, box.width, height)
            _add_text(made.shapes, place, foot, "Credit", quiet=True)
        made.notes_slide.notes_text_frame.text = slide.credit

    def add(self, slide: Slide) -> None:
        """Add any other slide."""
        has_text = bool(slide.text)
        made = self._deck.slides.add_slide(
            self._layouts["Excerpt and commentary" if has_text else "Excerpt"]
        )
        frame = slide.frame
        _write(made.shapes.title, heading_block(slide, frame.heading))
        if slide.excerpt is not None:
            _add_excerpt(made.shapes, slide.excerpt, slide.excerpt_box, slide.excerpt_name)
        for area in slide.areas:
            count = len(area.rectangles)
            for place, rectangle in enumerate(area.rectangles, 1):
                of = f" ({place} of {count})" if count > 1 else ""
                add_area(
                    made.shapes,
                    rectangle,
                    area.region.colour,
                    area.region.hatch,
                    OWN_OPACITY if area.is_own else OTHER_OPACITY,
                    name=f"Region: {area.region.name}{of}",
                    description=area.description,
                )
        if has_text:
            body = made.placeholders[1]
            set_place(body, frame.text)
            _write(body, TextBlock(slide.text, frame.text.width, slide.text_size))
            # After the notes and the regions, as it is read.
            made.shapes._spTree.append(body._element)
        if slide.key:
            _add_key(made.shapes, slide.key)
        if slide.place:
            block = place_block(slide.place, frame.place)
            box = Box(frame.place.left, frame.place.top + 1.5, frame.place.width, block.height)
            _add_text(made.shapes, box, block, "Bars and time", quiet=True, right=True)
        self._add_foot(made, slide)
        made.notes_slide.notes_text_frame.text = slide.notes

    def _add_foot(self, made: Any, slide: Slide) -> None:
        """Add the credit line and the slide's number where the layout has them."""
        for placeholder in made.slide_layout.placeholders:
            kind = placeholder.placeholder_format.type.name
            if kind not in ("FOOTER", "SLIDE_NUMBER"):
                continue
            element = deepcopy(placeholder._element)
            element.nvSpPr.cNvPr.set("id", str(_next_id(made.shapes)))
            made.shapes._spTree.append(element)
            shape = made.shapes[len(made.shapes) - 1]
            if kind == "FOOTER":
                shape.name = "Credit line"
                _write(shape, foot_block(slide.foot, slide.frame.foot))
            else:
                shape.name = "Slide number"
                for text in element.iter(f"{_A}t"):
                    text.text = str(slide.number)

    def finish(self) -> None:
        """Write the file."""
        packed = io.BytesIO()
        self._deck.save(packed)
        with (
            zipfile.ZipFile(packed) as source,
            zipfile.ZipFile(self._path, "w", zipfile.ZIP_DEFLATED) as target,
        ):
            for entry in source.infolist():
                fresh = zipfile.ZipInfo(entry.filename, _EARLIEST)
                fresh.compress_type = zipfile.ZIP_DEFLATED
                fresh.external_attr = 0o644 << 16
                target.writestr(fresh, source.read(entry))


def _moment(text: str) -> datetime:
    """Return a time of the layer, or now where it has none."""
    moment = datetime.fromisoformat(text) if text else datetime.now(UTC)
    return moment.astimezone(UTC).replace(tzinfo=None, microsecond=0)


def _next_id(shapes: Any) -> int:
    return 1 + max(int(one.get("id")) for one in shapes._spTree.iter(qn("p:cNvPr")))


def _remove(shape: Any) -> None:
    shape._element.getparent().remove(shape._element)


def _write(shape: Any, *blocks: TextBlock) -> None:
    """Write text into a shape, in runs, at the sizes at which it was set."""
    frame = shape.text_frame
    frame.word_wrap = True
    first = True
    for block in blocks:
        for place, paragraph in enumerate(block.paragraphs):
            target = frame.paragraphs[0] if first else frame.add_paragraph()
            gap = PARAGRAPH_GAP if place else 0.3
            _write_paragraph(target, paragraph, block, 0.0 if first else gap)
            first = False


def _write_paragraph(target: Any, paragraph: Paragraph, block: TextBlock, gap: float) -> None:
    line = block.line_height / MILLIMETRES_PER_POINT
    target.space_before = Pt(round(line * gap, 1))
    if paragraph.bullet:
        indent = emu(block.line_height * BULLET_INDENT)
        properties = target._p.get_or_add_pPr()
        properties.set("marL", str(indent))
        properties.set("indent", str(-indent))
        # The schema has bullets after the spacing, before tabs and run defaults.
        bullet = properties.makeelement(f"{_A}buChar", {"char": "•"})
        properties.append(bullet)
    for run in paragraph.runs:
        written = target.add_run()
        written.text = run.text
        written.font.size = Pt(block.size)
        if run.bold:
            written.font.bold = True
        if run.italic:
            written.font.italic = True


def _add_text(
    shapes: Any, box: Box, block: TextBlock, name: str, *, quiet: bool = False, right: bool = False
) -> Any:
    """Add a text box without margins."""
    lines = block.line_count * block.size * _ROOM_FOR_LINE * MILLIMETRES_PER_POINT
    height = max(box.height, lines)
    shape = shapes.add_textbox(emu(box.left), emu(box.top), emu(box.width), emu(height))
    shape.name = name
    frame = shape.text_frame
    frame.auto_size = MSO_AUTO_SIZE.NONE
    frame.margin_left = frame.margin_right = frame.margin_top = frame.margin_bottom = 0
    _write(shape, block)
    for paragraph in frame.paragraphs:
        if right:
            paragraph.alignment = PP_ALIGN.RIGHT
        if quiet:
            for run in paragraph.runs:
                run.font.color.theme_color = MSO_THEME_COLOR.TEXT_2
    return shape


def _add_key(shapes: Any, key: Sequence[KeyEntry]) -> None:
    """Add the key as a group of samples and texts."""
    group = shapes.add_group_shape()
    group.name = "Key"
    group._element.nvGrpSpPr.cNvPr.set("descr", "Key: " + "; ".join(one.text for one in key))
    for entry in key:
        if entry.colour:
            box = entry.sample
            add_area(
                group.shapes,
                Rectangle(box.left, box.top, box.right, box.bottom),
                entry.colour,
                entry.hatch,
                KEY_OPACITY,
                name=f"Key sample: {entry.text}",
                description=entry.text,
            )
        block = TextBlock(one_style(entry.text), entry.words.width, entry.size)
        _add_text(group.shapes, entry.words, block, f"Key: {entry.text}")


def _add_excerpt(shapes: Any, page: EngravedPage, box: Box, name: str) -> None:
    """Add the picture of the notes, a little larger than the page that it shows."""
    picture = shapes.add_picture(
        io.BytesIO(_png(page)),
        emu(box.left - BLEED),
        emu(box.top - BLEED),
        emu(box.width + 2 * BLEED),
        emu(box.height + 2 * BLEED),
    )
    picture.name = "Score"
    picture._element.nvPicPr.cNvPr.set("descr", name)


def _png(page: EngravedPage) -> bytes:
    """Return an excerpt as a PNG picture, in grey unless the edition has colours."""
    part = QRectF(-BLEED, -BLEED, page.width + 2 * BLEED, page.height + 2 * BLEED)
    image = PagePainter(page).image(_PIXELS_PER_MILLIMETRE, part)
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if image.allGray():
        image = image.convertToFormat(QImage.Format.Format_Grayscale8)
    QImageWriter(buffer, b"PNG").write(image)
    return bytes(data.data())
