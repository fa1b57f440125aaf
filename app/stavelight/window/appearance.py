"""How the window looks: two palettes without colour, since colour belongs to regions alone."""

from __future__ import annotations

from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory, QWidget

from stavelight.engraving.fonts import load_fonts

SCHEMES = ("system", "light", "dark")
"""What the user can choose."""

_KEY = "window/appearance"
_LIGHT = {
    QPalette.ColorRole.Window: "#ecebe7",
    QPalette.ColorRole.WindowText: "#20242a",
    QPalette.ColorRole.Base: "#ffffff",
    QPalette.ColorRole.AlternateBase: "#f5f4f1",
    QPalette.ColorRole.Text: "#20242a",
    QPalette.ColorRole.PlaceholderText: "#6a6f77",
    QPalette.ColorRole.Button: "#f6f5f2",
    QPalette.ColorRole.ButtonText: "#20242a",
    QPalette.ColorRole.BrightText: "#ffffff",
    QPalette.ColorRole.Highlight: "#364657",
    QPalette.ColorRole.HighlightedText: "#ffffff",
    QPalette.ColorRole.Accent: "#364657",
    QPalette.ColorRole.Link: "#2c4a6e",
    QPalette.ColorRole.LinkVisited: "#50467a",
    QPalette.ColorRole.ToolTipBase: "#2a2f36",
    QPalette.ColorRole.ToolTipText: "#f4f3ef",
    QPalette.ColorRole.Light: "#ffffff",
    QPalette.ColorRole.Midlight: "#e2e0da",
    QPalette.ColorRole.Mid: "#c3c0b8",
    QPalette.ColorRole.Dark: "#9a978f",
    QPalette.ColorRole.Shadow: "#6d6a64",
}
_DARK = {
    QPalette.ColorRole.Window: "#262a2f",
    QPalette.ColorRole.WindowText: "#e9e7e1",
    QPalette.ColorRole.Base: "#1c1f23",
    QPalette.ColorRole.AlternateBase: "#22262b",
    QPalette.ColorRole.Text: "#e9e7e1",
    QPalette.ColorRole.PlaceholderText: "#989da5",
    QPalette.ColorRole.Button: "#343a41",
    QPalette.ColorRole.ButtonText: "#e9e7e1",
    QPalette.ColorRole.BrightText: "#ffffff",
    QPalette.ColorRole.Highlight: "#bcc8d4",
    QPalette.ColorRole.HighlightedText: "#16191d",
    QPalette.ColorRole.Accent: "#bcc8d4",
    QPalette.ColorRole.Link: "#a9c4e4",
    QPalette.ColorRole.LinkVisited: "#c5bbe8",
    QPalette.ColorRole.ToolTipBase: "#e9e7e1",
    QPalette.ColorRole.ToolTipText: "#1c1f23",
    QPalette.ColorRole.Light: "#4a515a",
    QPalette.ColorRole.Midlight: "#3d444c",
    QPalette.ColorRole.Mid: "#464d56",
    QPalette.ColorRole.Dark: "#15181b",
    QPalette.ColorRole.Shadow: "#0c0e10",
}
_FAINT = {"light": "#8d9096", "dark": "#747a82"}
"""For what is switched off."""

_TEXT_ROLES = (
    QPalette.ColorRole.WindowText,
    QPalette.ColorRole.Text,
    QPalette.ColorRole.ButtonText,
)


def palette(scheme: str) -> QPalette:
    """Return the palette of a scheme, ``light`` or ``dark``."""
    made = QPalette()
    for role, colour in (_DARK if scheme == "dark" else _LIGHT).items():
        made.setColor(role, QColor(colour))
    for role in _TEXT_ROLES:
        made.setColor(QPalette.ColorGroup.Disabled, role, QColor(_FAINT[scheme]))
    made.setColor(
        QPalette.ColorGroup.Disabled,
        QPalette.ColorRole.Highlight,
        made.color(QPalette.ColorRole.Mid),
    )
    return made


CHOICE_STYLE = """
QToolButton { border: 1px solid transparent; border-radius: 4px; padding: 3px 8px; }
QToolButton:hover { border-color: palette(mid); }
QToolButton:checked { background: palette(highlight); color: palette(highlighted-text); }
QToolButton:checked:disabled { background: palette(mid); color: palette(text); }
QToolButton:focus { border: 1px dashed palette(text); }
"""
"""For buttons of which one is chosen: the chosen one must stand out, light or dark."""


def muted(widget: QWidget) -> None:
    """Let a widget's text step back behind the others'."""
    widget.setForegroundRole(QPalette.ColorRole.PlaceholderText)


def heading_font(widget: QWidget) -> QFont:
    """Return a font for headings beside a widget's own."""
    font = QFont(widget.font())
    font.setWeight(QFont.Weight.DemiBold)
    return font


class Appearance:
    """Sets style, fonts and palette of the program, and follows the system's light or dark.

    Parameters
    ----------
    application
        The program.
    settings
        Where the user's choice is kept.
    """

    def __init__(self, application: QApplication, settings: QSettings) -> None:
        self._application = application
        self._settings = settings
        application.setStyle(QStyleFactory.create("Fusion"))
        load_fonts()
        _ensure_text_font(application)
        application.styleHints().colorSchemeChanged.connect(lambda _: self._apply())
        self._apply()

    @property
    def choice(self) -> str:
        """One of `SCHEMES`."""
        kept = str(self._settings.value(_KEY, "system"))
        return kept if kept in SCHEMES else "system"

    def choose(self, choice: str) -> None:
        """Set and keep one of `SCHEMES`."""
        self._settings.setValue(_KEY, choice)
        self._apply()

    def _apply(self) -> None:
        scheme = self.choice
        if scheme == "system":
            dark = self._application.styleHints().colorScheme() == Qt.ColorScheme.Dark
            scheme = "dark" if dark else "light"
        self._application.setPalette(palette(scheme))


def _ensure_text_font(application: QApplication) -> None:
    """Take the font that ships with the engraver where the system has none for its windows."""
    family = application.font().family()
    known = set(QFontDatabase.families())
    if family not in known and not known - {"Leipzig", "Liberation Serif"}:
        application.setFont(QFont("Liberation Serif", 11))
