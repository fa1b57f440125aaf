"""The finished lesson on the sample score: its annotation layer.

Run as ``python -m sample_score.lesson`` from the folder ``resources``, with stavelight installed.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from sample_score.compose import NAME
from sample_score.lesson_text import COMMENTARY
from sample_score.timing import seconds
from stavelight.annotation.commentary import Entry, OnRegion, OnScore
from stavelight.annotation.layer import Layer, score_reference
from stavelight.annotation.layer_file import layer_path_for, load_layer, save_layer
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.region import Certainty, Region, SpanRecord, span_record
from stavelight.annotation.tags import load_vocabulary
from stavelight.score.reading import read_score
from stavelight.score.structure import Point, Score, Span

_MADE = "2026-11-02T09:00:00Z"
_AUTHOR = "Stavelight"

_STARTS = (
    (0, 0), (5, 0), (9, 0), (13, 0), (17, 0), (18, 3), (20, 0), (21, 0), (25, 0), (29, 0), (31, 0),
    (35, 0), (39, 0), (43, 0), (45, 0), (53, 0),
)  # fmt: skip
"""Where each entry begins, as (bar, eighths): upbeats belong to the phrase before."""

_Place = str
_Parts = str

REGIONS: tuple[tuple[str, str, str, tuple[tuple[_Place, _Place, _Parts], ...]], ...] = (
    ("r01", "melody solo", "Horn call", (("0:0", "3:0", "P9"),)),
    ("r02", "melody hand-over", "Clarinet takes over on the horn's A", (("2:3/8", "5:0", "P5"),)),
    ("r04", "pedal", "Pedal D in two octaves", (("1:0", "5:0", "P6 P15 P26"),)),
    ("r06", "melody unison", "Boat song: oboe and clarinet", (("4:5/8", "9:0", "P3 P5"),)),
    ("r08", "melody octave", "Violins in octaves", (("8:5/8", "13:0", "P22 P23"),)),
    ("r09", "countermelody", "Cellos sing against the tune", (("9:0", "13:0", "P25"),)),
    ("r11", "melody sixths", "Answer: violins in sixths", (("14:5/8", "16:5/8", "P22 P23"),)),
    (
        "r12",
        "exchange",
        "Winds ask, strings answer",
        (("12:5/8", "15:0", "P2 P5 P7"), ("14:5/8", "16:5/8", "P22 P23 P24 P25 P26")),
    ),
    (
        "r13",
        "melody octave two-octaves",
        "Woodwind in three octaves",
        (("16:5/8", "20:0", "P2 P5 P7"),),
    ),
    ("r14", "", "F sharp for F natural?", (("18:3/8", "18:5/8", "P5"),)),
    (
        "r16",
        "hand-over",
        "Handed over on G",
        (("20:0", "21:1/4", "P5"), ("21:0", "22:0", "P9 P25")),
    ),
    ("r17", "melody unison", "Night song: horn and half the cellos", (("21:0", "29:0", "P9 P25"),)),
    (
        "r18",
        "harmonic-filling tremolo mute sul-tasto",
        "Muted tremolo over the fingerboard",
        (("21:0", "29:0", "P22 P23"),),
    ),
    (
        "r20",
        "ostinato sul-ponticello",
        "Sixteenths at the bridge",
        (("29:0", "35:0", "P24"), ("31:0", "35:0", "P23")),
    ),
    (
        "r21",
        "accent stopped mute octave",
        "Stopped horns, muted trumpets",
        (("30:0", "31:0", "P10 P11"),),
    ),
    (
        "r25",
        "melody octave two-octaves tutti",
        "The boat song in three octaves",
        (("35:0", "43:0", "P1 P2 P3 P5 P22 P23"),),
    ),
    ("r26", "tutti two-octaves", "The light top", (("35:0", "43:0", "P1 P16 P19"),)),
    (
        "r27",
        "countermelody unison",
        "Horns, cor anglais, cellos",
        (("35:0", "43:0", "P4 P9 P10 P25"),),
    ),
    (
        "r28",
        "hand-over",
        "Handed over on B",
        (("43:3/8", "45:1/4", "P5"), ("45:0", "46:0", "P4 P24")),
    ),
    ("r29", "melody unison", "Night song, a major third higher", (("45:0", "53:0", "P4 P24"),)),
    ("r33", "hand-over melody", "The call, passed to the clarinet", (("52:5/8", "57:0", "P9 P5"),)),
)
"""Regions: id, tags, label, and spans as (from, to, parts); places as bar:whole notes."""


def lesson_layer(score: Score) -> Layer:
    """Return the layer of the sample lesson."""
    regions = tuple(
        _region(score, name, tags.split(), label, spans) for name, tags, label, spans in REGIONS
    )
    ends = [*(_when(place) for place in _STARTS[1:]), _when((59, 0))]
    entries = tuple(
        Entry(
            id=f"sample-e{number:02}",
            target=OnRegion(region=f"sample-{region}") if region else OnScore(),
            title=title,
            text=text,
            start_seconds=_when(start),
            end_seconds=end,
            kind="edition note" if region == "r14" else "commentary",
            author=_AUTHOR,
            created=_MADE,
            changed=_MADE,
        )
        for number, ((region, title, text), start, end) in enumerate(
            zip(COMMENTARY, _STARTS, ends, strict=True), start=1
        )
    )
    return Layer(
        score=score_reference(score),
        regions=regions,
        entries=entries,
        lessons=(Lesson(id="sample-lesson", title="How one lamp is lit: a lesson in colours"),),
        credits=(score.credit,) if score.credit else (),
    )


def _when(place: tuple[int, int]) -> float:
    return round(seconds(*place), 3)


def _region(
    score: Score,
    name: str,
    tags: list[str],
    label: str,
    spans: tuple[tuple[_Place, _Place, _Parts], ...],
) -> Region:
    vocabulary = load_vocabulary()
    certainty: Certainty = "likely" if name == "r14" else "sure"
    colour, pattern = "vermilion", "dots"
    if tags:
        tag = vocabulary.tag_by_id[tags[0]]
        colour, pattern = tag.colour, tag.pattern
    return Region(
        id=f"sample-{name}",
        spans=tuple(_span(score, *span) for span in spans),
        tags=tuple(tags),
        colour=colour,
        pattern=pattern,
        label=label,
        author=_AUTHOR,
        created=_MADE,
        changed=_MADE,
        certainty=certainty,
    )


def _span(score: Score, start: _Place, end: _Place, parts: _Parts) -> SpanRecord:
    wanted = parts.split()
    staves = tuple(
        staff for part in score.parts if part.id in wanted for staff in part.staff_indices
    )
    return span_record(Span(_point(start), _point(end), staves), score)


def _point(place: _Place) -> Point:
    bar, _, offset = place.partition(":")
    return Point(int(bar), Fraction(offset))


def main() -> None:
    """Write the layer beside the sample score."""
    folder = Path(__file__).resolve().parents[2] / "sample_projects" / NAME
    score_path = folder / f"{NAME}.musicxml"
    layer_path = layer_path_for(score_path)
    loaded = load_layer(layer_path) if layer_path.exists() else None
    save_layer(layer_path, lesson_layer(read_score(score_path)), loaded=loaded, overwrite=True)


if __name__ == "__main__":
    main()
