"""What happens when the program itself is wrong: nothing is lost, and a report is offered."""

from __future__ import annotations

import logging
import platform
import sys
import threading
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

import PySide6
from PySide6.QtCore import (
    QMessageLogContext,
    QObject,
    Qt,
    QtMsgType,
    Signal,
    qInstallMessageHandler,
    qVersion,
)
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QMessageBox, QWidget

import stavelight

_LOG = logging.getLogger(__name__)
_QT_LEVELS = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}
_HARMLESS = ("does not support propagateSizeHints",)


class FaultDesk(QObject):
    """Takes in every exception that nobody expected, in whatever thread.

    Parameters
    ----------
    folder
        Where reports and recovery copies go; it is made when it is needed.
    rescue
        Writes a recovery copy of what is not saved into a folder and returns its path, or None
        if nothing is unsaved.
    window
        Over which the offer is shown.
    """

    _came = Signal(object)

    def __init__(
        self, folder: Path, rescue: Callable[[Path], Path | None], window: QWidget
    ) -> None:
        super().__init__(window)
        self._folder = folder
        self._rescue = rescue
        self._window = window
        self._told: set[str] = set()
        self.box: QMessageBox | None = None
        self._came.connect(self._take_in, Qt.ConnectionType.QueuedConnection)

    def install(self) -> None:
        """Become the one that is asked about unexpected exceptions."""
        sys.excepthook = self._from_interpreter
        threading.excepthook = self._from_thread

    def _from_interpreter(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        if issubclass(kind, KeyboardInterrupt):
            QGuiApplication.quit()
            return
        self._came.emit("".join(traceback.format_exception(kind, error, trace)))

    def _from_thread(self, fault: threading.ExceptHookArgs) -> None:
        if fault.exc_type is SystemExit:
            return
        lines = traceback.format_exception(fault.exc_type, fault.exc_value, fault.exc_traceback)
        self._came.emit("".join(lines))

    def _take_in(self, trace: str) -> None:
        """Write down what happened, and offer it once for each fault."""
        _LOG.critical("Unexpected fault:\n%s", trace)
        if trace in self._told:
            return
        self._told.add(trace)
        copy, report = self._write_down(trace)
        if self.box is None:
            self._offer(trace, copy, report)

    def _write_down(self, trace: str) -> tuple[Path | None, Path | None]:
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            copy = self._rescue(self._folder)
            stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")
            report = self._folder / f"report-{stamp}.txt"
            report.write_text(report_text(trace), encoding="utf-8")
        except OSError as error:
            _LOG.critical("The report cannot be written: %s", error)
            return None, None
        return copy, report

    def _offer(self, trace: str, copy: Path | None, report: Path | None) -> None:
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.Warning)
        box.setWindowTitle("A fault in Stavelight")
        box.setText("Something went wrong inside the program. It is not your doing.")
        lines = []
        if copy is not None:
            lines.append(f"A copy of your layer, as it is now, was written to:\n{copy}")
        else:
            lines.append("Nothing in your layer was unsaved, or it could not be copied.")
        if report is not None:
            lines.append(f"A report was written to:\n{report}")
        lines.append("You can go on working. Save your layer soon.")
        box.setInformativeText("\n\n".join(lines))
        box.setDetailedText(report_text(trace))
        take = box.addButton("Copy the report", QMessageBox.ButtonRole.ActionRole)
        box.addButton("Go on", QMessageBox.ButtonRole.AcceptRole)
        take.clicked.connect(lambda: QGuiApplication.clipboard().setText(report_text(trace)))
        box.setModal(False)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.finished.connect(self._forget_box)
        self.box = box
        box.show()

    def _forget_box(self) -> None:
        self.box = None


def report_text(trace: str) -> str:
    """Return what the makers need to know: versions, system and trace; nothing of the score."""
    return (
        f"Stavelight {stavelight.__version__}\n"
        f"Python {platform.python_version()}, Qt {qVersion()}, PySide6 {PySide6.__version__}\n"
        f"{platform.platform()}\n\n{trace}"
    )


def take_qt_messages() -> None:
    """Send what Qt has to say to the log."""
    qInstallMessageHandler(_log_qt_message)


def _log_qt_message(kind: QtMsgType, context: QMessageLogContext, text: str | None) -> None:
    message = text or ""
    level = _QT_LEVELS.get(kind, logging.WARNING)
    if any(harmless in message for harmless in _HARMLESS):
        level = logging.DEBUG
    logging.getLogger("qt").log(level, "%s", message)
