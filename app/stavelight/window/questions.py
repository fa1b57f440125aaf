"""Questions that must be answered before going on. They wait without stopping the program."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

_Role = QMessageBox.ButtonRole


@dataclass(frozen=True, slots=True)
class Answer:
    """A button.

    Attributes
    ----------
    text
        On the button.
    do
        What happens then.
    role
        Where the platform puts it.
    """

    text: str
    do: Callable[[], None]
    role: QMessageBox.ButtonRole = _Role.ActionRole


def ask(parent: QWidget, what: str, more: str, answers: Sequence[Answer]) -> QMessageBox:
    """Ask, and do what the answer says; the last answer is the one of Escape.

    Parameters
    ----------
    parent
        Over which the question stands.
    what
        The question.
    more
        What one should know to answer it.
    answers
        The buttons; the first one is the one of Enter.
    """
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Question)
    box.setWindowTitle("Stavelight")
    box.setText(what)
    box.setInformativeText(more)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.setWindowModality(Qt.WindowModality.WindowModal)
    buttons = {}
    for answer in answers:
        button = box.addButton(answer.text, answer.role)
        buttons[button] = answer
    box.setDefaultButton(next(iter(buttons)))
    box.setEscapeButton(list(buttons)[-1])
    box.buttonClicked.connect(lambda button: buttons[button].do())
    box.show()
    return box


def ask_about_unsaved(
    parent: QWidget, name: str, save: Callable[[], None], go_on: Callable[[], None]
) -> QMessageBox:
    """Ask whether to save a layer before it is closed.

    Parameters
    ----------
    parent
        Over which the question stands.
    name
        Of the score.
    save
        Saves, and goes on.
    go_on
        Goes on without.
    """
    return ask(
        parent,
        f"Save what you added to “{name}”?",
        "Regions and commentary that are not saved will be lost.",
        (
            Answer("&Save", save, _Role.AcceptRole),
            Answer("&Don't save", go_on, _Role.DestructiveRole),
            Answer("Cancel", lambda: None, _Role.RejectRole),
        ),
    )
