"""The reduction for violin and keyboard, made from the same material.

It follows the score bar by bar and departs from it as an arranger would; every departure is listed
in the sample project's ``about.md``.
"""

from __future__ import annotations

from sample_score.material import (
    ANSWER,
    ANSWER_UPBEATS,
    APPROACH,
    APPROACH_OSTINATO,
    HORN_CALL,
    HORN_CALL_UPBEAT,
    NIGHT_BASS,
    NIGHT_SONG,
    NIGHT_VOICES,
    QUESTION,
    SONG_COUNTERMELODY,
    SONG_HALVES,
    SONG_UPBEAT,
    song,
    span,
)
from sample_score.orchestra import GroupPlan, Orchestra, PartPlan, StaffPlan
from sample_score.pitch import octaves
from sample_score.scoring_climax import TRUMPETS
from sample_score.scoring_close import TENTH_UP, THIRD_UP, celesta_bars

SUBTITLE = "Reduction for violin and keyboard"

PARTS = (
    PartPlan("vln", "Violin", "Vn.", "strings.violin", 41, (StaffPlan(("vln",)),), solo=True),
    PartPlan(
        "kb",
        "Keyboard",
        "Kb.",
        "keyboard.piano.grand",
        1,
        (StaffPlan(("right",)), StaffPlan(("left",), ((0, "bass"),))),
    ),
)
GROUPS: tuple[GroupPlan, ...] = ()

_UP, _DOWN = octaves(1), octaves(-1)


def _violin(music: Orchestra) -> None:
    """Write the violin: nearly always the tune."""
    violin = music["vln"]
    violin.put(0, rf"\p {{dolce}} {HORN_CALL_UPBEAT}")
    violin.put(1, f"{HORN_CALL} | a4h.) | g4q( a4e c5q b4e | a4q.~ a4q) {SONG_UPBEAT}")
    violin.put(5, song(0, 3, r"\mp d5e("))
    violin.put(9, song(4, 7), _UP)
    violin.put(14, rf"rq. rq \mf {ANSWER_UPBEATS[0]}")
    violin.put(15, rf"{ANSWER[0]} \p d5e(")
    violin.put(17, song(4, 6), _UP)
    violin.put(20, r"\> g5h.) \!")
    violin.put(21, rf"\mp {{cantabile}} {span(NIGHT_SONG)}")
    violin.put(29, rf"\p {span(APPROACH, 0, 1)}", _DOWN)
    violin.put(31, rf"\mp {span(APPROACH, 2)}")
    violin.say(32, 0, r"\<")
    violin.say(34, 0, r"\! \f")
    violin.put(35, rf"\ff {song(0, 7, SONG_UPBEAT)}", _UP)
    violin.say(41, 3, r"\>")
    violin.say(42, 5, r"\!")
    violin.put(43, r"rq. \p {dolce} eb5q( c5e | b4q. g4e d4e c4e)")
    violin.put(45, rf"{{cantabile}} {span(NIGHT_SONG, 0, 3)}", THIRD_UP)
    violin.put(49, span(NIGHT_SONG, 4), TENTH_UP)
    violin.put(54, r"rq. \pp g4q.(~ | g4q a4e b4q d5e | \> c5q a4e f#4q. | \! \ppp g4h.~ | g4h.)*")


def _song_left_hand(first: int, last: int) -> str:
    """Return bass notes with the inner voices after them."""
    halves = [
        f"{half[0]}q <{half[2]},{half[3]}>e" for half in SONG_HALVES[2 * first : 2 * last + 2]
    ]
    return " | ".join(" ".join(halves[bar : bar + 2]) for bar in range(0, len(halves), 2))


def _keyboard_opening(music: Orchestra) -> None:
    """Bars 1 to 20."""
    right, left = music["right"], music["left"]
    right.put(1, r"\p <g3,b3,d4>h. | <a3,c4,d4>h. | <g3,c4,e4>h. | <a3,c4,f#4>h.")
    left.put(1, " | ".join(["d2e( a2e d3e a3e d3e a2e)"] * 4))
    chords = [f"re <{half[2]},{half[3]}>e <{half[2]},{half[3]}>e" for half in SONG_HALVES]
    right.put(5, " | ".join(" ".join(chords[bar : bar + 2]) for bar in range(0, 8, 2)))
    left.put(
        5,
        " | ".join(
            f"{SONG_HALVES[bar][0]}q re {SONG_HALVES[bar + 1][0]}q re" for bar in range(0, 8, 2)
        ),
    )
    right.put(9, rf"\mp g4q.( d4q.) | {span(SONG_COUNTERMELODY, 5, 6)}")
    right.put(12, "b3e) d4e( g4e b4q) <b4,d5>e")
    left.put(9, _song_left_hand(4, 7))
    upper, lower = (voice.split("|") for voice in QUESTION)
    right.put(13, " | ".join(_together(*bar) for bar in zip(upper, lower, strict=True)))
    left.put(13, "<e3,b3>q. <c3,g3>q <b2,g3>e | <a2,e3>q. <b2,d#3>q.")
    right.put(15, "<b3,g4>q <b3,f#4>e <b3,d4>q b3e | <a3,e4>q <a3,d4>e <f#3,c4>q re")
    left.put(15, "<e2,e3>q. <g1,g2>q. | <a1,a2>q. <d2,d3>q re")
    closing = [f"re <{h[2]},{h[3]},d4>e <{h[2]},{h[3]},d4>e" for h in SONG_HALVES[8:14]]
    closing[2] = "re <g3,c4>e <g3,c4>e"
    closing[3] = "re <g3,c4,eb4>e <g3,c4,eb4>e"
    right.put(17, r"\p " + " | ".join(" ".join(closing[bar : bar + 2]) for bar in (0, 2, 4)))
    left.put(17, "g2q re f2q re | e2q re c3q re | d3q re d3q re")
    right.put(20, "<eb4,g4,bb4>q.% eb4e( bb3e ab3e)")
    left.put(20, "<eb2,bb2>q.% rq.")


def _together(upper: str, lower: str) -> str:
    """Return two voices in the same rhythm as chords, without their slurs."""
    notes = []
    for above, below in zip(upper.split(), lower.split(), strict=True):
        high, low = above.rstrip("()"), below.rstrip("()")
        value = high[-2:] if high.endswith(".") else high[-1]
        notes.append(f"<{low.removesuffix(value)},{high.removesuffix(value)}>{value}")
    return " ".join(notes)


def _keyboard_middle(music: Orchestra) -> None:
    """Bars 21 to 34: triplets and sixteenths become eighths."""
    right, left = music["right"], music["left"]
    bars = []
    for high, middle, low in zip(*NIGHT_VOICES, strict=True):
        first = [voice.split()[0].rstrip("hq.") for voice in (low, middle, high)]
        last = [voice.split()[-1].rstrip("hq.") for voice in (low, middle, high)]
        bars.append(f"{first[0]}e( {first[1]}e {first[2]}e {first[1]}e {last[0]}e {last[2]}e)")
    right.put(21, r"\pp " + " | ".join(bars))
    left.put(21, span(NIGHT_BASS))
    cells = [[*cell, cell[0], cell[1]] for cell in APPROACH_OSTINATO]
    right.put(29, r"\p " + " | ".join(" ".join(f"{note}e" for note in cell) for cell in cells), _UP)
    left.put(
        29,
        "<ab1,ab2>h. | <eb2,eb3>h. | " + " | ".join(["d2e d3e d3e d3e d3e d3e"] * 4),
    )
    right.say(32, 0, r"\<")
    right.say(34, 6, r"\!")


def _keyboard_climax(music: Orchestra) -> None:
    """Bars 35 to 44: first the trumpets' pulse, then the countermelody in octaves."""
    right, left = music["right"], music["left"]
    pulses = [f"<{low},{high}>q> <{low},{high}>e" for high, low in TRUMPETS[:8]]
    right.put(35, r"\ff " + " | ".join(" ".join(pulses[bar : bar + 2]) for bar in range(0, 8, 2)))
    right.put(
        39,
        "<g3,g4>q.( <d3,d4>q.) | <c3,c4>e( <d3,d4>e <e3,e4>e <g3,g4>q.)"
        r" | <d3,d4>q.( <c3,c4>q. | \> <b2,b3>e) <d3,d4>e( <g3,g4>e <b3,b4>q.) \!",
    )
    left.put(
        35,
        "<g1,g2>q. <b1,b2>q. | <c2,c3>q. <a1,a2>q. | <g1,g2>q. <e1,e2>q. | <c2,c3>q. <d2,d3>q."
        " | <g1,g2>q. <f1,f2>q. | <e1,e2>q. <c2,c3>q. | <d2,d3>q. <d2,d3>q. | <g1,g2>h.",
    )
    right.put(43, r"\mp <b3,d4>q.( <c4,eb4>q. | \pp <b3,d4>h.)")
    left.put(43, "<g1,g2>h.~ | <g1,g2>h.")


def _keyboard_close(music: Orchestra) -> None:
    """Bars 45 to 58."""
    right, left = music["right"], music["left"]
    triplets = celesta_bars()
    triplets[7] = "rq b5e3( d6e3 g6e3) re d5e("
    right.put(45, r"\pp " + " | ".join(triplets), _DOWN)
    left.put(45, "g3h. | e3h. | c3h a2q | d3h. | b2h. | a2h. | d3h. | g2h.")
    right.put(
        53,
        rf"\p {HORN_CALL} | <c4,e4,g4>h.) | \pp <g3,b3,d4>h. | <a3,c4,d4>h."
        " | rq. b3e( d4e g4e | <g4,b4,d5>h.)%*",
    )
    left.put(53, " | ".join(["g2e( d3e g3e d4e g3e d3e)"] * 4))
    left.put(57, "g2e( d3e g3e) rq. | <g1,d2>h.*")


def reduction() -> Orchestra:
    """Return the reduction."""
    music = Orchestra(PARTS)
    _violin(music)
    _keyboard_opening(music)
    _keyboard_middle(music)
    _keyboard_climax(music)
    _keyboard_close(music)
    return music
