"""Numbers as score files write them: plain decimals, and nothing else that would pass for one."""

from __future__ import annotations

import re
from fractions import Fraction

_DECIMAL = re.compile(r"\s*[+-]?[0-9]{1,12}(\.[0-9]{0,12})?\s*")
_WHOLE = re.compile(r"\s*[+-]?[0-9]{1,9}\s*")


def decimal_number(text: str | None) -> Fraction:
    """Return the exact value of a decimal number.

    Raises
    ------
    ValueError
        If it is none, or has more than twelve digits before or after the point.
    """
    if text is None or not _DECIMAL.fullmatch(text):
        raise ValueError(f"{(text or '').strip()[:40]!r} is not a number")
    return Fraction(text.strip().rstrip("."))


def whole_number(text: str | None) -> int:
    """Return the value of a whole number.

    Raises
    ------
    ValueError
        If it is none, or has more than nine digits.
    """
    if text is None or not _WHOLE.fullmatch(text):
        raise ValueError(f"{(text or '').strip()[:40]!r} is not a whole number")
    return int(text)
