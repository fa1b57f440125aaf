"""Names of MEI elements, and how their content is gone through.

Element and attribute names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"

# Marks of an editor that hold music, which is read as if they were not there.
_TRANSPARENT = {
    "abbr", "add", "app", "choice", "corr", "damage", "expan", "lem", "orig", "reg", "restore",
    "sic", "subst", "supplied", "unclear",
}  # fmt: skip
_PASSED_OVER = {"del", "ossia", "expansion"}


def local_name(element: etree._Element) -> str:
    """Return an element's name without its namespace; "" for what is no element."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def content_of(element: etree._Element) -> Iterator[etree._Element]:
    """Yield an element's children, those within an editor's marks included."""
    for child in element:
        name = local_name(child)
        if name in _TRANSPARENT:
            yield from content_of(child)
        elif name and name not in _PASSED_OVER:
            yield child


def text_of(element: etree._Element | None) -> str:
    """Return the text of an element without its mark-up, on one line."""
    return "" if element is None else " ".join("".join(element.itertext()).split())
