"""Who plays: parts in score order, their staves, transpositions, clefs and names.

Sound ids are those of W3C MusicXML 4.0 (``sounds.xml``), programs and percussion keys those of
General MIDI Level 1. Order and names are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from sample_score.pitch import UNISON, Interval, octaves
from sample_score.shorthand import Line


@dataclass(frozen=True, slots=True)
class StaffPlan:
    """One staff: the lines that share it, from above, and its clefs from a bar on."""

    lines: tuple[str, ...]
    clefs: tuple[tuple[int, str], ...] = ((0, "treble"),)


@dataclass(frozen=True, slots=True)
class PartPlan:
    """One part.

    Attributes
    ----------
    name, abbreviation
        As printed.
    sound, program
        W3C sound id; General MIDI program, 1 to 128.
    transposition
        From the written to the sounding pitch.
    numbers
        How players that share a staff are told apart: ("1.", "2."); empty for strings, whose halves
        are marked div. and unis.
    percussion_key
        General MIDI percussion key of an instrument without pitch, on a single line.
    has_key
        Whether the part carries a key signature.
    solo
        Whether strings play it alone.
    """

    id: str
    name: str
    abbreviation: str
    sound: str
    program: int
    staves: tuple[StaffPlan, ...]
    transposition: Interval = UNISON
    numbers: tuple[str, ...] = ()
    percussion_key: int | None = None
    has_key: bool = True
    solo: bool = False


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """Parts that belong together, by id of the first and the last."""

    first: str
    last: str
    symbol: str
    name: str
    barline: bool = True


_FIFTH_DOWN = Interval(-4, -7)
_SECOND_DOWN = Interval(-1, -2)
_NINTH_DOWN = Interval(-8, -14)
_FIRST_SECOND = ("1.", "2.")


def _one(line: str, *clefs: tuple[int, str]) -> tuple[StaffPlan, ...]:
    """Return a single staff of one line."""
    return (StaffPlan((line,), clefs or ((0, "treble"),)),)


def _two(first: str, second: str, *clefs: tuple[int, str]) -> tuple[StaffPlan, ...]:
    """Return a single staff that two lines share."""
    return (StaffPlan((first, second), clefs or ((0, "treble"),)),)


def _percussion(id_: str, name: str, abbreviation: str, sound: str, key: int) -> PartPlan:
    """Return a part on a single line, without pitch."""
    staff = (StaffPlan((id_,), ((0, "percussion"),)),)
    return PartPlan(id_, name, abbreviation, sound, 1, staff, percussion_key=key, has_key=False)


_BASS = (0, "bass")

PARTS = (
    PartPlan("picc", "Piccolo", "Picc.", "wind.flutes.flute.piccolo", 73, _one("picc"), octaves(1)),
    PartPlan(
        "fl", "2 Flutes", "Fl.", "wind.flutes.flute", 74, _two("fl1", "fl2"), UNISON, _FIRST_SECOND
    ),
    PartPlan(
        "ob", "2 Oboes", "Ob.", "wind.reed.oboe", 69, _two("ob1", "ob2"), UNISON, _FIRST_SECOND
    ),
    PartPlan("ca", "Cor anglais", "C. A.", "wind.reed.english-horn", 70, _one("ca"), _FIFTH_DOWN),
    PartPlan(
        "cl",
        "2 Clarinets in B♭",
        "Cl. (B♭)",
        "wind.reed.clarinet.bflat",
        72,
        _two("cl1", "cl2"),
        _SECOND_DOWN,
        _FIRST_SECOND,
    ),
    PartPlan(
        "bcl",
        "Bass Clarinet in B♭",
        "B. Cl. (B♭)",
        "wind.reed.clarinet.bass",
        72,
        _one("bcl"),
        _NINTH_DOWN,
    ),
    PartPlan(
        "bn",
        "2 Bassoons",
        "Bn.",
        "wind.reed.bassoon",
        71,
        _two("bn1", "bn2", _BASS, (17, "tenor"), (21, "bass")),
        UNISON,
        _FIRST_SECOND,
    ),
    PartPlan(
        "cbn",
        "Contrabassoon",
        "Cbn.",
        "wind.reed.contrabassoon",
        71,
        _one("cbn", _BASS),
        octaves(-1),
    ),
    PartPlan(
        "hn12",
        "Horns 1.2 in F",
        "Hn. 1.2 (F)",
        "brass.french-horn",
        61,
        _two("hn1", "hn2"),
        _FIFTH_DOWN,
        _FIRST_SECOND,
    ),
    PartPlan(
        "hn34",
        "Horns 3.4 in F",
        "Hn. 3.4 (F)",
        "brass.french-horn",
        61,
        _two("hn3", "hn4"),
        _FIFTH_DOWN,
        ("3.", "4."),
    ),
    PartPlan(
        "tpt",
        "2 Trumpets in B♭",
        "Tpt. (B♭)",
        "brass.trumpet.bflat",
        57,
        _two("tp1", "tp2"),
        _SECOND_DOWN,
        _FIRST_SECOND,
    ),
    PartPlan(
        "tbn12",
        "Trombones 1.2",
        "Tbn. 1.2",
        "brass.trombone.tenor",
        58,
        _two("tb1", "tb2", _BASS),
        UNISON,
        _FIRST_SECOND,
    ),
    PartPlan("tbn3", "Bass Trombone", "B. Tbn.", "brass.trombone.bass", 58, _one("tb3", _BASS)),
    PartPlan("tba", "Tuba", "Tba.", "brass.tuba", 59, _one("tba", _BASS)),
    PartPlan(
        "timp",
        "Timpani in G, A, C, D",
        "Timp.",
        "drum.timpani",
        48,
        _one("timp", _BASS),
        has_key=False,
    ),
    _percussion("tri", "Triangle", "Tri.", "metal.triangle", 81),
    _percussion("cym", "Cymbals", "Cym.", "metal.cymbal.crash", 49),
    _percussion("bd", "Bass Drum", "B. D.", "drum.bass-drum", 36),
    PartPlan(
        "glk",
        "Glockenspiel",
        "Glock.",
        "pitched-percussion.glockenspiel",
        10,
        _one("glk"),
        octaves(2),
    ),
    PartPlan(
        "cel",
        "Celesta",
        "Cel.",
        "keyboard.celesta",
        9,
        (StaffPlan(("cel_r",)), StaffPlan(("cel_l",), (_BASS,))),
        octaves(1),
    ),
    PartPlan(
        "hp",
        "Harp",
        "Hp.",
        "pluck.harp",
        47,
        (StaffPlan(("hp_r",)), StaffPlan(("hp_l",), (_BASS,))),
    ),
    PartPlan("vn1", "Violins I", "Vn. I", "strings.violin", 49, _two("vn1", "vn1b")),
    PartPlan("vn2", "Violins II", "Vn. II", "strings.violin", 49, _two("vn2", "vn2b")),
    PartPlan("va", "Violas", "Va.", "strings.viola", 49, _two("va", "vab", (0, "alto"))),
    PartPlan(
        "vc",
        "Violoncellos",
        "Vc.",
        "strings.cello",
        49,
        _two("vc", "vcb", _BASS, (9, "tenor"), (15, "bass"), (35, "tenor"), (43, "bass")),
    ),
    PartPlan(
        "db",
        "Double Basses",
        "Db.",
        "strings.contrabass",
        49,
        _one("db", _BASS),
        octaves(-1),
    ),
)

GROUPS = (
    GroupPlan("picc", "cbn", "bracket", "Woodwinds"),
    GroupPlan("hn12", "tba", "bracket", "Brass"),
    GroupPlan("hn12", "hn34", "square", ""),
    GroupPlan("tbn12", "tba", "square", ""),
    GroupPlan("timp", "glk", "bracket", "Percussion", barline=False),
    GroupPlan("vn1", "db", "bracket", "Strings"),
    GroupPlan("vn1", "vn2", "square", ""),
)


class Orchestra(dict[str, Line]):
    """The lines by name, all of them present and at first silent."""

    def __init__(self, parts: tuple[PartPlan, ...] = PARTS) -> None:
        super().__init__(
            (name, Line()) for part in parts for staff in part.staves for name in staff.lines
        )

    def lines(self, names: str) -> list[Line]:
        """Return lines by their names, parted by blanks."""
        return [self[name] for name in names.split()]
