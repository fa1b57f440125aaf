"""Write the sample score anew: ``python -m sample_score.compose`` in the folder ``resources``."""

from __future__ import annotations

from pathlib import Path

from sample_score import material, reduction
from sample_score.engraving_score import musicxml
from sample_score.orchestra import GROUPS, PARTS, Orchestra
from sample_score.scoring_climax import score_climax
from sample_score.scoring_close import score_close
from sample_score.scoring_middle import score_middle
from sample_score.scoring_opening import score_opening

NAME = "the_ferrymans_lamp"


def full_score() -> Orchestra:
    """Return the music, scored."""
    orchestra = Orchestra()
    score_opening(orchestra)
    score_middle(orchestra)
    score_climax(orchestra)
    score_close(orchestra)
    return orchestra


MISPRINT = """\
part: 2 Clarinets in B♭
staff: 1
bar: 18
bar index: 18
offset in whole notes: 3/8
written: F sharp 5
ought to be written: F natural 5
sounds: E 5
ought to sound: E flat 5
doubled by: 2 Flutes (an octave above), 2 Bassoons (an octave below), bars 17 to 19
why: the natural sign is missing; the chord is C minor, and flute and bassoon have E flat
"""
"""The one note that breaks an exact doubling on purpose."""


def files() -> dict[str, bytes]:
    """Return the files of the sample project that this package makes, by name."""
    score = musicxml(full_score(), PARTS, GROUPS, material.SUBTITLE, material.PAGE_TURNS)
    duo = musicxml(reduction.reduction(), reduction.PARTS, reduction.GROUPS, reduction.SUBTITLE)
    return {
        f"{NAME}.musicxml": score,
        f"{NAME} - keyboard and violin.musicxml": duo,
        "planted misprint.txt": MISPRINT.encode(),
    }


def main() -> None:
    """Write the files into the sample project."""
    folder = Path(__file__).resolve().parents[2] / "sample_projects" / NAME
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files().items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    main()
