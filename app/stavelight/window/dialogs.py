"""The dialogs of the window: what they ask, and what follows from the answers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QInputDialog,
    QMessageBox,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

import stavelight
from stavelight.annotation.layer_file import LAYER_SUFFIX, SCORE_SUFFIXES
from stavelight.errors import StavelightError
from stavelight.resource_files import sample_projects_folder
from stavelight.window.actions import MENUS
from stavelight.window.background import Background
from stavelight.window.export_dialog import ExportDialog, ExportMatter
from stavelight.window.go_to_dialog import GoToDialog
from stavelight.window.panel_parts import closing_buttons
from stavelight.window.score_information import ScoreInformation
from stavelight.window.score_view import ScoreView
from stavelight.window.session import Session

AUTHOR = "author/name"
"""The key of the user's name among the settings."""

_GESTURES = (
    ("Drag over the page", "Mark a region, by beats"),
    ("Shift while dragging", "By whole bars"),
    ("Ctrl while dragging", "By parts of a beat"),
    ("Click", "Select the smallest region there; again: the next one there"),
    ("Drag an edge of the selected region", "Move that edge"),
    ("Drag within the selected region", "Move it in time"),
    ("Wheel, and with Ctrl", "Scroll, and zoom"),
    ("Tab, Shift+Tab", "The next or last region on the page"),
    ("Shift+arrows", "Move the region's end, or its lowest staff"),
    ("Ctrl+Shift+arrows", "Move its beginning, or its uppermost staff"),
    ("Ctrl+Right, Ctrl+Left", "Move the whole region by a beat"),
    ("Insert, then arrows, Enter", "Draw a region with the keyboard"),
    ("PageDown, PageUp, Home, End", "Through the score"),
    ("Any letter, on a selected region", "Begin to type a tag"),
)


class Dialogs(QObject):
    """Opens dialogs over a window.

    Parameters
    ----------
    window
        The window.
    session
        What is open.
    background
        Where slow work goes.
    view
        The page.
    """

    def __init__(
        self, window: QWidget, session: Session, background: Background, view: ScoreView
    ) -> None:
        super().__init__(window)
        self._window = window
        self._session = session
        self._background = background
        self._view = view
        self.shown: QDialog | None = None

    def _show(self, dialog: QDialog) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setWindowModality(Qt.WindowModality.WindowModal)
        dialog.destroyed.connect(self._forget)
        self.shown = dialog
        dialog.show()

    def _forget(self) -> None:
        self.shown = None

    # ---- opening -----------------------------------------------------------------------------

    def ask_for_score(self, then: Callable[[Path], None]) -> None:
        """Ask for a score or a layer."""
        scores = " ".join(f"*{suffix}" for suffix in SCORE_SUFFIXES)
        here = self._session.score_path
        chosen, _ = QFileDialog.getOpenFileName(
            self._window,
            "Open score",
            str(here.parent if here is not None else Path.home()),
            f"Scores and layers ({scores} *{LAYER_SUFFIX});;All files (*)",
        )
        if chosen:
            then(Path(chosen))

    def ask_for_folder(self, then: Callable[[Path], None]) -> None:
        """Ask for a project folder."""
        here = self._session.score_path
        start = here.parent.parent if here is not None else Path.home()
        chosen = QFileDialog.getExistingDirectory(self._window, "Open project folder", str(start))
        if chosen:
            then(Path(chosen))

    def find_sample(
        self, then: Callable[[Path], None], otherwise: Callable[[StavelightError], object]
    ) -> None:
        """Open the sample project, if it is installed."""
        folder = sample_project()
        if folder is not None:
            then(folder)
        else:
            otherwise(
                StavelightError(
                    "There is no sample project in this installation.",
                    where=str(sample_projects_folder()),
                    remedy="Install the program again, or open a score of your own.",
                )
            )

    # ---- the score ---------------------------------------------------------------------------

    def ask_for_place(self) -> None:
        """Ask for a bar or a rehearsal mark, and go there."""
        score = self._session.score
        if score is not None:
            dialog = GoToDialog(score, self._page_of_bar, self._window)
            dialog.place_chosen.connect(self._view.go_to_bar)
            self._show(dialog)

    def _page_of_bar(self, bar: int) -> int | None:
        engraved = self._session.engraved
        if engraved is None or not engraved.plan.done() or engraved.plan.cancelled():
            return None
        if engraved.plan.exception() is not None:
            return None
        return engraved.plan.result().page_of_bar(bar)

    def bars_of_pages(self, first: int, last: int) -> str:
        """Return the printed numbers of the bars on some pages, as far as they are known."""
        engraved, score = self._session.engraved, self._session.score
        if engraved is None or score is None or not engraved.plan.done():
            return ""
        if engraved.plan.cancelled() or engraved.plan.exception() is not None:
            return ""
        pages = engraved.plan.result().pages
        if not 1 <= first <= last <= len(pages):
            return ""
        start, stop = pages[first - 1].bars.start, pages[last - 1].bars.stop - 1
        one, other = score.bars[start].printed_number, score.bars[stop].printed_number
        return f"b. {one}" if start == stop else f"bb. {one}-{other}"

    def show_information(self) -> None:
        """Show what is known of the score."""
        if self._session.score is not None:
            self._show(ScoreInformation(self._session.score, self._window))

    def show_export(self) -> None:
        """Ask which slides to make."""
        session, desk = self._session, self._session.desk
        if session.score is None or session.engraved is None or desk.layer is None:
            return
        matter = ExportMatter(session.score, desk.layer, desk.vocabulary, session.engraved)
        self._show(ExportDialog(matter, self._background, self._window))

    # ---- the user and the program ------------------------------------------------------------

    def ask_for_name(self, settings: QSettings) -> None:
        """Ask who is working, for what is made from now on."""
        dialog = QInputDialog(self._window)
        dialog.setWindowTitle("Your name")
        dialog.setLabelText("Written into the regions and entries that you make from now on:")
        dialog.setTextValue(self._session.desk.author)
        dialog.textValueSelected.connect(lambda name: self._set_name(settings, name))
        self._show(dialog)

    def _set_name(self, settings: QSettings, name: str) -> None:
        self._session.desk.author = name.strip()
        settings.setValue(AUTHOR, name.strip())

    def show_keys(self) -> None:
        """Show all keys and gestures."""
        dialog = QDialog(self._window)
        dialog.setWindowTitle("Keys and gestures")
        dialog.resize(620, 640)
        text = QTextBrowser()
        text.setAccessibleName("Keys and gestures")
        text.setHtml(_keys_text())
        buttons = closing_buttons(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(dialog.reject)
        column = QVBoxLayout(dialog)
        column.addWidget(text)
        column.addWidget(buttons)
        self._show(dialog)

    def show_about(self) -> None:
        """Show what the program is."""
        box = QMessageBox(self._window)
        box.setWindowTitle("About Stavelight")
        box.setText(f"Stavelight {stavelight.__version__}")
        box.setInformativeText(
            "A workstation for teaching and researching orchestration from full scores.\n\n"
            "The score file is never changed: what you add lies in a layer file beside it."
        )
        self._show(box)


def sample_project() -> Path | None:
    """Return the folder of the first sample project, or None if there is none."""
    folder = sample_projects_folder()
    if not folder.is_dir():
        return None
    return next((path for path in sorted(folder.iterdir()) if path.is_dir()), None)


def _keys_text() -> str:
    """Return all keys and gestures as HTML."""
    rows = ["<h3>On the page</h3><table cellpadding='3'>"]
    rows += [f"<tr><td><b>{keys}</b></td><td>{what}</td></tr>" for keys, what in _GESTURES]
    rows.append("</table>")
    for title, entries in MENUS.items():
        lines = []
        for entry in entries:
            keys = entry.keys
            if keys is None:
                continue
            sequence = QKeySequence(keys).toString(QKeySequence.SequenceFormat.NativeText)
            if sequence:
                name = entry.text.replace("&", "").rstrip("…")
                lines.append(f"<tr><td><b>{sequence}</b></td><td>{name}</td></tr>")
        if lines:
            heading = title.replace("&", "")
            rows.append(f"<h3>{heading}</h3><table cellpadding='3'>{''.join(lines)}</table>")
    return "".join(rows)
