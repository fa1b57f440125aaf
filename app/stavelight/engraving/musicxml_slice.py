"""Cut a stretch of bars out of a MusicXML score, so that it can be engraved by itself.

The slice begins with one bar of context before the bars that are wanted and ends with one after
them, each on a page of its own that nobody sees: so ties, slurs, beams, hairpins and courtesy
signatures at the edges come out as they would in the whole score. At its head stand the clef, key,
time signature, transposition and staff settings that are in force there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass

from lxml import etree

from stavelight.engraving.key_changes import Slice
from stavelight.engraving.open_lines import NOTE_LINES, OpenLine, lines_over_barlines
from stavelight.engraving.part_names import drop_empty_groups, tidy_names
from stavelight.score.musicxml_text import MusicXmlText, huge_parser

_PRINT = re.compile(rb"<print(?=[\s>/])[^>]*/>|<print(?=[\s>])[^>]*>.*?</print\s*>", re.DOTALL)
_MULTIPLE_REST = re.compile(rb"<measure-style[^>]*>\s*<multiple-rest.*?</measure-style>", re.DOTALL)
_HIDDEN_STAFF = re.compile(rb"(<staff-details[^>]*?)\sprint-object\s*=\s*[\"'][^\"']*[\"']")
_TOUCHING_WORDS = re.compile(
    rb"(?<!\s)</words>(?=\s*(?:</direction-type>\s*<direction-type>\s*)?"
    rb"<(?:words[^>]*>\S|metronome|symbol))"
)
"""Words with something else right behind them in the same direction."""

_DYNAMICS_THEN_WORDS = re.compile(
    rb"(?P<dynamics><direction(?P<one>(?=[\s>])[^>]*)>\s*<direction-type>\s*<dynamics"
    rb"(?:(?!</direction>|<offset).)*?</direction-type>)(?P<rest>(?:(?!</direction>|<offset).)*)"
    rb"</direction>\s*<direction(?P<two>(?=[\s>])[^>]*)>\s*<direction-type>\s*<words"
    rb"(?P<attributes>[^>]*)>(?P<words>[^<]*)</words>\s*</direction-type>"
    rb"(?P<end>(?:(?!</direction>|<offset|<direction-type).)*)</direction>",
    re.DOTALL,
)
_ATTRIBUTES = re.compile(rb"<attributes(?=[\s>])[^>]*>.*?</attributes\s*>", re.DOTALL)
_STAVES = re.compile(rb"<staves>\s*(\d+)")
_STAFF_OR_VOICE = re.compile(rb"<(?:staff|voice)>[^<]*</(?:staff|voice)>")

_OPENING_TAG = re.compile(rb"<measure[^>]*>")
_REHEARSAL_OR_TEMPO = re.compile(
    rb"<direction(?=[\s>])(?:(?!</direction>).)*?<(?:rehearsal|metronome|segno|coda)[\s/>]"
    rb"(?:(?!</direction>).)*?</direction>",
    re.DOTALL,
)
_ONCE_FOR_THE_PART = ("divisions", "staves", "part-symbol")
_FOR_EACH_STAFF = ("key", "time", "clef", "staff-details", "transpose")
_ORDER = ("divisions", "key", "time", "staves", "part-symbol", "clef", "staff-details", "transpose")


@dataclass(frozen=True, slots=True)
class SliceRequest:
    """Which bars and parts to engrave, and how.

    Attributes
    ----------
    systems
        The bars of each system: half-open ranges of bar indices, each beginning where the one
        before ends.
    parts
        Indices of the parts to show, ascending.
    full_names
        Whether part names are printed in full before every system, not only before the first
        system of the score.
    sounding_pitch
        Whether the parts are to be shown at the pitch that sounds. Instruments that transpose by
        octaves keep their octave, as is the custom in scores in C.
    """

    systems: tuple[range, ...]
    parts: tuple[int, ...]
    full_names: bool = False
    sounding_pitch: bool = False


class MusicXmlSlicer:
    """Cuts slices out of one MusicXML score.

    Parameters
    ----------
    text
        The score.
    """

    def __init__(self, text: MusicXmlText) -> None:
        self.text = text
        self._lines: tuple[OpenLine, ...] | None = None
        self._near: tuple[OpenLine, ...] = ()

    def cut(self, request: SliceRequest) -> Slice:
        """Return a MusicXML document: a page of context, a page a system, a page of context.

        There is no page of context before the first bar of the score or after its last.
        """
        first, last = request.systems[0].start, request.systems[-1].stop
        head_bar = max(first - 1, 0)
        tail_bar = min(last + 1, self.text.bar_count)
        page_starts = {system.start for system in request.systems} | {last}
        self._near = self._lines_for(head_bar, tail_bar)
        pieces = [self._head(request)]
        moved = self._marks_of_hidden_parts(request, range(head_bar, tail_bar))
        for place, part in enumerate(request.parts):
            pieces.append(b'<part id="%s">' % self.text.part_ids[part].encode())
            for bar in range(head_bar, tail_bar):
                after_tag = b""
                if bar in page_starts and bar != head_bar:
                    after_tag += b'<print new-page="yes"/>'
                if bar == head_bar and bar > 0:
                    after_tag += self._state_before(part, bar, request.sounding_pitch)
                if place == 0:
                    after_tag += moved.get(bar, b"")
                pieces.append(self._bar(part, bar, after_tag, request, head_bar, tail_bar - 1))
            pieces.append(b"</part>")
        pieces.append(b"</score-partwise>")
        return Slice(b"".join(pieces), self._key_changes(request, range(head_bar + 1, tail_bar)))

    def _bar(
        self,
        part: int,
        bar: int,
        after_tag: bytes,
        request: SliceRequest,
        head_bar: int,
        tail_bar: int,
    ) -> bytes:
        raw = self.text.measure_with_ids(part, bar)
        raw = _HIDDEN_STAFF.sub(rb"\1", _MULTIPLE_REST.sub(b"", _PRINT.sub(b"", raw)))
        raw = _TOUCHING_WORDS.sub(b" </words>", join_dynamics_and_words(raw))
        if request.sounding_pitch:
            raw = _without_octave_transposition(raw)
        if bar == head_bar > 0:
            raw = _split_opening_attributes(raw)[1]
        if after_tag:
            tag = _OPENING_TAG.match(raw)
            assert tag is not None
            if tag[0].endswith(b"/>"):
                raw = tag[0][:-2] + b">" + after_tag + b"</measure>"
            else:
                raw = tag[0] + after_tag + raw[tag.end() :]
        reopened = self._crossing(part, bar, at_head=True) if bar == head_bar > 0 else []
        closed = self._crossing(part, bar, at_head=False) if bar == tail_bar else []
        if reopened or closed:
            raw = _with_lines(raw, reopened, closed)
        return raw

    def _crossing(self, part: int, bar: int, *, at_head: bool) -> list[OpenLine]:
        """Return the lines of a part open at the beginning, or else at the end, of a bar."""
        if at_head:
            return [x for x in self._near if x.part == part and x.start_bar < bar <= x.stop_bar]
        return [x for x in self._near if x.part == part and x.start_bar <= bar < x.stop_bar]

    def _lines_for(self, head_bar: int, tail_bar: int) -> tuple[OpenLine, ...]:
        """Return the lines over barlines; for the first page, look no further than it."""
        if self._lines is None:
            if head_bar == 0 and tail_bar < self.text.bar_count:
                return lines_over_barlines(self.text, tail_bar)
            self._lines = lines_over_barlines(self.text)
        return self._lines

    def _state_before(self, part: int, bar: int, sounding_pitch: bool) -> bytes:
        """Return one ``<attributes>`` with all that is in force at the first note of a bar."""
        state: dict[tuple[str, str], etree._Element] = {}
        before = [raw for at, raw in self.text.attributes[part] if at < bar]
        opening, _ = _split_opening_attributes(self.text.measure(part, bar))
        for raw in [*before, *opening]:
            for element in etree.fromstring(raw, huge_parser()):
                name = str(element.tag)
                if name in _ONCE_FOR_THE_PART:
                    state[name, ""] = element
                elif name in _FOR_EACH_STAFF:
                    number = element.get("number", "1" if name == "clef" else "")
                    if not number:
                        for key in [key for key in state if key[0] == name and key[1]]:
                            del state[key]
                    if name == "staff-details":
                        _keep_settings(state.get((name, number)), element)
                    state[name, number] = element
        attributes = etree.Element("attributes")
        in_order = sorted(state.items(), key=lambda item: _ORDER.index(item[0][0]))
        for _, element in in_order:
            attributes.append(element)
        raw = etree.tostring(attributes)
        raw = _HIDDEN_STAFF.sub(rb"\1", raw)
        return _without_octave_transposition(raw) if sounding_pitch else raw

    def _key_changes(self, request: SliceRequest, bars: range) -> dict[str, dict[int, int]]:
        """Return the changes of key in some bars that are not the same on every staff."""
        staves = [(part, self._staff_count(part)) for part in request.parts]
        changes: dict[str, dict[int, int]] = {}
        for bar in bars:
            found: dict[int, int] = {}
            number = 0
            for part, count in staves:
                keys = self._keys_in(part, bar)
                for staff in range(1, count + 1):
                    number += 1
                    fifths = keys.get(str(staff), keys.get(""))
                    if fifths is not None:
                        found[number] = fifths
            if found and (len(found) < number or len(set(found.values())) > 1):
                changes[f"b{bar}"] = found
        return changes

    def _keys_in(self, part: int, bar: int) -> dict[str, int]:
        """Return the keys, as fifths, that a part changes to in a bar, by numbers of staves."""
        keys: dict[str, int] = {}
        for at, raw in self.text.attributes[part]:
            if at == bar:
                for element in etree.fromstring(raw, huge_parser()).findall("key"):
                    fifths = element.findtext("fifths", "").strip()
                    if fifths.lstrip("-+").isdigit():
                        keys[element.get("number", "")] = int(fifths)
        return keys

    def _staff_count(self, part: int) -> int:
        counts = [
            int(found) for _, raw in self.text.attributes[part] for found in _STAVES.findall(raw)
        ]
        return max(counts, default=1)

    def _marks_of_hidden_parts(self, request: SliceRequest, bars: range) -> dict[int, bytes]:
        """Return rehearsal and tempo marks written only in parts above those that are shown."""
        if request.parts[0] == 0:
            return {}
        marks: dict[int, bytes] = {}
        for bar in bars:
            if _REHEARSAL_OR_TEMPO.search(self.text.measure(request.parts[0], bar)):
                continue
            for part in range(request.parts[0]):
                found = _REHEARSAL_OR_TEMPO.findall(self.text.measure(part, bar))
                if found:
                    marks[bar] = b"".join(found)
                    break
        return marks

    def _head(self, request: SliceRequest) -> bytes:
        root = etree.fromstring(self.text.head + b"</score-partwise>", huge_parser())
        for element in root.xpath("credit|defaults|identification"):
            root.remove(element)
        part_list = root.find("part-list")
        shown = {self.text.part_ids[part] for part in request.parts}
        for score_part in part_list.findall("score-part"):
            if score_part.get("id") not in shown:
                part_list.remove(score_part)
            else:
                tidy_names(score_part, full_names=request.full_names)
        drop_empty_groups(part_list)
        opening = etree.tostring(root, encoding="utf-8")
        return bytes(opening[: opening.rindex(b"</score-partwise>")])


def _split_opening_attributes(raw: bytes) -> tuple[list[bytes], bytes]:
    """Return the attributes before the first note of a measure, and the measure without them.

    verovio heeds only the first attributes of a bar.
    """
    first_note = raw.find(b"<note")
    head, rest = (raw, b"") if first_note < 0 else (raw[:first_note], raw[first_note:])
    return _ATTRIBUTES.findall(head), _ATTRIBUTES.sub(b"", head) + rest


def join_dynamics_and_words(raw: bytes) -> bytes:
    """Write words that follow a dynamic sign at the same moment behind it, as ``fp dim.``.

    As directions of their own, verovio prints them on top of one another.
    """

    def joined(found: re.Match[bytes]) -> bytes:
        same_place = found["one"] == found["two"]
        same_staff = _STAFF_OR_VOICE.findall(found["rest"]) == _STAFF_OR_VOICE.findall(found["end"])
        if not (same_place and same_staff):
            return found[0]
        return b"".join(
            (
                *(found["dynamics"], b"<direction-type><words", found["attributes"], b"> "),
                *(found["words"].lstrip(), b"</words></direction-type>", found["rest"]),
                b"</direction>",
            )
        )

    return _DYNAMICS_THEN_WORDS.sub(joined, raw) if b"<dynamics" in raw else raw


def _keep_settings(before: etree._Element | None, element: etree._Element) -> None:
    """Add to the staff details in force what they had before and do not change."""
    for setting in [] if before is None else list(before):
        if element.find(setting.tag) is None:
            element.append(deepcopy(setting))


_TRANSPOSE = re.compile(rb"<transpose(?=[\s>])[^>]*>.*?</transpose\s*>", re.DOTALL)
_CHROMATIC = re.compile(rb"<chromatic>\s*(-?\d+)")


def _without_octave_transposition(raw: bytes) -> bytes:
    """Drop transpositions by whole octaves, which scores in C keep."""

    def keep(found: re.Match[bytes]) -> bytes:
        chromatic = _CHROMATIC.search(found[0])
        return b"" if chromatic and int(chromatic[1]) % 12 == 0 else found[0]

    return _TRANSPOSE.sub(keep, raw)


def _with_lines(raw: bytes, reopened: Sequence[OpenLine], closed: Sequence[OpenLine]) -> bytes:
    """Return a measure in which some lines begin anew and others are closed at its end."""
    measure = etree.fromstring(raw, huge_parser())
    for line in reopened:
        if line.kind in NOTE_LINES:
            note = _note_of_voice(measure, line.voice, last=False)
            if note is not None:
                _notation(note, line.kind, line.start_attributes)
        elif line.kind == "ending":
            _ending(measure, line.start_attributes, "left")
        else:
            first = measure.find("note")
            direction = _direction(line.kind, line.start_attributes, line.staff)
            if first is None:
                measure.append(direction)
            else:
                first.addprevious(direction)
    for line in closed:
        stop = (("type", "stop"), ("number", line.number))
        if line.kind in NOTE_LINES:
            note = _note_of_voice(measure, line.voice, last=True)
            if note is not None:
                _notation(note, line.kind, stop)
        elif line.kind == "ending":
            _ending(measure, (("type", "discontinue"), ("number", line.number)), "right")
        else:
            measure.append(_direction(line.kind, stop, line.staff))
    return bytes(etree.tostring(measure))


def _note_of_voice(measure: etree._Element, voice: str, *, last: bool) -> etree._Element | None:
    """Return the first or last note of a voice, rather a note than a rest."""
    notes = [note for note in measure.iter("note") if note.find("grace") is None]
    own = [note for note in notes if note.findtext("voice", "").strip() == voice] or notes
    pitched = [
        note for note in own if note.find("rest") is None and note.find("chord") is None
    ] or own
    return (pitched[-1] if last else pitched[0]) if pitched else None


def _notation(note: etree._Element, kind: str, attributes: Sequence[tuple[str, str]]) -> None:
    notations = note.find("notations")
    if notations is None:
        notations = etree.Element("notations")
        lyric = note.find("lyric")
        if lyric is None:
            note.append(notations)
        else:
            lyric.addprevious(notations)
    holder = notations
    if kind == "wavy-line":
        holder = notations.find("ornaments")
        if holder is None:
            holder = etree.SubElement(notations, "ornaments")
    etree.SubElement(holder, kind, dict(attributes))


def _direction(kind: str, attributes: Sequence[tuple[str, str]], staff: str) -> etree._Element:
    direction = etree.Element("direction")
    direction_type = etree.SubElement(direction, "direction-type")
    etree.SubElement(direction_type, kind, dict(attributes))
    if staff:
        etree.SubElement(direction, "staff").text = staff
    return direction


def _ending(measure: etree._Element, attributes: Sequence[tuple[str, str]], location: str) -> None:
    for barline in measure.findall("barline"):
        if barline.get("location", "right") == location:
            break
    else:
        barline = etree.Element("barline", location=location)
        if location == "left":
            measure.insert(0, barline)
        else:
            measure.append(barline)
    ending = etree.Element("ending", dict(attributes))
    style = barline.find("bar-style")
    if style is None:
        barline.insert(0, ending)
    else:
        style.addnext(ending)
