"""The panel of regions: all of them in the order of the score, or the one that is selected."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal, SignalInstance
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QButtonGroup,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QStackedWidget,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.annotation.palette import HATCHES, REGION_COLOURS
from stavelight.annotation.region import Region
from stavelight.window.appearance import CHOICE_STYLE, heading_font, muted
from stavelight.window.panel_parts import Hint, Panel, ProseField, plain_list
from stavelight.window.region_look import area_style
from stavelight.window.swatches import SwatchRow
from stavelight.window.tag_picker import TagOffer, TagPicker

NO_SCORE = "Open a score to begin."
NO_REGIONS = "Drag over bars and staves to mark a region."

_CERTAINTIES = (
    ("sure", "Sure", "You would publish it."),
    ("likely", "Likely", "You think so, and others may see it differently."),
    ("open", "Open", "A question, to be looked at again."),
)


@dataclass(frozen=True, slots=True)
class RegionLine:
    """A region in the list of all.

    Attributes
    ----------
    id
        Of the region.
    icon
        Its colour and pattern.
    name
        Its label, or its tags.
    short_bars
        Its first and last bar.
    bars, staves
        Where it lies, as text.
    """

    id: str
    icon: QIcon
    name: str
    short_bars: str
    bars: str
    staves: str


class RegionPanel(Panel):
    """Shows regions, and says what the user wants to be different about the selected one.

    Parameters
    ----------
    search_tags
        See `TagPicker`.

    Signals
    -------
    region_picked
        A region of the list was clicked, or "" for none.
    label_edited, memo_edited
        (id of the region, another text); also when another region is shown already.
    colour_chosen, pattern_chosen, certainty_chosen
        (id of the region, id of what was chosen).
    tag_added, tag_removed
        (id of the region, id of a tag).
    delete_wanted
        The region that is shown shall go.
    finished
        The user goes back to the page.
    """

    region_picked = Signal(str)
    label_edited = Signal(str, str)
    memo_edited = Signal(str, str)
    colour_chosen = Signal(str, str)
    pattern_chosen = Signal(str, str)
    certainty_chosen = Signal(str, str)
    tag_added = Signal(str, str)
    tag_removed = Signal(str, str)
    delete_wanted = Signal()
    finished = Signal()

    def __init__(
        self, search_tags: Callable[[str], Sequence[TagOffer]], parent: QWidget | None = None
    ) -> None:
        super().__init__("Regions", parent)
        self._region: Region | None = None
        self.tags = TagPicker(search_tags)
        self.all_button = QToolButton()
        self.all_button.setAutoRaise(True)
        self.all_button.setText("All regions")
        self.all_button.setToolTip("Select nothing and show the list of all regions")
        self.all_button.clicked.connect(lambda: self.region_picked.emit(""))
        self.delete_button = QToolButton()
        self.delete_button.setAutoRaise(True)
        self.delete_button.setText("Delete")
        self.delete_button.setToolTip("Delete the selected region")
        self.delete_button.clicked.connect(self.delete_wanted)
        self.head.addWidget(self.delete_button)
        self.head.addWidget(self.all_button)
        self._pages = QStackedWidget()
        self.column.addWidget(self._pages, 1)
        self.hint = Hint(NO_SCORE)
        self.list = self._make_list()
        for page in (self.hint, self.list, self._make_details()):
            self._pages.addWidget(page)
        self._tell_of_region(self.tags.added, self.tag_added)
        self._tell_of_region(self.tags.removed, self.tag_removed)
        self.tags.finished.connect(self.finished)
        self.show_region(None, "", "", ())

    def _make_list(self) -> QTreeWidget:
        regions = plain_list("All regions, in the order of the score", 2, 0, narrow=1)
        regions.itemClicked.connect(self._pick)
        regions.itemActivated.connect(self._pick)
        return regions

    def _make_details(self) -> QScrollArea:
        self.bars = QLabel()
        self.bars.setFont(heading_font(self))
        self.staves = QLabel()
        self.staves.setWordWrap(True)
        self.label = QLineEdit()
        self.label.setPlaceholderText("A name of your own")
        self.label.editingFinished.connect(self._hand_over_label)
        self.label.returnPressed.connect(self.finished)
        self.colours = SwatchRow("Colour", [(one.id, one.name) for one in REGION_COLOURS])
        self._tell_of_region(self.colours.chosen, self.colour_chosen)
        self.patterns = SwatchRow("Pattern", [(one.id, one.name) for one in HATCHES])
        self._tell_of_region(self.patterns.chosen, self.pattern_chosen)
        self.memo = ProseField("Memo", "For yourself; not part of the commentary")
        self.memo.setFixedHeight(self.fontMetrics().lineSpacing() * 3 + 14)
        self._tell_of_region(self.memo.finished, self.memo_edited)
        self.origin = QLabel()
        self.origin.setWordWrap(True)
        muted(self.origin)
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(8)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        form.addRow("Tags", self.tags)
        form.addRow("Label", self.label)
        form.addRow("Colour", self.colours)
        form.addRow("Pattern", self.patterns)
        form.addRow("Certainty", self._make_certainty())
        form.addRow("Memo", self.memo)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(2)
        column.addWidget(self.bars)
        column.addWidget(self.staves)
        column.addSpacing(8)
        column.addLayout(form)
        column.addSpacing(4)
        column.addWidget(self.origin)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inside)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setMinimumWidth(inside.minimumSizeHint().width())
        return scroll

    def _make_certainty(self) -> QWidget:
        self._certainty = QButtonGroup(self)
        row = QWidget()
        row.setStyleSheet(CHOICE_STYLE)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2)
        for index, (_, readable, meaning) in enumerate(_CERTAINTIES):
            button = QToolButton()
            button.setText(readable)
            button.setToolTip(meaning)
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.setAccessibleName(f"Certainty: {readable}")
            self._certainty.addButton(button, index)
            line.addWidget(button)
        line.addStretch(1)
        self._certainty.idClicked.connect(
            lambda index: self.certainty_chosen.emit(self._region_id(), _CERTAINTIES[index][0])
        )
        return row

    def set_editable(self, editable: bool) -> None:
        """Allow changes, or forbid them."""
        self.tags.set_editable(editable)
        self.label.setReadOnly(not editable)
        self.memo.setReadOnly(not editable)
        for widget in (self.colours, self.patterns, self.delete_button):
            widget.setEnabled(editable)
        for button in self._certainty.buttons():
            button.setEnabled(editable)

    def show_list(self, lines: Sequence[RegionLine], *, has_score: bool) -> None:
        """Show all regions, for when none is selected."""
        self.list.clear()
        for line in lines:
            item = QTreeWidgetItem([line.name, line.short_bars])
            item.setIcon(0, line.icon)
            for column in range(2):
                item.setToolTip(column, f"{line.name}\n{line.bars}, {line.staves}")
            item.setForeground(1, self.palette().placeholderText())
            item.setData(0, Qt.ItemDataRole.UserRole, line.id)
            self.list.addTopLevelItem(item)
        self.hint.setText(NO_REGIONS if has_score else NO_SCORE)
        self._choose_page()

    def show_region(
        self, region: Region | None, bars: str, staves: str, tags: Sequence[TagOffer]
    ) -> None:
        """Show one region, or none.

        Parameters
        ----------
        region
            The region.
        bars, staves
            Where it lies, as text.
        tags
            Its tags.
        """
        if self._region is not None and (region is None or region.id != self._region.id):
            self.hand_over()
        is_same = region is not None and self._region_id() == region.id
        self._region = region
        self._choose_page()
        if region is None:
            return
        self.bars.setText(bars)
        self.staves.setText(staves)
        self.tags.show_tags(tags)
        if not (is_same and self.label.isModified()):
            self.label.setText(region.label)
        if not (is_same and self.memo.is_pending):
            self.memo.show_text(region.memo)
        self.colours.paint_as([area_style(one.id, one.pattern) for one in REGION_COLOURS])
        self.colours.show_choice(region.colour)
        self.patterns.paint_as([area_style(region.colour, one.id) for one in HATCHES])
        self.patterns.show_choice(region.pattern)
        for index, (value, _, _) in enumerate(_CERTAINTIES):
            self._certainty.button(index).setChecked(value == region.certainty)
        made = f"{region.created[:10]}" if region.created else ""
        by = f" by {region.author}" if region.author else ""
        self.origin.setText(f"Made {made}{by}".strip() if made or by else "")

    def hand_over(self) -> None:
        """Hand over what was typed but not finished yet."""
        self._hand_over_label()
        self.memo.hand_over()

    def _hand_over_label(self) -> None:
        if self.label.isModified() and self._region is not None:
            self.label.setModified(False)
            self.label_edited.emit(self._region.id, self.label.text().strip())

    def _region_id(self) -> str:
        return self._region.id if self._region is not None else ""

    def _tell_of_region(self, heard: SignalInstance, told: SignalInstance) -> None:
        """Pass a value on, with the id of the region that is shown."""
        heard.connect(lambda value: told.emit(self._region_id(), value))

    def _choose_page(self) -> None:
        selected = self._region is not None
        self.title.setText("Selected region" if selected else "Regions")
        self.all_button.setVisible(selected)
        self.delete_button.setVisible(selected)
        if selected:
            self._pages.setCurrentIndex(2)
        else:
            self._pages.setCurrentIndex(1 if self.list.topLevelItemCount() else 0)

    def _pick(self, item: QTreeWidgetItem) -> None:
        self.region_picked.emit(str(item.data(0, Qt.ItemDataRole.UserRole)))
