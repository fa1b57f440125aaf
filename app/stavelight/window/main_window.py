"""The main window: the score in the middle, regions and commentary at the right, a line below."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QByteArray, QEvent, QPoint, QSettings, Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeyEvent,
    QStatusTipEvent,
)
from PySide6.QtWidgets import (
    QMainWindow,
    QMenu,
    QMessageBox,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from stavelight.engraving.engraver import EngravedScore, Engraver
from stavelight.errors import StavelightError
from stavelight.score.structure import Score
from stavelight.window.actions import NEEDS_PAGES, NEEDS_REGION, NEEDS_SCORE, Actions
from stavelight.window.appearance import SCHEMES, Appearance
from stavelight.window.background import Background
from stavelight.window.dialogs import AUTHOR, Dialogs
from stavelight.window.layer_display import LayerDisplay
from stavelight.window.notices import Notices
from stavelight.window.questions import ask_about_unsaved
from stavelight.window.recent import LayersElsewhere, RecentFiles
from stavelight.window.score_view import ScoreView
from stavelight.window.session import Session
from stavelight.window.status_line import StatusLine
from stavelight.window.storage import Storage
from stavelight.window.whole_score import WholeScore

_GEOMETRY, _ACROSS, _DOWN = "window/geometry", "window/across", "window/down"
_UNDER = "window/under"
_PANELS = {
    "show_region_panel": "panels/regions",
    "show_commentary_panel": "panels/commentary",
    "show_map": "panels/map",
}
_PANEL_WIDTH = 350


class MainWindow(QMainWindow):
    """The main window.

    Parameters
    ----------
    settings
        The user's.
    engraver
        Who makes pages; closed with the window.
    appearance
        Light or dark; None where somebody else sees to that.
    """

    def __init__(
        self,
        settings: QSettings,
        engraver: Engraver,
        appearance: Appearance | None = None,
    ) -> None:
        super().__init__()
        self._settings = settings
        self._engraver = engraver
        self._appearance = appearance
        self._leaving = False
        self._pages_seen = (0, 0)
        self.question: QMessageBox | None = None
        self.background = Background(self)
        self.session = Session(self.background, engraver, LayersElsewhere(settings), self)
        self.recent = RecentFiles(settings)
        self.actions_ = Actions(self)
        self.view = ScoreView()
        self.notices = Notices()
        self.display = LayerDisplay(self.session.desk, self.view, self)
        self.status = StatusLine(
            **{
                name: self.actions_[name]
                for name in ("previous_page", "next_page", "zoom_out", "zoom_in", "go_to")
            }
        )
        self.storage = Storage(self, self.session, self.notices, self.display.hand_over)
        self.dialogs = Dialogs(self, self.session, self.background, self.view)
        self.session.desk.author = str(settings.value(AUTHOR, ""))
        self.whole = WholeScore(self, self.session, self.view, self.actions_)
        self._lay_out()
        self._connect_actions()
        self._listen()
        self._restore()
        self.setAcceptDrops(True)
        self._show_state()

    # ---- the window --------------------------------------------------------------------------

    def _lay_out(self) -> None:
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.notices)
        self._under = QSplitter(Qt.Orientation.Vertical)
        self._under.addWidget(self.view)
        self._under.addWidget(self.whole.map)
        self._under.setStretchFactor(0, 1)
        self._under.setStretchFactor(1, 0)
        column.addWidget(self._under, 1)
        self._down = QSplitter(Qt.Orientation.Vertical)
        self._down.addWidget(self.display.region_panel)
        self._down.addWidget(self.display.commentary_panel)
        self._across = QSplitter(Qt.Orientation.Horizontal)
        self._across.addWidget(left)
        self._across.addWidget(self._down)
        self._across.setStretchFactor(0, 1)
        self._across.setStretchFactor(1, 0)
        for splitter in (self._down, self._across, self._under):
            splitter.setChildrenCollapsible(False)
            splitter.setHandleWidth(1)
            splitter.setStyleSheet("QSplitter::handle { background: palette(mid); }")
        left.setMinimumWidth(320)
        whole = QWidget()
        frame = QVBoxLayout(whole)
        frame.setContentsMargins(0, 0, 0, 0)
        frame.setSpacing(0)
        frame.addWidget(self._across, 1)
        frame.addWidget(self.status)
        self.setCentralWidget(whole)
        self.setMinimumSize(720, 480)

    def _restore(self) -> None:
        """Give the window the size and parts that it had last time."""
        self.resize(1440, 900)
        self._across.setSizes([1440 - _PANEL_WIDTH, _PANEL_WIDTH])
        self._down.setSizes([440, 420])
        self._under.setSizes([730, 170])
        for key, restore in (
            (_GEOMETRY, self.restoreGeometry),
            (_ACROSS, self._across.restoreState),
            (_DOWN, self._down.restoreState),
            (_UNDER, self._under.restoreState),
        ):
            kept = self._settings.value(key)
            if isinstance(kept, QByteArray):
                restore(kept)
        for name, key in _PANELS.items():
            shown = str(self._settings.value(key, "true")).lower() == "true"
            self.actions_[name].setChecked(shown)
            self._show_panel(name)
        if self._appearance is not None:
            self.actions_[f"look_{self._appearance.choice}"].setChecked(True)

    def _keep_layout(self) -> None:
        self._settings.setValue(_GEOMETRY, self.saveGeometry())
        self._settings.setValue(_ACROSS, self._across.saveState())
        self._settings.setValue(_DOWN, self._down.saveState())
        self._settings.setValue(_UNDER, self._under.saveState())

    def _show_panel(self, name: str) -> None:
        panel = {
            "show_region_panel": self.display.region_panel,
            "show_commentary_panel": self.display.commentary_panel,
            "show_map": self.whole.map,
        }[name]
        panel.setVisible(self.actions_[name].isChecked())
        self._settings.setValue(_PANELS[name], self.actions_[name].isChecked())
        beside = [one for one in _PANELS if one != "show_map"]
        self._down.setVisible(any(self.actions_[one].isChecked() for one in beside))

    # ---- what can be done --------------------------------------------------------------------

    def _connect_actions(self) -> None:
        view, display, storage, dialogs = self.view, self.display, self.storage, self.dialogs
        desk = self.session.desk
        self.actions_.connect(
            open=lambda: dialogs.ask_for_score(self.open),
            open_folder=lambda: dialogs.ask_for_folder(self.open),
            open_sample=lambda: dialogs.find_sample(self.open, self.notices.tell),
            save=storage.save,
            save_elsewhere=storage.save_elsewhere,
            export_slides=self._export,
            score_information=dialogs.show_information,
            close=lambda: self.when_settled(self.session.close),
            quit=self.close,
            undo=self._undo,
            redo=self._redo,
            tag_region=display.start_tagging,
            repeat_tags=display.repeat_tags,
            name_region=display.start_labelling,
            comment_region=display.begin_entry,
            delete_region=display.delete_selected,
            next_region=lambda: display.step_region(1),
            previous_region=lambda: display.step_region(-1),
            select_nothing=lambda: desk.select(""),
            your_name=lambda: dialogs.ask_for_name(self._settings),
            fit_width=lambda: view.set_zoom("width"),
            fit_page=lambda: view.set_zoom("page"),
            true_size=lambda: view.set_zoom(1.0),
            zoom_in=view.zoom_in,
            zoom_out=view.zoom_out,
            spread=lambda: view.set_spread(self.actions_["spread"].isChecked()),
            next_page=view.next_page,
            previous_page=view.previous_page,
            go_to=dialogs.ask_for_place,
            show_region_panel=lambda: self._show_panel("show_region_panel"),
            show_commentary_panel=lambda: self._show_panel("show_commentary_panel"),
            show_map=lambda: self._show_panel("show_map"),
            next_pane=self._go_to_next_pane,
            full_screen=self._show_full_screen,
            keys=dialogs.show_keys,
            about=dialogs.show_about,
        )
        for scheme in SCHEMES:
            self.actions_.connect(**{f"look_{scheme}": self._chooser_of_look(scheme)})
        for action in self.actions_.of_page():
            self.view.addAction(action)
        self.actions_.recent_menu.aboutToShow.connect(self._fill_recent)

    def _chooser_of_look(self, scheme: str) -> Callable[[], None]:
        def choose() -> None:
            if self._appearance is not None:
                self._appearance.choose(scheme)

        return choose

    def _listen(self) -> None:
        session, desk, view = self.session, self.session.desk, self.view
        session.pages_opened.connect(self._pages_opened)
        session.score_read.connect(self._score_read)
        session.closed.connect(lambda: self._show_score(None, None))
        session.failed.connect(self._tell)
        session.activity_changed.connect(self._show_activity)
        session.access_changed.connect(self._show_state)
        desk.layer_changed.connect(self._show_state)
        desk.selection_changed.connect(self._show_state)
        self.status.stop_wanted.connect(session.cancel_opening)
        view.page_shown.connect(self._show_page)
        view.zoom_shown.connect(self._show_zoom)
        view.read_out.connect(self.status.read_out.setText)
        view.page_failed.connect(self._tell)
        view.context_menu_wanted.connect(self._show_context_menu)

    def _undo(self) -> None:
        self.display.hand_over()
        self.session.desk.undo()

    def _redo(self) -> None:
        self.session.desk.redo()

    def _export(self) -> None:
        self.display.hand_over()
        self.dialogs.show_export()

    def _go_to_next_pane(self) -> None:
        both = (self.display.region_panel, self.display.commentary_panel)
        panels = [panel for panel in both if panel.isVisible()]
        focus = self.focusWidget()
        holding = [panel for panel in panels if focus is not None and panel.isAncestorOf(focus)]
        after = panels[panels.index(holding[0]) + 1 :] if holding else panels
        if after:
            after[0].take_keyboard()
        else:
            self.view.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _show_full_screen(self) -> None:
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    # ---- opening and closing -----------------------------------------------------------------

    def open(self, path: Path) -> None:
        """Open a score, a layer or a folder, once what is unsaved is settled."""
        self.when_settled(lambda: self.session.open(path))

    def when_settled(self, then: Callable[[], None]) -> None:
        """Do something that gives up the open layer: at once, or when the user says how."""
        self.display.hand_over()
        if not self.session.desk.has_unsaved:
            then()
            return
        path = self.session.score_path
        self.question = ask_about_unsaved(
            self, path.name if path else "", lambda: self.storage.save(then), then
        )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close, once what is unsaved is settled."""
        if not self._leaving:
            event.ignore()
            self.when_settled(self._leave)
            return
        self._keep_layout()
        self.session.close()
        self.background.close()
        self._engraver.close()
        event.accept()

    def _leave(self) -> None:
        self._leaving = True
        QTimer.singleShot(0, self.close)  # at once it would be lost inside a close that is refused

    def _fill_recent(self) -> None:
        menu = self.actions_.recent_menu
        menu.clear()
        for path in self.recent.paths():
            shown = str(path).replace("&", "&&")
            menu.addAction(shown).triggered.connect(partial(self._open_recent, path))
        if menu.isEmpty():
            menu.addAction("Nothing was opened yet").setEnabled(False)
        else:
            menu.addSeparator()
            menu.addAction("Forget all", self.recent.clear)

    def _open_recent(self, path: Path, _: bool) -> None:
        self.open(path)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take one file or folder."""
        if len(event.mimeData().urls()) == 1 and event.mimeData().urls()[0].isLocalFile():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open what was dropped."""
        event.acceptProposedAction()
        self.open(Path(event.mimeData().urls()[0].toLocalFile()))

    # ---- what is shown -----------------------------------------------------------------------

    def _tell(self, error: StavelightError) -> None:
        self.notices.tell(error)

    def _pages_opened(self, engraved: EngravedScore) -> None:
        self.notices.clear()
        self.recent.add(engraved.path)
        self._show_score(engraved, None)
        self.view.setFocus()

    def _score_read(self, score: Score) -> None:
        self._show_score(self.session.engraved, score)
        self.status.bars.setText(self.dialogs.bars_of_pages(*self._pages_seen))

    def _show_score(self, engraved: EngravedScore | None, score: Score | None) -> None:
        self.view.set_score(engraved, score)
        if engraved is None:
            self.status.show_page(0, 0, 0)
            self.status.bars.setText("")
        self._show_state()

    def _show_activity(self, text: str) -> None:
        self.status.show_progress(-1.0 if text else None, text)

    def _show_page(self, first: int, last: int, count: int) -> None:
        self.status.show_page(first, last, count)
        self._pages_seen = (first, last)
        self.status.bars.setText(self.dialogs.bars_of_pages(first, last))

    def _show_zoom(self, factor: float, mode: str) -> None:
        self.status.show_zoom(factor)
        is_true_size = mode == "percent" and abs(factor - 1.0) < 0.005
        for name, chosen in (
            ("fit_width", mode == "width"),
            ("fit_page", mode == "page"),
            ("true_size", is_true_size),
        ):
            self.actions_[name].setChecked(chosen)

    def _show_state(self) -> None:
        """Show name and access of what is open, and switch actions on and off."""
        session, desk = self.session, self.session.desk
        path, history = session.score_path, desk.history
        self.setWindowTitle(f"{path.name}[*] – Stavelight" if path else "Stavelight")
        self.setWindowModified(desk.has_unsaved)
        can_edit = desk.is_editable
        self.actions_.enable(NEEDS_PAGES, session.engraved is not None)
        self.actions_.enable(NEEDS_SCORE, session.score is not None)
        self.actions_.enable(NEEDS_REGION, desk.selected is not None and can_edit)
        self.actions_.enable(("select_nothing",), desk.selected is not None)
        self.actions_.enable(("comment_region",), can_edit)
        self.actions_.enable(("save", "save_elsewhere"), desk.layer is not None and can_edit)
        self.actions_.name_step("undo", history.undo_name if history and can_edit else None)
        self.actions_.name_step("redo", history.redo_name if history and can_edit else None)
        self.storage.show_access()

    def _show_context_menu(self, region_id: str, position: QPoint) -> None:
        menu = QMenu(self)
        names = (
            ("tag_region", "repeat_tags", "name_region", "comment_region", "", "delete_region")
            if region_id
            else ("go_to", "", "previous_page", "next_page", "", "fit_width", "fit_page")
        )
        for name in names:
            if name:
                menu.addAction(self.actions_[name])
            else:
                menu.addSeparator()
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(position)

    def event(self, event: QEvent) -> bool:
        """Show what a menu line does, while the pointer is on it."""
        if isinstance(event, QStatusTipEvent):
            self.status.read_out.setText(event.tip())
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let a letter that means nothing else begin a tag of the selected region."""
        text = event.text()
        plain = not event.modifiers() & ~Qt.KeyboardModifier.ShiftModifier
        if plain and text.isalpha() and self.session.desk.selected is not None:
            self.display.start_tagging(text)
        else:
            super().keyPressEvent(event)
