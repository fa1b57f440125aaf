"""Parts, staves, keys, metres and transpositions of an MEI score, and how they change."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from stavelight.score.structure import Part, Transposition

MEI = "{http://www.music-encoding.org/ns/mei}"
_SHARPS = (3, 0, 4, 1, 5, 2, 6)
"""Steps (0 = C) in the order in which sharps are added: F C G D A E B; flats in reverse."""


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
    number_in_part
        From 1.
    """

    number: str
    index: int
    part: int
    number_in_part: int


def plain_text(element: etree._Element) -> str:
    """Return the text of an element without its mark-up."""
    return " ".join("".join(element.itertext()).split())


def read_parts(definition: etree._Element) -> tuple[tuple[Part, ...], dict[str, StaffPlace]]:
    """Return the parts of a score definition, and its staves by their n.

    A braced group whose staves have no names of their own is one part with several staves, such
    as a harp.
    """
    parts: list[Part] = []
    places: dict[str, StaffPlace] = {}

    def add(holder: etree._Element, staves: list[etree._Element], group: str) -> None:
        index, first = len(parts), len(places)
        for number, staff in enumerate(staves, start=1):
            n = staff.get("n", str(len(places) + 1))
            places[n] = StaffPlace(n, len(places), index, number)
        identity = holder.get("{http://www.w3.org/XML/1998/namespace}id") or f"P{index + 1}"
        instrument = next(holder.iter(MEI + "instrDef"), None)
        program = "" if instrument is None else instrument.get("midi.instrnum", "")
        parts.append(
            Part(
                index=index,
                id=identity,
                name=_label(holder, "label"),
                abbreviation=_label(holder, "labelAbbr"),
                first_staff=first,
                staff_count=len(staves),
                midi_program=int(program) + 1 if program.isdigit() else None,
                group=group,
            )
        )

    def walk(group: etree._Element, name: str) -> None:
        for child in group:
            if child.tag == MEI + "staffDef":
                add(child, [child], name)
            elif child.tag == MEI + "staffGrp":
                staves = child.findall(MEI + "staffDef")
                unnamed = not any(_label(staff, "label") for staff in staves)
                braced = (
                    child.get("symbol") == "brace"
                    or child.find(f"{MEI}grpSym[@symbol='brace']") is not None
                )
                if len(staves) > 1 and unnamed and (braced or _label(child, "label")):
                    add(child, staves, name)
                else:
                    walk(child, _label(child, "label") or name)

    for group in definition.iterchildren(MEI + "staffGrp"):
        walk(group, _label(group, "label"))
    if not places:
        for staff in definition.iterchildren(MEI + "staffDef"):
            add(staff, [staff], "")
    return tuple(parts), places


def _label(holder: etree._Element, name: str) -> str:
    element = holder.find(MEI + name)
    if element is not None:
        return plain_text(element)
    return " ".join(holder.get("label" if name == "label" else "label.abbr", "").split())


class Definitions:
    """What is in force while a score is read: key, metre, transposition of each staff.

    Parameters
    ----------
    places
        The staves by their n.
    """

    def __init__(self, places: dict[str, StaffPlace]) -> None:
        self._places = places
        self._keys: dict[str, int] = dict.fromkeys(places, 0)
        self._transpositions: dict[str, tuple[int, int]] = dict.fromkeys(places, (0, 0))
        self._first: dict[str, tuple[int, int]] = {}
        self.metre: tuple[str, int] = ("4", 4)

    def take(self, element: etree._Element) -> None:
        """Take in a score or staff definition."""
        if element.tag == MEI + "staffDef":
            self._take_staff(element)
            return
        self._take_metre(element)
        key = _key_of(element)
        if key is not None:
            self._keys = dict.fromkeys(self._keys, key)
        for staff in element.iter(MEI + "staffDef"):
            self._take_staff(staff)

    def _take_staff(self, staff: etree._Element) -> None:
        number = staff.get("n", "")
        if number not in self._places:
            return
        key = _key_of(staff)
        if key is not None:
            self._keys[number] = key
        self._take_metre(staff)
        if staff.get("trans.semi") is not None or staff.get("trans.diat") is not None:
            semitones = int(float(staff.get("trans.semi", "0")))
            steps = int(float(staff.get("trans.diat", "0")))
            if semitones % 12 == 0:
                # An octave transposition is seven steps an octave, also where none are written.
                steps = semitones // 12 * 7
            self._transpositions[number] = (steps, semitones)
        self._first.setdefault(number, self._transpositions[number])

    def _take_metre(self, element: etree._Element) -> None:
        holder = element
        prefix = "meter."
        child = element.find(MEI + "meterSig")
        if child is not None:
            holder, prefix = child, ""
        count, unit = holder.get(prefix + "count"), holder.get(prefix + "unit")
        sign = holder.get(prefix + "sym")
        if count and unit and unit.isdigit():
            self.metre = (count.replace(" ", ""), int(unit))
        elif sign == "common":
            self.metre = ("4", 4)
        elif sign == "cut":
            self.metre = ("2", 2)

    def key_alter(self, staff: str, step: int) -> int:
        """Return what the key signature of a staff does to a step (0 = C), in semitones."""
        fifths = self._keys[staff]
        if fifths > 0 and step in _SHARPS[:fifths]:
            return 1
        if fifths < 0 and step in _SHARPS[::-1][:-fifths]:
            return -1
        return 0

    def transposition(self, staff: str) -> tuple[int, int]:
        """Return (steps, semitones) from written to sounding pitch on a staff."""
        return self._transpositions[staff]

    def first_transposition(self, part: Part) -> Transposition:
        """Return the transposition of a part at its beginning."""
        for number, place in self._places.items():
            if place.part == part.index:
                return Transposition(*self._first.get(number, (0, 0)))
        return Transposition()


def _key_of(element: etree._Element) -> int | None:
    """Return the key signature of a definition as fifths, if it gives one."""
    text = element.get("keysig") or element.get("key.sig")
    child = element.find(MEI + "keySig")
    if child is not None:
        text = child.get("sig") or text
    if not text or text == "mixed":
        return None
    if text == "0":
        return 0
    if text[:-1].isdigit() and text[-1] in "sf":
        return int(text[:-1]) * (1 if text[-1] == "s" else -1)
    return None
