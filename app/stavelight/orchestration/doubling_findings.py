"""Put doublings into words: who carries one line, at what distance, who joins and who leaves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from stavelight.orchestration.doublings import Doublings, Stretch, find_doublings
from stavelight.orchestration.finding import BarGrid, Certainty, Finding, Member, in_score_order, listed
from stavelight.orchestration.instruments import part_labels
from stavelight.orchestration.lines import Lines, lines_of
from stavelight.orchestration.units import Link, Unit, gather
from stavelight.score.structure import Score

DOUBLING, PARALLEL, SHARED_HARMONY = "doubling", "parallel", "shared harmony"
PARALLEL_NAMES = {2: "thirds", 9: "tenths", 16: "seventeenths", 5: "sixths", 12: "thirteenths"}
_COUNTS = ("no", "one", "two", "three", "four", "five", "six")
_THROUGHOUT = 0.7  # of a unit's time
_FULL_IMPORTANCE = 64.0  # quarter notes of all members together, where importance is about 2/3


class DoublingFinder:
    """Finds doublings, parallel motion and shared harmony."""

    kinds = (DOUBLING, PARALLEL, SHARED_HARMONY)

    def find(self, score: Score) -> list[Finding]:
        """Return all findings, in score order."""
        return doubling_findings(score, find_doublings(score))


def doubling_findings(score: Score, doublings: Doublings) -> list[Finding]:
    """Return doublings that were found before as findings, in score order."""
    told = _Telling(score)
    longest_rest = max((bar.nominal_ticks for bar in score.bars), default=0)
    lines = [stretch for stretch in doublings.octaves if stretch.manner != "shared"]
    shared = [stretch for stretch in doublings.octaves if stretch.manner == "shared"]
    findings = [told.doubling(unit, lines) for unit in gather(_links(lines), longest_rest)]
    findings += [
        told.shared(unit, shared)
        for unit in gather(_links(shared), 0)
        if unit.end_ticks - unit.start_ticks >= longest_rest
    ]
    for steps in (2, 5):
        parallel = [s for s in doublings.parallels if abs(s.distance) % 7 == steps]
        findings += [told.parallel(unit, parallel) for unit in gather(_links(parallel), longest_rest)]
    return in_score_order(findings)


def _links(stretches: Iterable[Stretch]) -> list[Link]:
    return [
        Link(s.start_ticks, s.end_ticks, s.strand_a, s.strand_b, s.distance, number)
        for number, s in enumerate(stretches)
    ]


class _Telling:
    """Makes findings of one score."""

    def __init__(self, score: Score) -> None:
        self._score = score
        self._lines: Lines = lines_of(score)
        self._grid = BarGrid(score)
        self._labels = part_labels(score)

    def doubling(self, unit: Unit, stretches: list[Stretch]) -> Finding:
        """Tell a unit at the unison and in octaves."""
        used = [stretches[number] for number in unit.links]
        offsets = _offsets(unit)
        bars = self._grid.printed(unit.start_ticks, unit.end_ticks)
        core = _core(unit)
        levels = sorted({offsets[strand] // 12 for strand in core})
        manners = _manners(used)
        sentence = f"{self._names(core, manners)} carry one line {_octaves(levels)}, {bars}"
        sentence += "".join(f"; {clause}" for clause in self._comings(unit, core, manners))
        changes = self._octave_changes(used)
        sentence += "".join(f"; {clause}" for clause in changes)
        data = {
            "manner": ", ".join(sorted({stretch.manner for stretch in used})),
            "octaves": len(levels),
            "octave_changes": len(changes),
        }
        certainty = _certainty(used)
        return self._finding(DOUBLING, unit, used, offsets, f"{sentence}.", certainty, data, manners)

    def parallel(self, unit: Unit, stretches: list[Stretch]) -> Finding:
        """Tell a unit in thirds, sixths or tenths."""
        used = [stretches[number] for number in unit.links]
        steps = _offsets(unit)
        core = _core(unit)
        longest: dict[int, int] = defaultdict(int)
        for stretch in used:
            longest[abs(stretch.distance)] += stretch.end_ticks - stretch.start_ticks
        interval = PARALLEL_NAMES[max(longest, key=lambda distance: longest[distance])]
        by_height: dict[int, list[int]] = defaultdict(list)
        for strand in core:
            by_height[steps[strand] % 7].append(strand)
        groups = sorted(by_height.values(), key=lambda group: -max(steps[one] for one in group))
        who = " with ".join(self._names(group, {}) for group in groups)
        bars = self._grid.printed(unit.start_ticks, unit.end_ticks)
        verb = "move" if len(groups) < 2 or len(core) > 1 else "moves"
        sentence = f"{who} {verb} in parallel {interval}, {bars}"
        sentence += "".join(f"; {clause}" for clause in self._comings(unit, core, {}))
        data = {"interval": interval}
        certainty: Certainty = "sure" if max(s.notes for s in used) >= 8 else "likely"
        return self._finding(PARALLEL, unit, used, {}, f"{sentence}.", certainty, data, {})

    def shared(self, unit: Unit, stretches: list[Stretch]) -> Finding:
        """Tell a unit that only meets on repeated notes and chords."""
        used = [stretches[number] for number in unit.links]
        bars = self._grid.printed(unit.start_ticks, unit.end_ticks)
        sentence = f"{self._names(_core(unit), {})} meet on the same notes, {bars}: a shared harmony."
        finding = self._finding(
            SHARED_HARMONY, unit, used, _offsets(unit), sentence, "likely", {}, {}, weight=0.25
        )
        return finding

    def _finding(
        self,
        kind: str,
        unit: Unit,
        used: list[Stretch],
        offsets: dict[int, int],
        sentence: str,
        certainty: Certainty,
        data: dict[str, object],
        manners: dict[int, str],
        weight: float = 1.0,
    ) -> Finding:
        strands = self._lines.strands
        members = tuple(
            Member(
                strands[strand].part,
                strands[strand].staff,
                start,
                end,
                offsets.get(strand),
                manners.get(strand, ""),
            )
            for strand, times in sorted(unit.times.items())
            for start, end in times
        )
        ticks = sum(member.end_ticks - member.start_ticks for member in members)
        quarters = ticks / self._score.ticks_per_quarter
        sounds = np.concatenate([part for s in used for part in (s.sounds_a, s.sounds_b)])
        return Finding(
            kind,
            (self._grid.span(unit.start_ticks, unit.end_ticks, (m.staff for m in members)),),
            members,
            self._lines.rows_of(sounds),
            sentence,
            certainty,
            round(weight * float(1 - np.exp(-quarters / _FULL_IMPORTANCE)), 3),
            data,
        )

    def _name(self, strand: int) -> str:
        line = self._lines.strands[strand]
        label = self._labels[line.part]
        return label if line.place == "whole" else f"{label} ({line.place})"

    def _names(self, strands: Iterable[int], manners: dict[int, str]) -> str:
        """Return the names of strands; all lines of one part have its name alone."""
        wanted = sorted(strands)
        parts = [self._lines.strands[strand].part for strand in wanted]
        names: list[str] = []
        for strand, part in zip(wanted, parts, strict=True):
            line = self._lines.strands[strand]
            plain = parts.count(part) > 1 or line.place in ("whole", "upper")
            name = self._labels[part] if plain else self._name(strand)
            manner = manners.get(strand, "")
            name = f"{name} ({manner})" if manner else name
            if name not in names:
                names.append(name)
        return listed(names)

    def _comings(self, unit: Unit, core: list[int], manners: dict[int, str]) -> list[str]:
        """Say who joins and leaves, those who do so together in one clause."""
        clauses: dict[tuple[int, str], list[int]] = defaultdict(list)
        for strand, times in unit.times.items():
            if strand in core:
                continue
            start, end = times[0][0], times[-1][1]
            if len(times) == 1 and start > unit.start_ticks and end >= unit.end_ticks:
                clause = f"{{}} at {self._grid.printed_at(start)}"
            else:
                clause = "{} in " + listed(self._grid.printed(*time) for time in times[:3])
            clauses[start, clause].append(strand)
        return [
            f"{self._names(strands, manners)} "
            + clause.format("joins" if len(strands) == 1 else "join")
            for (_, clause), strands in sorted(clauses.items())
        ]

    def _octave_changes(self, used: list[Stretch]) -> list[str]:
        """Say where a line goes on at another octave, within one run."""
        runs: dict[int, list[Stretch]] = defaultdict(list)
        for stretch in used:
            runs[stretch.run].append(stretch)
        changes: dict[str, None] = {}
        for run in runs.values():
            for before, after in zip(run, run[1:], strict=False):
                octaves = abs(after.distance - before.distance) // 12
                if octaves:
                    names = f"{self._name(before.strand_a)} and {self._name(before.strand_b)}"
                    amount = "an octave" if octaves == 1 else f"{_COUNTS[octaves]} octaves"
                    place = self._grid.printed_at(after.start_ticks)
                    changes[f"between {names} the distance changes by {amount} at {place}"] = None
        return list(changes)[:3]


def _core(unit: Unit) -> list[int]:
    """Return the strands that take part nearly throughout, at least the two longest."""
    whole = unit.end_ticks - unit.start_ticks
    lengths = {strand: sum(end - start for start, end in times) for strand, times in unit.times.items()}
    core = [strand for strand, length in lengths.items() if length >= _THROUGHOUT * whole]
    if len(core) < 2:
        core = sorted(lengths, key=lambda strand: -lengths[strand])[:2]
    return sorted(core)


def _offsets(unit: Unit) -> dict[int, int]:
    """Return how far each strand lies above the first, by the distances that last longest."""
    longest: dict[tuple[int, int], dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for link in unit.links.values():
        longest[link.strand_a, link.strand_b][link.distance] += link.end_ticks - link.start_ticks
    near: dict[int, dict[int, int]] = defaultdict(dict)
    for (a, b), lengths in longest.items():
        near[a][b] = max(lengths, key=lambda distance: lengths[distance])
        near[b][a] = -near[a][b]
    offsets: dict[int, int] = {}
    for first in sorted(unit.times):
        reached = [] if first in offsets else [first]
        if reached:
            offsets[first] = 0
        for strand in reached:
            for other, distance in near[strand].items():
                if other not in offsets:
                    offsets[other] = offsets[strand] + distance
                    reached.append(other)
    return offsets


def _octaves(levels: list[int]) -> str:
    if len(levels) == 1:
        return "in unison"
    apart = levels[-1] - levels[0]
    if len(levels) > 2:
        return f"over {_COUNTS[min(len(levels), 6)]} octaves"
    return "in octaves" if apart == 1 else f"{_COUNTS[min(apart, 6)]} octaves apart"


def _manners(used: list[Stretch]) -> dict[int, str]:
    """Return for the strands that are never doubled exactly how they take part."""
    manners: dict[int, str] = {}
    exact: set[int] = set()
    for stretch in used:
        if stretch.manner == "exact":
            exact |= {stretch.strand_a, stretch.strand_b}
        elif stretch.manner == "simplified":
            manners[stretch.strand_a if stretch.simpler == "a" else stretch.strand_b] = "simplified"
    return {strand: manner for strand, manner in manners.items() if strand not in exact}


def _certainty(used: list[Stretch]) -> Certainty:
    exact = max((stretch.notes for stretch in used if stretch.manner == "exact"), default=0)
    if exact >= 6:
        return "sure"
    if exact >= 4 or max(stretch.notes for stretch in used) >= 10:
        return "likely"
    return "open"
