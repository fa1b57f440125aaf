"""The part list of a slice: names before the systems, and brackets around them."""

from __future__ import annotations

from copy import deepcopy
from itertools import pairwise

from lxml import etree


def tidy_names(score_part: etree._Element, *, full_names: bool) -> None:
    """Trim a part's names; give it an abbreviation where it has none."""
    name = score_part.find("part-name")
    if name is None:
        name = etree.SubElement(score_part, "part-name")
        name.text = ""
    name.text = " ".join((name.text or "").split())
    abbreviation = score_part.find("part-abbreviation")
    if abbreviation is None:
        abbreviation = etree.Element("part-abbreviation")
        display = score_part.find("part-name-display")
        (name if display is None else display).addnext(abbreviation)
    abbreviation.text = " ".join((abbreviation.text or "").split())
    if full_names or not abbreviation.text:
        abbreviation.text = name.text
        for display in score_part.findall("part-abbreviation-display"):
            score_part.remove(display)
        display = score_part.find("part-name-display")
        if display is not None:
            copy = deepcopy(display)
            copy.tag = "part-abbreviation-display"
            abbreviation.addnext(copy)


def drop_empty_groups(part_list: etree._Element) -> None:
    """Remove the groups in which no part is left."""
    changed = True
    while changed:
        changed = False
        children = list(part_list)
        for before, after in pairwise(children):
            if (
                before.tag == after.tag == "part-group"
                and before.get("type") == "start"
                and after.get("type") == "stop"
                and before.get("number", "1") == after.get("number", "1")
            ):
                part_list.remove(before)
                part_list.remove(after)
                changed = True
                break
