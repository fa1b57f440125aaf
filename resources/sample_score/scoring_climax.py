"""Bars 35 to 44: the boat song for everybody, and the ebb after it."""

from __future__ import annotations

from sample_score.material import (
    SONG_COUNTERMELODY,
    SONG_HALVES,
    SONG_UPBEAT,
    song,
    song_voice,
    span,
)
from sample_score.orchestra import Orchestra
from sample_score.pitch import Interval, octaves
from sample_score.shorthand import say

TRUMPETS = (
    # upper and lower trumpet, half bar by half bar
    ("d5", "g4"), ("d5", "g4"), ("c5", "g4"), ("c5", "g4"),
    ("b4", "g4"), ("b4", "g4"), ("c5", "a4"), ("c5", "a4"),
    ("b4", "g4"), ("b4", "g4"), ("c5", "g4"), ("g4", "eb4"),
    ("g4", "d4"), ("a4", "d4"),
)  # fmt: skip


def melody(orchestra: Orchestra) -> None:
    """Bars 35 to 42: the tune in three octaves, thin at the top."""
    everywhere: tuple[tuple[str, Interval], ...] = (
        ("picc", octaves(2)),
        ("fl1", octaves(1)),
        ("fl2", octaves(1)),
        ("ob1", octaves(0)),
        ("ob2", octaves(0)),
        ("cl1", octaves(0)),
        ("cl2", octaves(0)),
        ("vn1", octaves(1)),
        ("vn2", octaves(0)),
    )
    for name, by in everywhere:
        tune = song(0, 7, SONG_UPBEAT)
        if name in ("picc", "fl1", "fl2"):
            tune = tune.replace("b4q a4e", "b4q)( a4e", 1)  # the run's slur ends here
        orchestra[name].put(35, rf"\ff {tune}", by)
        orchestra[name].say(41, 3, r"\>")
        orchestra[name].say(42, 5, r"\!")
    orchestra["vn2"].put(34, _ostinato_then_upbeat())
    orchestra["vn2"].say(35, 0, '"ord."')
    orchestra["glk"].put(
        35,
        r"\f b6q re g6q re | e7q re c7q re | b6q re g6q re | a6q re rq."
        r" | b6q re g6q d7e | g7q re eb7q re | \mf b6q re a6q re | \mp g6q re rq.",
    )


def _ostinato_then_upbeat() -> str:
    """Bar 34 of the second violins: the ostinato gives way to the upbeat."""
    return "a4s c5s f#5s c5s a4s c5s f#5s c5s a4s c5s d4e("


def countermelody(orchestra: Orchestra) -> None:
    """Bars 35 to 42: four horns, cor anglais and cellos."""
    for name in ("hn1", "hn2", "hn3", "hn4", "ca", "vc"):
        loud = "ff" if name == "vc" else "f"
        orchestra[name].put(35, rf"\{loud} {span(SONG_COUNTERMELODY)}")
        orchestra[name].say(42, 0, r"\>")
        orchestra[name].say(42, 6, r"\!")


def harmony(orchestra: Orchestra) -> None:
    """Bars 35 to 42: trumpets pulse, trombones and violas fill, the bass in octaves."""
    pairs = [(high, low) for high, low in TRUMPETS]
    for index, name in enumerate(("tp1", "tp2")):
        halves = [f"{pair[index]}q> {pair[index]}e" for pair in pairs]
        bars = [f"{halves[2 * bar]} {halves[2 * bar + 1]}" for bar in range(7)]
        closing = f"{('b4', 'g4')[index]}q re rq."
        marks = r'\f "senza sord." ' if name == "tp1" else ""
        orchestra[name].put(35, marks + " | ".join([*bars, closing]))
    for voice, name in ((3, "tb1"), (2, "tb2"), (0, "tb3")):
        sustained = song_voice(voice, 0, 6).replace("q.", "q.-")
        last = f"{SONG_HALVES[14][voice]}q re rq."
        marks = r"\f " if name != "tb2" else ""
        orchestra[name].put(35, f"{marks}{sustained} | {last}")
    bass = song_voice(0, 0, 6).replace("q.", "q.-")
    orchestra["tba"].put(35, rf"\f {bass} | g2q re rq.", octaves(-1))
    orchestra["cbn"].put(35, rf"\ff {bass} | g2q re rq.", octaves(-1))
    for name in ("bn1", "bn2", "bcl"):
        orchestra[name].put(35, rf"\ff {bass} | g2q re rq.")
    orchestra["db"].put(35, rf"\ff {bass} | \> g2h. \!", octaves(-1))
    chords = []
    for bar in range(8):
        for half in SONG_HALVES[2 * bar : 2 * bar + 2]:
            chords.append(f"<{half[2]},{half[3]}>q.///")
    bars = [" ".join(chords[2 * bar : 2 * bar + 2]) for bar in range(8)]
    orchestra["va"].put(35, r'\ff "ord." ' + " | ".join(bars))
    say(orchestra.lines("va"), 42, 0, r"\>")
    say(orchestra.lines("va"), 42, 6, r"\!")


def percussion_and_harp(orchestra: Orchestra) -> None:
    """Bars 35 to 42."""
    orchestra["timp"].put(
        35,
        r"\ff g2q> re rq. | c3q> re a2q> re | g2q> re rq. | c3q> re d3q.///"
        r" | g2q> re rq. | rq. c3q> re | d3h./// | \mf g2q re rq.",
    )
    orchestra["timp"].say(41, 0, r"\>")
    orchestra["timp"].say(41, 6, r"\!")
    orchestra["cym"].say(35, 0, '"pair"')
    for name in ("cym", "bd"):
        orchestra[name].put(35, r"\ff b4q re rq.")
        orchestra[name].put(40, r"\f b4q re rq.")
    stroke = "b4q re b4q re"
    orchestra["tri"].put(35, rf"\f {' | '.join([stroke] * 5)} | b4h./// | {stroke} | b4q re rq.")
    right = (
        "b6qG re <g4,b4,d5,g5>q.%",
        "<g4,c5,e5>q.% <g4,a4,c5,e5>q.%",
        "<g4,b4,d5>q.% <g4,b4,e5>q.%",
        "<a4,c5,e5>q.% <f#4,a4,c5,d5>q.%",
        "<g4,b4,d5>q.% <g4,b4,d5>q.%",
        "<g4,c5,e5,g5>q.% <g4,c5,eb5,g5>q.%",
        "<g4,b4,d5>q.% <f#4,a4,c5,d5>q.%",
        "<g4,b4,d5,g5>q.% rq.",
    )
    orchestra["hp_r"].put(35, r"\ff " + " | ".join(right))
    left = []
    for bar in range(8):
        bass = [half[0] for half in SONG_HALVES[2 * bar : 2 * bar + 2]]
        low = [f"{each[:-1]}{int(each[-1]) - 1}" for each in bass]
        left.append(" ".join(f"<{a},{b}>q re" for a, b in zip(low, bass, strict=True)))
    left[-1] = "<g1,g2>q re rq."
    orchestra["hp_l"].put(35, " | ".join(left))


def ebb(orchestra: Orchestra) -> None:
    """Bars 43 and 44: the minor chord once more, then the clarinet leads down to B."""
    orchestra["vn1"].put(43, r"\mp \> d5q.( eb5q. | \! \pp d5h.)")
    orchestra["vn2"].put(43, r"\mp \> b4q.( c5q. | \! \pp b4h.)")
    orchestra["va"].put(43, r"\mp \> g3h. \!")
    orchestra["vc"].put(43, r"\mp \> g2h.~ | \! \pp g2h.")
    orchestra["db"].put(43, r"\mp \> g1h.~ | \! \pp g1h.")
    orchestra["cl1"].put(43, r"rq. \p {dolce} eb5q( c5e | \> b4q. g4e d4e c4e | \! b3q) rq rq")
    orchestra["hp_r"].put(44, r"\p rq. <g4,b4,d5>q.%")


def score_climax(orchestra: Orchestra) -> None:
    """Write bars 35 to 44."""
    melody(orchestra)
    countermelody(orchestra)
    harmony(orchestra)
    percussion_and_harp(orchestra)
    ebb(orchestra)
