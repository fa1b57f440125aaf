"""Ties, slurs, articulations, ornaments and playing techniques at a MusicXML note.

Element names are those of MusicXML 4.0 (W3C Community Group report, 2021), "notations".
"""

from __future__ import annotations

from lxml import etree

from stavelight.score.note_table import TIE_FROM_BEFORE, TIE_TO_NEXT, NoteFlag

_FLAGS: dict[str, int] = {
    "accent": NoteFlag.ACCENT,
    "strong-accent": NoteFlag.STRONG_ACCENT,
    "staccato": NoteFlag.STACCATO,
    "staccatissimo": NoteFlag.STACCATISSIMO,
    "spiccato": NoteFlag.SPICCATO,
    "tenuto": NoteFlag.TENUTO,
    "detached-legato": NoteFlag.TENUTO | NoteFlag.STACCATO,
    "fermata": NoteFlag.FERMATA,
    "trill-mark": NoteFlag.TRILL,
    "shake": NoteFlag.TRILL,
    "turn": NoteFlag.TURN,
    "delayed-turn": NoteFlag.TURN,
    "inverted-turn": NoteFlag.TURN,
    "delayed-inverted-turn": NoteFlag.TURN,
    "vertical-turn": NoteFlag.TURN,
    "inverted-vertical-turn": NoteFlag.TURN,
    "haydn": NoteFlag.TURN,
    "mordent": NoteFlag.MORDENT,
    "inverted-mordent": NoteFlag.MORDENT,
    "tremolo": NoteFlag.TREMOLO,
    "arpeggiate": NoteFlag.ARPEGGIO,
    "glissando": NoteFlag.GLISSANDO,
    "slide": NoteFlag.GLISSANDO,
    "harmonic": NoteFlag.HARMONIC,
    "open-string": NoteFlag.OPEN_STRING,
    "stopped": NoteFlag.STOPPED,
    "up-bow": NoteFlag.UP_BOW,
    "down-bow": NoteFlag.DOWN_BOW,
    "snap-pizzicato": NoteFlag.SNAP_PIZZICATO,
    "double-tongue": NoteFlag.DOUBLE_TONGUE,
    "triple-tongue": NoteFlag.TRIPLE_TONGUE,
}
_GROUPS = {"articulations", "ornaments", "technical"}
_TIES = {
    "start": TIE_TO_NEXT,
    "stop": TIE_FROM_BEFORE,
    "continue": TIE_TO_NEXT | TIE_FROM_BEFORE,
}
_SLURS = {"start": int(NoteFlag.SLUR_START), "stop": int(NoteFlag.SLUR_STOP)}


def marks_at(note: etree._Element) -> tuple[int, int]:
    """Return the flags and the ties that a note's ``<notations>`` hold."""
    flags = tied = 0
    for notations in note.iterfind("notations"):
        for mark in notations:
            tag = mark.tag
            if tag in _GROUPS:
                for inner in mark:
                    flags |= _FLAGS.get(inner.tag, 0)
            elif tag == "slur":
                flags |= _SLURS.get(mark.get("type", ""), 0)
            elif tag == "tied":
                tied |= _TIES.get(mark.get("type", ""), 0)
            else:
                flags |= _FLAGS.get(tag, 0)
    return flags, tied


def ties_at(note: etree._Element) -> int:
    """Return the ties that a note's ``<tie>`` elements hold."""
    ties = 0
    for tie in note.iterfind("tie"):
        ties |= _TIES.get(tie.get("type", ""), 0)
    return ties
