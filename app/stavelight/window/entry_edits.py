"""Every edit of commentary that the window can make, each one a step that can be undone."""

from __future__ import annotations

from typing import Any

from stavelight.annotation import editing
from stavelight.annotation.commentary import Entry, OnRegion, OnScore, OnSpans, new_entry
from stavelight.errors import StavelightError
from stavelight.window import layer_words
from stavelight.window.layer_desk import LayerDesk
from stavelight.window.layer_words import AboutWords


class TimesError(StavelightError):
    """An entry cannot end before it begins."""


class EntryEdits:
    """Edits entries of the layer on the desk; where it may not be changed, nothing happens.

    Parameters
    ----------
    desk
        The layer.
    """

    def __init__(self, desk: LayerDesk) -> None:
        self._desk = desk

    def add(self) -> None:
        """Begin an entry about the selected region, or about the whole score, and show it."""
        layer, region = self._desk.layer, self._desk.selected
        if layer is None or not self._desk.is_editable:
            return
        target = OnRegion(region=region.id) if region is not None else OnScore()
        entry = new_entry(target, author=self._desk.author)
        self._desk.record(editing.add_entry(layer, entry), "Begin an entry")
        self._desk.choose_entry(entry.id)

    def delete(self, entry_id: str) -> None:
        """Delete an entry."""
        layer = self._desk.layer
        if layer is not None and self._desk.is_editable and self._desk.entry(entry_id) is not None:
            self._desk.record(editing.remove_entry(layer, entry_id), "Delete the entry")

    def set_title(self, entry_id: str, title: str) -> None:
        """Give an entry a heading."""
        self._change_entry(entry_id, "Head the entry", title=title)

    def set_text(self, entry_id: str, text: str) -> None:
        """Write an entry."""
        self._change_entry(entry_id, "Write commentary", text=text)

    def set_times(self, entry_id: str, start: float | None, end: float | None) -> None:
        """Say where an entry belongs on the recording.

        Raises
        ------
        TimesError
            If it would end before it begins, or end without beginning.
        """
        if end is not None and (start is None or end <= start):
            raise TimesError(
                "The entry would end before it begins." if start is not None
                else "The entry has an end and no start.",
                remedy="Give an earlier start or a later end.",
            )  # fmt: skip
        self._change_entry(entry_id, "Set times", start_seconds=start, end_seconds=end)

    def set_about(self, entry_id: str, text: str) -> None:
        """Say in words what an entry is about.

        Raises
        ------
        BarsTextError
            If the words mean nothing here.
        """
        entry = self._desk.entry(entry_id)
        words = self.about_words(entry) if entry is not None else None
        if words is not None:
            self._change_entry(entry_id, "Tie the entry", target=words.read(text))

    def _change_entry(self, entry_id: str, name: str, **fields: Any) -> None:
        layer = self._desk.layer
        if layer is not None and self._desk.is_editable and self._desk.entry(entry_id) is not None:
            self._desk.record(editing.change_entry(layer, entry_id, **fields), name)

    def about_words(self, entry: Entry) -> AboutWords | None:
        """Return what an entry can be about, in words: its own target, the score, all regions."""
        if self._desk.score is None or self._desk.grid is None:
            return None
        targets = [layer_words.whole_score()]
        if isinstance(entry.target, OnSpans):
            spans = self._desk.spans_of_entry(entry)
            targets.append((layer_words.spans_text(self._desk.grid, spans), entry.target))
        for region in self._desk.regions():
            name = layer_words.region_name(region, self._desk.vocabulary)
            bars = layer_words.short_bars_text(self._desk.score, self._desk.spans(region))
            targets.append(layer_words.on_region(region, name, bars))
        selected = self._desk.selected
        if selected is not None:
            fixed = OnSpans(spans=selected.spans)
            text = layer_words.spans_text(self._desk.grid, self._desk.spans(selected))
            if fixed != entry.target:
                targets.append((f"{text} (this place, whatever becomes of the region)", fixed))
        return AboutWords(targets, self._desk.score)
