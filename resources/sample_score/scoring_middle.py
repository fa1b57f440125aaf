"""Bars 21 to 34: the night song in E flat, and the approach to the climax."""

from __future__ import annotations

from sample_score.material import (
    APPROACH,
    APPROACH_OSTINATO,
    NIGHT_SONG,
    NIGHT_VOICES,
    span,
)
from sample_score.orchestra import Orchestra
from sample_score.pitch import octaves
from sample_score.shorthand import say

_UP, _DOWN = octaves(1), octaves(-1)


def night_song(orchestra: Orchestra) -> None:
    """Bars 21 to 28: horn and half the cellos in unison under muted tremolo."""
    orchestra["hn1"].put(21, rf"\mp {{cantabile}} {span(NIGHT_SONG)}")
    orchestra["vc"].put(21, rf'\mp "arco" {{cantabile}} {span(NIGHT_SONG)}')
    singing = orchestra.lines("hn1 vc")
    say(singing, 25, 0, r"\<")
    say(singing, 26, 0, r"\! \mf")
    say(singing, 27, 0, r"\>")
    say(singing, 28, 0, r"\! \p")
    plucked_bass = (
        "eb3q rq rq | c3q rq rq | ab2q rq f2q | bb2q rq rq"
        " | g2q rq rq | f2q rq rq | bb2q rq rq | eb3q rq rq"
    )
    orchestra["vcb"].put(21, rf'"pizz." {plucked_bass}')
    orchestra["db"].put(21, rf"\p {plucked_bass}", _DOWN)
    for voice, name in enumerate(("vn1", "vn2", "vn2b")):
        trembling = [" ".join(f"{note}///" for note in bar.split()) for bar in NIGHT_VOICES[voice]]
        marks = r'\pp "arco, con sord., sul tasto" ' if name != "vn2b" else ""
        orchestra[name].put(21, marks + " | ".join(trembling))
    orchestra["va"].put(
        21,
        r"\p rq eb4q eb4q | rq eb4q eb4q | rq c4q c4q | rq f4q f4q"
        " | rq bb3q bb3q | rq c4q c4q | rq c4q bb3q | rq bb3q rq",
    )
    _harp_triplets(orchestra)
    orchestra["cel_r"].put(24, r"rq rq \pp f6e3( d6e3 bb5e3)")
    orchestra["cel_r"].put(28, r"rq \pp bb5e3( eb6e3 g6e3) bb6q")
    orchestra["cl1"].put(25, r"\pp d4h.( | eb4h.~ | eb4h f4q | eb4h.)")
    orchestra["cl2"].put(25, "bb3h.( | c4h.~ | c4h bb3q~ | bb3h.)")


def _harp_triplets(orchestra: Orchestra) -> None:
    """Write the harp's arpeggios: the first beat for the left hand, two for the right."""
    beats = (
        ("eb3 bb3 eb4", "g4 bb4 eb5", "bb4 g4 eb4"),
        ("c3 g3 eb4", "g4 bb4 eb5", "bb4 g4 eb4"),
        ("ab2 eb3 c4", "ab4 c5 eb5", "c5 ab4 f4"),
        ("bb2 f3 bb3", "eb4 ab4 bb4", "ab4 f4 d4"),
        ("g2 d3 bb3", "d4 g4 bb4", "g4 f4 d4"),
        ("f2 c3 ab3", "c4 f4 ab4", "eb5 c5 ab4"),
        ("bb2 f3 c4", "eb4 ab4 c5", "ab4 f4 d4"),
        ("eb3 bb3 eb4", "g4 bb4 eb5", ""),
    )
    right, left = [], []
    for first, second, third in beats:
        left.append(f"{_triplet(first)} rq rq")
        right.append(f"rq {_triplet(second)} {_triplet(third) if third else 'g5q'}")
    orchestra["hp_r"].put(21, r"\pp " + " | ".join(right))
    orchestra["hp_l"].put(21, " | ".join(left))


def _triplet(notes: str) -> str:
    """Return three slurred triplet eighths."""
    first, second, third = notes.split()
    return f"{first}e3( {second}e3 {third}e3)"


def approach_melody(orchestra: Orchestra) -> None:
    """Bars 29 to 34: the climbing line, instrument upon instrument, in two octaves."""
    orchestra["ca"].put(29, rf"\mp {span(APPROACH, 0, 4)}", _DOWN)
    orchestra["ca"].put(34, "c5q( a4q f#4e d4e)")
    for name in ("cl1", "cl2"):
        orchestra[name].put(29, rf"\mp {span(APPROACH, 0, 4)}")
        orchestra[name].put(34, APPROACH[5], _DOWN)
    for name in ("ob1", "ob2"):
        orchestra[name].put(31, rf"\mp {span(APPROACH, 2, 4)}")
        orchestra[name].put(34, APPROACH[5], _DOWN)
    orchestra["vn1"].put(31, rf'\mp "senza sord., ord." {span(APPROACH, 2)}')
    climbing = orchestra.lines("ca cl1 cl2 ob1 ob2 vn1")
    say(climbing, 32, 0, r"\<")
    say(climbing, 34, 0, r"\! \f")


def approach_ostinato(orchestra: Orchestra) -> None:
    """Bars 29 to 34: sixteenths at the bridge, over the pedal D from bar 31."""
    cells = [" ".join(f"{note}s" for note in cell) for cell in APPROACH_OSTINATO]
    violas = " | ".join(f"{cell} {cell} {cell}" for cell in cells)
    orchestra["va"].put(29, rf'\p "arco, sul pont." {violas}')
    violins = " | ".join(f"{cell} {cell} {cell}" for cell in cells[2:])
    orchestra["vn2"].put(31, rf'\p "senza sord., sul pont." {violins}', _UP)
    orchestra["vc"].put(29, r'\p "arco" ab2h. | eb2h. | d3h./// | d3h./// | d3h./// | d3h.///')
    orchestra["db"].put(29, r'\p "arco" ab1h. | eb2h. | d2h./// | d2h./// | d2h./// | d2h.///')
    orchestra["timp"].put(31, r"\pp d3h.///~ | d3h.///~ | d3h.///~ | d3h.///")
    orchestra["bn1"].put(29, r"\p eb3h.(~ | eb3h. | d3h.~ | d3h.~ | d3h.~ | d3h.)")
    orchestra["bn2"].put(29, r"ab2h.( | eb2h. | d2h.~ | d2h.~ | d2h.~ | d2h.)")
    orchestra["bcl"].put(29, r"\p ab2h.( | eb2h. | d2h.~ | d2h.~ | d2h.~ | d2h.)")
    orchestra["cbn"].put(31, r"\p d1h.~ | d1h.~ | d1h.~ | d1h.")
    orchestra["tba"].put(33, r"\p \< d2h.~ | d2h. \!")
    growing = orchestra.lines("va vn2 vc db timp bn1 bcl cbn")
    say(growing, 32, 0, r"\<")
    say(growing, 34, 6, r"\!")


def approach_colours(orchestra: Orchestra) -> None:
    """Bars 30 to 34: stopped horns, muted trumpets, horn calls, flutter-tongue, glissando."""
    orchestra["hn3"].put(30, r'\sfp "stopped" db4h.+')
    orchestra["hn4"].put(30, r"g3h.+")
    orchestra["tp1"].put(30, r'\sfp "con sord." db5h.')
    orchestra["tp2"].put(30, r"g4h.")
    for name in ("hn1", "hn2", "hn3", "hn4"):
        word = ' "open"' if name in ("hn3", "hn4") else ""
        orchestra[name].put(
            32,
            rf"rq \mf{word} d4e> d4e> g4q- | rq d4e> d4e> a4q- | \f d4e> d4e> f#4q- a4q-",
        )
    orchestra["tb1"].put(32, r"\mp d4h.( | eb4h. | d4h.)")
    orchestra["tb2"].put(32, "bb3h.( | c4h. | c4h.)")
    orchestra["tb3"].put(32, r"\mp g3h.( | g3h. | f#3h.)")
    say(orchestra.lines("tb1 tb3"), 33, 0, r"\<")
    say(orchestra.lines("tb1 tb3"), 34, 6, r"\!")
    run = "d5s( e5s f#5s a5s"
    orchestra["fl1"].put(33, rf'\mp \< "flutter-tongue" eb6h./// | \! \f c6h/// "a 2, ord." {run}')
    orchestra["fl2"].put(33, f"c6h./// | a5h/// {run}")
    orchestra["picc"].put(34, r"rq rq \f d6s( e6s f#6s a6s")
    orchestra["hp_r"].put(34, r"rq \mf d4hg")
    orchestra["hp_l"].put(34, "<d2,a2>h.")
    orchestra["cym"].put(34, r'"suspended, soft sticks" \p \< b4h./// \!')
    orchestra["bd"].put(33, r"\pp \< b4h.///~ | b4h./// \!")


def score_middle(orchestra: Orchestra) -> None:
    """Write bars 21 to 34."""
    night_song(orchestra)
    approach_melody(orchestra)
    approach_ostinato(orchestra)
    approach_colours(orchestra)
