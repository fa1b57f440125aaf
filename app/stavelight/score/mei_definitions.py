"""What is in force while an MEI score is read: keys, meter, transpositions, clefs, defaults."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lxml import etree

from stavelight.score.bar_drafts import COMMON_TIME, Meter, meter_of
from stavelight.score.file_numbers import decimal_number, whole_number
from stavelight.score.mei_names import MEI, local_name
from stavelight.score.note_table import STEP_NAMES
from stavelight.score.structure import Transposition
from stavelight.score.transposition import transposition_of

ALTERATIONS = {
    "n": 0, "s": 1, "f": -1, "ss": 2, "x": 2, "ff": -2, "xs": 3, "sx": 3, "ts": 3, "tf": -3,
    "nf": -1, "ns": 1, "su": 1, "sd": 0, "fu": 0, "fd": -1, "nu": 0, "nd": 0,
    "1qs": 0, "3qs": 1, "1qf": 0, "3qf": -1,
}  # fmt: skip
"""Semitones of MEI's accidentals; quarter tones are rounded towards zero."""

_SHARPS = (3, 0, 4, 1, 5, 2, 6)  # F C G D A E B (0 = C); flats come in reverse
_METER_SIGNS = {"common": meter_of([("4", 4)]), "cut": meter_of([("2", 2)])}
_NO_KEY = (0, 0, 0, 0, 0, 0, 0)
_AS_WRITTEN = Transposition()


@dataclass(frozen=True, slots=True)
class StaffState:
    """What is in force on one staff.

    Attributes
    ----------
    key
        Semitones by which the key signature alters each step from C to B.
    transposition
        From the written to the sounding pitch.
    is_percussion
        Whether the clef is one for unpitched percussion.
    default_duration, default_octave
        For notes that do not say theirs; "" if there are none.
    """

    key: tuple[int, ...] = _NO_KEY
    transposition: Transposition = _AS_WRITTEN
    is_percussion: bool = False
    default_duration: str = ""
    default_octave: str = ""


class Definitions:
    """What is in force at a moment of the score.

    Parameters
    ----------
    numbers
        The n of each staff.

    Attributes
    ----------
    staves
        What is in force on each staff, by its n.
    meter
        The time signature, of the whole score.
    """

    def __init__(self, numbers: Iterable[str]) -> None:
        self.staves = {number: StaffState() for number in numbers}
        self.meter: Meter = COMMON_TIME

    def take(self, element: etree._Element) -> None:
        """Take in a score or staff definition, or a signature or clef within a bar.

        Raises
        ------
        ValueError
            If a number in it makes no sense.
        """
        if local_name(element) == "staffDef":
            self._take_for_staff(element)
            return
        self.meter = _meter_in(element) or self.meter
        for number, state in self.staves.items():
            self.staves[number] = _changed(state, element)
        for staff in element.iter(MEI + "staffDef"):
            self._take_for_staff(staff)

    def take_within(self, element: etree._Element, staff: str) -> None:
        """Take in a key signature, time signature or clef that stands in a layer of a staff."""
        holder = etree.Element(MEI + "staffDef", n=staff)
        copy = etree.SubElement(holder, element.tag, dict(element.attrib))
        copy.extend(etree.SubElement(copy, child.tag, dict(child.attrib)) for child in element)
        self._take_for_staff(holder)

    def _take_for_staff(self, element: etree._Element) -> None:
        self.meter = _meter_in(element) or self.meter
        number = element.get("n", "")
        if number in self.staves:
            self.staves[number] = _changed(self.staves[number], element)


def _changed(state: StaffState, element: etree._Element) -> StaffState:
    """Return what is in force on a staff after a definition."""
    key = _key_in(element)
    clef = element.get("clef.shape")
    for child in element.iterchildren(MEI + "clef"):
        clef = child.get("shape", clef)
    transposition = state.transposition
    semitones, steps = element.get("trans.semi"), element.get("trans.diat")
    if semitones is not None:
        transposition = transposition_of(
            None if steps is None else int(decimal_number(steps)), int(decimal_number(semitones))
        )
    octave = element.get("oct.default", element.get("octave.default"))
    return StaffState(
        key=state.key if key is None else key,
        transposition=transposition,
        is_percussion=state.is_percussion if clef is None else clef == "perc",
        default_duration=element.get("dur.default", state.default_duration),
        default_octave=state.default_octave if octave is None else octave,
    )


def _meter_in(element: etree._Element) -> Meter | None:
    """Return the time signature that a definition gives, or None."""
    pairs = []
    signs = [element.get("meter.sym")]
    if element.get("meter.count") and element.get("meter.unit"):
        pairs.append((element.get("meter.count"), element.get("meter.unit")))
    for child in element.iter(MEI + "meterSig"):
        if child.getparent() is not element and local_name(child.getparent()) != "meterSigGrp":
            continue
        signs.append(child.get("sym"))
        if child.get("count") and child.get("unit"):
            pairs.append((child.get("count"), child.get("unit")))
    if pairs:
        if element.find(f"{MEI}meterSigGrp[@func='mixed']") is None:
            pairs = pairs[:1]
        return meter_of(("".join(beats.split()), whole_number(unit)) for beats, unit in pairs)
    return next((_METER_SIGNS[sign] for sign in signs if sign in _METER_SIGNS), None)


def _key_in(element: etree._Element) -> tuple[int, ...] | None:
    """Return the key signature that a definition gives, or None."""
    text = element.get("keysig") or element.get("key.sig")
    for child in element.iterchildren(MEI + "keySig"):
        accidentals = child.findall(MEI + "keyAccid")
        if accidentals:
            key = list(_NO_KEY)
            for accidental in accidentals:
                step = step_of(accidental.get("pname", ""))
                key[step] = ALTERATIONS.get(accidental.get("accid", ""), 0)
            return tuple(key)
        text = child.get("sig", text)
    if text is None or text == "mixed":
        return None
    return _key_of_signature(text)


def step_of(name: str) -> int:
    """Return the number of a pitch name from c (0) to b (6).

    Raises
    ------
    ValueError
        If it is none.
    """
    if len(name) != 1 or name.upper() not in STEP_NAMES:
        raise ValueError(f"a pitch name {name!r}")
    return STEP_NAMES.index(name.upper())


def _key_of_signature(text: str) -> tuple[int, ...]:
    if text == "0":
        return _NO_KEY
    count, sign = text[:-1], text[-1:]
    if sign not in ("s", "f") or not 0 < whole_number(count) < 15:
        raise ValueError(f"a key signature {text!r}")
    key = list(_NO_KEY)
    order = _SHARPS if sign == "s" else _SHARPS[::-1]
    for number in range(whole_number(count)):
        key[order[number % 7]] += 1 if sign == "s" else -1
    return tuple(key)
