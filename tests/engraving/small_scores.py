"""A small score that has a bit of everything which slices must mind."""

from __future__ import annotations


def small_score(bars: int = 8, *, slur_to: int = 5) -> bytes:
    """Return a score for flute, clarinet in B flat and harp on two staves.

    The first bar is a pickup of one quarter. A slur and a hairpin of the flute run from bar 1 to
    bar `slur_to`; the key changes from G to D major at bar 4, the flute's clef at bar 3; the harp
    rests in bars 2 to 4; a rehearsal mark stands at bar 4.
    """
    parts = []
    for name, note_line in (("flute", "G5"), ("clarinet", "A4")):
        measures = [_bar(name, bar, note_line, bars, slur_to) for bar in range(bars)]
        parts.append(f'<part id="{name}">{"".join(measures)}</part>')
    harp = [_harp_bar(bar) for bar in range(bars)]
    parts.append(f'<part id="harp">{"".join(harp)}</part>')
    head = (
        "<part-list>"
        '<part-group type="start" number="1"><group-symbol>bracket</group-symbol></part-group>'
        '<score-part id="flute"><part-name> Flute </part-name>'
        "<part-abbreviation>Fl.</part-abbreviation></score-part>"
        '<score-part id="clarinet"><part-name>Clarinet in B-flat</part-name></score-part>'
        '<part-group type="stop" number="1"/>'
        '<score-part id="harp"><part-name>Harp</part-name>'
        "<part-abbreviation>Hp.</part-abbreviation></score-part></part-list>"
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        "<work><work-title>A Small Score</work-title></work>"
        '<identification><creator type="composer">Nobody</creator></identification>'
        f"{head}{''.join(parts)}</score-partwise>"
    ).encode()


def _attributes(name: str, bar: int) -> str:
    clarinet = name == "clarinet"
    if bar == 0:
        transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
        return (
            f"<attributes><divisions>2</divisions><key><fifths>{3 if clarinet else 1}</fifths>"
            "</key><time><beats>4</beats><beat-type>4</beat-type></time>"
            "<clef><sign>G</sign><line>2</line></clef>"
            f"{transpose if clarinet else ''}</attributes>"
        )
    if bar == 3 and name == "flute":
        return "<attributes><clef><sign>C</sign><line>3</line></clef></attributes>"
    if bar == 4:
        return f"<attributes><key><fifths>{4 if clarinet else 2}</fifths></key></attributes>"
    return ""


def _bar(name: str, bar: int, pitch: str, bars: int, slur_to: int) -> str:
    count = 1 if bar == 0 else 4
    notes = []
    for number in range(count):
        notations = ""
        if name == "flute" and number == 0 and bar == 1:
            notations = '<notations><slur type="start" number="1"/></notations>'
        if name == "flute" and number == 0 and bar == slur_to:
            notations = '<notations><slur type="stop" number="1"/></notations>'
        notes.append(
            f"<note><pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch>"
            "<duration>2</duration><voice>1</voice><type>quarter</type>"
            f"{notations}</note>"
        )
    direction = ""
    if name == "flute" and bar in (1, slur_to):
        kind = "crescendo" if bar == 1 else "stop"
        direction = (
            f'<direction><direction-type><wedge type="{kind}" number="1"/></direction-type>'
            "</direction>"
        )
    if name == "flute" and bar == 4:
        direction += (
            "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>"
        )
    number = f'number="{bar}"' + (' implicit="yes"' if bar == 0 else "")
    return f"<measure {number}>{_attributes(name, bar)}{direction}{''.join(notes)}</measure>"


def _harp_bar(bar: int) -> str:
    attributes = ""
    if bar == 0:
        attributes = (
            "<attributes><divisions>4</divisions><key><fifths>1</fifths></key>"
            "<time><beats>4</beats><beat-type>4</beat-type></time><staves>2</staves>"
            '<clef number="1"><sign>G</sign><line>2</line></clef>'
            '<clef number="2"><sign>F</sign><line>4</line></clef></attributes>'
        )
    elif bar == 4:
        attributes = "<attributes><key><fifths>2</fifths></key></attributes>"
    length = 4 if bar == 0 else 16
    if bar in (2, 3, 4):
        staves = [
            f'<note><rest measure="yes"/><duration>{length}</duration><voice>{voice}</voice>'
            f"<staff>{staff}</staff></note>"
            for voice, staff in ((1, 1), (5, 2))
        ]
    else:
        kind = "quarter" if bar == 0 else "whole"
        staves = [
            f"<note><pitch><step>D</step><octave>{octave}</octave></pitch>"
            f"<duration>{length}</duration><voice>{voice}</voice><type>{kind}</type>"
            f"<staff>{staff}</staff></note>"
            for octave, voice, staff in ((5, 1, 1), (3, 5, 2))
        ]
    backup = f"<backup><duration>{length}</duration></backup>"
    return f'<measure number="{bar}">{attributes}{backup.join(staves)}</measure>'
