"""Ask which slides to make, make them elsewhere, and show how far that is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from stavelight.annotation.layer import Layer
from stavelight.annotation.tags import Vocabulary
from stavelight.delivery.slide_model import SlideOptions
from stavelight.delivery.slides import export_slides
from stavelight.engraving.engraver import EngravedScore
from stavelight.errors import StavelightError
from stavelight.score.structure import Score
from stavelight.window.appearance import muted
from stavelight.window.background import Background, Request
from stavelight.window.panel_parts import closing_buttons

EXPORTING = "exporting"

FORMATS = (
    (".pptx", "&Presentation, regions stay editable (.pptx)"),
    (".pdf", "P&DF, sharp at any size (.pdf)"),
    ("", "Pi&ctures, 1920 pixels wide (a folder of PNG files)"),
)
"""Suffixes and what the user reads; no suffix is a folder."""


@dataclass(frozen=True, slots=True)
class ExportMatter:
    """What slides are made of; see `stavelight.delivery.slides.export_slides`."""

    score: Score
    layer: Layer
    vocabulary: Vocabulary
    engraved: EngravedScore


class ExportDialog(QDialog):
    """Asks for format, place and options, and has the slides made.

    Parameters
    ----------
    matter
        What slides are made of.
    background
        Where they are made.
    """

    def __init__(
        self, matter: ExportMatter, background: Background, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._matter = matter
        self._background = background
        self._request: Request | None = None
        self._written: Path | None = None
        self.setWindowTitle("Export slides")
        self.setMinimumWidth(520)
        column = QVBoxLayout(self)
        column.setSpacing(12)
        self._choices = QWidget()
        column.addWidget(self._choices)
        self._lay_out_choices()
        self.outcome = QLabel()
        self.outcome.setWordWrap(True)
        self.outcome.setTextFormat(Qt.TextFormat.PlainText)
        self.outcome.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.outcome.hide()
        self._progress = QProgressBar()
        self._progress.setTextVisible(False)
        self._progress.setFixedHeight(8)
        self._progress.hide()
        column.addWidget(self._progress)
        column.addWidget(self.outcome)
        column.addStretch(1)
        self._buttons = closing_buttons(QDialogButtonBox.StandardButton.Close)
        self.export_button = QPushButton("&Export")
        self.show_button = QPushButton("&Show the result")
        self.show_button.hide()
        self._buttons.addButton(self.export_button, QDialogButtonBox.ButtonRole.ActionRole)
        self._buttons.addButton(self.show_button, QDialogButtonBox.ButtonRole.ActionRole)
        column.addWidget(self._buttons)
        self.export_button.setDefault(True)
        self.export_button.clicked.connect(self.begin)
        self.show_button.clicked.connect(self._show_result)
        self._buttons.rejected.connect(self.reject)
        background.progressed.connect(self._show_progress)
        self._suggest()

    def _lay_out_choices(self) -> None:
        self.formats = QButtonGroup(self)
        kinds = QVBoxLayout()
        kinds.setSpacing(4)
        for index, (_, text) in enumerate(FORMATS):
            button = QRadioButton(text)
            self.formats.addButton(button, index)
            kinds.addWidget(button)
        self.formats.button(0).setChecked(True)
        self.formats.idClicked.connect(lambda _: self._suggest())
        self.output = QLineEdit()
        self.output.setAccessibleName("Where to")
        self.output.textChanged.connect(lambda _: self._forget_outcome())
        browse = QPushButton("&Browse…")
        browse.clicked.connect(self._browse)
        place = QHBoxLayout()
        place.addWidget(self.output, 1)
        place.addWidget(browse)
        self.all_parts = QCheckBox("&All parts that play, not only those of the region")
        self.other_regions = QCheckBox("Other &regions in the same bars, too")
        self.other_regions.setChecked(True)
        self.sounding = QCheckBox("Notes at &sounding pitch")
        options = QVBoxLayout()
        options.setSpacing(4)
        for box in (self.all_parts, self.other_regions, self.sounding):
            options.addWidget(box)
        hint = QLabel("A title slide, then one for each commentary entry or region, in the order "
                      "of the score.")  # fmt: skip
        hint.setWordWrap(True)
        muted(hint)
        form = QFormLayout(self._choices)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(16)
        form.setVerticalSpacing(12)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.addRow(hint)
        form.addRow("Format", kinds)
        form.addRow("Where to", place)
        form.addRow("Show", options)

    @property
    def _suffix(self) -> str:
        return FORMATS[self.formats.checkedId()][0]

    @property
    def path(self) -> Path:
        """Where the slides go."""
        return Path(self.output.text().strip()).expanduser()

    @property
    def is_working(self) -> bool:
        """Whether slides are being made."""
        return self._request is not None

    def _suggest(self) -> None:
        """Put a likely path into the line: what was typed, with the suffix of the format."""
        typed = self.output.text().strip()
        score_path = self._matter.score.path
        before = Path(typed) if typed else score_path.with_name(f"{score_path.stem} slides")
        stem = before.with_suffix("") if before.suffix in (".pptx", ".pdf") else before
        self.output.setText(str(stem) + self._suffix)

    def _browse(self) -> None:
        if self._suffix:
            kind = f"Slides (*{self._suffix})"
            chosen, _ = QFileDialog.getSaveFileName(self, "Export slides", str(self.path), kind)
        else:
            chosen = QFileDialog.getExistingDirectory(
                self, "Folder for the pictures", str(self.path.parent)
            )
        if chosen:
            path = Path(chosen)
            if self._suffix and path.suffix.lower() != self._suffix:
                path = path.with_name(path.name + self._suffix)
            self.output.setText(str(path))

    def begin(self) -> None:
        """Have the slides made; while they are being made, stop that."""
        if self.is_working:
            self._stop("Stopped; nothing was written.")
            return
        if not self.output.text().strip():
            self._tell("Give a name for the slides.")
            return
        matter, output = self._matter, self.path
        options = SlideOptions(
            all_parts=self.all_parts.isChecked(),
            other_regions=self.other_regions.isChecked(),
            sounding_pitch=self.sounding.isChecked(),
        )

        def make(request: Request) -> int:
            return export_slides(
                matter.score,
                matter.layer,
                matter.vocabulary,
                matter.engraved,
                output,
                lambda done, count: request.report(done / max(count, 1)),
                lambda: request.is_cancelled,
                options,
            )

        self._written = None
        self._request = self._background.in_thread(EXPORTING, make, self._made, self._failed)
        self._show_working()

    def _show_working(self) -> None:
        working = self.is_working
        self._choices.setEnabled(not working)
        self._progress.setRange(0, 1000)
        self._progress.setValue(0)
        self._progress.setVisible(working)
        self.export_button.setText("&Stop" if working else "&Export")
        self.show_button.setVisible(self._written is not None)
        if working:
            self._tell("Engraving the excerpts…")

    def _show_progress(self, channel: str, fraction: float, _: str) -> None:
        if channel == EXPORTING and self.is_working:
            self._progress.setValue(int(fraction * 1000))

    def _made(self, count: int) -> None:
        self._request = None
        self._written = self.path
        self._show_working()
        self._tell(f"{count} slides were written to {self.path}.")
        self.show_button.setFocus()

    def _failed(self, error: StavelightError) -> None:
        self._request = None
        self._show_working()
        self._tell("\n".join(text for text in (error.what, error.where, error.remedy) if text))

    def _stop(self, text: str) -> None:
        self._background.drop(EXPORTING)
        self._request = None
        self._show_working()
        self._tell(text)

    def _tell(self, text: str) -> None:
        self.outcome.setText(text)
        self.outcome.setVisible(bool(text))

    def _forget_outcome(self) -> None:
        self._written = None
        self.show_button.hide()
        self._tell("")

    def _show_result(self) -> None:
        if self._written is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._written)))

    def reject(self) -> None:
        """Close; what is being made is stopped."""
        if self.is_working:
            self._stop("")
        super().reject()
