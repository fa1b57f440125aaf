"""A small score built by hand, and layers for it."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from stavelight.annotation.commentary import Entry, OnRegion, OnScore, OnSpans, Target
from stavelight.annotation.layer import Layer, ScoreReference
from stavelight.annotation.lesson import Lesson
from stavelight.annotation.region import NoteRecord, Place, Region, SpanRecord, StaffRef
from stavelight.annotation.tags import Tag, TagLabel
from stavelight.score.note_table import COLUMNS, NoteTable
from stavelight.score.structure import Bar, Part, Score, Staff

QUARTER = 12


def build_score(
    parts: list[tuple[str, str, int]], bars: list[int], path: Path = Path("evening.musicxml")
) -> Score:
    """Build a score of (id, name, staves) and bars of so many ticks, 12 to a quarter note."""
    made_parts: list[Part] = []
    staves: list[Staff] = []
    for index, (part_id, name, count) in enumerate(parts):
        made_parts.append(Part(index, part_id, name, name[:3], len(staves), count))
        staves += [Staff(len(staves) + n, index, n + 1) for n in range(count)]
    made_bars = [
        Bar(index, f"b{index}", str(index), sum(bars[:index]), ticks, ticks)
        for index, ticks in enumerate(bars)
    ]
    rows = np.zeros(2, dtype=COLUMNS)
    return Score(
        path=path,
        sha256="ab" * 32,
        file_format="musicxml",
        title="Evening Walk",
        subtitle="",
        composer="",
        credit="Edition made for these tests",
        ticks_per_quarter=QUARTER,
        parts=tuple(made_parts),
        staves=tuple(staves),
        bars=tuple(made_bars),
        notes=NoteTable(rows, ("n0-0-0", "n0-0-1"), ("1",)),
    )


PARTS = [
    ("P1", "Flute", 1),
    ("P2", "Clarinet in B flat", 1),
    ("P3", "Harp", 2),
    ("P4", "Violin", 1),
    ("P5", "Violin", 1),
]
"""Staff indices: flute 0, clarinet 1, harp 2 and 3, violins 4 and 5."""

BARS = [QUARTER, *[3 * QUARTER] * 5]
"""A pickup of one quarter note, then five bars in three-four time."""


@pytest.fixture
def score() -> Score:
    return build_score(PARTS, BARS)


@pytest.fixture
def make_score() -> Callable[..., Score]:
    return build_score


FLUTE = StaffRef(part="P1", staff=1, name="Flute")
HARP_LOW = StaffRef(part="P3", staff=2, name="Harp")


def make_span(first: int = 1, last: int = 2, *staves: StaffRef) -> SpanRecord:
    return SpanRecord(
        start=Place(bar=first, offset="1/4", printed=str(first)),
        end=Place(bar=last, offset="3/8", printed=str(last)),
        staves=staves or (FLUTE, HARP_LOW),
    )


@pytest.fixture
def rich_layer() -> Layer:
    """A layer in which every kind of record occurs."""
    times = {"created": "2031-05-01T10:00:00Z", "changed": "2031-05-02T10:00:00Z"}
    note = NoteRecord(id="n0-0-1", place=Place(bar=1, offset="1/4"), staff=FLUTE, pitch="D5")
    return Layer(
        score=ScoreReference(file_name="evening.musicxml", sha256="ab" * 32, title="Evening Walk"),
        regions=(
            Region(
                id="r-second",
                spans=(make_span(2, 4), make_span(5, 5)),
                tags=("melody", "own-shimmer"),
                label="Zweites Thema – ‘calando’ ♭",
                author="Ada Quill",
                certainty="likely",
                memo="Look at the\nold parts.",
                **times,
            ),
            Region(id="r-first", spans=(make_span(),), notes=(note,), colour="blue", **times),
        ),
        entries=(
            Entry(id="e-one", target=OnRegion(region="r-second"), text="The *theme*.", **times),
            Entry(
                id="e-two",
                target=OnSpans(spans=(make_span(3, 4),)),
                title="A bridge",
                start_seconds=61.25,
                end_seconds=70.0,
                **times,
            ),
            Entry(id="e-three", target=OnScore(), kind="edition note", text="Bar 3: B flat?"),
        ),
        lessons=(
            Lesson(id="l-all"),
            Lesson(id="l-two", title="Two", order="listed", items=("e-two", "r-first")),
        ),
        own_tags=(
            Tag(
                id="own-shimmer",
                label="Shimmer",
                alternatives=(TagLabel(language="it", label="scintillio"),),
                definition="A restless quiet surface.",
                group="role",
                broader="figuration",
            ),
        ),
        credits=("Edition made for these tests",),
    )


@pytest.fixture
def random_layer() -> Callable[[int, int], Layer]:
    return build_random_layer


def build_random_layer(number: int, size: int) -> Layer:
    """Build a layer of about `size` regions; the same number builds the same one."""
    chance = random.Random(number)
    letters = 'abc éß♯ "\\/\n\t\u2028𝄞{}[]:,'

    def text() -> str:
        return "".join(chance.choices(letters, k=chance.randrange(12)))

    def span() -> SpanRecord:
        first = chance.randrange(1, 400)
        offsets = [str(Fraction(chance.randrange(24), chance.choice((4, 6, 7, 32)))) for _ in "ab"]
        return SpanRecord(
            start=Place(bar=first, offset=offsets[0], printed=text()),
            end=Place(bar=first + chance.randrange(1, 9), offset=offsets[1]),
            staves=tuple(
                StaffRef(part=f"P{n}", staff=chance.randrange(1, 3), name=text())
                for n in sorted(chance.sample(range(24), chance.randrange(1, 5)))
            ),
        )

    regions = tuple(
        Region(
            id=f"r{n:05}",
            spans=tuple(span() for _ in range(chance.randrange(1, 4))),
            tags=tuple(chance.sample(("melody", "bass", "octave", "solo"), chance.randrange(3))),
            label=text(),
            memo=text(),
            certainty=chance.choice(("sure", "likely", "open")),
        )
        for n in range(size)
    )
    targets: list[Target] = [OnScore(), OnSpans(spans=(span(),))]
    targets += [OnRegion(region=region.id) for region in regions]
    entries = tuple(
        Entry(
            id=f"e{n:05}",
            target=chance.choice(targets),
            text=text(),
            start_seconds=chance.choice((None, chance.randrange(600_000) / 1000)),
        )
        for n in range(size // 2)
    )
    reference = ScoreReference(file_name="x.mxl", sha256="0" * 64, title=text())
    return Layer(score=reference, regions=regions, entries=entries, lessons=(Lesson(id="l"),))
