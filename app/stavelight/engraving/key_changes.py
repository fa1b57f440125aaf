"""Key signatures that change, each staff its own.

verovio reads of a change of key in MusicXML only the first part's, and prints it on every staff: so
a clarinet in B flat would change to the violins' key. Where staves differ, the change is put into
verovio's own MEI, staff by staff.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lxml import etree

_MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"


@dataclass(frozen=True, slots=True)
class Slice:
    """A stretch of a score as a document of its own.

    Attributes
    ----------
    document
        MusicXML or MEI in UTF-8.
    keys
        By the ids of bars: the new key of each staff that changes there, as fifths, by the number
        of the staff in the slice. Only what verovio would not read right from the document.
    """

    document: bytes
    keys: Mapping[str, Mapping[int, int]] = field(default_factory=dict)


def with_keys(mei: bytes, keys: Mapping[str, Mapping[int, int]]) -> bytes:
    """Return verovio's MEI of a document with the right changes of key.

    Parameters
    ----------
    mei
        What verovio made of the document.
    keys
        As in `Slice`.
    """
    root = etree.fromstring(mei)
    for measure in list(root.iter(_MEI + "measure")):
        changes = keys.get(measure.get(_ID))
        if changes is None:
            continue
        definition = _definition_before(measure)
        for signature in definition.findall(_MEI + "keySig"):
            definition.remove(signature)
        for name in ("keysig", "key.sig"):
            definition.attrib.pop(name, None)
        group = etree.SubElement(definition, _MEI + "staffGrp")
        for number, fifths in sorted(changes.items()):
            staff = etree.SubElement(group, _MEI + "staffDef", n=str(number))
            etree.SubElement(staff, _MEI + "keySig", sig=_signature(fifths))
    return bytes(etree.tostring(root, encoding="utf-8"))


def _definition_before(measure: etree._Element) -> etree._Element:
    """Return the score definition right before a measure; a new one if there is none."""
    before = measure.getprevious()
    while before is not None and before.tag in (_MEI + "pb", _MEI + "sb"):
        before = before.getprevious()
    if before is not None and before.tag == _MEI + "scoreDef":
        return before
    definition = etree.Element(_MEI + "scoreDef")
    measure.addprevious(definition)
    return definition


def _signature(fifths: int) -> str:
    return "0" if fifths == 0 else f"{abs(fifths)}{'s' if fifths > 0 else 'f'}"
