from __future__ import annotations

from stavelight.engraving.open_lines import lines_over_barlines
from stavelight.score.musicxml_text import MusicXmlText


def _text(*bars: str) -> MusicXmlText:
    measures = "".join(f'<measure number="{n}">{bar}</measure>' for n, bar in enumerate(bars, 1))
    return MusicXmlText(
        f'<score-partwise><part-list/><part id="P1">{measures}</part></score-partwise>'.encode(),
        "lines.musicxml",
    )


def _note(inner: str, voice: str = "1") -> str:
    return f"<note><pitch/><voice>{voice}</voice><notations>{inner}</notations></note>"


def test_slur_over_two_barlines():
    (line,) = lines_over_barlines(
        _text(
            _note('<slur type="start" number="2" placement="above"/>', "3"),
            _note(""),
            _note('<slur type="stop" number="2"/>', "3"),
        )
    )
    assert (line.kind, line.start_bar, line.stop_bar, line.voice) == ("slur", 0, 2, "3")
    assert dict(line.start_attributes)["placement"] == "above"
    assert line.number == "2"


def test_lines_inside_a_bar_and_unfinished_ones_are_left_out():
    text = _text(
        _note('<slur type="start"/>') + _note('<slur type="stop"/>'),
        '<direction><direction-type><wedge type="crescendo"/></direction-type></direction>',
        _note('<slur type="stop"/>'),
    )
    assert lines_over_barlines(text) == ()


def test_hairpins_keep_their_staff_and_kind():
    (line,) = lines_over_barlines(
        _text(
            '<direction><direction-type><wedge type="diminuendo" number="1"/></direction-type>'
            "<staff>2</staff></direction>",
            '<direction><direction-type><wedge type="stop" number="1"/></direction-type>'
            "</direction>",
        )
    )
    assert (line.kind, line.staff) == ("wedge", "2")
    assert dict(line.start_attributes)["type"] == "diminuendo"


def test_two_slurs_at_once_are_told_apart_by_their_numbers():
    lines = lines_over_barlines(
        _text(
            _note('<slur type="start" number="1"/>') + _note('<slur type="start" number="2"/>'),
            _note('<slur type="stop" number="2"/>'),
            _note('<slur type="stop" number="1"/>'),
        )
    )
    assert {(line.number, line.stop_bar) for line in lines} == {("1", 2), ("2", 1)}


def test_looking_at_the_beginning_only():
    text = _text(
        _note('<slur type="start" number="1"/>'),
        _note('<slur type="start" number="2"/>'),
        _note('<slur type="stop" number="2"/>'),
        _note('<slur type="stop" number="1"/>'),
    )
    ends = {line.number: line.stop_bar for line in lines_over_barlines(text, 3)}
    assert ends == {"1": 3, "2": 2}
