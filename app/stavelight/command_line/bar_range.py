"""Bars as one names them on the command line: by the numbers that the edition prints."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stavelight.errors import ScoreFileError

if TYPE_CHECKING:
    from stavelight.score.structure import Score


@dataclass(frozen=True, slots=True)
class PrintedBars:
    """A run of bars by printed numbers, the last one included.

    Attributes
    ----------
    first, last
        Printed bar numbers, not necessarily digits.
    """

    first: str
    last: str

    def in_score(self, score: Score) -> range:
        """Return the bars as a half-open range of bar indices.

        Raises
        ------
        ScoreFileError
            If a number is printed at no bar or at several, or if the last bar comes first.
        """
        first, last = _bar_index(score, self.first), _bar_index(score, self.last)
        if last < first:
            raise ScoreFileError(
                f"Bar {self.last} stands before bar {self.first}.",
                where=score.path.name,
                remedy="Name the earlier bar first.",
            )
        return range(first, last + 1)


def printed_bars(text: str) -> PrintedBars:
    """Read ``A-B`` or ``A``.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is neither.
    """
    numbers = [number.strip() for number in text.replace("–", "-").split("-")]
    if len(numbers) > 2 or not all(numbers):
        raise argparse.ArgumentTypeError(f"{text!r} is not a bar or a range of bars such as 12-27")
    return PrintedBars(numbers[0], numbers[-1])


def _bar_index(score: Score, number: str) -> int:
    found = score.bars_printed(number)
    if not found:
        first, last = score.bars[0].printed_number, score.bars[-1].printed_number
        raise ScoreFileError(
            f"No bar has the number {number}.",
            where=score.path.name,
            remedy=f"The first bar is printed as {first}, the last as {last}.",
        )
    if len(found) > 1:
        places = ", ".join(str(index + 1) for index in found)
        raise ScoreFileError(
            f"{len(found)} bars have the number {number}.",
            where=score.path.name,
            remedy="Begin and end the range at numbers that are printed once. "
            f"Counted from the beginning, they are bars {places}.",
        )
    return found[0]
