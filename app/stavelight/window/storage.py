"""Saving as the user sees it: what stands in the way of it, and what can be done then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from stavelight.annotation.layer_file import (
    LAYER_SUFFIX,
    LayerChangedOnDiskError,
    ReadOnlyCause,
    is_layer,
)
from stavelight.errors import StavelightError
from stavelight.window.notices import Notices, Remedy
from stavelight.window.questions import Answer, ask
from stavelight.window.session import Session

_READ_ONLY = "read only"
_Role = QMessageBox.ButtonRole


class Storage(QObject):
    """Saves the layer, and tells where it may not be changed or written.

    Parameters
    ----------
    window
        Over which questions stand.
    session
        What is open.
    notices
        Where things are told.
    hand_over
        Takes over what was typed but not finished yet.
    """

    def __init__(
        self, window: QWidget, session: Session, notices: Notices, hand_over: Callable[[], None]
    ) -> None:
        super().__init__(window)
        self._window = window
        self._session = session
        self._notices = notices
        self._hand_over = hand_over
        self._then: Callable[[], None] | None = None
        self._shown_reason = ""
        self.question: QMessageBox | None = None
        session.save_refused.connect(self._refused)
        session.saved.connect(self._saved)

    def save(self, then: Callable[[], None] | None = None) -> None:
        """Save the layer where it lies, and then do something."""
        self._hand_over()
        self._then = then
        self._session.save(then)

    def save_elsewhere(self) -> None:
        """Ask for another file, and save the layer there."""
        self._hand_over()
        path = self._ask_for_path()
        if path is not None:
            self._session.save(self._then, path=path, overwrite=True)

    def _ask_for_path(self) -> Path | None:
        before = self._session.layer_path
        score_path = self._session.score_path
        if before is None and score_path is not None:
            before = score_path.with_name(score_path.stem + LAYER_SUFFIX)
        chosen, _ = QFileDialog.getSaveFileName(
            self._window,
            "Save layer elsewhere",
            str(before or Path.home()),
            f"Annotation layers (*{LAYER_SUFFIX})",
        )
        if not chosen:
            return None
        path = Path(chosen)
        if not is_layer(path):
            stem = path.name.removesuffix(".json").removesuffix(".layer")
            path = path.with_name(stem + LAYER_SUFFIX)
        return path

    def _saved(self, _: Path) -> None:
        self._then = None

    def _refused(self, error: StavelightError) -> None:
        if isinstance(error, LayerChangedOnDiskError):
            self.question = ask(
                self._window,
                error.what,
                f"{error.where}\nWhat the file holds now would be lost if you overwrite it.",
                (
                    Answer("Save &elsewhere…", self.save_elsewhere, _Role.AcceptRole),
                    Answer("&Overwrite it", self._overwrite, _Role.DestructiveRole),
                    Answer("&Load it, and lose my changes", self._session.reload_layer),
                    Answer("Cancel", self._forget, _Role.RejectRole),
                ),
            )
        else:
            self._notices.tell(error, [Remedy("Save elsewhere…", self.save_elsewhere)])

    def _overwrite(self) -> None:
        self._session.save(self._then, overwrite=True)

    def _forget(self) -> None:
        self._then = None

    # ---- access ------------------------------------------------------------------------------

    def show_access(self) -> None:
        """Say why the layer may not be changed, if so, and what can be done."""
        reason = self._session.read_only_reason
        if reason == self._shown_reason:
            return
        self._shown_reason = reason
        if reason:
            self._notices.keep(_READ_ONLY, reason, self._advice(), self._remedies())
        else:
            self._notices.lift(_READ_ONLY)

    def _advice(self) -> str:
        if self._session.read_only_cause is ReadOnlyCause.WRITE_PROTECTED:
            return "You can go on working, and save in another place."
        if self._session.score is None:
            return ""
        return "You can look at everything, but not change it."

    def _remedies(self) -> list[Remedy]:
        session = self._session
        if session.read_only_cause is ReadOnlyCause.ANOTHER_SCORE:
            return [Remedy("It belongs to this score", session.adopt_layer)]
        if session.read_only_cause is ReadOnlyCause.WRITE_PROTECTED:
            return [Remedy("Save elsewhere…", self.save_elsewhere)]
        if session.score is None:
            return [Remedy("Read them again", session.read_again)]
        if session.read_only_cause is None:
            return [Remedy("Begin a new layer…", self._begin_new)]
        return []

    def _begin_new(self) -> None:
        path = self._ask_for_path()
        if path is None:
            self._shown_reason = ""
            self.show_access()
        else:
            self._session.begin_layer_at(path)
