"""The tree of an MEI document, made ready to be read and engraved: one reading, ids, one namespace.

Element and attribute names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from lxml import etree

from stavelight.score.mei_names import ID, MEI, local_name
from stavelight.score.mei_parts import read_parts
from stavelight.score.musicxml_text import huge_parser

# Which of several readings is followed: the editor's, the corrected, the regularised one.
_PREFERRED = {
    "app": ("lem", "rdg"),
    "choice": ("corr", "reg", "expan", "unclear", "orig", "sic", "abbr"),
    "subst": ("add", "restore", "del"),
}
_COUNTED = tuple(MEI + name for name in ("note", "rest", "mRest", "multiRest", "space", "mSpace"))


def mei_tree_with_ids(data: bytes) -> etree._Element:
    """Return an MEI document in which every bar, note and rest has an id.

    Ids that stand in the file are kept. Others are made as for MusicXML: ``b{bar}``, and
    ``n{part}-{bar}-{k}`` for the k-th note or rest of that part's staves in that bar. Where the
    edition gives alternatives (``app``, ``choice``, ``subst``), only the one that is followed is
    left; a score that defines no staves is given a definition of those that it uses.

    Parameters
    ----------
    data
        The document in UTF-8.

    Raises
    ------
    lxml.etree.XMLSyntaxError
        If it is not well-formed, or nested too deeply.
    """
    root = etree.fromstring(data, huge_parser())
    if not root.tag.startswith("{"):
        for element in root.iter(etree.Element):
            if not element.tag.startswith("{"):
                element.tag = MEI + element.tag
    _follow_one_reading(root)
    _define_staves(root)
    _give_ids(root)
    return root


def _follow_one_reading(root: etree._Element) -> None:
    for element in list(root.iter(*(MEI + name for name in _PREFERRED))):
        preferred = _PREFERRED[local_name(element)]
        readings = [child for child in element if local_name(child) in preferred]
        readings.sort(key=lambda child: preferred.index(local_name(child)))
        for other in readings[1:]:
            element.remove(other)
        if readings and local_name(readings[0]) == "rdg":
            readings[0].tag = MEI + "lem"


def _define_staves(root: etree._Element) -> None:
    """Give numbers to staves without, and a definition to scores without."""
    for measure in root.iter(MEI + "measure"):
        for number, staff in enumerate(measure.iterchildren(MEI + "staff"), start=1):
            if staff.get("n") is None:
                staff.set("n", str(number))
    score = next(root.iter(MEI + "score"), None)
    if score is None:
        return
    definition = score.find(MEI + "scoreDef")
    if definition is None:
        definition = etree.Element(MEI + "scoreDef")
        score.insert(0, definition)
    defined = list(definition.iter(MEI + "staffDef"))
    for number, staff in enumerate(defined, start=1):
        if staff.get("n") is None:
            staff.set("n", str(number))
    if not defined:
        group = etree.SubElement(definition, MEI + "staffGrp")
        used = {staff.get("n", ""): None for staff in score.iter(MEI + "staff")}
        for name in used:
            etree.SubElement(group, MEI + "staffDef", n=name, lines="5")


def _give_ids(root: etree._Element) -> None:
    taken: set[str] = set()
    for element in root.iter(etree.Element):
        own = element.get(ID)
        if own in taken:  # an id that is there twice names nothing
            del element.attrib[ID]
        elif own:
            taken.add(own)
    part_of_staff = _parts_by_staff(root)
    for bar, measure in enumerate(root.iter(MEI + "measure")):
        _give_id(measure, f"b{bar}", taken)
        counts: dict[int, int] = {}
        for staff in measure.iterchildren(MEI + "staff"):
            part = part_of_staff.get(staff.get("n", ""), len(part_of_staff))
            for event in staff.iter(*_COUNTED):
                number = counts.get(part, 0)
                counts[part] = number + 1
                _give_id(event, f"n{part}-{bar}-{number}", taken)


def _parts_by_staff(root: etree._Element) -> dict[str, int]:
    definition = root.find(f".//{MEI}score/{MEI}scoreDef")
    if definition is None:
        return {}
    return {number: place.part for number, place in read_parts(definition)[1].items()}


def _give_id(element: etree._Element, wanted: str, taken: set[str]) -> None:
    if element.get(ID):
        return
    while wanted in taken:
        wanted += "x"
    taken.add(wanted)
    element.set(ID, wanted)
