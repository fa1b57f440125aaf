"""Small MusicXML scores for the tests, written bar by bar."""

from __future__ import annotations

import re
from pathlib import Path

from stavelight.score.reading import read_score
from stavelight.score.structure import Score

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def note(
    pitch: str, duration: float | str = 1, *, inside: str = "", after: str = "", tag: str = ""
) -> str:
    """Return a note: ``note("Bb4", 2)``; "rest" is a rest, "" has no pitch at all.

    `inside` stands before the pitch (chord, grace, cue), `after` behind the duration, `tag` in
    the note's tag.
    """
    if pitch == "rest":
        body = "<rest/>"
    else:
        found = re.fullmatch(r"([A-G])(#{1,2}|b{1,2})?(-?\d+)", pitch)
        assert found or not pitch, pitch
        body = "" if not found else pitch_element(found[1], found[2] or "", found[3])
    length = "" if "<grace" in inside else f"<duration>{duration}</duration>"
    return f"<note {tag}>{inside}{body}{length}{after}</note>"


def pitch_element(step: str, sign: str, octave: str) -> str:
    alter = sign.count("#") - sign.count("b")
    altered = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{step}</step>{altered}<octave>{octave}</octave></pitch>"


def attributes(inside: str = "", *, divisions: int | str = 1, time: str = "4/4") -> str:
    """Return the attributes that a part begins with."""
    beats, _, unit = time.partition("/")
    signature = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>" if time else ""
    return f"<attributes><divisions>{divisions}</divisions>{signature}{inside}</attributes>"


def bar(*content: str, number: object = 1, tag: str = "") -> str:
    return f'<measure number="{number}" {tag}>{"".join(content)}</measure>'


def document(*parts: list[str], head: str = "", part_list: str | None = None) -> bytes:
    """Return a score whose parts P1, P2 ... have these bars."""
    if part_list is None:
        part_list = "".join(
            f'<score-part id="P{number}"><part-name>Part {number}</part-name></score-part>'
            for number in range(1, len(parts) + 1)
        )
    body = "".join(
        f'<part id="P{number}">{"".join(bars)}</part>' for number, bars in enumerate(parts, start=1)
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{DOCTYPE}<score-partwise version="4.0">{head}'
        f"<part-list>{part_list}</part-list>{body}</score-partwise>"
    ).encode()


def read(folder: Path, *parts: list[str], head: str = "", part_list: str | None = None) -> Score:
    """Write a score to a folder and read it."""
    path = folder / "score.musicxml"
    path.write_bytes(document(*parts, head=head, part_list=part_list))
    return read_score(path)


def column(score: Score, name: str) -> list[int]:
    return [int(value) for value in score.notes.rows[name]]


def quarters(score: Score, name: str) -> list[float]:
    """Return a column of ticks in quarter notes."""
    return [int(value) / score.ticks_per_quarter for value in score.notes.rows[name]]
