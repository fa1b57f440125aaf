"""The rhythm of a bar, read straight from the bytes of a MusicXML measure.

This is enough to guess how wide a bar will be engraved, long before anything is engraved, and to
know at which moment of the bar each note stands.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

_TOKEN = re.compile(
    rb"<(?:"
    rb"(note|backup|forward)(?=[\s>])"  # 1: what comes
    rb"|(chord|grace|rest|accidental|clef|key|time|dynamics|words|wedge)"  # 2: what it has
    rb"(?=[\s/>])"
    rb"|duration>\s*([\d.]+)"  # 3: how long it lasts
    rb"|(/note|/backup|/forward)>"  # 4: it ends
    rb"|text>([^<]*)<"  # 5: a syllable
    rb")"
)


@dataclass(slots=True)
class BarRhythm:
    """What happens when in one bar of one part. Times are in the part's divisions.

    Attributes
    ----------
    length
        How long the bar's content lasts.
    onsets
        When notes and rests begin, without grace notes.
    note_onsets
        For every note element in the order of the document, rests included, its onset; -1 for a
        grace note.
    grace_count, accidental_count, clef_count, rest_count
        How many of them there are.
    signature_change
        Whether a key or time signature stands in the bar.
    has_dynamics, has_words, has_hairpins
        Whether such signs stand in it, above or below the staff.
    syllable_letters
        Letters of the longest syllable at each onset.
    is_rest
        Whether nothing but rests stands in it.
    """

    length: float = 0.0
    onsets: set[float] = field(default_factory=set)
    note_onsets: list[float] = field(default_factory=list)
    grace_count: int = 0
    accidental_count: int = 0
    clef_count: int = 0
    rest_count: int = 0
    signature_change: bool = False
    has_dynamics: bool = False
    has_words: bool = False
    has_hairpins: bool = False
    syllable_letters: dict[float, int] = field(default_factory=dict)
    is_rest: bool = False

    def scaled(self, factor: float) -> BarRhythm:
        """Return the same with all times multiplied."""
        return replace(
            self,
            length=self.length * factor,
            onsets={onset * factor for onset in self.onsets},
            note_onsets=[max(onset * factor, -1.0) for onset in self.note_onsets],
            syllable_letters={at * factor: n for at, n in self.syllable_letters.items()},
        )


def read_rhythm(measure: bytes) -> BarRhythm:
    """Return the rhythm of one ``<measure>`` element."""
    rhythm = BarRhythm()
    now = onset = duration = 0.0
    in_chord = grace = False
    for what, property_name, length, end, syllable in _TOKEN.findall(measure):
        if what:
            duration, in_chord, grace = 0.0, False, False
        elif length:
            duration = float(length)
        elif property_name == b"chord":
            in_chord = True
        elif property_name:
            grace = grace or property_name == b"grace"
            _count(rhythm, property_name)
        elif syllable:
            at = onset if in_chord else now
            letters = len(syllable.decode("utf-8", "replace"))
            rhythm.syllable_letters[at] = max(letters, rhythm.syllable_letters.get(at, 0))
        elif end == b"/note":
            if not in_chord:
                onset = now
            rhythm.note_onsets.append(-1.0 if grace else onset)
            if not grace:
                rhythm.onsets.add(onset)
                now = max(now, onset + duration)
        elif end:
            now += -duration if end == b"/backup" else duration
        rhythm.length = max(rhythm.length, now)
    rhythm.is_rest = rhythm.rest_count == len(rhythm.note_onsets)
    return rhythm


def _count(rhythm: BarRhythm, property_name: bytes) -> None:
    """Note a sign."""
    if property_name == b"grace":
        rhythm.grace_count += 1
    elif property_name == b"accidental":
        rhythm.accidental_count += 1
    elif property_name == b"clef":
        rhythm.clef_count += 1
    elif property_name == b"rest":
        rhythm.rest_count += 1
    elif property_name == b"dynamics":
        rhythm.has_dynamics = True
    elif property_name == b"words":
        rhythm.has_words = True
    elif property_name == b"wedge":
        rhythm.has_hairpins = True
    else:
        rhythm.signature_change = True
