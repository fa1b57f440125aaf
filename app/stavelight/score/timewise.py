"""Timewise MusicXML, bar after bar, turned into the usual partwise kind, part after part."""

from __future__ import annotations

from lxml import etree

from stavelight.score.musicxml_text import huge_parser


def partwise(document: bytes) -> bytes:
    """Return a timewise MusicXML document as a partwise one, in UTF-8.

    Raises
    ------
    lxml.etree.XMLSyntaxError
        If it is not well-formed, or nested too deeply.
    """
    root = etree.fromstring(document, huge_parser())
    parts: dict[str, etree._Element] = {
        part.get("id", ""): etree.Element("part", id=part.get("id", ""))
        for part in root.iterfind("part-list/score-part")
    }
    for measure in root.findall("measure"):
        root.remove(measure)
        for part in measure.iterchildren("part"):
            part_id = part.get("id", "")
            if part_id not in parts:
                parts[part_id] = etree.Element("part", id=part_id)
            bar = etree.SubElement(parts[part_id], "measure", dict(measure.attrib))
            bar.extend(list(part))
    root.extend(part for part in parts.values() if len(part))
    root.tag = "score-partwise"
    return bytes(etree.tostring(root, encoding="utf-8"))
