"""Scores and layers for the tests of exports, written for them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import msgspec

from stavelight.annotation.commentary import Entry, OnRegion, new_entry
from stavelight.annotation.editing import add_entry, add_regions
from stavelight.annotation.layer import Layer, new_layer
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.region import Region, new_region, span_record
from stavelight.score.structure import Point, Score, Span

PLAYERS = (
    *(f"{name} {number}" for name in ("Flute", "Oboe", "Clarinet", "Bassoon") for number in (1, 2)),
    *(f"Horn {number}" for number in (1, 2, 3, 4)),
    *(f"Trumpet {number}" for number in (1, 2)),
    *(f"Trombone {number}" for number in (1, 2, 3)),
    "Timpani",
    *("Violin I", "Violin II", "Viola", "Violoncello", "Double bass"),
)
RESTING = "Timpani"
TITLE = "Seven Hills"
COMPOSER = "Ada Ferrow"
RIGHTS = "Edition of the Lantern Press, 2031"


def orchestral_score(bar_count: int = 12) -> str:
    """Return a score for many players, quavers in every bar; the timpani rest throughout."""
    parts = "".join(
        f'<score-part id="P{place}"><part-name>{name}</part-name></score-part>'
        for place, name in enumerate(PLAYERS)
    )
    music = "".join(
        f'<part id="P{place}">{"".join(_bar(name, bar) for bar in range(bar_count))}</part>'
        for place, name in enumerate(PLAYERS)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"<work><work-title>{TITLE}</work-title></work>"
        f'<identification><creator type="composer">{COMPOSER}</creator>'
        f"<rights>{RIGHTS}</rights></identification>"
        f"<part-list>{parts}</part-list>{music}</score-partwise>"
    )


def _bar(player: str, bar: int) -> str:
    attributes = (
        "<attributes><divisions>2</divisions><key><fifths>0</fifths></key>"
        "<time><beats>4</beats><beat-type>4</beat-type></time>"
        "<clef><sign>G</sign><line>2</line></clef></attributes>"
        if bar == 0
        else ""
    )
    if player == RESTING:
        content = '<note><rest measure="yes"/><duration>8</duration></note>'
    else:
        content = "".join(
            f"<note><pitch><step>{'GABCDCBA'[beat]}</step>"
            f"<octave>{5 if beat in (3, 4, 5) else 4}</octave></pitch>"
            "<duration>1</duration><type>eighth</type></note>"
            for beat in range(8)
        )
    return f'<measure number="{bar + 1}">{attributes}{content}</measure>'


def span(start: int, end: int, *staves: int, after: str = "0", until: str = "0") -> Span:
    """Return a span from a bar, and perhaps an offset, to the beginning of another."""
    return Span(Point(start, Fraction(after)), Point(end, Fraction(until)), staves)


def region(score: Score, *spans: Span, tags: tuple[str, ...] = (), **fields: str) -> Region:
    """Return a region on some spans."""
    return new_region([span_record(one, score) for one in spans], tags=tags, **fields)


def entry_on(one: Region, text: str, **fields: object) -> Entry:
    """Return a commentary on a region."""
    return new_entry(OnRegion(region=one.id), text=text, **fields)


def layer_of(
    score: Score, regions: list[Region], entries: list[Entry] | None = None, title: str = ""
) -> Layer:
    """Return a layer of regions and entries, with a lesson of a title."""
    layer = add_regions(new_layer(score), regions)
    for entry in entries or []:
        layer = add_entry(layer, entry)
    return msgspec.structs.replace(layer, lessons=(Lesson(id="lesson", title=title),))


def write_orchestral_score(folder: Path) -> Path:
    """Write the orchestral score into a folder."""
    path = folder / "seven_hills.musicxml"
    path.write_text(orchestral_score(), encoding="utf-8")
    return path
