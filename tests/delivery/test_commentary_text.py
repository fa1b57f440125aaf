"""Light Markdown, and texts cut to fit."""

from __future__ import annotations

import pytest

from stavelight.delivery.commentary_text import (
    Paragraph,
    Run,
    cut,
    pieces_that_fit,
    plain_text,
    read_commentary,
    sentence_ends,
    with_ellipsis,
)

SAMPLES = (
    "A plain line.",
    "A *soft* and a **loud** word, ***both***.",
    "A _soft_ and a __loud__ word.",
    "snake_case_words and 2*3*4 stay",
    "**Bold with *italic* inside** and out",
    "*Italic with **bold** inside*",
    "unmatched * star and ** stars",
    "escaped \\*stars\\* and \\_lines\\_",
    "code `a*b*c` stays",
    "a [link *with* stress](https://example.org/a_b_c) in it",
    "one\ntwo\nthree",
    "first paragraph\n\nsecond *paragraph*",
    "- one\n- **two**\n- three",
    "Before:\n\n* one\n* two\n\nAfter.",
    "# A heading\n\nand text",
    "> quoted *words*",
    "a > b and <c> > d",
    "> one\n> two",
    "f sharp (F\\#) and B\u266d, 3/4",
    "*a*b and **c**d",
    "bb. 41\u201344: *cresc.* \u2014 *dim.*",
)


def as_flat(paragraphs: tuple[Paragraph, ...]) -> list[list[tuple[str, bool, bool]]]:
    """Return paragraphs letter by letter, so that it does not matter how runs are parted."""
    return [
        [(letter, run.bold, run.italic) for run in one.runs for letter in run.text]
        for one in paragraphs
    ]


@pytest.mark.parametrize("sample", SAMPLES)
def test_as_an_independent_reader_of_commonmark_has_it(sample):
    """Source: markdown-it-py, a port of the reference-tested CommonMark parser markdown-it."""
    markdown_it = pytest.importorskip("markdown_it")
    expected = []
    is_heading = False
    for token in markdown_it.MarkdownIt("commonmark").parse(sample):
        if token.type.startswith("heading"):
            is_heading = token.type == "heading_open"
        if token.type != "inline":
            continue
        letters: list[tuple[str, bool, bool]] = []
        bold = italic = 0
        for child in token.children:
            bold += {"strong_open": 1, "strong_close": -1}.get(child.type, 0)
            italic += {"em_open": 1, "em_close": -1}.get(child.type, 0)
            text = " " if child.type == "softbreak" else child.content
            letters += [(letter, bool(bold) or is_heading, bool(italic)) for letter in text]
        expected.append(letters)
    assert as_flat(read_commentary(sample)) == expected


def test_items_of_lists_are_told_apart():
    paragraphs = read_commentary("Who plays:\n- flute\n- oboe\n  and cor anglais\n\nNo others.")
    assert [one.bullet for one in paragraphs] == [False, True, True, False]
    assert paragraphs[2].text == "oboe and cor anglais"
    assert plain_text(paragraphs).splitlines()[1] == "\u2022 flute"


@pytest.mark.parametrize("empty", ["", "  \n\n ", "---"])
def test_nothing_is_no_paragraph(empty):
    assert read_commentary(empty) == ()


@pytest.mark.parametrize(
    ("text", "sentences"),
    [
        ("One. Two! Three?", ["One.", "Two!", "Three?"]),
        ("See bb. 41\u201344. Then Op. 98.", ["See bb. 41\u201344.", "Then Op. 98."]),
        ("Fl. 1 and Ob. 2 play, e.g. B flat. End.", ["Fl. 1 and Ob. 2 play, e.g. B flat.", "End."]),
        ("J. S. Bach wrote it.", ["J. S. Bach wrote it."]),
        ("He asks: \u201cWhy?\u201d Nobody knows.", ["He asks: \u201cWhy?\u201d", "Nobody knows."]),
        ("No end", ["No end"]),
        ("At 1.5 metres it is loud.", ["At 1.5 metres it is loud."]),
    ],
)
def test_sentences(text, sentences):
    starts = [0, *sentence_ends(text)[:-1]]
    found = [text[a:b].strip() for a, b in zip(starts, sentence_ends(text), strict=True)]
    assert found == sentences


def test_a_cut_keeps_styles_and_loses_only_blanks():
    (paragraph,) = read_commentary("One **two three** four.")
    for at in range(len(paragraph.text) + 1):
        first, rest = cut(paragraph, at)
        joined = as_flat((first,))[0] + as_flat((rest,))[0]
        whole = as_flat((paragraph,))[0]
        assert [one for one in joined if one[0] != " "] == [one for one in whole if one[0] != " "]


@pytest.mark.parametrize("room", [1, 7, 20, 33, 60, 500])
def test_pieces_fit_and_lose_nothing(room):
    text = read_commentary(
        "One sentence here. Another *one follows* it.\n\n- item\n- a longer item of a list\n\n"
        "Then a rather long sentence without any stop in it at all, on and on. End."
    )

    def fits(some: tuple[Paragraph, ...]) -> bool:
        return sum(len(one.text) for one in some) <= room

    pieces = pieces_that_fit(text, fits)
    letters = "".join(one.text for piece in pieces for one in piece)
    assert "".join(letters.split()) == "".join("".join(one.text for one in text).split())
    for piece in pieces:
        assert piece
        assert fits(piece)


def test_words_are_kept_whole_where_they_fit():
    text = read_commentary("Then a rather long sentence without any stop in it at all, on and on")
    pieces = pieces_that_fit(text, lambda some: sum(len(one.text) for one in some) <= 9)
    words = [word for piece in pieces for one in piece for word in one.text.split()]
    assert words == text[0].text.split()


def test_pieces_end_with_sentences_where_they_can():
    text = read_commentary("A short one. A second one. A third.")
    pieces = pieces_that_fit(text, lambda some: sum(len(one.text) for one in some) <= 27)
    assert [plain_text(piece) for piece in pieces] == ["A short one. A second one.", "A third."]


def test_an_ellipsis_says_that_there_is_more():
    assert with_ellipsis((Paragraph((Run("One."),)),))[-1].text == "One. \u2026"
