"""What concerns the whole score: the orchestra map under the page, and the layout of all pages."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QDialog, QWidget

from stavelight.annotation.palette import colour
from stavelight.delivery.map_picture import MapArea
from stavelight.engraving.paper import PageLayout
from stavelight.score.structure import Score
from stavelight.window.actions import Actions
from stavelight.window.orchestra_map import OrchestraMapView
from stavelight.window.page_layout_dialog import PageLayoutDialog
from stavelight.window.score_view import ScoreView
from stavelight.window.session import Session

_AGAIN_MILLISECONDS = 150


class WholeScore(QObject):
    """Keeps the map showing what is open, and lays pages out as the user wants them.

    Parameters
    ----------
    window
        Over which dialogs open.
    session
        What is open.
    view
        The page.
    actions
        Of the window.

    Attributes
    ----------
    map
        The orchestra map.
    """

    def __init__(
        self, window: QWidget, session: Session, view: ScoreView, actions: Actions
    ) -> None:
        super().__init__(window)
        self._window = window
        self._session = session
        self._view = view
        self._actions = actions
        self._first_bar = 0
        self._pages = (0, 0)
        self.map = OrchestraMapView()
        desk = session.desk
        self.map.bar_chosen.connect(view.go_to_bar)
        self.map.region_drawn.connect(view.region_drawn)
        session.score_read.connect(self._show_score)
        session.pages_opened.connect(lambda _: self._show_score(None))
        session.closed.connect(lambda: self._show_score(None))
        session.pages_laid_out.connect(self._show_pages)
        desk.layer_changed.connect(self._show_regions)
        desk.selection_changed.connect(self._show_regions)
        view.page_shown.connect(self._show_place)
        actions.connect(
            page_layout=self.ask_for_layout,
            hide_resting=self._switch,
            sounding_pitch=self._switch,
        )

    def _show_score(self, score: Score | None) -> None:
        self.map.set_score(score)
        layout = self._layout()
        self._actions["hide_resting"].setChecked(layout.hide_resting)
        self._actions["sounding_pitch"].setChecked(layout.sounding_pitch)
        self._show_regions()
        self._frame_pages()

    def _show_regions(self) -> None:
        desk = self._session.desk
        selected = desk.selected
        self.map.set_editable(desk.is_editable)
        self.map.set_areas(
            [
                MapArea(
                    desk.spans(region),
                    colour(region.colour).hex,
                    selected is not None and region.id == selected.id,
                )
                for region in desk.regions()
            ]
        )

    def _show_place(self, first_page: int, last_page: int, _count: int) -> None:
        self._pages = (first_page, last_page)
        self._frame_pages()

    def _frame_pages(self) -> None:
        """Frame the bars of the pages in sight; as soon as it is known which they are."""
        engraved = self._session.engraved
        first_page, last_page = self._pages
        if engraved is None or engraved.plan.cancelled() or first_page < 1:
            return
        if not engraved.plan.done():
            QTimer.singleShot(_AGAIN_MILLISECONDS, self, self._frame_pages)
            return
        if engraved.plan.exception() is not None:
            return
        pages = engraved.plan.result().pages[first_page - 1 : last_page]
        if pages:
            self._first_bar = pages[0].bars.start
            self.map.set_visible(self._first_bar, pages[-1].bars.stop - 1)

    # ---- layout ------------------------------------------------------------------------------

    def _layout(self) -> PageLayout:
        engraved = self._session.engraved
        return engraved.layout if engraved is not None else PageLayout()

    def _switch(self) -> None:
        self._lay_out(
            replace(
                self._layout(),
                hide_resting=self._actions["hide_resting"].isChecked(),
                sounding_pitch=self._actions["sounding_pitch"].isChecked(),
            )
        )

    def ask_for_layout(self) -> None:
        """Open the dialog for the page layout."""
        if self._session.engraved is None:
            return
        dialog = PageLayoutDialog(self._layout(), self._session.score, self._window)
        if dialog.exec() == QDialog.DialogCode.Accepted:
            self._lay_out(dialog.chosen())

    def _lay_out(self, layout: PageLayout) -> None:
        """Lay out all pages anew; staves on which something is marked are never hidden."""
        desk, score = self._session.desk, self._session.score
        marked: set[tuple[int, int, int]] = set()
        if score is not None:
            for region in desk.regions():
                for span in desk.spans(region):
                    for staff in span.staves:
                        marked.add((span.start.bar, span.end.bar, score.staves[staff].part))
        self._session.lay_out(replace(layout, never_hidden=tuple(sorted(marked))))

    def _show_pages(self, engraved: object) -> None:
        """Show the pages in their new layout, at the place that was in sight."""
        bar = self._first_bar
        self._view.set_score(self._session.engraved, self._session.score)
        self._show_regions()
        self._view.go_to_bar(bar)
        self._actions["hide_resting"].setChecked(self._layout().hide_resting)
        self._actions["sounding_pitch"].setChecked(self._layout().sounding_pitch)
