"""Read one part of a MusicXML score, bar by bar, into rows of the note table.

Element and attribute names are those of MusicXML 4.0 (W3C Community Group report, 2021).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

from stavelight.errors import ScoreFileError
from stavelight.score.bar_drafts import (
    WITHOUT_MEASURE,
    BarDraft,
    Meter,
    ending_numbers,
    meter_of,
)
from stavelight.score.file_numbers import decimal_number, whole_number
from stavelight.score.musicxml_marks import marks_at, ties_at
from stavelight.score.note_rows import SpelledPitch
from stavelight.score.note_table import STEP_NAMES, NoteFlag, midi_number, transpose_spelled
from stavelight.score.structure import Transposition
from stavelight.score.transposition import transposition_of

_LONGEST_QUARTERS = 10_000
_STEPS = {name: number for number, name in enumerate(STEP_NAMES)}
_AS_WRITTEN = Transposition()
_MIDDLE_LINE = ("B", "", "4")
_LOWEST_OCTAVE, _HIGHEST_OCTAVE = 0, 10
_MOST_ALTERATION = 4
_FARTHEST_SEMITONES = 60


@dataclass(frozen=True, slots=True)
class _StaffTransposition:
    """How a staff transposes, and whether it is doubled at the octave (a flag)."""

    interval: Transposition = _AS_WRITTEN
    doubled: int = 0


class PartReader:
    """Reads one part.

    Parameters
    ----------
    part, first_staff, staff_count
        As in `Part`.
    grid
        Ticks to a quarter note.
    drafts
        The bars of the score: what this part says of them is added.
    voice_number
        Gives the number that stands for a voice's name.
    where
        File and part, for messages.

    Attributes
    ----------
    rows, ids
        The notes: tuples in the order of the note table's columns, and their ids.
    meters
        The time signatures, by the bar where they come into force.
    warnings
        Whatever was odd, one sentence each.
    first_transposition
        In force at the part's beginning, on its first staff.
    """

    def __init__(
        self,
        part: int,
        first_staff: int,
        staff_count: int,
        grid: int,
        drafts: list[BarDraft],
        voice_number: Callable[[str], int],
        where: str,
    ) -> None:
        self._part = part
        self._first_staff = first_staff
        self._staff_count = staff_count
        self._grid = grid
        self._drafts = drafts
        self._voice_number = voice_number
        self._where = where
        self.rows: list[tuple[int, ...]] = []
        self.ids: list[str] = []
        self.meters: dict[int, Meter] = {}
        self.warnings: list[str] = []
        self.first_transposition = _AS_WRITTEN
        self._ticks_to_a_division = Fraction(grid)
        self._ticks_by_text: dict[str | None, int] = {}
        self._pitch_by_texts: dict[tuple[str, str, str], SpelledPitch] = {}
        self._sounding: dict[tuple[SpelledPitch, Transposition], SpelledPitch] = {}
        self._transpositions: dict[int, _StaffTransposition] = {}
        self._earlier_transpositions: list[tuple[int, dict[int, _StaffTransposition]]] = []
        self._ending: set[int] = set()
        self._bars_of_ending: list[int] = []
        self._warned_of: set[str] = set()
        self._begin_bar(0)

    def _begin_bar(self, bar: int) -> None:
        self._bar = bar
        self._draft = self._drafts[bar]
        self._now = 0  # ticks from the barline
        self._chord_onset = 0
        self._chord_duration = 0
        self._content = 0
        self._rest = 0
        self._note_number = -1
        self._earlier_transpositions.clear()

    def read(self, part: etree._Element) -> None:
        """Read all bars of the part.

        Raises
        ------
        ScoreFileError
            If a number or a pitch makes no sense.
        """
        for bar, measure in enumerate(part.iterchildren("measure")):
            self._begin_bar(bar)
            try:
                self._read_bar(measure)
            except ValueError as fault:
                number = measure.get("number", str(bar + 1))
                raise ScoreFileError(
                    f"Something here cannot be understood: {fault}.",
                    where=f"{self._where}, bar {number}",
                    remedy="Mend this bar in the program that the score comes from, and export "
                    "it again.",
                ) from fault
        self._close_ending(self._bars_of_ending[:1])

    def _read_bar(self, measure: etree._Element) -> None:
        draft = self._draft
        if not draft.printed_number:
            draft.printed_number = measure.get("number", "").strip()
        draft.may_be_short |= measure.get("implicit") == "yes"
        if self._ending:
            self._bars_of_ending.append(self._bar)
        for element in measure:
            tag = element.tag
            if tag == "note":
                self._read_note(element)
            elif tag == "backup":
                self._step_back(element)
            elif tag == "forward":
                self._now += self._ticks(element.findtext("duration"))
                self._content = max(self._content, self._now)
            elif tag == "attributes":
                self._read_attributes(element)
            elif tag == "direction":
                self._read_rehearsal_mark(element)
            elif tag == "barline":
                self._read_barline(element)
        draft.content_ticks = max(draft.content_ticks, self._content)
        draft.rest_ticks = max(draft.rest_ticks, self._rest)

    def _step_back(self, element: etree._Element) -> None:
        self._now -= self._ticks(element.findtext("duration"))
        if self._now < 0:
            self._now = 0
            self._warn("steps back beyond the barline")

    def _warn(self, what: str) -> None:
        """Warn once of each kind of oddity, with the bar where it comes first."""
        if what not in self._warned_of:
            self._warned_of.add(what)
            number = self._draft.printed_number or str(self._bar + 1)
            self.warnings.append(f"{self._where}, bar {number}: the file {what}.")

    def _ticks(self, text: str | None) -> int:
        """Return a duration in ticks."""
        ticks = self._ticks_by_text.get(text)
        if ticks is None:
            ticks = round(decimal_number(text) * self._ticks_to_a_division)
            if not 0 <= ticks <= _LONGEST_QUARTERS * self._grid:
                raise ValueError(f"a duration of {text}")
            self._ticks_by_text[text] = ticks
        return ticks

    # Notes

    def _read_note(self, note: etree._Element) -> None:
        self._note_number += 1
        found = {child.tag: child for child in note}
        grace = found.get("grace")
        duration = 0
        if grace is None and "duration" in found:
            duration = self._ticks(found["duration"].text)
        is_chord = "chord" in found
        if not is_chord:
            self._chord_onset = self._now
            self._chord_duration = duration
            self._now += duration
        elif duration > self._chord_duration:
            # The standard lets a note of a chord be shorter than its first one, never longer.
            duration = self._chord_duration
        rest = found.get("rest")
        if rest is not None and rest.get("measure") == "yes":
            self._rest = max(self._rest, self._now)
            return
        if self._now > self._content:
            self._content = self._now
        if rest is not None:
            return
        flags = int(NoteFlag.CHORD) if is_chord else 0
        if "cue" in found:
            flags |= NoteFlag.CUE
        if note.get("print-object") == "no":
            flags |= NoteFlag.HIDDEN
        slashed = grace is not None and grace.get("slash") == "yes"
        self._add_note(note, found, duration, flags, 0 if grace is None else 1 + slashed)

    def _add_note(
        self,
        note: etree._Element,
        found: dict[str, etree._Element],
        duration: int,
        flags: int,
        grace: int,
    ) -> None:
        staff = self._staff(found.get("staff"))
        ties = ties_at(note) if "tie" in found else 0
        if "notations" in found:
            marks, tied = marks_at(note)
            flags |= marks
            ties = ties or tied
        pitch = found.get("pitch")
        if pitch is not None:
            written = self._pitch(pitch)
            transposition = self._transposition(staff)
            sounding = self._transposed(written, transposition.interval)
            flags |= transposition.doubled
        else:
            written = sounding = self._place(found.get("unpitched"))
            flags |= NoteFlag.UNPITCHED
        voice = found.get("voice")
        self.rows.append(
            (
                0,
                duration,
                self._bar,
                self._chord_onset,
                self._part,
                self._first_staff + staff - 1,
                self._voice_number("1" if voice is None else (voice.text or "1").strip()),
                *written,
                *sounding,
                ties,
                grace,
                flags,
            )
        )
        self.ids.append(f"n{self._part}-{self._bar}-{self._note_number}")

    def _staff(self, element: etree._Element | None) -> int:
        """Return the number of a note's staff within the part, from 1."""
        if element is None:
            return 1
        staff = whole_number(element.text)
        if 1 <= staff <= self._staff_count:
            return staff
        self._warn(f"puts a note on staff {staff}, but the part has {self._staff_count}")
        return max(1, min(staff, self._staff_count))

    def _pitch(self, element: etree._Element) -> SpelledPitch:
        texts = (
            element.findtext("step", ""),
            element.findtext("alter", ""),
            element.findtext("octave", ""),
        )
        pitch = self._pitch_by_texts.get(texts)
        if pitch is None:
            pitch = self._pitch_by_texts[texts] = _spelled(*texts)
        return pitch

    def _place(self, unpitched: etree._Element | None) -> SpelledPitch:
        """Return where an unpitched note is printed: on the middle line if nothing is said."""
        step, alter, octave = _MIDDLE_LINE
        if unpitched is not None:
            step = unpitched.findtext("display-step", step)
            octave = unpitched.findtext("display-octave", octave)
        return _spelled(step, alter, octave)._replace(midi=-1)

    def _transposed(self, written: SpelledPitch, interval: Transposition) -> SpelledPitch:
        if interval == _AS_WRITTEN:
            return written
        sounding = self._sounding.get((written, interval))
        if sounding is None:
            spelled = transpose_spelled(*written[1:], interval.diatonic, interval.chromatic)
            sounding = SpelledPitch(midi_number(*spelled), *spelled)
            self._sounding[written, interval] = sounding
        return sounding

    def _transposition(self, staff: int) -> _StaffTransposition:
        """Return the transposition of a staff at the note's onset."""
        in_force = self._transpositions
        for change, before in self._earlier_transpositions:
            if self._chord_onset < change:
                in_force = before
                break
        return in_force.get(staff, _StaffTransposition())

    # What stands around the notes

    def _read_attributes(self, attributes: etree._Element) -> None:
        divisions = attributes.findtext("divisions")
        if divisions is not None:
            value = decimal_number(divisions)
            if value <= 0:
                raise ValueError(f"{divisions} divisions to a quarter note")
            self._ticks_to_a_division = self._grid / value
            self._ticks_by_text.clear()
        time = attributes.find("time")
        if time is not None:
            self._read_time(time)
        transposes = attributes.findall("transpose")
        if transposes:
            self._read_transposes(transposes)

    def _read_time(self, time: etree._Element) -> None:
        # A signature within a bar says how long the next ones are.
        bar = self._bar if self._now == 0 else self._bar + 1
        if time.find("senza-misura") is not None:
            self.meters[bar] = WITHOUT_MEASURE
            return
        beats = ["".join((beats.text or "").split()) for beats in time.findall("beats")]
        units = [whole_number(unit.text) for unit in time.findall("beat-type")]
        if len(beats) != len(units):
            raise ValueError("a time signature that is not complete")
        self.meters[bar] = meter_of(zip(beats, units, strict=True))

    def _read_transposes(self, transposes: list[etree._Element]) -> None:
        if self._now > 0:
            self._earlier_transpositions.append((self._now, dict(self._transpositions)))
        for element in transposes:
            octaves = _whole(element.findtext("octave-change"))
            steps = element.findtext("diatonic")
            interval = transposition_of(
                None if steps is None else _whole(steps) + 7 * octaves,
                _whole(element.findtext("chromatic")) + 12 * octaves,
            )
            doubled = element.find("double")
            flag = 0
            if doubled is not None:
                is_above = doubled.get("above") == "yes"
                flag = int(NoteFlag.OCTAVE_ABOVE if is_above else NoteFlag.OCTAVE_BELOW)
            number = element.get("number")
            staves = range(1, self._staff_count + 1) if number is None else (whole_number(number),)
            for staff in staves:
                self._transpositions[staff] = _StaffTransposition(interval, flag)
        if self._bar == 0 and self._now == 0 and 1 in self._transpositions:
            self.first_transposition = self._transpositions[1].interval

    def _read_rehearsal_mark(self, direction: etree._Element) -> None:
        if self._draft.rehearsal_mark:
            return
        marks = direction.iterfind("direction-type/rehearsal")
        self._draft.rehearsal_mark = " ".join("".join(mark.text or "" for mark in marks).split())

    def _read_barline(self, barline: etree._Element) -> None:
        repeat = barline.find("repeat")
        if repeat is not None:
            if repeat.get("direction") == "forward":
                self._draft.starts_repeat = True
            else:
                self._draft.ends_repeat = True
        ending = barline.find("ending")
        if ending is not None:
            if ending.get("type") == "start":
                self._close_ending(self._bars_of_ending[:1])
                self._ending = ending_numbers(ending.get("number", ""))
                self._bars_of_ending = [self._bar]
            else:
                self._close_ending(self._bars_of_ending)

    def _close_ending(self, bars: list[int]) -> None:
        """Say which bars stand under the open ending: only its first, if its end is not marked."""
        for bar in bars:
            self._drafts[bar].endings |= self._ending
        self._ending = set()
        self._bars_of_ending = []


def _spelled(step: str, alter: str, octave: str) -> SpelledPitch:
    """Return a pitch from its texts in the file; quarter tones are rounded towards zero."""
    step = step.strip()
    if step not in _STEPS:
        raise ValueError(f"a pitch of step {step!r}")
    number, height = _whole(alter), whole_number(octave)
    if abs(number) > _MOST_ALTERATION or not _LOWEST_OCTAVE <= height <= _HIGHEST_OCTAVE:
        raise ValueError(f"a pitch {step} altered by {number} in octave {height}")
    return SpelledPitch(midi_number(_STEPS[step], number, height), _STEPS[step], number, height)


def _whole(text: str | None) -> int:
    """Return a number, rounded towards zero; a missing one is 0."""
    if text is None or not text.strip():
        return 0
    number = int(decimal_number(text))
    if abs(number) > _FARTHEST_SEMITONES:
        raise ValueError(f"an interval of {number}")
    return number
