"""Bars 0 to 20: introduction, the boat song, question and answer, the song in three octaves."""

from __future__ import annotations

from sample_score.material import (
    ANSWER,
    ANSWER_UPBEATS,
    HORN_CALL,
    HORN_CALL_UPBEAT,
    QUESTION,
    QUESTION_UPBEATS,
    SONG_COUNTERMELODY,
    SONG_HALVES,
    SONG_UPBEAT,
    song,
    song_voice,
    span,
)
from sample_score.orchestra import Orchestra
from sample_score.pitch import octaves
from sample_score.shorthand import say

UP, DOWN = octaves(1), octaves(-1)

MISPRINT_BAR = 18
"""The clarinet's E natural here is wrong: flute and bassoon have E flat."""


def introduction(orchestra: Orchestra) -> None:
    """Bars 0 to 4: horn call over a pedal, handed to the clarinet on a shared A."""
    orchestra["hn1"].put(0, rf"\p {{dolce}} {HORN_CALL_UPBEAT}")
    orchestra["hn1"].put(1, rf"{HORN_CALL} | \> a4h.) \!")
    orchestra["cl1"].put(
        2,
        r"rq. \pp \< a4q.( | \! \p g4q a4e c5q b4e"
        rf" | a4q.~ a4q) {{dolce}} {SONG_UPBEAT}",
    )
    orchestra["ob1"].put(4, rf"rq. rq \p {{dolce}} {SONG_UPBEAT}")
    orchestra["hp_l"].put(1, " | ".join(["d2e( a2e d3e a3e d3e a2e)"] * 4))
    orchestra["hp_r"].put(1, r"\p R | rq. <d4,a4,c5>q.% | R | rq. <f#4,a4,c5>q.%")
    orchestra["cel_r"].put(2, r"rq. \pp a6e( e6e d6e)")
    orchestra["cel_r"].put(4, r"rq. c7e( a6e f#6e)")
    orchestra["timp"].put(1, r"\pp d3h.///~ | d3h.///~ | d3h.///~ | d3q.///~ d3e re re")
    orchestra["bcl"].put(1, r"\pp d2h.~ | d2h.~ | d2h.~ | d2q.~ d2q re")
    orchestra["db"].put(1, r"\pp d2h.~ | d2h.~ | d2h.~ | d2q.~ d2q re")
    orchestra["vn1"].put(1, r"\pp d6h.o~ | d6h.o~ | d6h.o~ | d6h.o")
    orchestra["vn1b"].put(1, "a5h.o~ | a5h.o~ | a5h.o~ | a5h.o")
    orchestra["vn2"].put(1, r'\pp "sul tasto" d4h.(~ | d4h. | e4h. | f#4h.)')
    orchestra["va"].put(1, r'\pp "sul tasto" b3h.( | c4h.~ | c4h.~ | c4h.)')
    orchestra["vab"].put(1, "g3h.( | a3h. | g3h. | a3h.)")


def first_phrase(orchestra: Orchestra) -> None:
    """Bars 5 to 8: oboe and clarinet in unison over the strings' boat rhythm."""
    for name in ("ob1", "cl1"):
        orchestra[name].put(5, song(0, 3))
    say(orchestra.lines("ob1 cl1"), 5, 5, r"\<")
    say(orchestra.lines("ob1 cl1"), 6, 2, r"\!")
    say(orchestra.lines("ob1 cl1"), 7, 3, r"\>")
    say(orchestra.lines("ob1 cl1"), 8, 3, r"\!")
    orchestra["vn2"].put(5, r'\pp "ord." d4h.( | e4h. | d4q. e4q.~ | e4q. f#4q) d4e(')
    orchestra["va"].put(5, rf'\pp "ord." {_rocking(0, 3)}')
    orchestra["vc"].put(5, r'\p "pizz." g2q re b2q re | c3q re a2q re | g2q re e2q re | c3q re rq.')
    orchestra["db"].put(5, r'\p "pizz." g1q re rq. | c2q re rq. | g1q re rq. | c2q re d2q re')
    _harp_rocking(orchestra, 5, 0, 3)
    orchestra["bn1"].put(8, r"\p {dolce} a3q( b3e c4e d4e f#4e | g4q) re rq.")


def second_phrase(orchestra: Orchestra) -> None:
    """Bars 9 to 12: the violins in octaves, the cellos' countermelody under them."""
    orchestra["vn1"].put(8, rf"rq. rq \mp {{espr.}} {SONG_UPBEAT}", UP)
    orchestra["vn2"].say(8, 5, r"\mp {espr.}")
    orchestra["vn1"].put(9, song(4, 7), UP)
    orchestra["vn2"].put(9, song(4, 7))
    orchestra["vc"].put(9, rf'\mp "arco" {{cantabile}} g4q.( d4q.) | {span(SONG_COUNTERMELODY, 5)}')
    singing = orchestra.lines("vn1 vn2 vc")
    say(singing, 9, 3, r"\<")
    say(singing, 10, 0, r"\! \mf")
    say(singing, 11, 0, r"\>")
    say(singing, 12, 0, r"\! \p")
    orchestra["va"].put(9, _rocking(4, 7))
    orchestra["va"].say(9, 0, r"\p")
    orchestra["db"].put(9, "g1q re f1q re | e1q re c2q re | d2q re d2q re | g1q re rq.")
    orchestra["bcl"].put(9, r"\pp g2q.( f2q. | e2q. c3q.) | d3h.( | g2h.)")
    orchestra["hn1"].put(9, r"\pp b3h.( | c4h. | b3q. c4q. | b3h.)")
    orchestra["hn2"].put(9, r"g3h.(~ | g3h.~ | g3q. f#3q. | g3h.)")
    _harp_rocking(orchestra, 9, 4, 7)
    orchestra["hp_r"].put(10, "<g3,c4,e4,g4>q.% <g3,c4,eb4,g4>q.%")
    orchestra["tri"].put(10, r"\pp b4q re rq.")


def question_and_answer(orchestra: Orchestra) -> None:
    """Bars 13 to 16: the winds ask in thirds, the strings answer in sixths."""
    for player in (0, 1):
        upbeat, question = QUESTION_UPBEATS[player], QUESTION[player]
        for name, by in ((f"fl{player + 1}", octaves(0)), (f"cl{player + 1}", DOWN)):
            orchestra[name].put(12, rf"rq. rq \mp {upbeat}", by)
            orchestra[name].put(13, question, by)
            orchestra[name].say(13, 3, r"\<")
            orchestra[name].say(14, 0, r"\!")
    orchestra["bn1"].put(13, r"\mp e4h.(~ | e4q. d#4q.)")
    orchestra["bn2"].put(13, r"e3q.( c3q b2e | a2q. b2q.)")
    for player, name in enumerate(("vn1", "vn2")):
        orchestra[name].put(14, rf"rq. rq \mf {ANSWER_UPBEATS[player]}")
        orchestra[name].put(15, f"{ANSWER[player]} re")
    orchestra["va"].put(15, r"\mf b3h.( | a3q. f#3q) re")
    orchestra["vc"].put(15, r'\mf "arco" e3q.( g2q. | a2q. d3q) re')
    orchestra["db"].put(15, r'\mf "arco" e2q.( g1q. | a1q. d2q) re')
    say(orchestra.lines("vn1 vn2 va vc db"), 16, 0, r"\>")
    say(orchestra.lines("vn1 vn2 va vc db"), 16, 5, r"\!")


def song_in_three_octaves(orchestra: Orchestra) -> None:
    """Bars 17 to 20: flute, clarinet and bassoon; deceptive cadence; the clarinet goes down."""
    for name, by in (("fl1", UP), ("cl1", octaves(0)), ("bn1", DOWN)):
        orchestra[name].put(16, rf"rq. rq \p {{dolce}} {SONG_UPBEAT}", by)
        orchestra[name].put(17, song(4, 6), by)
        orchestra[name].say(17, 3, r"\<")
        orchestra[name].say(18, 0, r"\!")
        orchestra[name].say(18, 3, r"\>")
        orchestra[name].say(19, 0, r"\!")
    orchestra["cl1"].put(MISPRINT_BAR, "g5q.) e5q( c5e)")
    orchestra["fl1"].put(20, r"\> g5h.) \!")
    orchestra["bn1"].put(20, r"\> g3h.)~ | \! g3q rq rq")
    orchestra["cl1"].put(20, r"\> g4q.) eb4e( bb3e ab3e | \! g3q) rq rq")
    orchestra["ca"].put(18, r"\p {espr.} c4e( d4e e4e g4q.) | d4q.( c4q. | \> bb3h.) \!")
    orchestra["bcl"].put(17, r"\pp g2q.( f2q. | e2q. c3q.) | d3h.( | \> eb3h.) \!")
    orchestra["vn1"].put(
        17, r'\p "pizz." re d4e d4e re d4e d4e | re c4e c4e re eb4e eb4e | re d4e d4e rq.'
    )
    orchestra["vn2"].put(
        17, r'\p "pizz." re b3e b3e re b3e b3e | re c4e c4e re c4e c4e | re b3e b3e rq.'
    )
    orchestra["va"].put(
        17,
        r'\p "pizz." re g3e g3e re g3e g3e | re g3e g3e re g3e g3e'
        " | re g3e g3e re f#3e f#3e | g3q re rq.",
    )
    orchestra["vc"].put(
        17, r'\p "pizz." g2q re f2q re | e2q re c3q re | d3q re d3q re | eb3q re rq.'
    )
    orchestra["db"].put(
        17, r'\p "pizz." g1q re f1q re | e1q re c2q re | d2q re d2q re | eb2q re rq.'
    )
    orchestra["hp_r"].put(20, r"\p <eb4,g4,bb4>q.% rq.")
    orchestra["hp_l"].put(20, "<eb2,bb2>q.% rq.")


def _rocking(first: int, last: int) -> str:
    """Return the rocking eighths of the song's inner voices."""
    bars = []
    for bar in range(first, last + 1):
        left, right = SONG_HALVES[2 * bar][1:], SONG_HALVES[2 * bar + 1][1:]
        bars.append(f"{left[0]}e( {left[1]}e {left[2]}e {right[0]}e {right[1]}e {right[2]}e)")
    return " | ".join(bars)


def _harp_rocking(orchestra: Orchestra, first_bar: int, first: int, last: int) -> None:
    """Give the harp basses and chords after the beat."""
    bars = []
    for bar in range(first, last + 1):
        halves = SONG_HALVES[2 * bar], SONG_HALVES[2 * bar + 1]
        bars.append(" ".join(f"re <{h[2]},{h[3]}>e <{h[2]},{h[3]}>e" for h in halves))
    orchestra["hp_r"].put(first_bar, r"\p " + " | ".join(bars))
    bass = song_voice(0, first, last).replace("q.", "q re")
    orchestra["hp_l"].put(first_bar, bass)


def score_opening(orchestra: Orchestra) -> None:
    """Write bars 0 to 20."""
    introduction(orchestra)
    first_phrase(orchestra)
    second_phrase(orchestra)
    question_and_answer(orchestra)
    song_in_three_octaves(orchestra)
