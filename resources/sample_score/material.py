"""What the piece is made of: its form, its tunes, its bass, its harmony.

All of it at sounding pitch. "Song" is the boat song in 6/8 (eight bars and an upbeat), "night
song" the slow tune in 3/4 (eight bars), "approach" the six bars that lead back from it.
"""

from __future__ import annotations

from dataclasses import dataclass

TITLE = "The Ferryman's Lamp"
SUBTITLE = "Barcarolle for orchestra"
COMPOSER = "Composed for Stavelight"
RIGHTS = "CC0 1.0 Universal: dedicated to the public domain"

LAST_BAR = 58
"""Index and printed number of the last bar; the pickup is bar 0."""

# --- form ---------------------------------------------------------------------------------------

REHEARSAL_MARKS = {5: "A", 13: "B", 21: "C", 29: "D", 35: "E", 45: "F", 53: "G"}

METRES = {0: (6, 8), 21: (3, 4), 35: (6, 8), 45: (3, 4), 53: (6, 8)}
"""Time signature from a bar on."""

KEYS = {0: 1, 21: -3, 35: 1}
"""Key signature from a bar on, sharps positive."""

DOUBLE_BARLINES = (20, 34, 44, 52)
"""Bars that end with a double barline."""

PAGE_TURNS = (7, 13, 21, 29, 35, 39, 45, 53)
"""Bars that begin a page in the edition."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo mark. `beats_per_minute` counts `beat`; without a beat it is not printed."""

    bar: int
    eighth: int
    words: str
    beat: str | None
    beats_per_minute: float

    @property
    def quarters_per_minute(self) -> float:
        """The same speed in quarter notes."""
        return self.beats_per_minute * (1.5 if self.beat == "quarter." else 1.0)


TEMPI = (
    Tempo(0, 0, "Tranquillo, cullando", "quarter.", 48),
    Tempo(20, 0, "poco rit.", None, 63),
    Tempo(21, 0, "Più calmo", "quarter", 60),
    Tempo(29, 0, "Animando", "quarter", 76),
    Tempo(34, 0, "allargando", None, 66),
    Tempo(35, 0, "Largamente", "quarter.", 50),
    Tempo(43, 0, "calando", None, 66),
    Tempo(44, 0, "rit.", None, 56),
    Tempo(45, 0, "Calmo, da lontano", "quarter", 56),
    Tempo(53, 0, "Tempo I", "quarter.", 46),
    Tempo(57, 0, "morendo", None, 58),
)

# --- the boat song ------------------------------------------------------------------------------

SONG_UPBEAT = "d4e("
SONG = (
    "b4q a4e g4q) d5e(",
    "e5q d5e c5e b4e a4e)",
    "b4q.( g4q e4e",
    "a4q.~ a4q)",  # 5/8: an upbeat or a rest completes it
    "b4q a4e g4e b4e d5e",
    "g5q.) eb5q( c5e)",
    "b4e( c5e d5e a4q f#4e",
    "g4q.~ g4q) re",
)

SONG_HALVES = (
    # bass and three inner voices of each half bar, from below
    ("g2", "d3", "g3", "b3"),
    ("b2", "d3", "g3", "d4"),
    ("c3", "e3", "g3", "c4"),
    ("a2", "e3", "g3", "c4"),
    ("g2", "d3", "g3", "b3"),
    ("e2", "e3", "g3", "b3"),
    ("c3", "e3", "a3", "c4"),
    ("d3", "f#3", "a3", "c4"),
    ("g2", "d3", "g3", "b3"),
    ("f2", "d3", "g3", "b3"),
    ("e2", "c3", "g3", "c4"),
    ("c3", "eb3", "g3", "c4"),
    ("d3", "d3", "g3", "b3"),
    ("d3", "d3", "f#3", "c4"),
    ("g2", "d3", "g3", "b3"),
    ("g2", "d3", "g3", "b3"),
)

SONG_COUNTERMELODY = (
    "d4h.(",
    "g4q. c4q.)",
    "d4q.( g3q.",
    "a3q b3e c4e d4e f#4e",
    "g4q. d4q.)",
    "c4e( d4e e4e g4q.)",
    "d4q.( c4q.",
    "b3e) d4e( g4e b4q.)",
)

HORN_CALL_UPBEAT = "d4e("
HORN_CALL = "g4q a4e b4q."

# --- question and answer ------------------------------------------------------------------------

QUESTION_UPBEATS = ("d5e(", "b4e(")
QUESTION = (
    "b5q a5e g5q e5e) | c6q( b5e a5q.)",
    "g5q f#5e e5q c5e) | a5q( g5e f#5q.)",
)
ANSWER_UPBEATS = ("b4e(", "d#4e(")
ANSWER = (
    "e5q d5e b4q g4e) | c5q( b4e a4q)",
    "g4q f#4e d4q b3e) | e4q( d4e c4q)",
)

# --- the night song -----------------------------------------------------------------------------

NIGHT_SONG = (
    "g3h( bb3q",
    "eb4q. d4e bb3q)",
    "c4h( f4q",
    "eb4h d4q)",
    "g4h( f4e eb4e",
    "ab4q. g4e eb4q)",
    "f4h( d4q",
    "eb4h.)",
)
NIGHT_BASS = ("eb3h.", "c3h.", "ab2h f2q", "bb2h.", "g2h.", "f2h.", "bb2h.", "eb3h.")
NIGHT_VOICES = (
    # three upper voices, from above
    ("eb5h.", "eb5h.", "eb5h.", "f5h.", "f5h.", "eb5h.", "eb5h f5q", "eb5h."),
    ("bb4h.", "bb4h.", "c5h.", "bb4h.", "bb4h.", "c5h.", "c5h bb4q", "bb4h."),
    ("g4h.", "g4h.", "ab4h.", "ab4h.", "g4h.", "ab4h.", "ab4h.", "g4h."),
)

# --- the approach -------------------------------------------------------------------------------

APPROACH = (
    "c5q.( bb4e ab4q)",
    "db5q.( bb4e g4q)",
    "d5q.( c5e a4q)",
    "g5q.( d5e bb4q)",
    "a5q.( g5e eb5q)",
    "c6q( a5q f#5e) d5e(",
)
APPROACH_OSTINATO = (
    ("ab3", "c4", "eb4", "c4"),
    ("g3", "bb3", "db4", "bb3"),
    ("f#3", "a3", "c4", "a3"),
    ("g3", "bb3", "d4", "bb3"),
    ("a3", "c4", "eb4", "c4"),
    ("a3", "c4", "f#4", "c4"),
)

# --- harmony ------------------------------------------------------------------------------------

HARMONY: dict[int, str] = {
    # bar: chords as "eighth:name=tones", the last holding to the barline
    0: "0:D=d f# a",
    1: "0:G/D=g b d a",
    2: "0:Am/D=a c d e",
    3: "0:C/D=c e g d a",
    4: "0:D7=d f# a c",
    5: "0:G=g b d 3:G/B=g b d",
    6: "0:C=c e g 3:Am7=a c e g",
    7: "0:G=g b d 3:Em=e g b",
    8: "0:Am/C=a c e 3:D7=d f# a c",
    9: "0:G=g b d 3:G7/F=g b d f",
    10: "0:C/E=c e g 3:Cm=c eb g",
    11: "0:G/D=g b d 3:D7=d f# a c",
    12: "0:G=g b d",
    13: "0:Em=e g b 3:C=c e g",
    14: "0:Am=a c e 3:B7=b d# f# a",
    15: "0:Em=e g b 3:G=g b d",
    16: "0:Am7=a c e g 3:D7=d f# a c",
    17: "0:G=g b d 3:G7/F=g b d f",
    18: "0:C/E=c e g 3:Cm=c eb g",
    19: "0:G/D=g b d 3:D7=d f# a c",
    20: "0:Eb=eb g bb",
    21: "0:Eb=eb g bb",
    22: "0:Cm7=c eb g bb",
    23: "0:Ab=ab c eb 4:Fm7=f ab c eb",
    24: "0:Bb7sus=bb eb f ab 4:Bb7=bb d f ab",
    25: "0:Gm7=g bb d f",
    26: "0:Fm7=f ab c eb",
    27: "0:Bb9sus=bb c eb f ab 4:Bb7=bb d f ab",
    28: "0:Eb=eb g bb",
    29: "0:Ab=ab c eb",
    30: "0:Eb7=eb g bb db",
    31: "0:D7=d f# a c",
    32: "0:Gm/D=g bb d",
    33: "0:Am7b5/D=a c eb g d",
    34: "0:D7=d f# a c",
    35: "0:G=g b d 3:G/B=g b d",
    36: "0:C=c e g 3:Am7=a c e g",
    37: "0:G=g b d 3:Em=e g b",
    38: "0:Am/C=a c e 3:D7=d f# a c",
    39: "0:G=g b d 3:G7/F=g b d f",
    40: "0:C/E=c e g 3:Cm=c eb g",
    41: "0:G/D=g b d 3:D7=d f# a c",
    42: "0:G=g b d",
    43: "0:G=g b d 3:Cm/G=c eb g",
    44: "0:G=g b d",
    45: "0:G=g b d",
    46: "0:Em7=e g b d",
    47: "0:C=c e g 4:Am7=a c e g",
    48: "0:D7sus=d g a c 4:D7=d f# a c",
    49: "0:Bm7=b d f# a",
    50: "0:Am7=a c e g",
    51: "0:D9sus=d e g a c 4:D7=d f# a c",
    52: "0:G=g b d",
    53: "0:G=g b d",
    54: "0:Cm/G=c eb g",
    55: "0:G=g b d",
    56: "0:D7/G=d f# a c g",
    57: "0:G=g b d",
    58: "0:G=g b d",
}


def span(bars: tuple[str, ...], first: int = 0, last: int | None = None) -> str:
    """Join the bars `first` to `last` (both included) of a tune."""
    return " | ".join(bars[first : None if last is None else last + 1])


def song(first: int, last: int, after_phrase: str = "re") -> str:
    """Return bars of the boat song; `after_phrase` completes its fourth bar."""
    bars = list(SONG)
    bars[3] = f"{bars[3]} {after_phrase}"
    return span(tuple(bars), first, last)


def song_voice(voice: int, first: int, last: int) -> str:
    """Return a bass (0) or inner voice (1 to 3) of the song in dotted quarters."""
    return " | ".join(
        f"{SONG_HALVES[2 * bar][voice]}q. {SONG_HALVES[2 * bar + 1][voice]}q."
        for bar in range(first, last + 1)
    )
