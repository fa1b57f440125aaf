"""What stands before the music in a MusicXML file: titles, credit line and the list of parts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lxml import etree

from stavelight.score.musicxml_text import huge_parser

_ACCIDENTALS = {
    "flat": "♭",
    "sharp": "♯",
    "natural": "♮",
    "double-sharp": "𝄪",
    "sharp-sharp": "𝄪",
    "flat-flat": "𝄫",
}


@dataclass(frozen=True, slots=True)
class PartEntry:
    """A line of the part list; see `Part` for what its attributes mean."""

    name: str = ""
    abbreviation: str = ""
    instrument_sound: str | None = None
    midi_program: int | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """Titles, credit and part list; see `Score` for what they mean.

    Attributes
    ----------
    entries
        The lines of the part list, by part id.
    """

    title: str
    subtitle: str
    composer: str
    credit: str
    entries: dict[str, PartEntry]


def read_head(head: bytes) -> Head:
    """Read everything before the first part.

    Parameters
    ----------
    head
        The document up to its first ``<part>``.
    """
    root = etree.fromstring(head + b"</score-partwise>", huge_parser())
    title, subtitle = _titles(root)
    composer = ", ".join(_creators(root, "composer")) or _credit_words(root, "composer")
    return Head(title, subtitle, composer, _credit(root), _part_entries(root))


def one_line(text: str | None) -> str:
    """Return a text without line breaks and double blanks."""
    return " ".join((text or "").split())


def _text_at(element: etree._Element, path: str) -> str:
    return one_line(element.findtext(path, ""))


def _titles(root: etree._Element) -> tuple[str, str]:
    work = _text_at(root, "work/work-title")
    opus = _text_at(root, "work/work-number")
    movement = _text_at(root, "movement-title")
    number = _text_at(root, "movement-number")
    if movement == work:
        movement = ""
    if number and movement and not movement.startswith(number):
        movement = f"{number.rstrip('.')}. {movement}"
    if work and opus and opus not in work:
        work = f"{work}, {opus}"
    title = work or movement or _credit_words(root, "title")
    subtitle = movement if work and movement else _credit_words(root, "subtitle")
    return title, subtitle


def _credit_words(root: etree._Element, kind: str) -> str:
    """Return the words that are printed on the first page as a title, composer and so on."""
    for credit in root.iterfind("credit"):
        if one_line(credit.findtext("credit-type")).lower() == kind:
            return one_line(" ".join(credit.itertext("credit-words")))
    return ""


def _creators(root: etree._Element, kind: str) -> list[str]:
    return [
        one_line(creator.text)
        for creator in root.iterfind("identification/creator")
        if creator.get("type", "").lower() == kind and one_line(creator.text)
    ]


def _credit(root: etree._Element) -> str:
    """Return rights, source and people of the edition on one line."""
    texts = [one_line(rights.text) for rights in root.iterfind("identification/rights")]
    texts += [f"Arranged by {name}" for name in _creators(root, "arranger")]
    source = _text_at(root, "identification/source")
    texts.append(f"Source: {source}" if source else "")
    encoders = [
        one_line(encoder.text) for encoder in root.iterfind("identification/encoding/encoder")
    ]
    names = ", ".join(filter(None, encoders))
    texts.append(f"Encoded by {names}" if names else "")
    return "; ".join(filter(None, texts))


def _part_entries(root: etree._Element) -> dict[str, PartEntry]:
    entries = {}
    open_groups: dict[str, str] = {}
    for element in root.iterfind("part-list/*"):
        if element.tag == "part-group":
            number = element.get("number", "1")
            open_groups.pop(number, None)
            if element.get("type") != "stop":
                open_groups[number] = _printed(element, "group-name")
        elif element.tag == "score-part":
            named = [name for name in open_groups.values() if name]
            entries[element.get("id", "")] = PartEntry(
                name=_printed(element, "part-name")
                or _text_at(element, "score-instrument/instrument-name"),
                abbreviation=_printed(element, "part-abbreviation"),
                instrument_sound=_text_at(element, "score-instrument/instrument-sound") or None,
                midi_program=_midi_program(element),
                group=named[-1] if named else "",
            )
    return entries


def _printed(element: etree._Element, tag: str) -> str:
    """Return a name as it is printed: its display form, if there is one."""
    display = element.find(f"{tag}-display")
    if display is not None and display.get("print-object") != "no":
        pieces = [
            _ACCIDENTALS.get(piece.text or "", piece.text or "")
            if piece.tag == "accidental-text"
            else piece.text or ""
            for piece in display
        ]
        if name := one_line("".join(pieces)):
            return name
    return _text_at(element, tag)


def _midi_program(element: etree._Element) -> int | None:
    text = _text_at(element, "midi-instrument/midi-program")
    if re.fullmatch("[0-9]{1,3}", text) and 1 <= int(text) <= 128:
        return int(text)
    return None
