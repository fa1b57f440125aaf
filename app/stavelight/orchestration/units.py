"""Gather pairs of strands that run in parallel into units: who plays one line together, and when.

At every moment the pairs that are in force make groups of strands that hang together. A unit is
such a group followed through time, while parts join it and leave it. Sets of strands are kept as
the bits of whole numbers, so that a movement with thousands of pairs takes a few hundredths of a
second.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Link:
    """Two strands in parallel for some time.

    Attributes
    ----------
    start_ticks, end_ticks
        From when to when.
    strand_a, strand_b
        Which.
    distance
        b minus a, in whatever unit the caller counts.
    source
        Whatever stands behind it: an index of the caller's.
    """

    start_ticks: int
    end_ticks: int
    strand_a: int
    strand_b: int
    distance: int
    source: int


@dataclass(slots=True)
class Unit:
    """Strands that play one line together.

    Attributes
    ----------
    start_ticks, end_ticks
        From when to when at least two of them do.
    strands
        Those that take part at its end, as bits.
    times
        For each strand when it takes part, (start, end) in ascending order.
    links
        What holds it together, by the links' positions in what was gathered.
    """

    start_ticks: int
    end_ticks: int
    strands: int = 0
    times: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    links: dict[int, Link] = field(default_factory=dict)

    def take(self, strands: int, start: int, end: int, longest_rest: int) -> None:
        """Let these strands take part from start to end; a short rest does not part them."""
        self.strands = strands
        self.end_ticks = max(self.end_ticks, end)
        for strand in bits(strands):
            times = self.times.setdefault(strand, [])
            if times and start - times[-1][1] <= longest_rest:
                times[-1] = (times[-1][0], max(times[-1][1], end))
            else:
                times.append((start, end))


def bits(number: int) -> Iterable[int]:
    """Yield the places of the bits that are set, from the lowest."""
    while number:
        lowest = number & -number
        yield lowest.bit_length() - 1
        number ^= lowest


def gather(links: Sequence[Link], longest_rest: int) -> list[Unit]:
    """Gather links into units.

    Parameters
    ----------
    links
        In any order.
    longest_rest
        In ticks: a unit goes on after a rest that is not longer.

    Returns
    -------
    list of Unit
        In order of their beginning.
    """
    starts = sorted(links, key=lambda link: link.start_ticks)
    ends = sorted(links, key=lambda link: link.end_ticks)
    times = sorted({link.start_ticks for link in links} | {link.end_ticks for link in links})
    near: dict[int, dict[int, list[Link]]] = {}
    started = ended = 0
    units: list[Unit] = []
    going: list[Unit] = []
    groups: list[int] = []
    for position, now in enumerate(times[:-1]):
        changed = False
        while ended < len(ends) and ends[ended].end_ticks <= now:
            changed |= _unlink(near, ends[ended])
            ended += 1
        while started < len(starts) and starts[started].start_ticks <= now:
            changed |= _link(near, starts[started])
            started += 1
        if changed:
            groups = _groups(near)
        if groups:
            going = [unit for unit in going if now - unit.end_ticks <= longest_rest]
            _follow(groups, going, units, now, times[position + 1], longest_rest)
    _assign_links(units, links)
    return units


def _link(near: dict[int, dict[int, list[Link]]], link: Link) -> bool:
    """Put a link in force; return whether that brings two strands together."""
    both = (link.strand_a, link.strand_b), (link.strand_b, link.strand_a)
    is_new = link.strand_b not in near.get(link.strand_a, {})
    for one, other in both:
        near.setdefault(one, {}).setdefault(other, []).append(link)
    return is_new


def _unlink(near: dict[int, dict[int, list[Link]]], link: Link) -> bool:
    """Take a link out of force; return whether that parts two strands."""
    both = (link.strand_a, link.strand_b), (link.strand_b, link.strand_a)
    is_last = False
    for one, other in both:
        near[one][other].remove(link)
        if not near[one][other]:
            is_last = True
            del near[one][other]
            if not near[one]:
                del near[one]
    return is_last


def _groups(near: dict[int, dict[int, list[Link]]]) -> list[int]:
    """Return the groups that hang together, each as bits, those with most strands first."""
    neighbours = {one: sum(1 << other for other in others) for one, others in near.items()}
    left = sum(1 << one for one in neighbours)
    groups = []
    while left:
        group = fresh = left & -left
        while fresh:
            reached = 0
            for one in bits(fresh):
                reached |= neighbours[one]
            fresh = reached & ~group
            group |= reached
        groups.append(group)
        left &= ~group
    return sorted(groups, key=lambda group: -group.bit_count())


def _follow(
    groups: list[int], going: list[Unit], units: list[Unit], now: int, then: int, rest: int
) -> None:
    """Hand each group to the unit that it goes on from, or begin a new one."""
    free = list(going)
    for group in groups:
        best, most = None, 1
        for unit in free:
            common = (unit.strands & group).bit_count()
            fewest = min(unit.strands.bit_count(), group.bit_count())
            if common > most and 2 * common >= fewest:
                best, most = unit, common
        if best is None:
            best = Unit(now, then)
            units.append(best)
            going.append(best)
        else:
            free.remove(best)
        best.take(group, now, then, rest)


def _assign_links(units: list[Unit], links: Sequence[Link]) -> None:
    """Tell each unit which links hold it together."""
    by_strand: dict[int, list[tuple[int, int, Unit]]] = {}
    for unit in units:
        for strand, times in unit.times.items():
            by_strand.setdefault(strand, []).extend((start, end, unit) for start, end in times)
    for number, link in enumerate(links):
        both = {
            id(unit)
            for start, end, unit in by_strand.get(link.strand_b, ())
            if start < link.end_ticks and end > link.start_ticks
        }
        for start, end, unit in by_strand.get(link.strand_a, ()):
            if start < link.end_ticks and end > link.start_ticks and id(unit) in both:
                unit.links[number] = link
