"""Everything that the window can be told to do, each named once, with its keys and its menu.

Keys that the platform lays down come from it (`QKeySequence.StandardKey`); the others are ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMainWindow, QMenu

_Standard = QKeySequence.StandardKey


@dataclass(frozen=True, slots=True)
class ActionEntry:
    """One line of a menu.

    Attributes
    ----------
    name
        By which the code knows it; "" for a line between groups.
    text
        In the menu, with its letter for the keyboard.
    keys
        What to press; the platform's own, ours, or None.
    tip
        What it does, in a sentence, for the status line.
    choice
        The name of the group of which one at a time is chosen; "switch" for one that is on or off;
        "" for a plain command.
    only_on_page
        Whether its keys hold only while the page has the keyboard.
    """

    name: str
    text: str = ""
    keys: QKeySequence.StandardKey | str | None = None
    tip: str = ""
    choice: str = ""
    only_on_page: bool = False


_LINE = ActionEntry("")

MENUS: dict[str, tuple[ActionEntry, ...]] = {
    "&File": (
        ActionEntry(
            "open", "&Open score…", _Standard.Open, "Open a score file and the layer beside it."
        ),
        ActionEntry(
            "open_folder",
            "Open &project folder…",
            "Ctrl+Shift+O",
            "Open a folder that holds a score and its layer.",
        ),
        ActionEntry("recent", "Open &recent"),
        ActionEntry("open_sample", "Open the sa&mple project"),
        _LINE,
        ActionEntry(
            "save",
            "&Save layer",
            _Standard.Save,
            "Write the annotation layer beside the score. The score itself is never written.",
        ),
        ActionEntry("save_elsewhere", "Save layer &elsewhere…", "Ctrl+Shift+S"),
        ActionEntry(
            "export_slides",
            "E&xport slides…",
            "Ctrl+E",
            "Make slides of the regions and the commentary.",
        ),
        _LINE,
        ActionEntry(
            "score_information",
            "Score &information…",
            "Ctrl+I",
            "Titles, parts, and whatever was odd about the file.",
        ),
        _LINE,
        ActionEntry("close", "&Close score", _Standard.Close),
        ActionEntry("quit", "&Quit", "Ctrl+Q"),
    ),
    "&Edit": (
        ActionEntry("undo", "&Undo", _Standard.Undo),
        ActionEntry("redo", "&Redo", _Standard.Redo),
        _LINE,
        ActionEntry("tag_region", "&Tag the region", "T", "Type the name of a texture tag."),
        ActionEntry(
            "repeat_tags",
            "Tag like the one &before",
            "Shift+T",
            "Give the region the tags, colour and pattern of the one that was tagged before.",
        ),
        ActionEntry("name_region", "&Label the region", "F2"),
        ActionEntry(
            "comment_region",
            "&Comment on the region",
            "Ctrl+Return",
            "Begin a commentary entry that is tied to the selected region, or to the whole score.",
        ),
        ActionEntry("delete_region", "&Delete the region", _Standard.Delete, only_on_page=True),
        _LINE,
        ActionEntry("next_region", "&Next region", "Alt+Down"),
        ActionEntry("previous_region", "&Previous region", "Alt+Up"),
        ActionEntry("select_nothing", "Select n&othing", "Ctrl+Shift+A"),
        _LINE,
        ActionEntry("your_name", "&Your name…", tip="Who marks and comments from now on."),
    ),
    "&View": (
        ActionEntry("fit_width", "Page &width", "Ctrl+2", choice="zoom"),
        ActionEntry("fit_page", "Whole &page", "Ctrl+3", choice="zoom"),
        ActionEntry("true_size", "&True size", "Ctrl+1", choice="zoom"),
        ActionEntry("zoom_in", "Zoom &in", _Standard.ZoomIn),
        ActionEntry("zoom_out", "Zoom &out", _Standard.ZoomOut),
        _LINE,
        ActionEntry("spread", "Two pages &side by side", "Ctrl+4", choice="switch"),
        _LINE,
        ActionEntry(
            "page_layout",
            "Page la&yout…",
            "Ctrl+Shift+L",
            "Paper, staff height, breaks, and which parts are shown.",
        ),
        ActionEntry(
            "hide_resting",
            "&Hide resting parts",
            "Ctrl+Shift+H",
            "Leave parts out of the systems in which they rest.",
            choice="switch",
        ),
        ActionEntry(
            "sounding_pitch",
            "So&unding pitch",
            "Ctrl+Shift+U",
            "Show every part as it sounds; octave transpositions stay.",
            choice="switch",
        ),
        _LINE,
        ActionEntry("next_page", "&Next page", "Ctrl+PgDown"),
        ActionEntry("previous_page", "Pre&vious page", "Ctrl+PgUp"),
        ActionEntry("go_to", "&Go to bar or rehearsal mark…", "Ctrl+G"),
        _LINE,
        ActionEntry("show_region_panel", "Show &regions", "Ctrl+Shift+R", choice="switch"),
        ActionEntry("show_commentary_panel", "Show &commentary", "Ctrl+Shift+C", choice="switch"),
        ActionEntry("show_map", "Show orchestra &map", "Ctrl+Shift+M", choice="switch"),
        ActionEntry("next_pane", "Keyboard to the ne&xt pane", "F6"),
        _LINE,
        ActionEntry("look_system", "Light or dark &as the system", choice="look"),
        ActionEntry("look_light", "&Light", choice="look"),
        ActionEntry("look_dark", "&Dark", choice="look"),
        ActionEntry("full_screen", "&Full screen", "F11", choice="switch"),
    ),
    "&Help": (
        ActionEntry("keys", "&Keys and gestures", _Standard.HelpContents),
        ActionEntry("about", "&About Stavelight"),
    ),
}
"""The menus, from left to right, and their lines."""

NEEDS_PAGES = (
    "close",
    "fit_width",
    "fit_page",
    "true_size",
    "zoom_in",
    "zoom_out",
    "spread",
    "page_layout",
    "hide_resting",
    "sounding_pitch",
    "next_page",
    "previous_page",
)
NEEDS_SCORE = ("score_information", "go_to", "next_region", "previous_region", "export_slides")
NEEDS_REGION = ("tag_region", "repeat_tags", "name_region", "delete_region")
"""What has to be there before an action makes sense."""


class Actions:
    """The actions of one window.

    Parameters
    ----------
    window
        Its menu bar is filled.
    """

    def __init__(self, window: QMainWindow) -> None:
        self._actions: dict[str, QAction] = {}
        self._groups: dict[str, QActionGroup] = {}
        self.recent_menu = QMenu("Open &recent", window)
        for title, entries in MENUS.items():
            menu = window.menuBar().addMenu(title)
            menu.setToolTipsVisible(True)
            for entry in entries:
                if not entry.name:
                    menu.addSeparator()
                elif entry.name == "recent":
                    menu.addMenu(self.recent_menu)
                else:
                    action = self._make(entry, window)
                    menu.addAction(action)
                    self._actions[entry.name] = action

    def _make(self, entry: ActionEntry, window: QMainWindow) -> QAction:
        action = QAction(entry.text, window)
        action.setObjectName(entry.name)
        if isinstance(entry.keys, QKeySequence.StandardKey):
            action.setShortcuts(QKeySequence.keyBindings(entry.keys))
        elif entry.keys is not None:
            action.setShortcut(QKeySequence(entry.keys))
        if entry.tip:
            action.setStatusTip(entry.tip)
        if entry.only_on_page:
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        if entry.choice:
            action.setCheckable(True)
        if entry.choice not in ("", "switch"):
            group = self._groups.setdefault(entry.choice, QActionGroup(window))
            group.setExclusionPolicy(QActionGroup.ExclusionPolicy.ExclusiveOptional)
            group.addAction(action)
        return action

    def __getitem__(self, name: str) -> QAction:
        return self._actions[name]

    def connect(self, **slots: Callable[[], object]) -> None:
        """Say what each action does: its name, and what to call without arguments."""
        for name, slot in slots.items():
            self._actions[name].triggered.connect(lambda _=False, call=slot: call())

    def enable(self, names: Iterable[str], wanted: bool) -> None:
        """Switch actions on or off."""
        for name in names:
            self._actions[name].setEnabled(wanted)

    def name_step(self, name: str, step: str | None) -> None:
        """Show in the menu what undo or redo would do; None: there is nothing."""
        action = self._actions[name]
        plain = "&Undo" if name == "undo" else "&Redo"
        escaped = step.replace("&", "&&") if step else ""
        action.setText(f"{plain}: {escaped}" if step else plain)
        action.setEnabled(step is not None)

    def of_page(self) -> tuple[QAction, ...]:
        """Return the actions whose keys hold only while the page has the keyboard."""
        names = [
            entry.name for entries in MENUS.values() for entry in entries if entry.only_on_page
        ]
        return tuple(self._actions[name] for name in names)

    def unconnected(self) -> tuple[str, ...]:
        """Return the names of actions that do nothing."""
        return tuple(
            name
            for name, action in self._actions.items()
            if not action.receivers("2triggered(bool)")
        )
