"""The parts and staves that an MEI score definition names."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from stavelight.score.mei_names import ID, MEI, local_name, text_of
from stavelight.score.structure import Part

_LABELS = {"label": "label", "labelAbbr": "label.abbr"}


@dataclass(frozen=True, slots=True)
class StaffPlace:
    """Where a staff of the file stands in the score.

    Attributes
    ----------
    number
        Its n in the file.
    index
        Among all staves, from 0.
    part
        Index of its part.
    """

    number: str
    index: int
    part: int


def read_parts(definition: etree._Element) -> tuple[list[Part], dict[str, StaffPlace]]:
    """Return the parts of a score definition, and its staves by their n.

    A group whose staves have no names of their own is one part with several staves, such as a
    harp, if it is braced or has a name itself.
    """
    parts: list[Part] = []
    places: dict[str, StaffPlace] = {}

    def add(holder: etree._Element, staves: list[etree._Element], group: str) -> None:
        first = len(places)
        for staff in staves:
            number = staff.get("n", "")
            places.setdefault(number, StaffPlace(number, len(places), len(parts)))
        if len(places) == first:
            return  # all its staves were defined before
        parts.append(
            Part(
                index=len(parts),
                id=holder.get(ID) or f"P{len(parts) + 1}",
                name=_label(holder, "label"),
                abbreviation=_label(holder, "labelAbbr"),
                first_staff=first,
                staff_count=len(places) - first,
                midi_program=_midi_program(holder),
                group=group,
            )
        )

    def walk(element: etree._Element, group: str) -> None:
        for child in element:
            name = local_name(child)
            if name == "staffDef":
                add(child, [child], group)
            elif name == "staffGrp":
                staves = child.findall(MEI + "staffDef")
                if _is_one_part(child, staves):
                    add(child, staves, group)
                else:
                    walk(child, _label(child, "label") or group)

    walk(definition, "")
    return parts, places


def _is_one_part(group: etree._Element, staves: list[etree._Element]) -> bool:
    if len(staves) < 2 or group.find(MEI + "staffGrp") is not None:
        return False
    if any(_label(staff, "label") for staff in staves):
        return False
    is_braced = (
        group.get("symbol") == "brace" or group.find(f"{MEI}grpSym[@symbol='brace']") is not None
    )
    return is_braced or bool(_label(group, "label"))


def _label(holder: etree._Element, name: str) -> str:
    element = holder.find(MEI + name)
    if element is not None:
        return text_of(element)
    return " ".join(holder.get(_LABELS[name], "").split())


def _midi_program(holder: etree._Element) -> int | None:
    """Return the General MIDI program, which MEI counts from 0."""
    instrument = next(holder.iter(MEI + "instrDef"), None)
    text = "" if instrument is None else instrument.get("midi.instrnum", "")
    if text.isascii() and text.isdigit() and int(text) < 128:
        return int(text) + 1
    return None
