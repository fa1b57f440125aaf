"""Bars 45 to 58: the night song in G, scored anew, and the coda."""

from __future__ import annotations

from sample_score.material import HORN_CALL, HORN_CALL_UPBEAT, NIGHT_SONG, span
from sample_score.orchestra import Orchestra
from sample_score.pitch import Interval
from sample_score.shorthand import say

THIRD_UP = Interval(2, 4)
"""From E flat to G."""
TENTH_UP = Interval(9, 16)

_CELESTA_BEATS = (
    # left hand on the first beat, right hand in triplets on the second and third
    ("<g4,d5>", "b5 d6 g6", "d6 b5 g5"),
    ("<e4,b4>", "b5 d6 g6", "d6 b5 g5"),
    ("<c4,g4>", "c6 e6 g6", "e6 c6 a5"),
    ("<d4,a4>", "g5 c6 d6", "c6 a5 f#5"),
    ("<d4,f#4>", "f#5 b5 d6", "b5 a5 f#5"),
    ("<e4,a4>", "e5 a5 c6", "g6 e6 c6"),
    ("<d4,a4>", "g5 c6 e6", "c6 a5 f#5"),
    ("<g4,d5>", "b5 d6 g6", ""),
)


def night_song_again(orchestra: Orchestra) -> None:
    """Bars 45 to 52: cor anglais and muted violas, the flute an octave higher from bar 49."""
    orchestra["ca"].put(45, rf"\p {{cantabile}} {span(NIGHT_SONG)}", THIRD_UP)
    orchestra["va"].put(45, rf'\p "con sord." {{cantabile}} {span(NIGHT_SONG)}', THIRD_UP)
    orchestra["fl1"].put(49, rf"\p {{dolce}} {span(NIGHT_SONG, 4)}", TENTH_UP)
    singing = orchestra.lines("ca va fl1")
    say(singing, 49, 1, r"\<")
    say(singing, 50, 0, r"\!")
    say(singing, 51, 0, r"\>")
    say(singing, 52, 0, r"\! \pp")
    _sustained_winds(orchestra)
    _celesta_triplets(orchestra)
    _strings(orchestra)


def _sustained_winds(orchestra: Orchestra) -> None:
    """Bars 45 to 52: what was muted tremolo is now held by flutes and clarinets."""
    orchestra["fl2"].put(45, r"\pp g5h.(~ | g5h.~ | g5h. | a5h.)")
    orchestra["fl1"].put(45, r"\pp d5h.(~ | d5h. | e5h. | d5h.)")
    orchestra["cl2"].put(46, r"\pp b4h.( | c5h.~ | c5h. | b4h. | c5h.~ | c5h. | b4h.)")
    orchestra["cl1"].put(49, r"\pp d5h.( | e5h.~ | e5h d5q~ | d5h.)")
    orchestra["bcl"].put(49, r"\pp b2h.( | a2h. | d3h. | g2h.)")


def celesta_bars() -> list[str]:
    """Return the right hand of the celesta in bars 45 to 52."""
    return [
        f"rq {_triplet(second)} {_triplet(third) if third else 'b6q'}"
        for _, second, third in _CELESTA_BEATS
    ]


def _celesta_triplets(orchestra: Orchestra) -> None:
    """Bars 45 to 52: the harp's triplets pass to the celesta."""
    left = [f"{first}q rq rq" for first, _, _ in _CELESTA_BEATS]
    orchestra["cel_r"].put(45, r"\pp " + " | ".join(celesta_bars()))
    orchestra["cel_l"].put(45, " | ".join(left))
    orchestra["hp_r"].put(
        45,
        r"\pp rq <b3,d4>h% | rq <b3,d4>h% | rq <c4,e4>h% | rq <g3,c4,d4>q% <f#3,c4,d4>q"
        " | rq <a3,b3,d4>h% | rq <g3,c4>h% | rq <g3,c4,e4>q% <f#3,c4,d4>q | rq <b3,d4>h%",
    )
    basses = ("g2", "e2", "c2", "d2", "b1", "a1", "d2", "g1")
    orchestra["hp_l"].put(45, " | ".join(f"{bass}q rq rq" for bass in basses))


def _triplet(notes: str) -> str:
    """Return three slurred triplet eighths."""
    first, second, third = notes.split()
    return f"{first}e3( {second}e3 {third}e3)"


def _strings(orchestra: Orchestra) -> None:
    """Bars 45 to 52: harmonic above, plucked afterbeats, sustained and plucked bass."""
    orchestra["vn1"].put(45, r"\ppp " + " | ".join(["d6h.o~"] * 8))
    orchestra["vn2"].put(
        45,
        r'\p "pizz." rq g4q g4q | rq g4q g4q | rq e4q e4q | rq a4q a4q'
        " | rq d4q d4q | rq e4q e4q | rq e4q d4q | rq d4q rq",
    )
    orchestra["vc"].put(45, r"\pp g3h.( | e3h.) | c3h( a2q | d3h.) | b2h.( | a2h.) | d3h.( | g2h.)")
    orchestra["db"].put(
        45,
        r'\pp "pizz." g2q rq rq | e2q rq rq | c2q rq a1q | d2q rq rq'
        " | b1q rq rq | a1q rq rq | d2q rq rq | g1q rq rq",
    )


def coda(orchestra: Orchestra) -> None:
    """Bars 53 to 58: the opening a fifth lower, over G; the lamp goes out of sight."""
    orchestra["hn1"].put(52, rf"rq rq re \p {HORN_CALL_UPBEAT}")
    orchestra["hn1"].put(53, rf"{HORN_CALL} | \> g4h.) \!")
    orchestra["cl1"].put(
        54, r"rq. \pp g4q.(~ | g4q a4e b4q d5e | \> c5q a4e f#4q. | \! \ppp g4h.~ | g4h.)*"
    )
    orchestra["hp_l"].put(53, " | ".join(["g2e( d3e g3e d4e g3e d3e)"] * 4))
    orchestra["hp_l"].put(57, "g2e( d3e g3e) rq. | <g1,d2>h.*")
    orchestra["hp_r"].put(
        53,
        r"\p R | rq. <g4,c5,eb5>q.% | R | rq. <f#4,a4,c5>q.%"
        r" | rq. \pp b3e( d4e g4e) | <g4,b4,d5>h.%*",
    )
    orchestra["cel_r"].put(55, r"rq. \pp g6e( d6e b5e)")
    orchestra["cel_r"].put(57, r"rq. \ppp b5e( d6e g6e | b6h.)*")
    orchestra["glk"].put(58, r"\ppp g6h.*")
    orchestra["timp"].put(57, r"\ppp g2h.///~ | g2h.///*")
    orchestra["hn1"].put(57, r"\ppp b3h.~ | b3h.*")
    orchestra["hn2"].put(57, r"g3h.~ | g3h.*")
    orchestra["vn1"].put(53, "d6h.o~ | d6h.o~ | d6h.o~ | d6h.o~ | d6h.o~ | d6h.o*")
    orchestra["vn1b"].put(53, "g5h.o~ | g5h.o~ | g5h.o~ | g5h.o~ | g5h.o~ | g5h.o*")
    orchestra["vn2"].put(53, r'\pp "arco" d4h.( | eb4h. | d4h.~ | d4h.~ | d4h.~ | d4h.)*')
    orchestra["va"].put(53, r"\pp b3h.( | c4h. | b3h. | c4h. | b3h.~ | b3h.)*")
    orchestra["vab"].put(53, "g3h.(~ | g3h.~ | g3h. | a3h. | g3h.~ | g3h.)*")
    orchestra["vc"].put(53, r'g2h.~ | g2h.~ | g2h.~ | g2h.~ | g2h. | "pizz." g2h.*')
    orchestra["db"].put(53, r'\pp "arco" g1h.~ | g1h.~ | g1h.~ | g1h.~ | g1h.~ | g1h.*')
    fading = orchestra.lines("vn1 vn2 va vc db")
    say(fading, 57, 0, r"\>")
    say(fading, 58, 0, r"\! \ppp")


def score_close(orchestra: Orchestra) -> None:
    """Write bars 45 to 58."""
    night_song_again(orchestra)
    coda(orchestra)
