"""Commentary as a slide shows it: light Markdown made into paragraphs of plain runs.

Read are ``**strong**`` or ``__strong__``, ``*emphasis*`` or ``_emphasis_``, list items (``-``,
``*``, ``+`` or ``1.``), headings (``#``), quotations (``>``), code between backticks, links (their
words are kept) and the backslash before a mark: the forms that CommonMark 0.31 gives them, without
nesting of blocks.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Run:
    """Words in one style."""

    text: str
    bold: bool = False
    italic: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph.

    Attributes
    ----------
    runs
        What it says.
    bullet
        Whether it is an item of a list.
    """

    runs: tuple[Run, ...]
    bullet: bool = False

    @property
    def text(self) -> str:
        """The words without their style."""
        return "".join(run.text for run in self.runs)


_ITEM = re.compile(r"\s{0,3}(?:[-*+]|(\d{1,3}[.)]))\s+")
_HEADING = re.compile(r"\s{0,3}#{1,6}\s+(.*?)\s*#*\s*$")
_RULE = re.compile(r"\s{0,3}([-*_])(?:\s*\1){2,}\s*$")
_QUOTATION = re.compile(r"^\s{0,3}>\s?")
_INLINE = re.compile(
    r"\\(?P<escaped>[!-/:-@\[-`{-~])"
    r"|`+(?P<code>[^`]+)`+"
    r"|!?\[(?P<words>[^\]]*)\]\((?:[^()\s]|\([^()]*\))*(?:\s+\"[^\"]*\")?\)"
    r"|(?P<mark>\*{1,3}|_{1,3})"
)


_UNSHOWN = re.compile("[^\t\n\r\u0020-\u007e\u0085\u00a0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def readable(text: str) -> str:
    """Return a text without the control characters that XML 1.0 (section 2.2) does not allow."""
    return _UNSHOWN.sub("", text)


def read_commentary(markdown: str) -> tuple[Paragraph, ...]:
    """Return the paragraphs of a commentary in light Markdown; none for an empty one."""
    paragraphs: list[Paragraph] = []
    lines: list[str] = []
    bullet = False

    def close() -> None:
        runs = _runs(" ".join(lines))
        if runs:
            paragraphs.append(Paragraph(runs, bullet))
        lines.clear()

    for raw in readable(markdown).splitlines():
        line = _QUOTATION.sub("", raw)
        heading, item = _HEADING.match(line), _ITEM.match(line)
        if not line.strip() or _RULE.match(line):
            close()
            bullet = False
        elif heading:
            close()
            bullet = False
            runs = tuple(replace(run, bold=True) for run in _runs(heading[1]))
            if runs:
                paragraphs.append(Paragraph(runs))
        elif item:
            close()
            bullet = True
            number = f"{item[1]} " if item[1] else ""
            lines.append(number + line[item.end() :].strip())
        else:
            lines.append(line.strip())
    close()
    return tuple(paragraphs)


def read_line(markdown: str) -> str:
    """Return a heading or a label on one line, without marks of emphasis."""
    return "".join(run.text for run in _runs(" ".join(readable(markdown).split())))


def _runs(text: str) -> tuple[Run, ...]:
    """Return the runs of one paragraph; marks without a partner stay as they are."""
    return _styled(_pieces(text))


def _pieces(text: str) -> list[tuple[str, str]]:
    """Return a paragraph in pieces: (what it may be, words or mark)."""
    pieces: list[tuple[str, str]] = []
    at = 0
    for found in _INLINE.finditer(text):
        pieces.append(("text", text[at : found.start()]))
        at = found.end()
        if found["mark"]:
            pieces.append((_side(text, found), found["mark"]))
        elif found["words"] is not None:
            pieces += _pieces(found["words"])
        else:
            pieces.append(("text", found["escaped"] or found["code"]))
    pieces.append(("text", text[at:]))
    return pieces


def _side(text: str, found: re.Match[str]) -> str:
    """Return whether a mark may open, close, do both, or is plain text."""
    before = text[found.start() - 1] if found.start() else " "
    after = text[found.end()] if found.end() < len(text) else " "
    opens, closes = not after.isspace(), not before.isspace()
    if found["mark"][0] == "_":
        opens, closes = opens and not before.isalnum(), closes and not after.isalnum()
    return {(True, False): "open", (False, True): "close", (True, True): "both"}.get(
        (opens, closes), "text"
    )


def _styled(pieces: Sequence[tuple[str, str]]) -> tuple[Run, ...]:
    partner: dict[int, int] = {}
    waiting: list[int] = []
    for index, (side, mark) in enumerate(pieces):
        if side in ("close", "both"):
            match = next((i for i in reversed(waiting) if pieces[i][1] == mark), None)
            if match is not None:
                partner[match], partner[index] = index, match
                del waiting[waiting.index(match) :]
                continue
        if side in ("open", "both"):
            waiting.append(index)
    runs: list[Run] = []
    bold = italic = 0
    for index, (_, content) in enumerate(pieces):
        if index in partner:
            step = 1 if partner[index] > index else -1
            bold += step if len(content) >= 2 else 0
            italic += step if len(content) != 2 else 0
        elif content:
            _join(runs, Run(content, bold > 0, italic > 0))
    return tuple(runs)


def _join(runs: list[Run], run: Run) -> None:
    if runs and (runs[-1].bold, runs[-1].italic) == (run.bold, run.italic):
        runs[-1] = replace(run, text=runs[-1].text + run.text)
    else:
        runs.append(run)


def plain_text(paragraphs: Sequence[Paragraph]) -> str:
    """Return paragraphs as plain text, one a line."""
    return "\n".join(("• " if p.bullet else "") + p.text for p in paragraphs)


_ABBREVIATIONS = frozenset(
    """
    approx b bb bar bars ca cf dr e.g ed eds etc fig i.e mm mr mrs ms no nos op p pp st vol vs
    bn cb cl db fl hn m ob perc picc str tbn timp tpt tr trb va vc vl vla vln ww
    """.split()  # noqa: SIM905 - a list of so many words reads badly
)
_SENTENCE_END = re.compile(r"[.!?…]+[\"'”’)\]]*(?=\s+[\"'“‘(\[]?[A-Z0-9À-ÖØ-ÞА-Я])")


def sentence_ends(text: str) -> list[int]:
    """Return where each sentence of a text ends, the last one at its end.

    A full stop after a usual abbreviation (``bb. 41``, ``Op. 98``, ``Fl. 1``) or after a single
    letter ends none.
    """
    ends = []
    for found in _SENTENCE_END.finditer(text):
        words = text[: found.start()].split()
        word = words[-1].lstrip("(\"'“‘[").lower() if words else ""
        stop = found[0] == "."
        if stop and (word in _ABBREVIATIONS or (len(word) == 1 and word.isalpha())):
            continue
        ends.append(found.end())
    if not ends or ends[-1] < len(text):
        ends.append(len(text))
    return ends


def cut(paragraph: Paragraph, at: int) -> tuple[Paragraph, Paragraph]:
    """Return a paragraph's first `at` characters, and the rest without blanks before it."""
    first: list[Run] = []
    rest: list[Run] = []
    seen = 0
    for run in paragraph.runs:
        keep = min(max(at - seen, 0), len(run.text))
        if keep:
            first.append(replace(run, text=run.text[:keep]))
        if keep < len(run.text):
            rest.append(replace(run, text=run.text[keep:]))
        seen += len(run.text)
    while rest and not rest[0].text.strip():
        rest.pop(0)
    if rest:
        rest[0] = replace(rest[0], text=rest[0].text.lstrip())
    if first:
        first[-1] = replace(first[-1], text=first[-1].text.rstrip())
    return replace(paragraph, runs=tuple(first)), replace(paragraph, runs=tuple(rest))


Fits = Callable[[tuple[Paragraph, ...]], bool]


def pieces_that_fit(paragraphs: Sequence[Paragraph], fits: Fits) -> list[tuple[Paragraph, ...]]:
    """Return a text in pieces that each fit a space, cut after sentences where it can be.

    Parameters
    ----------
    paragraphs
        The whole text.
    fits
        Tells whether some paragraphs fit the space.
    """
    pieces: list[tuple[Paragraph, ...]] = []
    rest = list(paragraphs)
    while rest:
        piece: list[Paragraph] = []
        while rest and fits((*piece, rest[0])):
            piece.append(rest.pop(0))
        if rest:
            head, tail = _cut_to_fit(rest[0], piece, fits)
            if head is not None:
                piece.append(head)
                rest[:1] = [tail] if tail.runs else []
        pieces.append(tuple(piece))
    return pieces


def _cut_to_fit(
    paragraph: Paragraph, before: Sequence[Paragraph], fits: Fits
) -> tuple[Paragraph | None, Paragraph]:
    """Cut a paragraph after the last sentence that fits; where none does, after the last word.

    That is only done where nothing stands before it in the space. Where not even a word fits it
    is parted, and a space gets a letter whatever its size: there is always some progress.
    """
    text = paragraph.text
    for end in reversed(sentence_ends(text)[:-1]):
        head, tail = cut(paragraph, end)
        if fits((*before, head)):
            return head, tail
    if before:
        return None, paragraph
    for found in reversed(list(re.finditer(r"(?<=\S)\s", text))):
        head, tail = cut(paragraph, found.start())
        if fits((head,)):
            return head, tail
    shortest, longest = 1, len(text)
    while shortest < longest:
        middle = (shortest + longest + 1) // 2
        if fits((cut(paragraph, middle)[0],)):
            shortest = middle
        else:
            longest = middle - 1
    return cut(paragraph, shortest)


def with_ellipsis(paragraphs: Sequence[Paragraph]) -> tuple[Paragraph, ...]:
    """Return the same text with an ellipsis behind it: more of it stands elsewhere."""
    *others, last = paragraphs
    return (*others, replace(last, runs=(*last.runs, Run(" …"))))
