"""Write a score as MusicXML 4.0: part list, bars, signatures, directions, barlines."""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

from sample_score import material
from sample_score.engraving_notes import Place, StaffWriter, child
from sample_score.orchestra import GroupPlan, Orchestra, PartPlan
from sample_score.shorthand import PICKUP, QUARTER, Direction, Event, bar_ticks
from sample_score.staves import StaffBar, check_full, staff_bars

_CLEFS = {"treble": ("G", 2), "alto": ("C", 3), "tenor": ("C", 4), "bass": ("F", 4)}
_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_Written = list[tuple[int, Event, list[etree._Element]]]


def musicxml(
    orchestra: Orchestra,
    parts: Sequence[PartPlan],
    groups: Sequence[GroupPlan],
    subtitle: str,
    page_turns: Sequence[int] = (),
) -> bytes:
    """Return the score as a MusicXML 4.0 document."""
    root = etree.Element("score-partwise", version="4.0")
    child(child(root, "work"), "work-title", material.TITLE)
    identification = child(root, "identification")
    child(identification, "creator", material.COMPOSER, type="composer")
    child(identification, "rights", material.RIGHTS)
    _layout(root)
    _credits(root, subtitle)
    ids = {part.id: f"P{number}" for number, part in enumerate(parts, 1)}
    part_list = child(root, "part-list")
    for part in parts:
        _open_groups(part_list, groups, part)
        _score_part(part_list, part, ids[part.id])
        _close_groups(part_list, groups, part)
    for part in parts:
        element = child(root, "part", id=ids[part.id])
        _part(element, orchestra, part, part is parts[0], page_turns)
    text = etree.tostring(
        root, xml_declaration=True, encoding="UTF-8", pretty_print=True, doctype=_DOCTYPE
    )
    return bytes(text)


def _layout(root: etree._Element) -> None:
    """Give the staff size and an A3 page."""
    defaults = child(root, "defaults")
    scaling = child(defaults, "scaling")
    child(scaling, "millimeters", "4.4")
    child(scaling, "tenths", 40)
    page = child(defaults, "page-layout")
    child(page, "page-height", 3818)
    child(page, "page-width", 2700)
    margins = child(page, "page-margins", type="both")
    for side in ("left", "right", "top", "bottom"):
        child(margins, f"{side}-margin", 130)


def _credits(root: etree._Element, subtitle: str) -> None:
    """Print title, subtitle, composer and rights on the first page."""
    for kind, text, place in (
        ("title", material.TITLE, ("center", "top")),
        ("subtitle", subtitle, ("center", "top")),
        ("composer", material.COMPOSER, ("right", "top")),
        ("rights", material.RIGHTS, ("center", "bottom")),
    ):
        credit = child(root, "credit", page="1")
        child(credit, "credit-type", kind)
        child(credit, "credit-words", text, justify=place[0], valign=place[1])


def _open_groups(part_list: etree._Element, groups: Sequence[GroupPlan], part: PartPlan) -> None:
    """Open the groups that begin with a part."""
    for number, group in enumerate(groups, 1):
        if group.first != part.id:
            continue
        element = child(part_list, "part-group", type="start", number=str(number))
        child(element, "group-symbol", group.symbol)
        child(element, "group-barline", "yes" if group.barline else "no")


def _close_groups(part_list: etree._Element, groups: Sequence[GroupPlan], part: PartPlan) -> None:
    """Close the groups that end with a part, the inner before the outer."""
    for number, group in reversed(list(enumerate(groups, 1))):
        if group.last == part.id:
            child(part_list, "part-group", type="stop", number=str(number))


def _score_part(part_list: etree._Element, part: PartPlan, part_id: str) -> None:
    """Write a part's names and sounds."""
    element = child(part_list, "score-part", id=part_id)
    child(element, "part-name", part.name)
    child(element, "part-abbreviation", part.abbreviation)
    instrument = child(element, "score-instrument", id=f"{part_id}-I1")
    child(instrument, "instrument-name", part.name)
    child(instrument, "instrument-sound", part.sound)
    if part.solo:
        child(instrument, "solo")
    elif part.sound.startswith("strings."):
        child(instrument, "ensemble")
    elif part.numbers:
        child(instrument, "ensemble", len(part.numbers))
    midi = child(element, "midi-instrument", id=f"{part_id}-I1")
    if part.percussion_key is not None:
        child(midi, "midi-channel", 10)
    child(midi, "midi-program", part.program)
    if part.percussion_key is not None:
        # counted from 1, General MIDI's table from 0
        child(midi, "midi-unpitched", part.percussion_key + 1)


def _part(
    element: etree._Element,
    orchestra: Orchestra,
    part: PartPlan,
    is_first: bool,
    page_turns: Sequence[int],
) -> None:
    """Write all bars of a part."""
    staves = [staff_bars(orchestra, part, staff) for staff in part.staves]
    for bars in staves:
        check_full(bars)
    several = len(staves) > 1
    writers = [StaffWriter(part, number if several else 0) for number in range(1, len(staves) + 1)]
    metre = (0, 0)
    for index in range(material.LAST_BAR + 1):
        metre = material.METRES.get(index, metre)
        measure = child(element, "measure", number=str(index))
        if index == 0:
            measure.set("implicit", "yes")
        if is_first and index in page_turns:
            child(measure, "print", new_page="yes")
        _attributes(measure, part, index, writers)
        if is_first:
            _system_directions(measure, index)
        for number, (writer, bars) in enumerate(zip(writers, staves, strict=True)):
            if number:
                child(child(measure, "backup"), "duration", bar_ticks(index))
            _staff(measure, writer, bars[index], index, metre[1])
        if index in material.DOUBLE_BARLINES:
            child(child(measure, "barline", location="right"), "bar-style", "light-light")
        if index == material.LAST_BAR:
            child(child(measure, "barline", location="right"), "bar-style", "light-heavy")


def written_fifths(part: PartPlan, fifths: int) -> int:
    """Return the key signature that a part reads, for a sounding one."""
    shift = -part.transposition.semitones * 7 % 12
    return fifths + (shift - 12 if shift > 6 else shift)


def _attributes(
    measure: etree._Element, part: PartPlan, index: int, writers: list[StaffWriter]
) -> None:
    """Write what changes at the beginning of a bar."""
    attributes = etree.Element("attributes")
    if index == 0:
        child(attributes, "divisions", QUARTER)
    if index in material.KEYS:
        fifths = written_fifths(part, material.KEYS[index]) if part.has_key else 0
        if part.has_key or index == 0:
            child(child(attributes, "key"), "fifths", fifths)
        for writer in writers:
            writer.accidentals.set_key(fifths)
    if index in material.METRES:
        beats, beat_type = material.METRES[index]
        time = child(attributes, "time")
        child(time, "beats", beats)
        child(time, "beat-type", beat_type)
    if index == 0 and len(part.staves) > 1:
        child(attributes, "staves", len(part.staves))
    for number, staff in enumerate(part.staves, 1):
        clef = dict(staff.clefs).get(index)
        if clef is not None:
            _clef(attributes, clef, number if len(part.staves) > 1 else 0)
    if index == 0:
        _staff_settings(attributes, part)
    if len(attributes):
        measure.append(attributes)


def _clef(attributes: etree._Element, name: str, staff: int) -> None:
    """Write a clef."""
    clef = child(attributes, "clef", **({"number": str(staff)} if staff else {}))
    if name == "percussion":
        child(clef, "sign", "percussion")
        return
    sign, line = _CLEFS[name]
    child(clef, "sign", sign)
    child(clef, "line", line)


def _staff_settings(attributes: etree._Element, part: PartPlan) -> None:
    """Write the number of staff lines and the transposition."""
    if part.percussion_key is not None:
        child(child(attributes, "staff-details"), "staff-lines", 1)
    interval = part.transposition
    if not interval.semitones:
        return
    octave_change = int(interval.semitones / 12)
    transpose = child(attributes, "transpose")
    child(transpose, "diatonic", interval.steps - 7 * octave_change)
    child(transpose, "chromatic", interval.semitones - 12 * octave_change)
    if octave_change:
        child(transpose, "octave-change", octave_change)


def _system_directions(measure: etree._Element, index: int) -> None:
    """Write rehearsal mark and tempo, once for the whole system."""
    if index in material.REHEARSAL_MARKS:
        direction = child(measure, "direction", placement="above", system="only-top")
        mark = child(
            child(direction, "direction-type"),
            "rehearsal",
            material.REHEARSAL_MARKS[index],
            enclosure="square",
            font_weight="bold",
        )
        mark.set("font-size", "14")
    for tempo in material.TEMPI:
        if tempo.bar == index:
            _tempo(measure, tempo)


def _tempo(measure: etree._Element, tempo: material.Tempo) -> None:
    """Write a tempo mark."""
    direction = child(measure, "direction", placement="above", system="only-top")
    weight = {"font_weight": "bold"} if tempo.beat else {"font_style": "italic"}
    child(child(direction, "direction-type"), "words", tempo.words, **weight)
    if tempo.beat:
        metronome = child(child(direction, "direction-type"), "metronome", parentheses="no")
        child(metronome, "beat-unit", tempo.beat.rstrip("."))
        if tempo.beat.endswith("."):
            child(metronome, "beat-unit-dot")
        child(metronome, "per-minute", f"{tempo.beats_per_minute:g}")
    child(direction, "sound", tempo=f"{tempo.quarters_per_minute:g}")


def _staff(
    measure: etree._Element, writer: StaffWriter, bar: StaffBar, index: int, beat_type: int
) -> None:
    """Write one bar of one staff."""
    voices = writer.voice_elements(bar, beat_type)
    if not voices:
        place = Place(writer.staff, 4 * max(writer.staff - 1, 0) + 1)
        voices = [(place, [_bar_rest(place, index)])]
    pending = list(bar.directions)
    for number, (place, written) in enumerate(voices):
        if number:
            child(child(measure, "backup"), "duration", bar_ticks(index))
        for ticks, event, elements in written:
            if number == 0:
                due = [each for each in pending if each.ticks < ticks + event.ticks]
                pending = pending[len(due) :]
                _directions(measure, due, ticks, place)
            measure.extend(elements)
        if number == 0:
            _directions(measure, pending, bar_ticks(index), place)


def _bar_rest(place: Place, index: int) -> tuple[int, Event, list[etree._Element]]:
    """Return a bar's rest, with a fermata at the very end."""
    note = etree.Element("note")
    child(note, "rest", measure="yes")
    child(note, "duration", bar_ticks(index))
    child(note, "voice", place.voice)
    if bar_ticks(index) == PICKUP:
        child(note, "type", "eighth")
    if place.staff:
        child(note, "staff", place.staff)
    if index == material.LAST_BAR:
        child(child(note, "notations"), "fermata", type="upright")
    return 0, Event(bar_ticks(index), "whole"), [note]


def _directions(
    measure: etree._Element, directions: list[Direction], cursor: int, place: Place
) -> None:
    """Write the directions of one moment or of one note; words of one moment stand together."""
    words: dict[int, etree._Element] = {}
    for each in directions:
        offset = each.ticks - cursor
        if each.kind in ("label", "technique", "expression"):
            if each.ticks in words:
                _word(words[each.ticks], each)
                continue
            element = child(measure, "direction", placement="above")
            words[each.ticks] = child(element, "direction-type")
            _word(words[each.ticks], each)
        else:
            below = {"placement": "below"}
            element = child(measure, "direction", **below)
            _sign(child(element, "direction-type"), each)
        if offset:
            child(element, "offset", offset)
        if place.staff:
            child(element, "staff", place.staff)
        _sound(element, each)


def _word(direction_type: etree._Element, direction: Direction) -> None:
    """Add words to a direction."""
    text = direction.text if not len(direction_type) else f" {direction.text}"
    style = "italic" if direction.kind == "expression" else "normal"
    words = child(direction_type, "words", text, font_style=style)
    if text.startswith(" "):
        words.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")


def _sign(direction_type: etree._Element, direction: Direction) -> None:
    """Write a dynamic, a hairpin, or words below the staff."""
    if direction.kind == "dynamic":
        child(child(direction_type, "dynamics"), direction.text)
    elif direction.kind == "hairpin":
        kind = {"<": "crescendo", ">": "diminuendo", "!": "stop"}[direction.text]
        child(direction_type, "wedge", type=kind, number="1")
    else:
        child(direction_type, "words", direction.text, font_style="normal")


def _sound(element: etree._Element, direction: Direction) -> None:
    """Say for playback when strings pluck and when they bow."""
    if direction.kind == "technique" and "pizz." in direction.text:
        child(element, "sound", pizzicato="yes")
    elif direction.kind == "technique" and "arco" in direction.text:
        child(element, "sound", pizzicato="no")
