"""Commentary: texts about a region, a span or the whole score, perhaps timed to a recording."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Annotated, Literal

import msgspec

from stavelight.annotation.record import (
    IdentifiedRecord,
    Moment,
    Record,
    RecordId,
    new_id,
    utc_now,
)
from stavelight.annotation.region import Region, SpanRecord
from stavelight.errors import StavelightError
from stavelight.score.structure import Point

EntryKind = Literal["commentary", "edition note"]
Seconds = Annotated[float, msgspec.Meta(ge=0, description="Seconds from the recording's start.")]


class OnScore(Record, kw_only=True, frozen=True, tag_field="on", tag="score"):
    """An entry is about the whole score."""


class OnRegion(Record, kw_only=True, frozen=True, tag_field="on", tag="region"):
    """An entry is about a region, wherever that is moved to."""

    region: RecordId


class OnSpans(Record, kw_only=True, frozen=True, tag_field="on", tag="spans"):
    """An entry is about a place that is not marked as a region."""

    spans: tuple[SpanRecord, ...]


Target = OnScore | OnRegion | OnSpans


class Entry(IdentifiedRecord, kw_only=True, frozen=True):
    """One piece of commentary.

    Attributes
    ----------
    id
        Never changes.
    target
        What it is about.
    title
        Its heading, or "".
    text
        Light Markdown: paragraphs, emphasis, lists.
    start_seconds, end_seconds
        Where it belongs on the recording, to the millisecond; None where that is not said.
    kind
        A ``commentary``, or an ``edition note`` about a suspected misprint.
    author, created, changed
        Who wrote it, and when it was made and last changed, in UTC.
    """

    target: Target = OnScore()
    title: str = ""
    text: str = ""
    start_seconds: Seconds | None = None
    end_seconds: Seconds | None = None
    kind: EntryKind = "commentary"
    author: str = ""
    created: Moment = ""
    changed: Moment = ""


def new_entry(
    target: Target | None = None,
    *,
    text: str = "",
    title: str = "",
    start_seconds: float | None = None,
    end_seconds: float | None = None,
    kind: EntryKind = "commentary",
    author: str = "",
) -> Entry:
    """Return an entry with a new id, made now; about the whole score if nothing else is said."""
    now = utc_now()
    return Entry(
        id=new_id(),
        target=target if target is not None else OnScore(),
        title=title,
        text=text,
        start_seconds=start_seconds,
        end_seconds=end_seconds,
        kind=kind,
        author=author,
        created=now,
        changed=now,
    )


# ---- order ---------------------------------------------------------------------------------

_Key = tuple[int, Point, Point, str]
RegionOf = Callable[[str], Region | None]


def spans_of(entry: Entry, region_of: RegionOf) -> tuple[SpanRecord, ...]:
    """Return the spans that an entry is about: none for the whole score or a lost region.

    Parameters
    ----------
    entry
        The entry.
    region_of
        Returns the region of an id, or None.
    """
    if isinstance(entry.target, OnSpans):
        return entry.target.spans
    if isinstance(entry.target, OnRegion):
        region = region_of(entry.target.region)
        return region.spans if region is not None else ()
    return ()


def score_order_key(item: Entry | Region, region_of: RegionOf) -> _Key:
    """Return what regions and entries are sorted by to stand in score order.

    Entries about the whole score come first; then everything by where it begins, then by where it
    ends; entries whose region is lost come last. A region comes before the entries about it.
    """
    spans = item.spans if isinstance(item, Region) else spans_of(item, region_of)
    nowhere = Point(0, Fraction(0))
    tail = item.id if isinstance(item, Entry) else ""
    if not spans:
        whole = isinstance(item, Entry) and isinstance(item.target, OnScore)
        return (0 if whole else 2, nowhere, nowhere, item.id)
    start = min(span.start.point for span in spans)
    return 1, start, max(span.end.point for span in spans), tail


def in_score_order(entries: Iterable[Entry], region_of: RegionOf) -> tuple[Entry, ...]:
    """Return entries in the order of the score; see `score_order_key`."""
    return tuple(sorted(entries, key=lambda entry: score_order_key(entry, region_of)))


def in_time_order(entries: Iterable[Entry], region_of: RegionOf) -> tuple[Entry, ...]:
    """Return entries in the order of the recording; those without a time last, in score order."""

    def key(entry: Entry) -> tuple[float, float, _Key]:
        start = math.inf if entry.start_seconds is None else entry.start_seconds
        end = math.inf if entry.end_seconds is None else entry.end_seconds
        return start, end, score_order_key(entry, region_of)

    return tuple(sorted(entries, key=key))


# ---- times ---------------------------------------------------------------------------------


class TimeTextError(StavelightError):
    """A time was typed in a way that cannot be read."""


_TIME = re.compile(
    r"""(?: (?:(?P<hours>[0-9]{1,3}):)? (?P<minutes>[0-9]{1,4}) : )?
        (?P<seconds>[0-9]{1,7}) (?: [.,] (?P<fraction>[0-9]*) )?""",
    re.VERBOSE,
)
_TIME_REMEDY = "Type minutes and seconds, such as 2:05 or 02:05.250, or 1:02:05.250 with hours."


def parse_time(text: str) -> float:
    """Return a typed time in seconds, to the millisecond.

    Minutes and seconds (``2:05``, ``02:05.250``), hours before them (``1:02:05.250``), or seconds
    alone (``125.25``); a comma may stand for the point. Minutes may exceed 59 where no hours are
    given.

    Raises
    ------
    TimeTextError
        If it cannot be read, or has more than 59 seconds to the minute or not two digits of
        them, more than 59 minutes to the hour, or more than three decimals.
    """
    typed = text.strip()
    match = _TIME.fullmatch(typed) if typed.isascii() else None
    if match is None:
        raise TimeTextError(f"{typed!r} is not a time.", remedy=_TIME_REMEDY)
    hours, minutes = match["hours"], match["minutes"]
    seconds = int(match["seconds"])
    fraction = (match["fraction"] or "").rstrip("0")
    if minutes is not None and seconds > 59:
        raise TimeTextError(f"{typed!r} has more than 59 seconds.", remedy=_TIME_REMEDY)
    if minutes is not None and len(match["seconds"]) != 2:
        raise TimeTextError(f"{typed!r} has not two digits of seconds.", remedy=_TIME_REMEDY)
    if hours is not None and int(minutes) > 59:
        raise TimeTextError(f"{typed!r} has more than 59 minutes.", remedy=_TIME_REMEDY)
    if len(fraction) > 3:
        raise TimeTextError(
            f"{typed!r} is finer than a thousandth of a second.", remedy=_TIME_REMEDY
        )
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + seconds
    if whole >= 1000 * 3600:
        raise TimeTextError(f"{typed!r} is longer than any recording.", remedy=_TIME_REMEDY)
    return (whole * 1000 + int(fraction.ljust(3, "0") or 0)) / 1000


def format_time(seconds: float) -> str:
    """Return a time as ``mm:ss.mmm``, from one hour on as ``h:mm:ss.mmm``.

    Raises
    ------
    ValueError
        If it is negative or not a number.
    """
    if not (math.isfinite(seconds) and seconds >= 0):
        raise ValueError(f"not a time on a recording: {seconds}")
    minutes, thousandths = divmod(round(seconds * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    tail = f"{minutes:02}:{thousandths // 1000:02}.{thousandths % 1000:03}"
    return f"{hours}:{tail}" if hours else tail
