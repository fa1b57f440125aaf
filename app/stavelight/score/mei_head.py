"""Titles, composer and credit line of an MEI file."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from stavelight.score.mei_names import MEI, local_name, text_of

_LONGEST_RIGHTS = 160


@dataclass(frozen=True, slots=True)
class MeiHead:
    """Titles and credit; see `Score` for what they mean."""

    title: str = ""
    subtitle: str = ""
    composer: str = ""
    credit: str = ""


def read_mei_head(root: etree._Element) -> MeiHead:
    """Read the header of an MEI document."""
    description = root.find(f"{MEI}meiHead/{MEI}fileDesc")
    if description is None:
        return MeiHead()
    title, subtitle = _titles(description)
    return MeiHead(title, subtitle, _composer(root), _credit(description))


def _titles(description: etree._Element) -> tuple[str, str]:
    main: list[str] = []
    below: list[str] = []
    for title in description.iterfind(f"{MEI}titleStmt/{MEI}title"):
        target = below if title.get("type") == "subordinate" else main
        own = "".join([title.text or ""] + [_piece(child) + (child.tail or "") for child in title])
        target.append(" ".join(own.split()))
        for part in title.iterchildren(MEI + "titlePart"):
            target = main if part.get("type", "main") == "main" else below
            target.append(text_of(part))
    return next(filter(None, main), ""), ", ".join(filter(None, below))


def _piece(child: etree._Element) -> str:
    """Return the text of a piece of a title, unless it is a part of its own."""
    return "" if local_name(child) in ("", "titlePart") else text_of(child)


def _composer(root: etree._Element) -> str:
    for path in (
        f"{MEI}meiHead/{MEI}fileDesc/{MEI}titleStmt/{MEI}composer",
        f"{MEI}meiHead/{MEI}fileDesc/{MEI}titleStmt//{MEI}persName[@role='composer']",
        f"{MEI}meiHead/{MEI}workList/{MEI}work/{MEI}composer",
        f"{MEI}meiHead//{MEI}persName[@role='composer']",
    ):
        names = [text_of(element) for element in root.iterfind(path)]
        if any(names):
            return ", ".join(dict.fromkeys(filter(None, names)))
    return ""


def _credit(description: etree._Element) -> str:
    """Return publisher, rights, source and encoders on one line."""
    publication = f"{MEI}pubStmt/{MEI}"
    texts = [text_of(description.find(publication + "publisher"))]
    texts.append(_first_sentence(text_of(description.find(publication + "availability"))))
    source = f"{MEI}sourceDesc/{MEI}source//{MEI}imprint/{MEI}respStmt"
    printed = text_of(description.find(source))
    texts.append(f"Source: {printed}" if printed else "")
    names = [
        text_of(name)
        for role in ("encoder", "editor")
        for name in description.iterfind(f"{MEI}titleStmt//{MEI}persName[@role='{role}']")
    ]
    encoders = ", ".join(dict.fromkeys(filter(None, names)))
    texts.append(f"Encoded by {encoders}" if encoders else "")
    return "; ".join(text.rstrip(".") for text in texts if text)


def _first_sentence(text: str) -> str:
    """Return a notice that may be a paragraph, cut to what a credit line can hold."""
    sentence = text.partition(". ")[0]
    if len(sentence) <= _LONGEST_RIGHTS:
        return sentence
    return sentence[:_LONGEST_RIGHTS].rsplit(" ", 1)[0] + " …"
