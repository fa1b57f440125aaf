"""What slices show must be what verovio shows of the whole score: note for note, line for line.

Outside check: verovio itself, engraving the same file in one piece, on scores of music21's corpus
(and on the orchestral scores beside the checkout, where they are).
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
import verovio
from lxml import etree

from stavelight.engraving.musicxml_slice import SliceRequest
from stavelight.engraving.musicxml_source import MusicXmlSource
from stavelight.engraving.page_maker import PageMaker
from stavelight.engraving.paper import PageLayout
from stavelight.engraving.press import Press

_MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_LINES = ("slur", "tie", "hairpin", "octave", "trill", "gliss", "pedal", "bracketSpan")
_NOTES = ("note", "rest", "mRest")
_MARKS = (
    "tuplet", "beam", "fermata", "dir", "tempo", "reh", "arpeg", "mordent", "turn",
    "artic", "accid", "bTrem", "fTrem", "dots", "fing",
)  # fmt: skip
# Not compared by number: clefs, signatures and bar numbers, which every system repeats; dynamics
# and syllables with an extender, which verovio draws once more in the system that they run into.

CORPUS = (
    "beethoven/opus59no1/movement3",  # string quartet: long slurs, trills, tuplets
    "haydn/opus74no1/movement3",  # minuet: pickup, repeats
    "schoenberg/opus19/movement2",  # piano: two staves, cross-staff, grace notes
    "schumann_clara/polonaise_op1n1",  # piano: octaves, repeats with endings
    "joplin/maple_leaf_rag",  # piano: repeats with endings, many ties
    "weber/concertino_clarinet",  # transposing solo part with piano
    "cpebach/h186",
    "webern",  # voice, clarinet and bass clarinet: transposing, changing metres
)


def _counts(svg: str, ids: set[str]) -> Counter[str]:
    counts: Counter[str] = Counter()
    for group in etree.fromstring(svg.encode()).iter("{*}g"):
        kind = group.get("class", "").split(" ")[0]
        counts[kind] += 1
        if kind in _NOTES:
            ids.add(group.get("id"))
    return counts


def _whole(source: MusicXmlSource, bars: int) -> tuple[list[tuple[str, int, int]], str]:
    """Return all lines as (kind, first bar, last bar), and the drawing of the whole score."""
    parts = tuple(range(source.part_count))
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "breaks": "none",
            "header": "none",
            "footer": "none",
            "adjustPageWidth": True,
            "adjustPageHeight": True,
            "pageWidth": 100000,
            "pageHeight": 60000,
        }
    )
    toolkit.loadData(source.cut(SliceRequest((range(bars),), parts)).document.decode())
    mei = etree.fromstring(toolkit.getMEI().encode())
    measures = list(mei.iter(_MEI + "measure"))
    bar_of = {
        element.get(_ID): index
        for index, measure in enumerate(measures)
        for element in measure.iter()
        if element.get(_ID)
    }
    lines = []
    for index, measure in enumerate(measures):
        for element in measure:
            kind = etree.QName(element).localname
            if kind not in _LINES:
                continue
            first = bar_of.get(element.get("startid", "").lstrip("#"), index)
            time = re.match(r"(\d+)m", element.get("tstamp2", ""))
            last = bar_of.get(
                element.get("endid", "").lstrip("#"), index + int(time[1]) if time else index
            )
            lines.append((kind, first, last))
    return lines, toolkit.renderToSVG(1)


def _compare(source: MusicXmlSource, bars: int) -> list[str]:
    """Return what is missing or too much in slices, in words; nothing, if all is well."""
    lines, whole = _whole(source, bars)
    whole_ids: set[str] = set()
    whole_counts = _counts(whole, whole_ids)
    press = Press()
    plan = PageMaker(source, PageLayout(), press).plan()
    faults: list[str] = []
    ids: set[str] = set()
    counts: Counter[str] = Counter()
    for system in [system for page in plan.pages for system in page.systems]:
        if system.bars.stop > bars:
            break
        cut = source.cut(SliceRequest((system.bars,), system.parts))
        page = 1 if system.bars.start else 0
        (svg,) = press.print(cut, width=30000, pages=slice(page, page + 1)).pages
        drawn = _counts(svg, ids)
        counts.update(drawn)
        here = [
            (kind, last - first)
            for kind, first, last in lines
            if first < system.bars.stop and last >= system.bars.start
        ]
        expected = Counter(kind for kind, _ in here)
        # A tie that no next note takes up is led by verovio to whatever note of its pitch comes
        # bars later: a slice need not show that.
        needed = Counter(kind for kind, length in here if kind != "tie" or length <= 1)
        faults += [
            f"bars {system.bars}: {drawn[kind]} {kind} drawn, {expected[kind]} expected"
            for kind in _LINES
            if not needed[kind] <= drawn[kind] <= expected[kind]
        ]
    faults += [f"missing {note}" for note in whole_ids - ids]
    faults += [f"too much: {note}" for note in ids - whole_ids]
    faults += [
        f"{kind}: {counts[kind]} in slices, {whole_counts[kind]} in the whole"
        for kind in (*_MARKS, *_NOTES)
        if counts[kind] != whole_counts[kind]
    ]
    return faults


@pytest.mark.parametrize("work", CORPUS)
def test_slices_show_what_the_whole_shows(work, corpus_source):
    source = corpus_source(work)
    assert _compare(source, source.bar_count) == []


@pytest.mark.parametrize("name", ["Brahms_Op.98_4", "Schubert_D.485_1"])
def test_slices_of_orchestral_scores_show_what_the_whole_shows(name, checkout: Path):
    from zipfile import ZipFile

    path = checkout.parent / "shared" / "scores" / f"{name}.mxl"
    if not path.exists():
        pytest.skip("the orchestral scores are not beside this checkout")
    with ZipFile(path) as archive:
        source = MusicXmlSource(archive.read("score.xml"), name)
    assert _compare(source, source.bar_count) == []


def test_the_comparison_sees_a_line_that_is_lost(small, monkeypatch):
    from stavelight.engraving import musicxml_slice

    monkeypatch.setattr(musicxml_slice, "lines_over_barlines", lambda text, stop=None: ())
    monkeypatch.setattr(PageMaker, "plan", _two_bars_a_system)
    assert any("slur" in fault for fault in _compare(small, small.bar_count))


def test_lines_of_the_small_score_are_drawn_in_every_system(small, monkeypatch):
    monkeypatch.setattr(PageMaker, "plan", _two_bars_a_system)
    assert _compare(small, small.bar_count) == []


def _two_bars_a_system(maker, page_limit=None):
    from stavelight.engraving.page_plan import PagePlan, ScorePlan, SystemPlan

    parts = tuple(range(maker.source.part_count))
    systems = tuple(
        SystemPlan(range(bar, bar + 2), parts) for bar in range(0, maker.source.bar_count, 2)
    )
    return ScorePlan(210.0, 297.0, 6.0, (PagePlan(1, systems),))
