from __future__ import annotations

import random
from fractions import Fraction

import pytest

from stavelight.annotation.commentary import (
    Entry,
    OnRegion,
    OnScore,
    OnSpans,
    TimeTextError,
    format_time,
    in_score_order,
    in_time_order,
    new_entry,
    parse_time,
    score_order_key,
    spans_of,
)
from stavelight.annotation.region import Place, Region, SpanRecord, StaffRef
from stavelight.errors import StavelightError

STAFF = StaffRef(part="P1", staff=1, name="Flute")


def span(first: int, last: int, offset: str = "0") -> SpanRecord:
    return SpanRecord(start=Place(bar=first, offset=offset), end=Place(bar=last), staves=(STAFF,))


# W3C, WebVTT: a time stamp is [hours:]minutes:seconds.thousandths; its examples are 00:11.000,
# 00:13.500 and 01:02:03.004 in shape. SubRip writes a comma for the point.
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("00:11.000", 11),
        ("00:13.500", 13.5),
        ("1:02:03.004", 3723.004),
        ("01:02:03,004", 3723.004),
        ("2:05", 125),
        (" 02:05.25 ", 125.25),
        ("75:10", 4510),
        ("0:00", 0),
        ("125.25", 125.25),
        ("7", 7),
        ("7.", 7),
        ("59:59.9990000", 3599.999),
        ("999:59:59.999", 3599999.999),
    ],
)
def test_times_are_read(text: str, seconds: float):
    assert parse_time(text) == seconds


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "is not a time"),
        ("soon", "is not a time"),
        ("1:2:3:4", "is not a time"),
        ("-1:00", "is not a time"),
        ("1:", "is not a time"),
        (":30", "is not a time"),
        ("1.5:00", "is not a time"),
        ("１:００", "is not a time"),
        ("٣:٠٠", "is not a time"),
        ("1" * 5000, "is not a time"),
        ("1:60", "more than 59 seconds"),
        ("1:123", "more than 59 seconds"),
        ("1:5", "not two digits"),
        ("1:005", "not two digits"),
        ("1:60:00", "more than 59 minutes"),
        ("1:00.0005", "finer than a thousandth"),
        ("9999999", "longer than any recording"),
    ],
)
def test_what_is_no_time_is_said_clearly(text: str, complaint: str):
    with pytest.raises(TimeTextError, match=complaint) as caught:
        parse_time(text)
    assert isinstance(caught.value, StavelightError)
    assert "02:05.250" in caught.value.remedy


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "00:00.000"),
        (11, "00:11.000"),
        (125.25, "02:05.250"),
        (59.9996, "01:00.000"),
        (3599.9996, "1:00:00.000"),
        (3723.004, "1:02:03.004"),
        (36000, "10:00:00.000"),
    ],
)
def test_times_are_printed(seconds: float, text: str):
    assert format_time(seconds) == text


def test_every_printed_time_is_read_as_it_was():
    chance = random.Random(5)
    for _ in range(2000):
        seconds = chance.randrange(20_000_000) / 1000
        assert parse_time(format_time(seconds)) == seconds


@pytest.mark.parametrize("seconds", [-0.001, float("nan"), float("inf")])
def test_no_time_is_printed_of_what_is_none(seconds: float):
    with pytest.raises(ValueError, match="not a time"):
        format_time(seconds)


REGIONS = {
    "late": Region(id="late", spans=(span(9, 10),)),
    "two": Region(id="two", spans=(span(20, 21), span(3, 4, "1/3"))),
}
ENTRIES = [
    Entry(id="a", target=OnRegion(region="late"), start_seconds=5.0),
    Entry(id="b", target=OnSpans(spans=(span(3, 4, "3/8"),))),
    Entry(id="c", target=OnRegion(region="lost"), start_seconds=1.0),
    Entry(id="d", target=OnScore(), start_seconds=90.0),
    Entry(id="e", target=OnRegion(region="two"), start_seconds=5.0, end_seconds=6.0),
    Entry(id="f", target=OnSpans(spans=(span(3, 30, "3/8"),))),
]


def test_score_order_is_by_beginning_then_by_end():
    # 1/3 of a whole note is before 3/8: as text it would not be.
    ordered = in_score_order(ENTRIES, REGIONS.get)
    assert "".join(entry.id for entry in ordered) == "debfac"


def test_time_order_has_untimed_entries_last_in_score_order():
    ordered = in_time_order(ENTRIES, REGIONS.get)
    assert "".join(entry.id for entry in ordered) == "ceadbf"


def test_order_does_not_depend_on_how_they_were_given():
    chance = random.Random(3)
    expected = in_score_order(ENTRIES, REGIONS.get), in_time_order(ENTRIES, REGIONS.get)
    for _ in range(20):
        mixed = chance.sample(ENTRIES, len(ENTRIES))
        assert (in_score_order(mixed, REGIONS.get), in_time_order(mixed, REGIONS.get)) == expected


def test_a_region_comes_before_what_is_said_about_it():
    entry = Entry(id="0", target=OnRegion(region="late"))
    region = REGIONS["late"]
    assert score_order_key(region, REGIONS.get) < score_order_key(entry, REGIONS.get)
    assert score_order_key(region, REGIONS.get)[1].offset == Fraction(0)


def test_the_spans_of_an_entry():
    assert spans_of(ENTRIES[0], REGIONS.get) == REGIONS["late"].spans
    assert spans_of(ENTRIES[1], REGIONS.get) == (span(3, 4, "3/8"),)
    assert spans_of(ENTRIES[2], REGIONS.get) == ()
    assert spans_of(ENTRIES[3], REGIONS.get) == ()


def test_a_new_entry_is_about_the_score_and_dated():
    entry = new_entry(text="Hello", author="Ada Quill")
    assert entry.target == OnScore()
    assert entry.created == entry.changed != ""
    assert entry.kind == "commentary"
    assert new_entry(OnRegion(region="late")).id != entry.id
