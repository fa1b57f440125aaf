"""A small score, and settings that do not touch those of whoever runs the tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

_PARTS = (
    ("P1", "Flute", "Fl.", "G2", ""),
    ("P2", "Oboe", "Ob.", "G2", ""),
    (
        "P3",
        "Clarinet in B flat",
        "Cl.",
        "G2",
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>",
    ),
    ("P4", "Violoncello", "Vc.", "F4", ""),
)
_STEPS = "CDEFGAB"


def small_score_text(bars: int = 24, title: str = "Study for Four") -> str:
    """Return a made-up score: four parts in 4/4, rehearsal marks A at bar 5 and B at bar 13."""
    names = "".join(
        f'<score-part id="{part}"><part-name>{name}</part-name>'
        f"<part-abbreviation>{short}</part-abbreviation></score-part>"
        for part, name, short, _, _ in _PARTS
    )
    parts = "".join(
        f'<part id="{part}">'
        + "".join(_bar(number, clef, transpose, part == "P1") for number in range(1, bars + 1))
        + "</part>"
        for part, _, _, clef, transpose in _PARTS
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<score-partwise version="4.0"><work><work-title>{title}</work-title></work>'
        '<identification><creator type="composer">A. Nyone</creator></identification>'
        f"<part-list>{names}</part-list>{parts}</score-partwise>"
    )


def _bar(number: int, clef: str, transpose: str, is_first: bool) -> str:
    attributes = ""
    if number == 1:
        attributes = (
            "<attributes><divisions>2</divisions><key><fifths>0</fifths></key>"
            "<time><beats>4</beats><beat-type>4</beat-type></time>"
            f"<clef><sign>{clef[0]}</sign><line>{clef[1]}</line></clef>{transpose}</attributes>"
        )
    mark = {5: "A", 13: "B"}.get(number)
    direction = (
        f"<direction><direction-type><rehearsal>{mark}</rehearsal></direction-type></direction>"
        if mark and is_first
        else ""
    )
    octave = 3 if clef == "F4" else 5
    notes = "".join(
        f"<note><pitch><step>{_STEPS[(number + beat) % 7]}</step><octave>{octave}</octave></pitch>"
        "<duration>2</duration><type>quarter</type></note>"
        for beat in range(4)
    )
    return f'<measure number="{number}">{attributes}{direction}{notes}</measure>'


@pytest.fixture
def small_score(tmp_path: Path) -> Path:
    """A MusicXML file in a folder of its own."""
    folder = tmp_path / "study"
    folder.mkdir()
    path = folder / "study.musicxml"
    path.write_text(small_score_text(), encoding="utf-8")
    return path


@pytest.fixture
def settings(tmp_path: Path) -> Iterator[QSettings]:
    """Settings in a file of the test."""
    kept = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    yield kept
    kept.sync()
