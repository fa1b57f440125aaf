"""Choose paper, staff size, and which staves are shown."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.engraving.paper import PAPER_SIZES, PageLayout
from stavelight.score.structure import Part, Score
from stavelight.window.appearance import muted

_AS_FITS = 0.0
_PART = Qt.ItemDataRole.UserRole


class PageLayoutDialog(QDialog):
    """Asks how the pages are to be laid out.

    Parameters
    ----------
    layout_now
        The layout in use.
    score
        The score, for the names of its parts; None while its notes are being read.
    """

    def __init__(
        self, layout_now: PageLayout, score: Score | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._before = layout_now
        self.setWindowTitle("Page layout")
        column = QVBoxLayout(self)
        sides = QHBoxLayout()
        sides.setSpacing(18)
        sides.addLayout(self._paper_side(layout_now))
        if score is not None:
            sides.addLayout(self._parts_side(layout_now, score), 1)
        column.addLayout(sides)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        usual = buttons.addButton("As usual", QDialogButtonBox.ButtonRole.ResetRole)
        usual.clicked.connect(lambda: self._show(PageLayout()))
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self._ok = buttons.button(QDialogButtonBox.StandardButton.Ok)
        column.addWidget(buttons)
        self._show(layout_now)

    def _paper_side(self, layout_now: PageLayout) -> QFormLayout:
        form = QFormLayout()
        self.paper = QComboBox()
        self.paper.addItem("Automatic", "automatic")
        for name, (width, height) in PAPER_SIZES.items():
            self.paper.addItem(f"{name} ({width:g} × {height:g} mm)", name)
        self.landscape = QCheckBox("&Long side below")
        self.margin = QDoubleSpinBox()
        self.margin.setRange(5.0, 40.0)
        self.margin.setSuffix(" mm")
        self.staff_height = QDoubleSpinBox()
        self.staff_height.setRange(_AS_FITS, 14.0)
        self.staff_height.setSingleStep(0.5)
        self.staff_height.setDecimals(1)
        self.staff_height.setSuffix(" mm")
        self.staff_height.setSpecialValueText("So that all fits")
        self.edition_breaks = QCheckBox("Break systems and pages where the &edition does")
        self.hide_resting = QCheckBox("&Hide parts that rest throughout a system")
        self.sounding_pitch = QCheckBox("Show all parts at &sounding pitch")
        note = QLabel("Marked staves are never hidden. The first system is always complete.")
        note.setWordWrap(True)
        muted(note)
        form.addRow("&Paper", self.paper)
        form.addRow("", self.landscape)
        form.addRow("&Margin", self.margin)
        form.addRow("Staff &height", self.staff_height)
        for box in (self.edition_breaks, self.hide_resting, self.sounding_pitch):
            form.addRow(box)
        form.addRow(note)
        return form

    def _parts_side(self, layout_now: PageLayout, score: Score) -> QVBoxLayout:
        column = QVBoxLayout()
        label = QLabel("Parts &shown")
        self.parts = QTreeWidget()
        self.parts.setHeaderHidden(True)
        self.parts.setRootIsDecorated(False)
        self.parts.setAccessibleName("Parts shown")
        label.setBuddy(self.parts)
        for part in score.parts:
            item = QTreeWidgetItem([_name(part)])
            item.setData(0, _PART, part.index)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(0, Qt.CheckState.Checked)
            self.parts.addTopLevelItem(item)
        self.parts.itemChanged.connect(lambda *_: self._check())
        row = QHBoxLayout()
        for text, state in (("All", Qt.CheckState.Checked), ("None", Qt.CheckState.Unchecked)):
            button = QPushButton(text)
            button.clicked.connect(lambda _=False, state=state: self._set_all(state))
            row.addWidget(button)
        row.addStretch(1)
        column.addWidget(label)
        column.addWidget(self.parts, 1)
        column.addLayout(row)
        return column

    def _items(self) -> list[QTreeWidgetItem]:
        tree = getattr(self, "parts", None)
        if tree is None:
            return []
        return [tree.topLevelItem(row) for row in range(tree.topLevelItemCount())]

    def _set_all(self, state: Qt.CheckState) -> None:
        for item in self._items():
            item.setCheckState(0, state)

    def _check(self) -> None:
        """Allow going on only while a part is left."""
        items = self._items()
        chosen = any(item.checkState(0) == Qt.CheckState.Checked for item in items)
        self._ok.setEnabled(chosen or not items)

    def _show(self, layout: PageLayout) -> None:
        self.paper.setCurrentIndex(self.paper.findData(layout.paper))
        self.landscape.setChecked(layout.landscape)
        self.margin.setValue(layout.margin)
        self.staff_height.setValue(layout.staff_height or _AS_FITS)
        self.edition_breaks.setChecked(layout.edition_breaks)
        self.hide_resting.setChecked(layout.hide_resting)
        self.sounding_pitch.setChecked(layout.sounding_pitch)
        for item in self._items():
            shown = layout.parts is None or item.data(0, _PART) in layout.parts
            item.setCheckState(0, Qt.CheckState.Checked if shown else Qt.CheckState.Unchecked)

    def chosen(self) -> PageLayout:
        """Return the layout that was chosen."""
        items = self._items()
        shown = tuple(
            int(item.data(0, _PART))
            for item in items
            if item.checkState(0) == Qt.CheckState.Checked
        )
        return replace(
            self._before,
            paper=str(self.paper.currentData()),
            landscape=self.landscape.isChecked(),
            margin=self.margin.value(),
            staff_height=self.staff_height.value() or None,
            edition_breaks=self.edition_breaks.isChecked(),
            hide_resting=self.hide_resting.isChecked(),
            sounding_pitch=self.sounding_pitch.isChecked(),
            parts=shown if items and len(shown) < len(items) else None,
        )


def _name(part: Part) -> str:
    return part.name or part.abbreviation or f"Part {part.index + 1}"
