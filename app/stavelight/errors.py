"""The errors that a user can cause or mend.

Everything else that is raised is a bug. A :class:`StavelightError` is shown once, by the
window or by the command line, and never with a traceback.
"""

from __future__ import annotations


class StavelightError(Exception):
    """An expected failure, told in three parts.

    Parameters
    ----------
    what
        What happened, as a full sentence.
    where
        The file, and the bar and part where they are known.
    remedy
        What the user can do about it, as a full sentence.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(self.one_line())

    def one_line(self) -> str:
        """Return the error as one line of text."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return " ".join(f"{head} {self.remedy}".split())

    def __reduce__(self) -> tuple[object, ...]:
        """Keep the three parts when the error crosses from one process to another."""
        return _rebuild, (type(self), self.what, self.where, self.remedy)


def _rebuild(kind: type[StavelightError], what: str, where: str, remedy: str) -> StavelightError:
    return kind(what, where=where, remedy=remedy)


class ScoreFileError(StavelightError):
    """A score file cannot be opened, or is not a score."""


class LayerFileError(StavelightError):
    """An annotation layer file cannot be read or written."""


class EngravingError(StavelightError):
    """A page or an excerpt cannot be engraved."""


class DeliveryError(StavelightError):
    """An export cannot be made or written."""


class Cancelled(Exception):  # noqa: N818 - not an error: the user asked for it
    """The user stopped a piece of work."""
