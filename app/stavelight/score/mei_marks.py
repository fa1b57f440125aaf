"""Articulations, ornaments and techniques in MEI, at notes and as events beside the staves.

Values are those of MEI 5.1: data.ARTICULATION, and the elements of its CMN and CMNOrnaments
modules.
"""

from __future__ import annotations

from lxml import etree

from stavelight.score.mei_names import content_of, local_name
from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag

_ARTICULATIONS: dict[str, int] = {
    "acc": NoteFlag.ACCENT,
    "acc-soft": NoteFlag.ACCENT,
    "acc-inv": NoteFlag.ACCENT,
    "marc": NoteFlag.STRONG_ACCENT,
    "marc-stacc": NoteFlag.STRONG_ACCENT | NoteFlag.STACCATO,
    "stacc": NoteFlag.STACCATO,
    "stacciss": NoteFlag.STACCATISSIMO,
    "spicc": NoteFlag.SPICCATO,
    "ten": NoteFlag.TENUTO,
    "ten-stacc": NoteFlag.TENUTO | NoteFlag.STACCATO,
    "harm": NoteFlag.HARMONIC,
    "open": NoteFlag.OPEN_STRING,
    "stop": NoteFlag.STOPPED,
    "upbow": NoteFlag.UP_BOW,
    "dnbow": NoteFlag.DOWN_BOW,
    "snap": NoteFlag.SNAP_PIZZICATO,
    "dbltongue": NoteFlag.DOUBLE_TONGUE,
    "trpltongue": NoteFlag.TRIPLE_TONGUE,
}
EVENT_FLAGS: dict[str, int] = {
    "fermata": NoteFlag.FERMATA,
    "trill": NoteFlag.TRILL,
    "turn": NoteFlag.TURN,
    "mordent": NoteFlag.MORDENT,
    "arpeg": NoteFlag.ARPEGGIO,
    "gliss": NoteFlag.GLISSANDO,
}
_TIES = {"i": TIE_TO_NEXT, "m": TIE_TO_NEXT | TIE_FROM_BEFORE, "t": TIE_FROM_BEFORE}


def flags_at(event: etree._Element) -> int:
    """Return the flags that stand at a note or chord itself."""
    flags = 0
    names = event.get("artic", "").split()
    for child in content_of(event):
        if local_name(child) == "artic":
            names += child.get("artic", "").split()
    for name in names:
        flags |= _ARTICULATIONS.get(name, 0)
    for attribute in ("fermata", "gliss"):
        if event.get(attribute):
            flags |= EVENT_FLAGS[attribute]
    slur = event.get("slur", "")
    flags |= NoteFlag.SLUR_START if "i" in slur else 0
    flags |= NoteFlag.SLUR_STOP if "t" in slur else 0
    if _is_tremolo(event.get("stem.mod", "")) and not event.get("grace"):
        flags |= NoteFlag.TREMOLO
    if event.get("cue") == "true":
        flags |= NoteFlag.CUE
    if event.get("visible") == "false":
        flags |= NoteFlag.HIDDEN
    return flags


def ties_at(event: etree._Element) -> int:
    """Return the ties that a note or chord has in its attribute."""
    ties = 0
    for letter in event.get("tie", ""):
        ties |= _TIES.get(letter, 0)
    return ties


def is_slashed(event: etree._Element) -> bool:
    """Return whether a grace note or a group of them is an acciaccatura."""
    is_unaccented: bool = event.get("grace") == "unacc"
    return is_unaccented or event.get("slash") == "true" or event.get("stem.mod") == "1slash"


def _is_tremolo(stem: str) -> bool:
    return stem.endswith("slash") or stem == "z"  # z: a buzz roll
