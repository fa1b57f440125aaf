"""A small project for the commands: two bars of an oboe, one region over the first."""

from __future__ import annotations

from pathlib import Path

import pytest

from stavelight.annotation.editing import add_region
from stavelight.annotation.layer import new_layer
from stavelight.annotation.layer_file import save_layer
from stavelight.annotation.region import new_region, span_record
from stavelight.score.reading import read_score
from stavelight.score.structure import Point, Span

SCORE = """\
<score-partwise version="4.0">
  <part-list><score-part id="P1"><part-name>Oboe</part-name></score-part></part-list>
  <part id="P1">
    <measure number="1">
      <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>
        <clef><sign>G</sign><line>2</line></clef></attributes>
      <note><pitch><step>A</step><octave>4</octave></pitch><duration>4</duration><type>whole</type>
      </note>
    </measure>
    <measure number="2">
      <note><pitch><step>B</step><octave>4</octave></pitch><duration>4</duration><type>whole</type>
      </note>
    </measure>
  </part>
</score-partwise>
"""


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A folder with ``tune.musicxml`` and ``tune.layer.json``."""
    folder = tmp_path / "lesson"
    folder.mkdir()
    score_path = folder / "tune.musicxml"
    score_path.write_text(SCORE, encoding="utf-8")
    score = read_score(score_path)
    span = Span(Point(0), Point(1), (0,))
    layer = add_region(new_layer(score), new_region([span_record(span, score)], label="Long note"))
    save_layer(folder / "tune.layer.json", layer)
    return folder
