"""What is open: a score, its pages, its notes and its layer; how they come and how they are saved.

A score opens in steps, each of them done elsewhere: find the project, engrave the first page, read
the notes (in a process of its own), match the layer. Until the first page is there, whatever was
open before stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from stavelight.annotation import editing
from stavelight.annotation.layer import Layer, new_layer
from stavelight.annotation.layer_file import (
    LoadedLayer,
    ReadOnlyCause,
    load_layer,
    save_layer,
)
from stavelight.annotation.project import Project, find_project
from stavelight.engraving.engraver import EngravedScore, Engraver
from stavelight.engraving.page_maker import EngravedPage
from stavelight.engraving.page_plan import ScorePlan
from stavelight.engraving.paper import PageLayout
from stavelight.errors import LayerFileError, StavelightError
from stavelight.score.reading import read_score
from stavelight.score.structure import Score
from stavelight.window.background import Background, Request
from stavelight.window.layer_desk import LayerDesk
from stavelight.window.recent import LayersElsewhere

_OPENING = ("project", "first page", "reading", "layer")
_SAVING = "saving"


@dataclass(slots=True)
class _Opened:
    """A score that is open, or is being opened."""

    project: Project
    engraved: EngravedScore
    score: Score | None = None


class Session(QObject):
    """The open project.

    Parameters
    ----------
    background
        Where slow work goes.
    engraver
        Who makes pages.
    elsewhere
        Where layers lie that are not beside their scores.

    Attributes
    ----------
    desk
        The layer, its selection and its history.

    Signals
    -------
    pages_opened
        (EngravedScore) Another score is open: its first page is there, its notes are not.
    score_read
        (Score) Its notes are there, too.
    pages_laid_out
        (EngravedScore) The same score has pages in another layout.
    closed
        No score is open.
    failed
        (StavelightError) Something could not be opened or read.
    activity_changed
        A text on what is going on, or "".
    access_changed
        `read_only_reason` is another one.
    saved
        (Path) The layer was written.
    save_refused
        (StavelightError) The layer could not be written.
    """

    pages_opened = Signal(object)
    score_read = Signal(object)
    pages_laid_out = Signal(object)
    closed = Signal()
    failed = Signal(object)
    activity_changed = Signal(str)
    access_changed = Signal()
    saved = Signal(object)
    save_refused = Signal(object)

    def __init__(
        self,
        background: Background,
        engraver: Engraver,
        elsewhere: LayersElsewhere,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._background = background
        self._engraver = engraver
        self._elsewhere = elsewhere
        self.desk = LayerDesk(self)
        self._now: _Opened | None = None
        self._coming: _Opened | None = None
        self._loaded: LoadedLayer | None = None
        self._layer_path: Path | None = None
        self._reason = ""
        self._cause: ReadOnlyCause | None = None
        self._save_again: Callable[[], None] | None = None

    # ---- what is open ------------------------------------------------------------------------

    @property
    def engraved(self) -> EngravedScore | None:
        """The pages of the open score."""
        return self._now.engraved if self._now is not None else None

    @property
    def score(self) -> Score | None:
        """The open score; None while its notes are being read."""
        return self._now.score if self._now is not None else None

    @property
    def score_path(self) -> Path | None:
        """The file of the open score."""
        return self._now.project.score_path if self._now is not None else None

    @property
    def layer_path(self) -> Path | None:
        """Where the layer is saved."""
        return self._layer_path

    @property
    def read_only_reason(self) -> str:
        """Why the layer may not be changed, as a sentence, or ""."""
        return self._reason

    @property
    def read_only_cause(self) -> ReadOnlyCause | None:
        """Which kind of reason it is, if the layer file is it."""
        return self._cause

    @property
    def is_opening(self) -> bool:
        """Whether something of a score is still to come."""
        return any(self._background.is_busy(channel) for channel in _OPENING)

    # ---- opening -----------------------------------------------------------------------------

    def open(self, path: Path) -> None:
        """Open a score, a layer or a folder, in the place of what is open."""
        self.cancel_opening()
        self.activity_changed.emit(f"Opening {path.name}")
        self._background.in_thread(
            "project", lambda _: find_project(path), self._project_found, self._give_up
        )

    def cancel_opening(self) -> None:
        """Stop opening; what was open before stays."""
        was_reading = self._background.is_busy("reading") and self._coming is None
        self._background.drop(*_OPENING)
        if self._coming is not None:
            self._let_go(self._coming.engraved)
            self._coming = None
        self.activity_changed.emit("")
        if was_reading and self.score is None:
            self._set_access("The notes were not read: you stopped it. Regions need them.")

    def read_again(self) -> None:
        """Read the notes of the open score once more, after that was stopped or failed."""
        if self._now is not None and self._now.score is None:
            self._set_access("")
            self._read(self._now.project)

    def _project_found(self, project: Project) -> None:
        try:
            engraved = self._engraver.open(project.score_path)
        except StavelightError as error:
            self._give_up(error)
            return
        self._coming = _Opened(project, engraved)
        self._background.when_done(
            "first page", engraved.first, self._first_page_made, self._give_up
        )
        self._read(project)

    def _read(self, project: Project) -> None:
        self.activity_changed.emit(f"Reading {project.score_path.name}")
        self._background.in_process(
            "reading",
            read_score,
            project.score_path,
            then=self._notes_read,
            otherwise=self._reading_failed,
        )

    def _first_page_made(self, _: tuple[ScorePlan, EngravedPage]) -> None:
        coming = self._coming
        if coming is None:
            return
        self._coming = None
        before, self._now = self._now, coming
        if before is not None:
            self._let_go(before.engraved)
        self._loaded, self._layer_path = None, None
        self.desk.clear()
        self._set_access("")
        self.pages_opened.emit(coming.engraved)
        if coming.score is not None:
            self.score_read.emit(coming.score)
            self._match_layer(coming.score)

    def lay_out(self, layout: PageLayout) -> None:
        """Lay out the pages of the open score anew; the old ones stay until the first is there."""
        now = self._now
        if now is None or layout == now.engraved.layout:
            return
        try:
            engraved = self._engraver.open(now.project.score_path, layout)
        except StavelightError as error:
            self.failed.emit(error)
            return
        self.activity_changed.emit("Laying out the pages")

        def laid_out(_: tuple[ScorePlan, EngravedPage]) -> None:
            self.activity_changed.emit("")
            if self._now is not now:
                engraved.close()
                return
            before, now.engraved = now.engraved, engraved
            before.close()
            self.pages_laid_out.emit(engraved)

        def failed(error: StavelightError) -> None:
            self.activity_changed.emit("")
            self.failed.emit(error)

        self._background.when_done("layout", engraved.first, laid_out, failed)

    def _notes_read(self, score: Score) -> None:
        if self._coming is not None:
            self._coming.score = score  # the first page is still being made
        elif self._now is not None:
            self._now.score = score
            self.score_read.emit(score)
            self._match_layer(score)

    def _match_layer(self, score: Score) -> None:
        assert self._now is not None
        project, elsewhere = self._now.project, self._elsewhere

        def load(_: Request) -> tuple[Path, LoadedLayer | None]:
            path = project.layer_path
            if not project.has_layer:
                path = elsewhere.layer_of(project.score_path) or path
            if not path.is_file():
                return path, None
            return path, load_layer(path, score_sha256=score.sha256)

        self._background.in_thread("layer", load, self._layer_loaded, self._layer_failed)

    def _layer_loaded(self, found: tuple[Path, LoadedLayer | None]) -> None:
        score = self.score
        if score is None:
            return
        self._layer_path, self._loaded = found
        loaded = self._loaded
        self._cause = loaded.cause if loaded is not None else None
        may_change = self._cause in (None, ReadOnlyCause.WRITE_PROTECTED)
        layer = loaded.layer if loaded is not None else new_layer(score)
        self.desk.lay_down(score, layer, editable=may_change)
        self._set_access((loaded.read_only_reason or "") if loaded is not None else "")
        self.activity_changed.emit("")

    def _layer_failed(self, error: StavelightError) -> None:
        """Show the score all the same; the broken file is left alone."""
        score = self.score
        if score is None:
            return
        self.desk.lay_down(score, new_layer(score), editable=False)
        self._set_access("The layer beside this score cannot be read, and is left as it is.")
        self.activity_changed.emit("")
        self.failed.emit(error)

    def _reading_failed(self, error: StavelightError) -> None:
        if self._coming is not None:
            self._give_up(error)
            return
        self._set_access("The notes of this score could not be read. Regions need them.")
        self.activity_changed.emit("")
        self.failed.emit(error)

    def _give_up(self, error: StavelightError) -> None:
        """Stay with what was open before, and say why."""
        self._background.drop(*_OPENING)
        if self._coming is not None:
            self._let_go(self._coming.engraved)
            self._coming = None
        self.activity_changed.emit("")
        self.failed.emit(error)

    def _let_go(self, engraved: EngravedScore) -> None:
        """Cancel what waits for pages, unless the same file is still, or already, open."""
        others = [one.engraved for one in (self._now, self._coming) if one is not None]
        if all(other is engraved or other.path != engraved.path for other in others):
            engraved.close()

    def close(self) -> None:
        """Close the score; what is unsaved is lost."""
        self.cancel_opening()
        now, self._now = self._now, None
        if now is not None:
            now.engraved.close()
        self._loaded, self._layer_path = None, None
        self.desk.clear()
        self._set_access("")
        self.closed.emit()

    def _set_access(self, reason: str) -> None:
        self._reason = reason
        if not reason:
            self._cause = None
        self.access_changed.emit()

    def begin_layer_at(self, path: Path) -> None:
        """Begin a new layer in another file, where the one beside the score cannot be read."""
        if self.score is not None:
            self._loaded, self._layer_path = None, path
            self.desk.lay_down(self.score, new_layer(self.score), editable=True)
            self._set_access("")

    def adopt_layer(self) -> None:
        """Say that the layer belongs to this score, though it was made for another file."""
        layer, score = self.desk.layer, self.score
        if layer is None or score is None or self._cause is not ReadOnlyCause.ANOTHER_SCORE:
            return
        if self._loaded is not None:
            self._loaded = replace(self._loaded, cause=None, read_only_reason=None)
        self._set_access("")
        self.desk.set_editable(True)
        self.desk.record(editing.attach_to(layer, score), "Take the layer for this score")

    # ---- saving ------------------------------------------------------------------------------

    def save(
        self,
        then: Callable[[], None] | None = None,
        *,
        path: Path | None = None,
        overwrite: bool = False,
    ) -> None:
        """Write the layer.

        Parameters
        ----------
        then
            Called when it is written.
        path
            Where to, if not where it lies.
        overwrite
            Whether the user agreed to overwrite a file that others changed.
        """
        if self._background.is_busy(_SAVING):
            self._save_again = lambda: self.save(then, path=path, overwrite=overwrite)
            return
        layer, target = self.desk.layer, path or self._layer_path
        if layer is None or target is None:
            return
        loaded = self._loaded

        def write(_: Request) -> LoadedLayer:
            return save_layer(target, layer, loaded=loaded, overwrite=overwrite)

        self._background.in_thread(
            _SAVING,
            write,
            lambda written: self._written(layer, written, then),
            self._not_written,
        )

    def _written(self, layer: Layer, written: LoadedLayer, then: Callable[[], None] | None) -> None:
        self._loaded, self._layer_path = written, written.path
        if self.desk.layer is layer and self.desk.history is not None:
            self.desk.history.mark_saved()
            self.desk.layer_changed.emit()
        if self._cause is ReadOnlyCause.WRITE_PROTECTED:
            self._set_access("")
        if self._now is not None:
            if written.path == self._now.project.layer_path:
                self._elsewhere.forget(self._now.project.score_path)
            else:
                self._elsewhere.remember(self._now.project.score_path, written.path)
        self.saved.emit(written.path)
        again, self._save_again = self._save_again, None
        if then is not None:
            then()
        if again is not None:
            again()

    def _not_written(self, error: StavelightError) -> None:
        self._save_again = None
        self.save_refused.emit(error)

    def reload_layer(self) -> None:
        """Take the layer as it lies on disk now; what is unsaved is lost."""
        if self.score is not None:
            self._match_layer(self.score)

    def rescue(self, folder: Path) -> Path | None:
        """Write a copy of the layer, if anything in it is unsaved; return where it is."""
        layer, score_path = self.desk.layer, self.score_path
        if layer is None or score_path is None or not self.desk.has_unsaved:
            return None
        for count in range(1, 1000):
            path = folder / f"{score_path.stem}-{count}.layer.json"
            if not path.exists():
                break
        try:
            return save_layer(path, layer).path
        except LayerFileError:
            return None
