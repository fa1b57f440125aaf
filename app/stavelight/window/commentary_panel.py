"""The panel of commentary: all entries in the order of the score or of the recording, and one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.annotation.commentary import Entry
from stavelight.errors import StavelightError
from stavelight.window.about_field import AboutField
from stavelight.window.panel_parts import Hint, Panel, ProseField, plain_list
from stavelight.window.time_field import TimeField

NO_ENTRIES = "Write about a region, some bars or the whole score: press Add."

ORDERS = (("score", "In score order"), ("time", "In time order"))
"""In which order entries are listed."""


@dataclass(frozen=True, slots=True)
class EntryLine:
    """An entry in the list.

    Attributes
    ----------
    id
        Of the entry.
    time
        Where it belongs on the recording, as text, or "".
    heading
        Its title, or its first words.
    place
        The bars that it is about, as text.
    """

    id: str
    time: str
    heading: str
    place: str


class CommentaryPanel(Panel):
    """Lists entries, shows one, and says what the user wants to be different about it.

    Signals
    -------
    add_wanted
        A new entry shall be begun.
    delete_wanted
        The entry of this id shall go.
    entry_picked
        The entry of this id shall be shown, with its place in the score.
    order_chosen
        ``score`` or ``time``.
    title_edited, text_edited
        (id of the entry, another text).
    about_typed
        (id of the entry, text): it shall be about what the text says.
    times_edited
        (id of the entry, start in seconds or None, end in seconds or None).
    """

    add_wanted = Signal()
    delete_wanted = Signal(str)
    entry_picked = Signal(str)
    order_chosen = Signal(str)
    title_edited = Signal(str, str)
    text_edited = Signal(str, str)
    about_typed = Signal(str, str)
    times_edited = Signal(str, object, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Commentary", parent)
        self._entry: Entry | None = None
        self.order = QComboBox()
        self.order.setAccessibleName("Order of the entries")
        for value, text in ORDERS:
            self.order.addItem(text, value)
        self.order.activated.connect(lambda at: self.order_chosen.emit(ORDERS[at][0]))
        self.add_button = QToolButton()
        self.add_button.setText("Add")
        self.add_button.setToolTip("Write about the selected region, or about the whole score")
        self.add_button.clicked.connect(self.add_wanted)
        self.head.addWidget(self.order)
        self.head.addWidget(self.add_button)
        self.hint = Hint(NO_ENTRIES)
        self.list = self._make_list()
        self.column.addWidget(self.hint)
        self.column.addWidget(self.list, 2)
        self.editor = self._make_editor()
        self.column.addWidget(self.editor, 3)
        self.column.addStretch(0)
        self.show_entries(())
        self.show_entry(None, "", ())

    def _make_list(self) -> QTreeWidget:
        entries = plain_list("Commentary entries", 3, 1, narrow=2)
        entries.setMinimumHeight(self.fontMetrics().lineSpacing() * 4)
        entries.itemClicked.connect(self._pick)
        entries.itemActivated.connect(self._pick)
        return entries

    def _make_editor(self) -> QWidget:
        self.about = AboutField()
        self.about.finished.connect(lambda text: self.about_typed.emit(self._entry_id(), text))
        self.heading = QLineEdit()
        self.heading.setPlaceholderText("Heading")
        self.heading.setAccessibleName("Heading of the entry")
        self.heading.editingFinished.connect(self._hand_over_heading)
        self.text = ProseField("Text of the entry", "Text; *emphasis*, **strong**, - lists")
        self.text.setMinimumHeight(self.fontMetrics().lineSpacing() * 3 + 14)
        self.text.finished.connect(lambda text: self.text_edited.emit(self._entry_id(), text))
        self.start = TimeField("Start")
        self.end = TimeField("End")
        for field in (self.start, self.end):
            field.finished.connect(lambda _: self._hand_over_times())
            field.refused.connect(self.show_fault)
        self.delete_button = QToolButton()
        self.delete_button.setAutoRaise(True)
        self.delete_button.setText("Delete")
        self.delete_button.setToolTip("Delete this entry")
        self.delete_button.clicked.connect(lambda: self.delete_wanted.emit(self._entry_id()))
        self.fault = QLabel()
        self.fault.setWordWrap(True)
        self.fault.hide()
        times = QHBoxLayout()
        times.setSpacing(6)
        times.addWidget(self.start)
        times.addWidget(QLabel("to"))
        times.addWidget(self.end)
        times.addStretch(1)
        times.addWidget(self.delete_button)
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(6)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.addRow("About", self.about)
        form.addRow("Heading", self.heading)
        editor = QWidget()
        column = QVBoxLayout(editor)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(form)
        column.addWidget(self.text, 1)
        column.addLayout(times)
        column.addWidget(self.fault)
        return editor

    def set_editable(self, editable: bool) -> None:
        """Allow changes, or forbid them."""
        self.add_button.setEnabled(editable)
        self.delete_button.setEnabled(editable)
        self.about.setEnabled(editable)
        for field in (self.heading, self.text, self.start, self.end):
            field.setReadOnly(not editable)

    def show_entries(self, lines: Sequence[EntryLine]) -> None:
        """Show the list of entries."""
        self.list.clear()
        for line in lines:
            item = QTreeWidgetItem([line.time, line.heading, line.place])
            item.setForeground(0, self.palette().placeholderText())
            item.setForeground(2, self.palette().placeholderText())
            item.setToolTip(1, line.heading)
            item.setData(0, Qt.ItemDataRole.UserRole, line.id)
            self.list.addTopLevelItem(item)
        self.hint.setVisible(not lines)
        self.list.setVisible(bool(lines))
        self.order.setVisible(len(lines) > 1)
        self._mark_current()

    def show_entry(self, entry: Entry | None, about: str, choices: Sequence[str]) -> None:
        """Show one entry, or none.

        Parameters
        ----------
        entry
            The entry.
        about
            What it is about, as text.
        choices
            What it may be about, as texts.
        """
        if self._entry is not None and (entry is None or entry.id != self._entry.id):
            self.hand_over()
        is_same = entry is not None and self._entry is not None and entry.id == self._entry.id
        self._entry = entry
        self.editor.setVisible(entry is not None)
        self._mark_current()
        if entry is None:
            return
        self.about.show_about(about, choices)
        if not (is_same and self.heading.isModified()):
            self.heading.setText(entry.title)
        if not (is_same and self.text.is_pending):
            self.text.show_text(entry.text)
        for field, seconds in ((self.start, entry.start_seconds), (self.end, entry.end_seconds)):
            if not (is_same and field.isModified()):
                field.show_time(seconds)

    def show_fault(self, error: StavelightError | None) -> None:
        """Say beside the fields what cannot be read there; None: all can."""
        self.fault.setText(f"{error.what} {error.remedy}" if error is not None else "")
        self.fault.setVisible(error is not None)

    def start_writing(self) -> None:
        """Give the keyboard to the text."""
        self.text.setFocus(Qt.FocusReason.OtherFocusReason)

    def hand_over(self) -> None:
        """Hand over what was typed but not finished yet."""
        if self._entry is None:
            return
        self.about.hand_over()
        self._hand_over_heading()
        self.text.hand_over()
        self.start.hand_over()
        self.end.hand_over()

    def _entry_id(self) -> str:
        return self._entry.id if self._entry is not None else ""

    def _hand_over_heading(self) -> None:
        if self.heading.isModified() and self._entry is not None:
            self.heading.setModified(False)
            self.title_edited.emit(self._entry.id, self.heading.text().strip())

    def _hand_over_times(self) -> None:
        if self._entry is not None:
            self.times_edited.emit(self._entry.id, self.start.seconds, self.end.seconds)

    def _mark_current(self) -> None:
        wanted = self._entry_id()
        self.list.clearSelection()
        for row in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(row)
            if item is not None and item.data(0, Qt.ItemDataRole.UserRole) == wanted:
                self.list.setCurrentItem(item)
                self.list.scrollToItem(item)

    def _pick(self, item: QTreeWidgetItem) -> None:
        self.entry_picked.emit(str(item.data(0, Qt.ItemDataRole.UserRole)))
