"""From the written to the sounding pitch: how an instrument transposes.

Files are careless here: some leave out how many steps of the staff a transposition is, some count
the octaves twice or not at all. The number of semitones is what one hears and is always taken as it
stands; the number of steps is mended where it cannot belong to it.
"""

from __future__ import annotations

from stavelight.score.structure import Transposition

# Steps up from C to the usual name of each pitch class: instruments are in D flat, E flat, A flat
# and B flat rather than in C sharp, D sharp, G sharp and A sharp (common practice). For the
# tritone G flat is taken.
_USUAL_STEPS = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
_SEMITONES_OF_STEPS = (0, 2, 4, 5, 7, 9, 11)


def usual_steps(semitones: int) -> int:
    """Return how many steps of the staff a transposition by so many semitones usually is.

    Instruments are named after the flat keys (B flat, E flat, A flat, D flat): -2 semitones are
    -1 step, -3 (in A) are -2, -9 (in E flat) are -5.
    """
    octaves, rest = divmod(semitones, 12)
    return 7 * octaves + _USUAL_STEPS[rest]


def transposition_of(steps: int | None, semitones: int) -> Transposition:
    """Return a transposition that is consistent in itself.

    Parameters
    ----------
    steps
        Steps of the staff, octaves included, or None if the file does not say.
    semitones
        Semitones, octaves included.

    Returns
    -------
    Transposition
        With `steps` as given if a written C then sounds as a note with at most one accidental,
        otherwise with the usual number of steps for `semitones`.
    """
    if steps is None:
        return Transposition(usual_steps(semitones), semitones)
    octaves, rest = divmod(steps, 7)
    alteration = semitones - 12 * octaves - _SEMITONES_OF_STEPS[rest]
    if abs(alteration) > 1:
        return Transposition(usual_steps(semitones), semitones)
    return Transposition(steps, semitones)
