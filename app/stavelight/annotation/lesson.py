"""Lessons: in which order regions and entries are shown and told."""

from __future__ import annotations

from typing import Literal

from stavelight.annotation.record import IdentifiedRecord, new_id

LessonOrder = Literal["score", "time", "listed"]


class Lesson(IdentifiedRecord, kw_only=True, frozen=True):
    """One lesson on a score; several may share its layer.

    Attributes
    ----------
    id
        Never changes.
    title
        Its title, or "" for the score's own.
    order
        ``score``: everything in the layer, in score order; ``time``: likewise, in the order of
        the recording; ``listed``: only what `items` names, in that order.
    items
        Ids of regions and entries.
    """

    title: str = ""
    order: LessonOrder = "score"
    items: tuple[str, ...] = ()


def new_lesson(title: str = "", order: LessonOrder = "score") -> Lesson:
    """Return a lesson with a new id."""
    return Lesson(id=new_id(), title=title, order=order)
