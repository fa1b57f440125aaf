"""Titles, credit line and part list of a MusicXML file (element names: MusicXML 4.0)."""

from __future__ import annotations

import pytest

from score.small_musicxml import attributes, bar, note, read

MUSIC = [bar(attributes(), note("C4", 4))]


def titles(folder, head: str) -> tuple[str, str]:
    score = read(folder, MUSIC, head=head)
    return score.title, score.subtitle


@pytest.mark.parametrize(
    ("head", "title", "subtitle"),
    [
        ("", "", ""),
        ("<work><work-title>Night</work-title></work>", "Night", ""),
        (
            "<work><work-number>Op. 3</work-number><work-title>Night</work-title></work>"
            "<movement-number>2</movement-number><movement-title>Slow  dance</movement-title>",
            "Night, Op. 3",
            "2. Slow dance",
        ),
        ("<movement-title>Morning</movement-title>", "Morning", ""),
        (
            "<work><work-title>Night</work-title></work><movement-title>Night</movement-title>",
            "Night",
            "",
        ),
        (
            "<credit><credit-type>title</credit-type><credit-words>Noon</credit-words></credit>"
            "<credit><credit-type>subtitle</credit-type><credit-words>a study</credit-words>"
            "</credit>",
            "Noon",
            "a study",
        ),
    ],
)
def test_titles(tmp_path, head, title, subtitle):
    assert titles(tmp_path, head) == (title, subtitle)


def test_composer_and_credit_line(tmp_path):
    head = (
        '<identification><creator type="composer"> A. Bell </creator>'
        '<creator type="arranger">C. Drum</creator><rights>CC0</rights>'
        "<encoding><encoder>E. Flute</encoder><encoder>G. Harp</encoder></encoding>"
        "<source>first print</source></identification>"
    )
    score = read(tmp_path, MUSIC, head=head)
    assert score.composer == "A. Bell"
    assert score.credit == (
        "CC0; Arranged by C. Drum; Source: first print; Encoded by E. Flute, G. Harp"
    )


def test_composer_from_the_first_page(tmp_path):
    words = "<credit-type>composer</credit-type><credit-words>A.\nBell</credit-words>"
    assert read(tmp_path, MUSIC, head=f"<credit>{words}</credit>").composer == "A. Bell"


def test_part_list(tmp_path):
    """An unnamed group inside a named one; a name with a flat; a sound and a program."""
    part_list = """
    <part-group number="1" type="start"><group-name>Woodwind</group-name></part-group>
    <part-group number="2" type="start"><group-symbol>brace</group-symbol></part-group>
    <score-part id="P1">
      <part-name>Clarinets in Bb</part-name>
      <part-name-display><display-text>Clarinets in B</display-text
        ><accidental-text>flat</accidental-text></part-name-display>
      <part-abbreviation>Cl.</part-abbreviation>
      <score-instrument id="I1"><instrument-name>Clarinet</instrument-name>
        <instrument-sound>wind.reed.clarinet.bflat</instrument-sound></score-instrument>
      <midi-instrument id="I1"><midi-program>72</midi-program></midi-instrument>
    </score-part>
    <part-group number="2" type="stop"/>
    <part-group number="1" type="stop"/>
    <score-part id="P2">
      <part-name/>
      <score-instrument id="I2"><instrument-name>Violin</instrument-name></score-instrument>
      <midi-instrument id="I2"><midi-program>200</midi-program></midi-instrument>
    </score-part>"""
    score = read(tmp_path, MUSIC, MUSIC, part_list=part_list)
    clarinets, violin = score.parts
    assert (clarinets.id, clarinets.name, clarinets.abbreviation) == (
        "P1",
        "Clarinets in B♭",
        "Cl.",
    )
    assert clarinets.instrument_sound == "wind.reed.clarinet.bflat"
    assert clarinets.midi_program == 72
    assert (clarinets.group, violin.group) == ("Woodwind", "")
    assert violin.name == "Violin"
    assert violin.midi_program is None
    assert violin.instrument_sound is None


def test_a_display_name_that_is_not_shown_is_not_taken(tmp_path):
    part_list = (
        '<score-part id="P1"><part-name>Oboe</part-name><part-name-display print-object="no">'
        "<display-text>hidden</display-text></part-name-display></score-part>"
    )
    assert read(tmp_path, MUSIC, part_list=part_list).parts[0].name == "Oboe"


def test_a_part_that_is_not_in_the_list(tmp_path):
    part_list = '<score-part id="other"><part-name>Oboe</part-name></score-part>'
    part = read(tmp_path, MUSIC, part_list=part_list).parts[0]
    assert (part.id, part.name) == ("P1", "")
