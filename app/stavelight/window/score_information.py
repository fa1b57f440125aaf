"""What the file says about itself, in one place: titles, parts, and whatever was odd about it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHeaderView,
    QLabel,
    QPlainTextEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from stavelight.score.structure import Part, Score, Transposition
from stavelight.window.appearance import heading_font
from stavelight.window.panel_parts import closing_buttons

_HEADINGS = ("Part", "Short", "Staves", "Sounds", "Notes")
_STEPS = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh")
_STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_QUALITIES = {
    True: {-1: "diminished", 0: "perfect", 1: "augmented"},
    False: {-2: "diminished", -1: "minor", 0: "major", 1: "augmented"},
}
"""Names of intervals by whether a step is perfect (unison, fourth, fifth), and by how many
semitones an interval is larger than in the major scale. Common practice, no source.
"""


def sounding_interval(transposition: Transposition) -> str:
    """Return how a part sounds, in words, such as "a major second lower".

    Parameters
    ----------
    transposition
        From the written to the sounding pitch.
    """
    semitones, steps = abs(transposition.chromatic), abs(transposition.diatonic)
    if semitones == 0:
        return "as written"
    side = "higher" if transposition.chromatic > 0 else "lower"
    octaves, step = divmod(steps, 7)
    surplus = semitones - 12 * octaves - _STEP_SEMITONES[step]
    quality = _QUALITIES[step in (0, 3, 4)].get(surplus)
    octave_words = "an octave" if octaves == 1 else f"{octaves} octaves"
    if quality is None:
        return f"{semitones} semitones {side}"
    if step == 0 and surplus == 0:
        return f"{octave_words} {side}"
    simple = f"{'an' if quality[0] == 'a' else 'a'} {quality} {_STEPS[step]}"
    return f"{octave_words} and {simple} {side}" if octaves else f"{simple} {side}"


class ScoreInformation(QDialog):
    """Shows what is known of a score.

    Parameters
    ----------
    score
        The score.
    """

    def __init__(self, score: Score, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Score information")
        self.resize(640, 620)
        column = QVBoxLayout(self)
        column.setSpacing(10)
        form = QFormLayout()
        form.setHorizontalSpacing(16)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for name, text in self._facts(score):
            value = QLabel(text or "not given")
            value.setWordWrap(True)
            value.setTextFormat(Qt.TextFormat.PlainText)
            value.setTextInteractionFlags(
                Qt.TextInteractionFlag.TextSelectableByMouse
                | Qt.TextInteractionFlag.TextSelectableByKeyboard
            )
            value.setEnabled(bool(text))
            form.addRow(name, value)
        column.addLayout(form)
        column.addWidget(self._heading(f"Parts ({len(score.parts)})"))
        column.addWidget(self._table(score), 1)
        column.addWidget(self._heading("Remarks on the file"))
        self.remarks = QPlainTextEdit("\n".join(score.warnings) or "Nothing odd was found.")
        self.remarks.setReadOnly(True)
        self.remarks.setTabChangesFocus(True)
        self.remarks.setAccessibleName("Remarks on the file")
        self.remarks.setMaximumHeight(120)
        column.addWidget(self.remarks)
        buttons = closing_buttons(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)

    def _heading(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setFont(heading_font(self))
        return label

    def _facts(self, score: Score) -> tuple[tuple[str, str], ...]:
        kind = {"musicxml": "MusicXML", "mei": "MEI"}.get(score.file_format, score.file_format)
        extent = f"{len(score.bars)} bars, {len(score.staves)} staves, {len(score.notes)} notes"
        return (
            ("Title", " – ".join(text for text in (score.title, score.subtitle) if text)),
            ("Composer", score.composer),
            ("Edition", score.credit),
            ("Extent", extent),
            ("File", str(score.path)),
            ("Format", kind),
            ("SHA-256", score.sha256),
        )

    def _table(self, score: Score) -> QTableWidget:
        table = QTableWidget(len(score.parts), len(_HEADINGS))
        table.setHorizontalHeaderLabels(list(_HEADINGS))
        table.verticalHeader().hide()
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setTabKeyNavigation(False)
        table.setAccessibleName("Parts")
        for row, part in enumerate(score.parts):
            for at, text in enumerate(_row(score, part)):
                item = QTableWidgetItem(text)
                if at in (2, 4):
                    item.setTextAlignment(
                        Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    )
                table.setItem(row, at, item)
        table.resizeColumnsToContents()
        table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        return table


def _row(score: Score, part: Part) -> tuple[str, ...]:
    staves = score.notes.rows["staff"]
    inside = (staves >= part.first_staff) & (staves < part.first_staff + part.staff_count)
    return (
        part.name or f"Part {part.index + 1}",
        part.abbreviation,
        str(part.staff_count),
        sounding_interval(part.transposition),
        str(int(inside.sum())),
    )
