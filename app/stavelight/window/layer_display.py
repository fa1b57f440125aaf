"""Keep page and panels showing what is on the desk, and take the edits that they ask for."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject

from stavelight.annotation.commentary import OnRegion
from stavelight.annotation.region import Region
from stavelight.errors import StavelightError
from stavelight.score.structure import Span
from stavelight.window.commentary_panel import CommentaryPanel, EntryLine
from stavelight.window.entry_edits import EntryEdits
from stavelight.window.layer_desk import LayerDesk
from stavelight.window.layer_words import (
    LOST,
    bars_text,
    entry_heading,
    parts_text,
    region_name,
    region_plate,
    short_bars_text,
    short_time,
)
from stavelight.window.region_edits import RegionEdits
from stavelight.window.region_look import area_style
from stavelight.window.region_panel import RegionLine, RegionPanel
from stavelight.window.score_view import ScoreView, ShownRegion
from stavelight.window.tag_offers import look_icon, offers_of, search_offers
from stavelight.window.tag_picker import TagOffer


class LayerDisplay(QObject):
    """Stands between the desk and what shows it.

    Parameters
    ----------
    desk
        The layer.
    view
        The page.

    Attributes
    ----------
    regions, entries
        The edits.
    region_panel, commentary_panel
        The panels at the right.
    """

    def __init__(self, desk: LayerDesk, view: ScoreView, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._view = view
        self._order = "score"
        self.regions = RegionEdits(desk)
        self.entries = EntryEdits(desk)
        self.region_panel = RegionPanel(self._search_tags)
        self.commentary_panel = CommentaryPanel()
        desk.layer_changed.connect(self._show_layer)
        desk.selection_changed.connect(self._show_selected)
        desk.entry_chosen.connect(self._show_entry)
        self._listen_to_view()
        self._listen_to_region_panel()
        self._listen_to_commentary_panel()

    def _listen_to_view(self) -> None:
        view, edits = self._view, self.regions
        view.region_drawn.connect(self._region_drawn)
        view.region_reshaped.connect(edits.reshape)
        view.region_selected.connect(self._desk.select)
        view.region_activated.connect(lambda _: self.start_tagging())

    def _listen_to_region_panel(self) -> None:
        panel, edits = self.region_panel, self.regions
        panel.region_picked.connect(self.go_to_region)
        panel.label_edited.connect(edits.set_label)
        panel.memo_edited.connect(edits.set_memo)
        panel.colour_chosen.connect(edits.set_colour)
        panel.pattern_chosen.connect(edits.set_pattern)
        panel.certainty_chosen.connect(edits.set_certainty)
        panel.tag_added.connect(edits.add_tag)
        panel.tag_removed.connect(edits.remove_tag)
        panel.delete_wanted.connect(self.delete_selected)
        panel.finished.connect(self._view.setFocus)

    def _listen_to_commentary_panel(self) -> None:
        panel, edits = self.commentary_panel, self.entries
        panel.add_wanted.connect(self.begin_entry)
        panel.delete_wanted.connect(edits.delete)
        panel.entry_picked.connect(self.go_to_entry)
        panel.order_chosen.connect(self._list_in_order)
        panel.title_edited.connect(edits.set_title)
        panel.text_edited.connect(edits.set_text)
        panel.about_typed.connect(self._tie_entry)
        panel.times_edited.connect(self._time_entry)

    # ---- what the user does ------------------------------------------------------------------

    def _region_drawn(self, span: Span) -> None:
        self.regions.add(span)
        if self._desk.selected is not None:
            self.start_tagging()

    def start_tagging(self, text: str = "") -> None:
        """Make the tag picker ready to type, for the selected region."""
        if self._desk.selected is not None and self._desk.is_editable:
            self.region_panel.show()
            self.region_panel.tags.start(text)

    def start_labelling(self) -> None:
        """Give the keyboard to the label of the selected region."""
        if self._desk.selected is not None:
            self.region_panel.show()
            self.region_panel.label.setFocus()
            self.region_panel.label.selectAll()

    def begin_entry(self) -> None:
        """Begin an entry about the selected region, or the whole score, ready to type."""
        self.commentary_panel.hand_over()
        self.entries.add()
        if self._desk.chosen_entry is not None:
            self.commentary_panel.show()
            self.commentary_panel.start_writing()

    def delete_selected(self) -> None:
        """Delete the selected region."""
        if self._desk.selected is not None:
            self.regions.delete(self._desk.selected.id)
            self._view.setFocus()

    def repeat_tags(self) -> None:
        """Tag the selected region like the one before."""
        if self._desk.selected is not None:
            self.regions.repeat_tags(self._desk.selected.id)

    def step_region(self, step: int) -> None:
        """Select the next region, or with -1 the one before, and go there."""
        region = self._desk.select_neighbour(step, self._view.first_bar)
        if region is not None:
            self._show_place(self._desk.spans(region))

    def go_to_region(self, region_id: str) -> None:
        """Select a region and go there; "" for none."""
        self._desk.select(region_id)
        region = self._desk.selected
        if region is not None:
            self._show_place(self._desk.spans(region))

    def go_to_entry(self, entry_id: str) -> None:
        """Show an entry and go to what it is about."""
        self.commentary_panel.hand_over()
        self._desk.choose_entry(entry_id)
        entry = self._desk.chosen_entry
        if entry is None:
            return
        if isinstance(entry.target, OnRegion):
            self._desk.select(entry.target.region)
        self._show_place(self._desk.spans_of_entry(entry))

    def _show_place(self, spans: Sequence[Span]) -> None:
        if spans:
            self._view.show_span(spans[0])

    def hand_over(self) -> None:
        """Take over what was typed in the panels but not finished yet."""
        self.region_panel.hand_over()
        self.commentary_panel.hand_over()

    def _list_in_order(self, order: str) -> None:
        self._order = order
        self._list_entries()

    def _tie_entry(self, entry_id: str, text: str) -> None:
        try:
            self.entries.set_about(entry_id, text)
        except StavelightError as error:
            self.commentary_panel.show_fault(error)
        else:
            self.commentary_panel.show_fault(None)

    def _time_entry(self, entry_id: str, start: float | None, end: float | None) -> None:
        try:
            self.entries.set_times(entry_id, start, end)
        except StavelightError as error:
            self.commentary_panel.show_fault(error)
        else:
            self.commentary_panel.show_fault(None)

    def _search_tags(self, text: str) -> tuple[TagOffer, ...]:
        return search_offers(self._desk.vocabulary, self.regions, text)

    # ---- what is shown -----------------------------------------------------------------------

    def _show_layer(self) -> None:
        desk = self._desk
        self._view.set_editable(desk.is_editable)
        self.region_panel.set_editable(desk.is_editable)
        self.commentary_panel.set_editable(desk.is_editable)
        regions = desk.regions()
        self._view.set_regions([self._shown(region) for region in regions])
        self.region_panel.show_list(
            [self._line(region) for region in regions], has_score=desk.layer is not None
        )
        self._show_selected()
        self._list_entries()
        self._show_entry()

    def _shown(self, region: Region) -> ShownRegion:
        return ShownRegion(
            region.id,
            self._desk.spans(region),
            area_style(region.colour, region.pattern),
            region_plate(region, self._desk.vocabulary),
        )

    def _line(self, region: Region) -> RegionLine:
        grid, spans = self._desk.grid, self._desk.spans(region)
        is_there = grid is not None and bool(spans)
        return RegionLine(
            region.id,
            look_icon(region.colour, region.pattern),
            region_name(region, self._desk.vocabulary),
            short_bars_text(grid.score, spans) if grid is not None else "",
            bars_text(grid, spans) if grid is not None and is_there else LOST,
            parts_text(grid.score, spans) if grid is not None and is_there else "",
        )

    def _show_selected(self) -> None:
        region = self._desk.selected
        self._view.select_region(region.id if region is not None else None)
        if region is None:
            self.region_panel.show_region(None, "", "", ())
            return
        line = self._line(region)
        tags = offers_of(region.tags, self._desk.vocabulary)
        self.region_panel.show_region(region, line.bars, line.staves, tags)

    def _list_entries(self) -> None:
        layer, grid = self._desk.layer, self._desk.grid
        lines: list[EntryLine] = []
        if layer is not None and grid is not None:
            in_time = self._order == "time"
            entries = layer.entries_in_time_order() if in_time else layer.entries_in_score_order()
            for entry in entries:
                place = short_bars_text(grid.score, self._desk.spans_of_entry(entry))
                lines.append(EntryLine(entry.id, short_time(entry), entry_heading(entry), place))
        self.commentary_panel.show_entries(lines)

    def _show_entry(self) -> None:
        entry = self._desk.chosen_entry
        words = self.entries.about_words(entry) if entry is not None else None
        if entry is None or words is None:
            self.commentary_panel.show_entry(None, "", ())
        else:
            self.commentary_panel.show_entry(entry, words.text(entry.target), words.choices)
