"""The layer on the desk: what is in it, what is selected, and the way back.

Nothing is drawn here and nothing is read or written: see `stavelight.window.session`. The edits are
in `stavelight.window.region_edits` and `stavelight.window.entry_edits`.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject, Signal

from stavelight.annotation.commentary import Entry
from stavelight.annotation.history import History
from stavelight.annotation.layer import Layer
from stavelight.annotation.region import FoundSpan, Region, SpanRecord, StaffFinder
from stavelight.annotation.tags import Vocabulary, load_vocabulary
from stavelight.score.structure import Score, Span
from stavelight.window.snapping import BeatGrid


class LayerDesk(QObject):
    """The layer that is worked on.

    Attributes
    ----------
    history
        The layer as it is now, and the steps to it; None while there is none.
    score, grid
        The score that it belongs to, and its beats; None while there is none.
    author
        Who works on it; written into what is made from now on.

    Signals
    -------
    layer_changed
        There is another layer now, or none.
    selection_changed
        Another region is selected, or none.
    entry_chosen
        Another entry is shown, or none.
    """

    layer_changed = Signal()
    selection_changed = Signal()
    entry_chosen = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.history: History | None = None
        self.score: Score | None = None
        self.grid: BeatGrid | None = None
        self.author = ""
        self._editable = False
        self._finder: StaffFinder | None = None
        self._places: dict[str, tuple[object, tuple[Span, ...]]] = {}
        self._selected = ""
        self._entry = ""

    # ---- what there is -----------------------------------------------------------------------

    def lay_down(self, score: Score, layer: Layer, *, editable: bool) -> None:
        """Begin to work on a layer of a score."""
        self.score, self.grid = score, BeatGrid(score)
        self._finder = StaffFinder(score)
        self._places.clear()
        self.history = History(layer)
        self._editable = editable
        self._selected = self._entry = ""
        self._tell_all()

    def clear(self) -> None:
        """Take the layer away."""
        self.score = self.grid = self.history = self._finder = None
        self._places.clear()
        self._editable = False
        self._selected = self._entry = ""
        self._tell_all()

    def _tell_all(self) -> None:
        self.layer_changed.emit()
        self.selection_changed.emit()
        self.entry_chosen.emit()

    @property
    def is_editable(self) -> bool:
        """Whether the layer may be changed."""
        return self._editable and self.history is not None

    def set_editable(self, editable: bool) -> None:
        """Allow changes, or forbid them."""
        self._editable = editable
        self.layer_changed.emit()

    @property
    def layer(self) -> Layer | None:
        """The layer as it is now."""
        return self.history.layer if self.history is not None else None

    @property
    def has_unsaved(self) -> bool:
        """Whether something is not saved yet."""
        return self.history is not None and self.history.has_unsaved

    @property
    def vocabulary(self) -> Vocabulary:
        """All tags, those of the layer's own included."""
        shipped = load_vocabulary()
        layer = self.layer
        return shipped.with_own_tags(layer.own_tags) if layer and layer.own_tags else shipped

    def regions(self) -> tuple[Region, ...]:
        """Return all regions in the order of the score."""
        return self.layer.regions_in_score_order() if self.layer is not None else ()

    def region(self, region_id: str) -> Region | None:
        """Return a region."""
        return self.layer.region(region_id) if self.layer is not None else None

    def entry(self, entry_id: str) -> Entry | None:
        """Return an entry."""
        return self.layer.entry(entry_id) if self.layer is not None else None

    def spans(self, region: Region) -> tuple[Span, ...]:
        """Return where a region lies in this score."""
        known = self._places.get(region.id)
        if known is not None and known[0] is region.spans:
            return known[1]
        found = self._find(region.spans)
        self._places[region.id] = (region.spans, found)
        return found

    def found_spans(self, region: Region) -> tuple[FoundSpan, ...]:
        """Return where the spans of a region lie, one answer for each."""
        return self._finder.find_region(region) if self._finder is not None else ()

    def spans_of_entry(self, entry: Entry) -> tuple[Span, ...]:
        """Return where what an entry is about lies; nothing for the whole score."""
        return self._find(self.layer.spans_of(entry)) if self.layer is not None else ()

    def _find(self, records: Sequence[SpanRecord]) -> tuple[Span, ...]:
        if self._finder is None:
            return ()
        found = (self._finder.find_span(record).span for record in records)
        return tuple(span for span in found if span is not None)

    # ---- what is selected --------------------------------------------------------------------

    @property
    def selected(self) -> Region | None:
        """The selected region."""
        return self.region(self._selected)

    @property
    def chosen_entry(self) -> Entry | None:
        """The entry that is shown."""
        return self.entry(self._entry)

    def select(self, region_id: str) -> None:
        """Select a region; "" for none."""
        wanted = region_id if self.region(region_id) is not None else ""
        if wanted != self._selected:
            self._selected = wanted
            self.selection_changed.emit()

    def select_neighbour(self, step: int, seen_bar: int) -> Region | None:
        """Select the next region in the order of the score, or with -1 the one before.

        Parameters
        ----------
        step
            1 or -1.
        seen_bar
            Index of the bar to begin at if none is selected.
        """
        regions = self.regions()
        if not regions:
            return None
        ids = [region.id for region in regions]
        if self._selected in ids:
            at = ids.index(self._selected) + step
        else:
            later = [
                index
                for index, region in enumerate(regions)
                if region.start is not None and region.start.bar >= seen_bar
            ]
            at = later[0] if later else len(ids)
            at = at if step > 0 else at - 1
        region = regions[min(max(at, 0), len(ids) - 1)]
        self.select(region.id)
        return region

    def choose_entry(self, entry_id: str) -> None:
        """Show an entry; "" for none."""
        wanted = entry_id if self.entry(entry_id) is not None else ""
        if wanted != self._entry:
            self._entry = wanted
            self.entry_chosen.emit()

    # ---- undo --------------------------------------------------------------------------------

    def undo(self) -> None:
        """Take the last step back."""
        if self.history is not None and self.is_editable and self.history.undo_name is not None:
            self.history.undo()
            self._layer_is_another()

    def redo(self) -> None:
        """Do a step again."""
        if self.history is not None and self.is_editable and self.history.redo_name is not None:
            self.history.redo()
            self._layer_is_another()

    def _layer_is_another(self) -> None:
        selected, entry = self._selected, self._entry
        if self.region(selected) is None:
            self._selected = ""
        if self.entry(entry) is None:
            self._entry = ""
        self.layer_changed.emit()
        if self._selected != selected:
            self.selection_changed.emit()
        if self._entry != entry:
            self.entry_chosen.emit()

    def record(self, layer: Layer, name: str) -> None:
        """Take an edited layer as the one that is worked on.

        Parameters
        ----------
        layer
            The layer after the edit.
        name
            What was done, as the menu shall show it.
        """
        if self.history is not None and self.history.record(layer, name):
            self._layer_is_another()
