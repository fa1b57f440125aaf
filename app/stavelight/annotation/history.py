"""Undo and redo of layers, without limit.

A layer of ten thousand regions is a tuple of ten thousand places; to keep a whole one for each
step of a day's work would fill the memory. So a step keeps what differs between the layer before
and the layer after it: which stretch of which field became which other stretch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from msgspec.structs import replace

from stavelight.annotation.layer import Layer


@dataclass(frozen=True, slots=True)
class _Difference:
    """How one field differs.

    Attributes
    ----------
    field
        Its name.
    start
        Where the stretch begins, if the field is a tuple; else None, and the rest is whole values.
    before, after
        The stretch, or the value, on either side.
    """

    field: str
    start: int | None
    before: Any
    after: Any

    def value(self, now: Any, *, backwards: bool) -> Any:
        """Return the field's value on the other side."""
        old, new = (self.after, self.before) if backwards else (self.before, self.after)
        if self.start is None:
            return new
        return (*now[: self.start], *new, *now[self.start + len(old) :])


@dataclass(slots=True)
class _Step:
    """One thing that the user did.

    Attributes
    ----------
    name
        As a menu shows it.
    differences
        What it changed.
    gesture
        What continues it rather than beginning another step; "" is nothing.
    number
        Unlike that of all other steps ever made: the state after the step is known by it.
    """

    name: str
    differences: tuple[_Difference, ...]
    gesture: str
    number: int


class History:
    """The layer as it is now, and the way back and forth.

    Parameters
    ----------
    layer
        The layer to begin with.
    saved
        Whether it stands like that on disk.

    Attributes
    ----------
    layer
        The layer as it is now.
    """

    def __init__(self, layer: Layer, *, saved: bool = True) -> None:
        self.layer = layer
        self._done: list[_Step] = []
        self._undone: list[_Step] = []
        self._count = 0
        self._saved: int | None = 0 if saved else None

    def record(self, layer: Layer, name: str, *, gesture: str = "") -> bool:
        """Make this the layer as it is now; what was undone can no longer be redone.

        Parameters
        ----------
        layer
            The layer after the edit.
        name
            What was done, such as ``Move region 'second theme'``.
        gesture
            Edits one after the other with the same gesture, such as the letters typed into one
            field, make a single step. A save or an undo ends the gesture.

        Returns
        -------
        bool
            False if nothing differs: then there is no new step.
        """
        differences = _differences(self.layer, layer)
        if not differences:
            return False
        last = self._done[-1] if self._done else None
        self._count += 1
        if last is not None and gesture and last.gesture == gesture:
            before = self._changed(self.layer, last, backwards=True)
            differences = _differences(before, layer)
            self._done.pop()
        if differences:
            self._done.append(_Step(name, differences, gesture, self._count))
        self._undone.clear()
        self.layer = layer
        return True

    def end_gesture(self) -> None:
        """Let the next edit be a step of its own, whatever its gesture."""
        if self._done:
            self._done[-1].gesture = ""

    @property
    def undo_name(self) -> str | None:
        """Name of the step that undo takes back, or None if there is none."""
        return self._done[-1].name if self._done else None

    @property
    def redo_name(self) -> str | None:
        """Name of the step that redo does again, or None if there is none."""
        return self._undone[-1].name if self._undone else None

    def undo(self) -> Layer:
        """Take back the last step and return the layer as it is now.

        Raises
        ------
        IndexError
            If there is no step.
        """
        step = self._done.pop()
        self._undone.append(step)
        self.layer = self._changed(self.layer, step, backwards=True)
        self.end_gesture()
        return self.layer

    def redo(self) -> Layer:
        """Do the step again that was taken back last, and return the layer as it is now.

        Raises
        ------
        IndexError
            If there is no step.
        """
        step = self._undone.pop()
        self._done.append(step)
        self.layer = self._changed(self.layer, step, backwards=False)
        self.end_gesture()
        return self.layer

    def mark_saved(self) -> None:
        """Say that the layer stands on disk as it is now."""
        self._saved = self._state
        self.end_gesture()

    @property
    def has_unsaved(self) -> bool:
        """Whether the layer differs from what was last saved; undoing back to that counts."""
        return self._saved != self._state

    @property
    def _state(self) -> int:
        return self._done[-1].number if self._done else 0

    @staticmethod
    def _changed(layer: Layer, step: _Step, *, backwards: bool) -> Layer:
        values = {
            one.field: one.value(getattr(layer, one.field), backwards=backwards)
            for one in step.differences
        }
        return replace(layer, **values)


def _differences(before: Layer, after: Layer) -> tuple[_Difference, ...]:
    found: list[_Difference] = []
    for name in Layer.__struct_fields__:
        old, new = getattr(before, name), getattr(after, name)
        if old is new:
            continue
        if isinstance(old, tuple) and isinstance(new, tuple):
            difference = _stretch(name, old, new)
            if difference is not None:
                found.append(difference)
        elif old != new:
            found.append(_Difference(name, None, old, new))
    return tuple(found)


def _stretch(field: str, old: tuple[Any, ...], new: tuple[Any, ...]) -> _Difference | None:
    """Return the shortest stretch between what two tuples have in common at their ends."""
    shorter = min(len(old), len(new))
    start = next((at for at in range(shorter) if old[at] is not new[at]), shorter)
    if start == len(old) == len(new):
        return None
    rest = shorter - start
    tail = next((at for at in range(rest) if old[-1 - at] is not new[-1 - at]), rest)
    old_part, new_part = old[start : len(old) - tail], new[start : len(new) - tail]
    return None if old_part == new_part else _Difference(field, start, old_part, new_part)
