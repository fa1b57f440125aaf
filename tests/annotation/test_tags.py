from __future__ import annotations

import re

import pytest

from stavelight.annotation.palette import COLOUR_BY_ID, HATCH_BY_ID
from stavelight.annotation.tags import Tag, Vocabulary, load_vocabulary

# What the program promises to know, in the trade's words (common practice, no source).
PROMISED = {
    "role": "melody, countermelody, bass, harmonic filling, pedal, figuration, ostinato, accent",
    "doubling": "unison, octave, two octaves, three octaves, thirds, sixths, tenths,"
    " mixed doubling",
    "relation": "hand-over, exchange, interlocking, crossing, tutti, soli, solo, divisi",
    "technique": "arco, pizzicato, col legno, tremolo, harmonics, mute, sul ponticello, sul tasto,"
    " on a named string, glissando, trill, double stop, triple stop, quadruple stop,"
    " flutter-tongue, stopped",
}

# First editions, or the first with the second author: author, title, year on the title page.
TREATISES = {
    "Hector Berlioz": 1844,
    "Nikolai Rimsky-Korsakov": 1913,
    "Cecil Forsyth": 1914,
    "Walter Piston": 1955,
    "Samuel Adler": 1982,
    "Kent Kennan and Donald Grantham": 1983,
}


@pytest.fixture
def vocabulary() -> Vocabulary:
    return load_vocabulary()


@pytest.mark.parametrize("group", PROMISED)
def test_every_promised_tag_is_there(vocabulary: Vocabulary, group: str):
    labels = {tag.label.lower() for tag in vocabulary.tags if tag.group == group}
    assert set(PROMISED[group].split(", ")) <= labels


def test_groups_are_those_promised(vocabulary: Vocabulary):
    assert [group.id for group in vocabulary.groups] == list(PROMISED)
    assert {tag.group for tag in vocabulary.tags} == set(PROMISED)


def test_every_tag_is_complete(vocabulary: Vocabulary):
    for tag in vocabulary.tags:
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", tag.id)
        assert tag.definition.endswith("."), tag.id
        assert tag.sources, tag.id
        assert {"en", "it", "de", "fr"} >= {one.language for one in tag.alternatives}


# W3C, SKOS Simple Knowledge Organization System Reference, 2009: S13 (labels are disjoint),
# S14 (one preferred label a language), section 8 (a concept is not broader than itself).
def test_labels_and_ids_are_as_skos_asks(vocabulary: Vocabulary):
    assert len({tag.id for tag in vocabulary.tags}) == len(vocabulary.tags)
    assert len({tag.label.lower() for tag in vocabulary.tags}) == len(vocabulary.tags)
    for tag in vocabulary.tags:
        pairs = [(one.language, one.label) for one in tag.alternatives]
        assert len(set(pairs)) == len(pairs), tag.id
        assert ("en", tag.label) not in pairs, tag.id


def test_broader_tags_are_there_and_make_no_circle(vocabulary: Vocabulary):
    assert any(tag.broader for tag in vocabulary.tags)
    for tag in vocabulary.tags:
        seen = [tag.id]
        while (broader := vocabulary.tag_by_id[seen[-1]].broader) is not None:
            assert broader not in seen
            seen.append(broader)


def test_works_are_the_published_treatises(vocabulary: Vocabulary):
    assert {work.author: work.year for work in vocabulary.works if work.year} == TREATISES


def test_sources_are_works_of_the_list(vocabulary: Vocabulary):
    known = {work.id for work in vocabulary.works}
    assert {source for tag in vocabulary.tags for source in tag.sources} == known


def test_colour_and_hatch_together_tell_every_tag(vocabulary: Vocabulary):
    looks = {(tag.colour, tag.pattern) for tag in vocabulary.tags}
    assert len(looks) == len(vocabulary.tags)
    assert {look[0] for look in looks} == {
        one.id for one in COLOUR_BY_ID.values() if one.for_regions
    }
    assert {look[1] for look in looks} <= set(HATCH_BY_ID)


# The terms of the trade in Italian, German and French (common practice, no source).
@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("mel", "melody"),
        ("MELODIE", "melody"),
        ("mélo", "melody"),
        ("chant", "melody"),
        ("hauptst", "melody"),
        ("pizz", "pizzicato"),
        ("con sord", "mute"),
        ("gedampft", "mute"),
        ("sourdine", "mute"),
        ("am steg", "sul-ponticello"),
        ("flageolett", "harmonics"),
        ("gestopft", "stopped"),
        ("bouche", "stopped"),
        ("geteilt", "divisi"),
        ("div", "divisi"),
        ("doppelgriff", "double-stop"),
        ("flatterzunge", "flutter-tongue"),
        ("flutter tongue", "flutter-tongue"),
        ("orgelpunkt", "pedal"),
        ("hand over", "hand-over"),
        ("griffbrett", "sul-tasto"),
        ("two oct", "two-octaves"),
        ("oct two", "two-octaves"),
    ],
)
def test_typed_letters_find_the_tag(vocabulary: Vocabulary, typed: str, found: str):
    assert vocabulary.search(typed)[0].tag.id == found


def test_the_preferred_label_goes_before_others(vocabulary: Vocabulary):
    found = [match.tag.id for match in vocabulary.search("solo")]
    assert found[:2] == ["solo", "soli"]
    assert vocabulary.search("solo")[0].found_by == ""
    assert vocabulary.search("section")[0].found_by == "section solo"


def test_nothing_typed_finds_all_in_order(vocabulary: Vocabulary):
    assert tuple(match.tag for match in vocabulary.search("  ")) == vocabulary.tags


def test_nonsense_finds_nothing(vocabulary: Vocabulary):
    assert vocabulary.search("xyzzy") == ()


def test_citations_and_labels(vocabulary: Vocabulary):
    thirds = vocabulary.tag_by_id["thirds"]
    assert vocabulary.citations(thirds) == (
        "Nikolai Rimsky-Korsakov, Principles of Orchestration, 1913",
    )
    assert vocabulary.citations(vocabulary.tag_by_id["bass"]) == ("common practice",)
    assert vocabulary.group_label(thirds) == "Doublings"
    assert vocabulary.label("thirds") == "Thirds"
    assert vocabulary.label("no-such") == "no-such"


def test_own_tags_come_after_and_can_stand_for_shipped_ones(vocabulary: Vocabulary):
    own = Tag(id="shimmer", label="Shimmer", group="surface", sources=("A. Quill, 2031",))
    bass = Tag(id="bass", label="Ground")
    both = vocabulary.with_own_tags((own, bass))
    assert both.tags[-1] is own
    assert len(both.tags) == len(vocabulary.tags) + 1
    assert both.label("bass") == "Ground"
    assert both.search("shim")[0].tag is own
    assert both.group_label(own) == "surface"
    assert both.citations(own) == ("A. Quill, 2031",)
    assert vocabulary.label("bass") == "Bass"
