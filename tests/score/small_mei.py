"""Small MEI scores for the tests, written bar by bar."""

from __future__ import annotations

from pathlib import Path

from stavelight.score.note_table import pitch_name
from stavelight.score.reading import read_score
from stavelight.score.structure import Score

NAMESPACE = "http://www.music-encoding.org/ns/mei"
ONE_STAFF = '<staffGrp><staffDef n="1" lines="5"><label>Flute</label></staffDef></staffGrp>'


def note(pitch: str, dur: int | str = 4, inside: str = "", **attributes: str) -> str:
    """Return a note: ``note("b5", 8, accid="f")``; dots in names are written as underscores."""
    more = "".join(f' {name.replace("_", ".")}="{value}"' for name, value in attributes.items())
    more = more.replace(' id="', ' xml:id="')
    duration = f' dur="{dur}"' if dur else ""
    return f'<note pname="{pitch[0]}" oct="{pitch[1:]}"{duration}{more}>{inside}</note>'


def layer(*events: str, n: int = 1) -> str:
    return f'<layer n="{n}">{"".join(events)}</layer>'


def staff(*layers: str, n: int = 1) -> str:
    return f'<staff n="{n}">{"".join(layers)}</staff>'


def measure(*content: str, tag: str = "") -> str:
    return f"<measure {tag}>{''.join(content)}</measure>"


def bar(*events: str, after: str = "", tag: str = "") -> str:
    """Return a bar of one staff with one layer, and what stands beside the staff."""
    return measure(staff(layer(*events)), after, tag=tag)


def document(
    *measures: str, definition: str = "", staves: str = ONE_STAFF, head: str = "", body: str = ""
) -> bytes:
    """Return a score; `definition` holds the attributes of its scoreDef."""
    body = body or (
        f"<mdiv><score><scoreDef {definition}>{staves}</scoreDef>"
        f"<section>{''.join(measures)}</section></score></mdiv>"
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><mei xmlns="{NAMESPACE}" meiversion="5.1">'
        f"<meiHead>{head}</meiHead><music><body>{body}</body></music></mei>"
    ).encode()


def read(folder: Path, *measures: str, **more: str) -> Score:
    """Write a score to a folder and read it."""
    path = folder / "score.mei"
    path.write_bytes(document(*measures, **more))
    return read_score(path)


def pitches(score: Score, kind: str = "sounding") -> list[str]:
    return [
        pitch_name(*(int(row[f"{kind}_{name}"]) for name in ("step", "alter", "octave")))
        for row in score.notes.rows
    ]
