"""What the sample lesson says: its commentary, in the order of the recording."""

from __future__ import annotations

COMMENTARY: tuple[tuple[str, str, str], ...] = (
    (
        "r01",
        "A horn in the distance",
        "Listen to the distance between the edges. Basses, bass clarinet and a soft drum roll "
        "lie on D; four octaves higher the first violins hold a fifth in natural harmonics. "
        "Nothing fills the middle but muted-sounding strings over the fingerboard, so a "
        "single horn, played softly, fills the hall. In bar 2 the clarinet slips in on the "
        "horn's own A while the horn fades: the ear notices the new colour before it notices "
        "the change of player.",
    ),
    (
        "r06",
        "Oboe and clarinet in unison",
        "The boat song begins with oboe and clarinet in unison. It is a mixed colour, not a "
        "louder oboe: the clarinet rounds the reed's edge, the oboe gives focus to the "
        "clarinet's pale throat notes. Violas rock in slurred eighths below, the harp answers "
        "after the beat, and the basses pluck once or twice a bar. Melody, motion and bass "
        "each have their own register, their own articulation and their own rhythm, so piano "
        "is enough for all.",
    ),
    (
        "r08",
        "Violins in octaves, cellos against them",
        "The second phrase goes to the violins in octaves. The firsts take the upper octave, "
        "the seconds the pitch at which the oboe had it, and the tune gains breadth without "
        "gaining weight. Under it the cellos sing a countermelody high on the A string. See "
        "how it is built: it holds where the tune moves and moves where the tune holds, above "
        "all at the top note in bar 10. Two lines that alternate never need to fight.",
    ),
    (
        "r11",
        "Question and answer",
        "Question and answer. Flutes ask in parallel thirds, clarinets repeat the thirds an "
        "octave lower, bassoons supply the bass, and the strings wait. Then the strings "
        "reply, now in sixths and in a lower register, while every wind player rests. The "
        "contrast works because it is complete: family, interval and register all change at "
        "once. Where both halves shared one player or one octave, the exchange would blur "
        "into a single sentence.",
    ),
    (
        "r13",
        "Three octaves of woodwind",
        "The song again, hollowed out: flute, clarinet and bassoon, each an octave apart, "
        "with no string bowed. The bassoon, two octaves under the flute, lies in its tenor "
        "register and sounds almost like a voice. Three different timbres in three octaves "
        "never melt as one family would; here one is meant to hear through them. The plucked "
        "afterbeats leave that space open.",
    ),
    (
        "r14",
        "A note that cannot be right",
        "Something is wrong here. Flute and bassoon play E flat, the clarinet between them E "
        "natural, against a chord of C minor. Everywhere else in these bars the three agree "
        "exactly. The clarinet reads in B flat: its part shows F sharp from the key "
        "signature, where a natural sign has been forgotten. A doubling that breaks for one "
        "note, by a semitone, in a transposing part, is the classic fingerprint of a "
        "misprint.",
    ),
    (
        "r16",
        "The clarinet hands over to horn and cellos",
        "The cadence deceives: instead of G the bass steps up to E flat. The clarinet holds "
        "the common tone, then sinks through the new chord down to G and stays there for one "
        "beat of the next bar. On that very note horn and cellos begin. A hand-over "
        "dovetailed on a shared pitch has no seam, and it cues the entering players.",
    ),
    (
        "r17",
        "The night song: horn and cellos in unison",
        "The night song: solo horn and half the cellos in unison, in the octave where both "
        "are warmest. The bow gives the line its beginning and its vibrato, the horn its "
        "roundness; neither can be named after two notes. The other cellos pluck the bass "
        "with the double basses, and the staff divides to show it. One desk too many on the "
        "melody and the horn would vanish, so the division also settles the balance.",
    ),
    (
        "r18",
        "What lies behind the song",
        "Now attend to the background. All violins are muted, play tremolo and draw the bow "
        "over the fingerboard: three ways of taking away the core of the tone at once, so "
        "that a full three-part chord above the tune still stays behind it. The harp's "
        "triplets keep the air moving; two drops of celesta mark the ends of the phrases. "
        "From bar 25 clarinets thicken the middle so quietly that only the crescendo betrays "
        "them.",
    ),
    (
        "r21",
        "A flash without weight",
        "The approach begins. Clarinets climb, the cor anglais an octave below them. In bar "
        "30, on a seventh chord that is really an augmented sixth, stopped horns and muted "
        "trumpets strike the same two notes an octave apart, loud and at once soft: a "
        "metallic flash without weight. Violas at the bridge add a glassy shimmer. Colour, "
        "not volume, makes the tension here.",
    ),
    (
        "r20",
        "Four bars over D",
        "Four bars over a pedal D. Each bar the line climbs, and with it the number of "
        "players: oboes and first violins in unison with the clarinets, then trombones, tuba, "
        "flutes in flutter-tongue. The ostinato at the bridge is doubled at the octave, horns "
        "throw in the call from the opening, and the harp's glissando wipes the slate for the "
        "downbeat. A crescendo that is scored needs few hairpins.",
    ),
    (
        "r25",
        "A tutti with a light top",
        "The tutti. Count the octaves of the tune: oboes, clarinets and second violins at "
        "pitch, flutes and first violins an octave above, a single piccolo on top. The summit "
        "is thin on purpose, one small flute touched up by glockenspiel and triangle. It "
        "makes the whole orchestra gleam without hardening, because the weight lies two "
        "octaves lower. Note the dynamics as well: woodwinds and violins fortissimo, all "
        "brass only forte.",
    ),
    (
        "r27",
        "The plan of the tutti",
        "The countermelody has grown from cellos alone to four horns, cor anglais and cellos "
        "in unison. It lies in the gap between melody and bass, where nobody else moves: "
        "trombones and tremolo violas only sustain, trumpets only pulse, and the bass goes in "
        "octaves. That is the whole plan of a clear tutti: few different things, each "
        "strongly doubled, each in its own region and rhythm.",
    ),
    (
        "r28",
        "The clarinet hands over again",
        "Within two bars the orchestra is gone. Strings turn once to C minor, an echo of the "
        "climax, and the clarinet repeats the gesture with which it left the first song: down "
        "through the chord to a held note. This time the note is B, and it is the cor anglais "
        "and the violas, with mutes on, that are waiting there.",
    ),
    (
        "r29",
        "The night song returns, higher and recast",
        "The night song returns, a major third higher and with every role recast. Horn and "
        "cellos become cor anglais and muted violas; the harp's triplets pass to the celesta; "
        "the tremolo halo is now held by flutes and clarinets; the bass is bowed where it was "
        "plucked. From bar 49 a flute adds the upper octave. Put the two versions side by "
        "side: the notes are the same transposed, only the light has changed.",
    ),
    (
        "r33",
        "The lamp at the far bank",
        "The opening comes back over G instead of D. Horn call, ostinato, high harmonics: the "
        "same three layers, with the same hand-over, again on one shared note. Now the "
        "clarinet is left alone with the last word. In the final chord the cellos pluck while "
        "the basses keep the bow: the one gives the sound its beginning, the other its "
        "length. Over them stands one stroke of the glockenspiel, the lamp at the far bank.",
    ),
)
"""The region that an entry is about ("" for none), its heading, its text."""
