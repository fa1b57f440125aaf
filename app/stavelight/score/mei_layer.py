"""Read the layers of one bar of an MEI score: what is played when, and for how long.

Element and attribute names are those of the Music Encoding Initiative's Guidelines, version 5.1.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

from lxml import etree

from stavelight.score.bar_drafts import Meter
from stavelight.score.file_numbers import whole_number
from stavelight.score.mei_definitions import Definitions, StaffState
from stavelight.score.mei_marks import flags_at, is_slashed, ties_at
from stavelight.score.mei_names import ID, MEI, content_of, local_name
from stavelight.score.note_rows import SpelledPitch
from stavelight.score.note_table import NoteFlag

_QUARTERS = {"maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8)} | {
    str(2**power): Fraction(4, 2**power) for power in range(12)
}
_MOST_DOTS = 6
UNKNOWN_PITCH = SpelledPitch(-1, 6, 0, 4)
_WITHOUT_TIME = {"clef", "keySig", "meterSig"}
_WHOLE_BAR = {"mRest", "mSpace", "mRpt", "mRpt2", "multiRest", "multiRpt"}


@dataclass(slots=True)
class FoundNote:
    """A note before its pitch and the tick grid are known; times in quarter notes.

    Attributes
    ----------
    element
        The note.
    id, chord_id
        Its id, and that of its chord, if it is in one.
    bar
        Index of its bar.
    onset, length
        From the barline; 0 for grace notes.
    home, staff
        n of the staff that its layer belongs to, and of the one that it is printed on.
    voice
        n of its layer.
    ties, grace, flags
        As in the note table.
    state
        What is in force on the staff of its layer.
    written, sounding
        Its pitches, once they are known.
    """

    element: etree._Element
    id: str
    chord_id: str
    bar: int
    onset: Fraction
    length: Fraction
    home: str
    staff: str
    voice: str
    ties: int
    grace: int
    flags: int
    state: StaffState
    written: SpelledPitch = UNKNOWN_PITCH
    sounding: SpelledPitch = UNKNOWN_PITCH


@dataclass(frozen=True, slots=True)
class TupletSpans:
    """Tuplets that a bar names by their first and last event instead of enclosing them.

    Attributes
    ----------
    ratio_by_start
        What lengths are multiplied by from the event of this id on.
    ends
        Ids of the last events.
    """

    ratio_by_start: dict[str, Fraction] = field(default_factory=dict)
    ends: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Around:
    """What the elements around an event say of it."""

    ratio: Fraction = Fraction(1)
    grace: int = 0
    flags: int = 0
    staff: str = ""


class LayerReader:
    """Reads one layer of one bar.

    Parameters
    ----------
    bar
        Index of the bar.
    staff, voice
        n of the staff and of the layer.
    definitions
        What is in force; clefs and signatures within the layer change it.
    spans
        Tuplets named beside the staves.

    Attributes
    ----------
    notes
        The notes found, in the order of the file.
    now
        How far the layer reaches, in quarters from the barline.
    rest
        How long its whole-bar rests and spaces last, in quarters.
    """

    def __init__(
        self, bar: int, staff: str, voice: str, definitions: Definitions, spans: TupletSpans
    ) -> None:
        self._bar = bar
        self._staff = staff
        self._voice = voice
        self._definitions = definitions
        self._spans = spans
        self._span_ratio = Fraction(1)
        self.notes: list[FoundNote] = []
        self.now = Fraction(0)
        self.rest = Fraction(0)

    def read(self, layer: etree._Element) -> None:
        """Read the layer.

        Raises
        ------
        ValueError
            If something in it makes no sense.
        """
        self._read_all(layer, _Around())

    @property
    def _state(self) -> StaffState:
        return self._definitions.staves[self._staff]

    def _read_all(self, holder: etree._Element, around: _Around) -> None:
        for element in content_of(holder):
            self._read_event(element, around)

    def _read_event(self, element: etree._Element, around: _Around) -> None:
        name = local_name(element)
        if name in ("note", "chord", "rest", "space"):
            self._read_timed(element, name, around)
        elif name in ("beam", "tuplet", "graceGrp", "bTrem", "fTrem"):
            self._read_group(element, name, around)
        elif name in _WHOLE_BAR:
            count = whole_number(element.get("num", "1")) if name == "multiRest" else 1
            self.rest += count * measure_quarters(self._definitions.meter)
        elif name == "halfmRpt":
            self.now += measure_quarters(self._definitions.meter) / 2
        elif name == "beatRpt":
            self.now += Fraction(4, self._definitions.meter.beat_type)
        elif name in _WITHOUT_TIME:
            self._definitions.take_within(element, self._staff)

    def _read_group(self, element: etree._Element, name: str, around: _Around) -> None:
        staff = element.get("staff", around.staff)
        if name == "tuplet":
            around = replace(around, ratio=around.ratio * _tuplet_ratio(element), staff=staff)
        elif name == "graceGrp":
            around = replace(around, grace=2 if is_slashed(element) else 1, staff=staff)
        elif name in ("bTrem", "fTrem"):
            # Either note of a fingered tremolo is written with the length of both together.
            share = Fraction(1, 2) if name == "fTrem" else Fraction(1)
            flags = around.flags | NoteFlag.TREMOLO
            around = replace(around, ratio=around.ratio * share, flags=flags, staff=staff)
        else:
            around = replace(around, staff=staff)
        self._read_all(element, around)

    def _read_timed(self, element: etree._Element, name: str, around: _Around) -> None:
        event_id = element.get(ID, "")
        self._span_ratio *= self._spans.ratio_by_start.get(event_id, Fraction(1))
        grace = around.grace
        if element.get("grace"):
            grace = 2 if is_slashed(element) or grace == 2 else 1
        inner = [child for child in content_of(element) if local_name(child) == "note"]
        if name == "chord" and not element.get("dur") and inner:
            length = self._length(inner[0], around)
        else:
            length = self._length(element, around)
        if grace or any(note.get("grace") for note in inner):
            grace, length = grace or 1, Fraction(0)
        if name == "note":
            self._add(element, None, length, grace, around)
        elif name == "chord":
            flags = flags_at(element)
            for number, note in enumerate(inner):
                extra = flags | (NoteFlag.CHORD if number else 0)
                own = replace(around, flags=around.flags | extra)
                self._add(note, element, length, grace, own)
        self.now += length
        if event_id in self._spans.ends:
            self._span_ratio = Fraction(1)

    def _add(
        self,
        note: etree._Element,
        chord: etree._Element | None,
        length: Fraction,
        grace: int,
        around: _Around,
    ) -> None:
        staff = around.staff or self._staff
        ties = ties_at(note)
        chord_id = ""
        if chord is not None:
            staff = chord.get("staff", staff)
            chord_id = chord.get(ID, "")
            if not any(inner.get("tie") for inner in chord.iter(MEI + "note")):
                ties = ties_at(chord)
        self.notes.append(
            FoundNote(
                element=note,
                id=note.get(ID, ""),
                chord_id=chord_id,
                bar=self._bar,
                onset=self.now,
                length=length,
                home=self._staff,
                staff=note.get("staff", staff),
                voice=self._voice,
                ties=ties,
                grace=grace,
                flags=around.flags | flags_at(note),
                state=self._state,
            )
        )

    def _length(self, element: etree._Element, around: _Around) -> Fraction:
        """Return how long an event lasts, in quarters, grace notes as if they were none."""
        name = element.get("dur") or self._state.default_duration or "4"
        dots = element.get("dots")
        if element.get("dur.ges") in _QUARTERS:  # older files give ticks there
            name = element.get("dur.ges", name)
            dots = element.get("dots.ges", dots)
        if name not in _QUARTERS:
            raise ValueError(f"a duration {name!r}")
        if dots is None:
            count = sum(1 for child in content_of(element) if local_name(child) == "dot")
        else:
            count = whole_number(dots)
        if not 0 <= count <= _MOST_DOTS:
            raise ValueError(f"{count} dots")
        return _QUARTERS[name] * (2 - Fraction(1, 2**count)) * around.ratio * self._span_ratio


def measure_quarters(meter: Meter) -> Fraction:
    """Return how long a measure lasts; without measure, a whole note."""
    return Fraction(4) if meter.quarters is None else meter.quarters


def tuplet_spans(measure: etree._Element) -> TupletSpans:
    """Return the tuplets that a bar names beside its staves."""
    starts = {}
    ends = set()
    for span in measure.iterchildren(MEI + "tupletSpan"):
        start, end = span.get("startid", "").lstrip("#"), span.get("endid", "").lstrip("#")
        if start and end and span.get("num"):
            starts[start] = _tuplet_ratio(span)
            ends.add(end)
    return TupletSpans(starts, frozenset(ends))


def _tuplet_ratio(tuplet: etree._Element) -> Fraction:
    """Return what the lengths in a tuplet are multiplied by; three for two if nothing is said."""
    count = whole_number(tuplet.get("num", "3"))
    # 3 for 2, 5 to 7 for 4, 9 to 15 for 8; 2 and 4 for 3 (common practice)
    usual = 3 if count in (2, 4) else 2 ** max((count - 1).bit_length() - 1, 0)
    base = whole_number(tuplet.get("numbase", str(usual)))
    if not 0 < count <= 1000 or not 0 < base <= 1000:
        raise ValueError(f"a tuplet of {count} in the time of {base}")
    return Fraction(base, count)
