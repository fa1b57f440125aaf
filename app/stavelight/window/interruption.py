"""Let Ctrl+C in the terminal close the window, as its own button does."""

from __future__ import annotations

import signal
import socket

from PySide6.QtCore import QObject, QSocketNotifier, Signal


class Interruption(QObject):
    """Ctrl+C, as a Qt signal.

    While Qt waits for events, Python runs no signal handlers. So Python writes a byte into a pair
    of sockets when a signal comes, and Qt watches the other end.

    Attributes
    ----------
    came
        Ctrl+C was pressed.
    has_come
        Whether it ever was.
    """

    came = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.has_come = False
        self._ours, self._pythons = socket.socketpair()
        self._ours.setblocking(False)
        self._pythons.setblocking(False)
        self._notifier = QSocketNotifier(self._ours.fileno(), QSocketNotifier.Type.Read, self)
        self._notifier.activated.connect(self._drain)
        signal.set_wakeup_fd(self._pythons.fileno(), warn_on_full_buffer=False)
        signal.signal(signal.SIGINT, self._note)

    def _note(self, *_: object) -> None:
        self.has_come = True
        self.came.emit()

    def _drain(self) -> None:
        # By the time this runs, Python has run the handler of the signal.
        self._ours.recv(64)

    def release(self) -> None:
        """Give Ctrl+C back to Python."""
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.set_wakeup_fd(-1)
        self._notifier.setEnabled(False)
        self._ours.close()
        self._pythons.close()
