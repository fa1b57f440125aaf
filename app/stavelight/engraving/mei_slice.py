"""Cut a stretch of bars out of an MEI score, so that it can be engraved by itself.

As with MusicXML, a slice has a bar of context on either side, each on a page that nobody sees; its
head holds the score definition that is in force there, and lines that cross an edge are led from or
to the nearest note of their staff inside the slice.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass, field

from lxml import etree

from stavelight.engraving.musicxml_slice import SliceRequest

MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_DEFINITIONS = (MEI + "scoreDef", MEI + "staffDef")
_BREAKS = {MEI + "pb": "page", MEI + "sb": "system"}
_SIGNATURES = {MEI + "keySig", MEI + "meterSig", MEI + "meterSigGrp", MEI + "clef"}
_SIGNATURE_ATTRIBUTES = ("key", "keysig", "meter", "clef")
_ABOVE_THE_SCORE = {MEI + "tempo", MEI + "reh"}
_EVENTS = (MEI + "note", MEI + "chord", MEI + "rest", MEI + "mRest", MEI + "space")


@dataclass(slots=True)
class _BarPlace:
    """A measure and what stands before it.

    Attributes
    ----------
    measure
        The element.
    definitions
        Score and staff definitions between the measure before and this one.
    break_before
        ``page``, ``system`` or nothing.
    ending
        The ending that it stands in, if any.
    """

    measure: etree._Element
    definitions: list[etree._Element] = field(default_factory=list)
    break_before: str = ""
    ending: etree._Element | None = None


@dataclass(frozen=True, slots=True)
class _Crossing:
    """A control event, such as a slur, that begins in one bar and ends in a later one."""

    element: etree._Element
    start_bar: int
    stop_bar: int


class MeiSlicer:
    """Cuts slices out of one MEI score.

    Parameters
    ----------
    root
        The document, with ids on all its measures and notes.

    Attributes
    ----------
    staff_numbers
        The n of each staff, from above.
    bar_by_id
        Bar indices by the ids of the measures.
    """

    def __init__(self, root: etree._Element) -> None:
        self._version = root.get("meiversion", "5.0")
        scores = list(root.iter(MEI + "score"))
        self._first_definition = scores[0].find(MEI + "scoreDef")
        self._bars: list[_BarPlace] = []
        for score in scores:
            for child in score:
                if child is not self._first_definition:
                    self._walk(child, None)
        self.staff_numbers = tuple(
            staff.get("n") for staff in self._first_definition.iter(MEI + "staffDef")
        )
        self.bar_by_id = {place.measure.get(_ID): i for i, place in enumerate(self._bars)}
        self._crossings = self._find_crossings()

    def _walk(self, element: etree._Element, ending: etree._Element | None) -> None:
        """Collect the measures under an element in the order of the document."""
        tag = element.tag
        if tag == MEI + "measure":
            place = self._pending
            self._bars.append(_BarPlace(element, place.definitions, place.break_before, ending))
            self._pending_place = None
        elif tag in _DEFINITIONS:
            self._pending.definitions.append(element)
        elif tag in _BREAKS:
            place = self._pending
            both = (place.break_before, _BREAKS[tag])
            place.break_before = "page" if "page" in both else "system"
        elif tag in (MEI + "rdg", MEI + "expansion"):
            return
        elif isinstance(tag, str):
            for child in element:
                self._walk(child, element if tag == MEI + "ending" else ending)

    _pending_place: _BarPlace | None = None

    @property
    def _pending(self) -> _BarPlace:
        if self._pending_place is None:
            self._pending_place = _BarPlace(self._first_definition)
        return self._pending_place

    def breaks_before(self, bar: int) -> str:
        """Return ``page``, ``system`` or nothing: the break that the file has before a bar."""
        return self._bars[bar].break_before

    def _find_crossings(self) -> list[_Crossing]:
        bar_of_id: dict[str, int] = {}
        for index, place in enumerate(self._bars):
            for element in place.measure.iter():
                identity = element.get(_ID)
                if identity is not None:
                    bar_of_id[identity] = index
        found = []
        for index, place in enumerate(self._bars):
            for element in place.measure.iterchildren():
                end_id = element.get("endid", "").lstrip("#")
                time = element.get("tstamp2", "")
                stop = bar_of_id.get(end_id, index)
                if "m" in time:
                    stop = max(stop, index + int(time.split("m")[0] or 0))
                start = bar_of_id.get(element.get("startid", "").lstrip("#"), index)
                if stop > start:
                    found.append(_Crossing(element, start, stop))
        return found

    def cut(self, request: SliceRequest, staves: Sequence[str]) -> bytes:
        """Return an MEI document: a page of context, a page a system, a page of context.

        Parameters
        ----------
        request
            Which bars.
        staves
            The n of the staves to show.
        """
        first, last = request.systems[0].start, request.systems[-1].stop
        head, tail = max(first - 1, 0), min(last + 1, len(self._bars))
        page_starts = {system.start for system in request.systems} | {last}
        root = etree.Element(
            MEI + "mei", {"meiversion": self._version}, nsmap={None: MEI.strip("{}")}
        )
        body = etree.SubElement(etree.SubElement(root, MEI + "music"), MEI + "body")
        score = etree.SubElement(etree.SubElement(body, MEI + "mdiv"), MEI + "score")
        score.append(self._definition_at(head, set(staves), full_names=request.full_names))
        section = etree.SubElement(score, MEI + "section")
        ending: etree._Element | None = None
        holder = section
        for bar in range(head, tail):
            place = self._bars[bar]
            if place.ending is not ending:
                ending = place.ending
                holder = section
                if ending is not None:
                    holder = etree.SubElement(section, MEI + "ending", dict(ending.attrib))
            if bar in page_starts and bar != head:
                holder.append(etree.Element(MEI + "pb"))
            if bar > head:
                for definition in place.definitions:
                    holder.append(_only_staves(deepcopy(definition), set(staves)))
            measure = self._measure(bar, staves)
            self._mend_crossings(measure, bar, head, tail - 1, staves)
            holder.append(measure)
        return bytes(etree.tostring(root, encoding="utf-8"))

    def _measure(self, bar: int, staves: Sequence[str]) -> etree._Element:
        measure = deepcopy(self._bars[bar].measure)
        measure.tail = None
        shown = set(staves)
        for child in list(measure):
            if child.tag == MEI + "staff":
                if child.get("n") not in shown:
                    measure.remove(child)
                continue
            own = child.get("staff", "").split()
            if not own:
                continue
            left = [number for number in own if number in shown]
            if left:
                child.set("staff", " ".join(left))
            elif child.tag in _ABOVE_THE_SCORE:
                child.set("staff", staves[0])
                child.attrib.pop("startid", None)
                child.attrib.setdefault("tstamp", "1")
            else:
                measure.remove(child)
        return measure

    def _mend_crossings(
        self, measure: etree._Element, bar: int, head: int, tail: int, staves: Sequence[str]
    ) -> None:
        """Lead the lines that cross an edge of the slice from or to a note inside it."""
        if bar == head > 0:
            for crossing in self._crossings:
                if crossing.start_bar < head <= crossing.stop_bar and not _is_tie(crossing.element):
                    element = deepcopy(crossing.element)
                    event = _event(measure, element.get("staff"), staves, last=False)
                    if event is None:
                        continue
                    element.set("startid", "#" + event.get(_ID))
                    element.attrib.pop("tstamp", None)
                    if element.get("tstamp2"):
                        _, _, beat = element.get("tstamp2").partition("m+")
                        element.set("tstamp2", f"{crossing.stop_bar - head}m+{beat or '1'}")
                    measure.append(element)
        for element in list(measure):
            stop = self._stop_bar(element, bar)
            if stop is not None and stop > tail:
                if _is_tie(element):  # it leads from one page that nobody sees to another
                    measure.remove(element)
                    continue
                if element.get("tstamp2"):
                    element.set("tstamp2", f"{tail - bar}m+1")
                elif element.get("endid"):
                    last = self._bars[tail].measure
                    event = _event(last, element.get("staff"), staves, last=True)
                    if event is not None:
                        element.set("endid", "#" + event.get(_ID))

    def _stop_bar(self, element: etree._Element, bar: int) -> int | None:
        identity = element.get(_ID)
        for crossing in self._crossings:
            if crossing.element.get(_ID) == identity and identity is not None:
                return crossing.stop_bar
            if identity is None and dict(crossing.element.attrib) == dict(element.attrib):
                return crossing.stop_bar
        return None

    def _definition_at(self, bar: int, staves: set[str], *, full_names: bool) -> etree._Element:
        """Return the score definition in force at a bar, for some staves."""
        definition = deepcopy(self._first_definition)
        by_number = {staff.get("n"): staff for staff in definition.iter(MEI + "staffDef")}
        for index in range(bar + 1):
            for change in self._bars[index].definitions:
                _apply(change, definition, by_number)
            if index < bar:
                for staff in self._bars[index].measure.iterchildren(MEI + "staff"):
                    clefs = [*staff.iter(MEI + "clef")]
                    target = by_number.get(staff.get("n"))
                    if clefs and target is not None:
                        _set_clef(target, clefs[-1])
        _only_staves(definition, staves)
        for unwanted in ("pgHead", "pgFoot", "pgHead2", "pgFoot2"):
            for element in definition.findall(MEI + unwanted):
                definition.remove(element)
        if full_names:
            for abbreviation in list(definition.iter(MEI + "labelAbbr")):
                label = abbreviation.getparent().find(MEI + "label")
                if label is not None:
                    abbreviation.text = "".join(label.itertext())
        for holder in [*definition.iter(MEI + "staffDef"), *definition.iter(MEI + "staffGrp")]:
            label = holder.find(MEI + "label")
            if label is not None and holder.find(MEI + "labelAbbr") is None:
                abbreviation = etree.Element(MEI + "labelAbbr")
                abbreviation.text = "".join(label.itertext())
                label.addnext(abbreviation)
        return definition


def _apply(
    change: etree._Element, definition: etree._Element, by_number: dict[str, etree._Element]
) -> None:
    """Put a later score or staff definition into the one in force."""
    if change.tag == MEI + "staffDef":
        if change.get("n") in by_number:
            _take_over(by_number[change.get("n")], change)
        return
    _take_over(definition, change)
    for staff in by_number.values():
        for name in list(staff.attrib):
            family = name.split(".")[0]
            replaced = any(other.split(".")[0] == family for other in change.attrib)
            if replaced and family in _SIGNATURE_ATTRIBUTES and family != "clef":
                del staff.attrib[name]
    for staff in change.iter(MEI + "staffDef"):
        if staff.get("n") in by_number:
            _take_over(by_number[staff.get("n")], staff)


def _take_over(target: etree._Element, change: etree._Element) -> None:
    """Let the signatures of one definition replace those of another."""
    families = {name.split(".")[0] for name in change.attrib} & set(_SIGNATURE_ATTRIBUTES)
    if families & {"key", "keysig"}:
        families |= {"key", "keysig"}
    for name in list(target.attrib):
        if name.split(".")[0] in families:
            del target.attrib[name]
    for name, value in change.attrib.items():
        if name.split(".")[0] in families:
            target.set(name, value)
    for child in change:
        if child.tag in _SIGNATURES:
            for old in target.findall(child.tag):
                target.remove(old)
            target.append(deepcopy(child))


def _set_clef(staff: etree._Element, clef: etree._Element) -> None:
    for name in [name for name in staff.attrib if name.split(".")[0] == "clef"]:
        del staff.attrib[name]
    for old in staff.findall(MEI + "clef"):
        staff.remove(old)
    for name in ("shape", "line", "dis", "dis.place"):
        if clef.get(name):
            staff.set("clef." + name, clef.get(name))


def _is_tie(element: etree._Element) -> bool:
    return bool(element.tag == MEI + "tie")


def _only_staves(definition: etree._Element, staves: set[str]) -> etree._Element:
    """Drop the other staves from a definition, and the groups that are empty then."""
    for staff in list(definition.iter(MEI + "staffDef")):
        if staff.get("n") not in staves and staff is not definition:
            staff.getparent().remove(staff)
    for group in reversed(list(definition.iter(MEI + "staffGrp"))):
        parent = group.getparent()
        empty = not any(child.tag in (MEI + "staffDef", MEI + "staffGrp") for child in group)
        if empty and parent is not None:
            parent.remove(group)
    definition.tail = None
    return definition


def _event(
    measure: etree._Element, staff: str | None, staves: Sequence[str], *, last: bool
) -> etree._Element | None:
    """Return the first or last event with an id on a staff of a measure, rather a note."""
    number = (staff or staves[0]).split()[0]
    for element in measure.iterchildren(MEI + "staff"):
        if element.get("n") == number:
            events = [event for event in element.iter(*_EVENTS) if event.get(_ID)]
            notes = [event for event in events if event.tag == MEI + "note"] or events
            return (notes[-1] if last else notes[0]) if notes else None
    return None
