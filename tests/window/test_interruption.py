"""Ctrl+C in the terminal closes the window, even while nothing happens in it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

# The signal comes from a thread while Qt waits for events: no Python runs in the main thread then.
CODE = """
import os, signal, sys, threading
from stavelight.__main__ import main
from stavelight.window.main_window import MainWindow

signal.signal(signal.SIGINT, signal.default_int_handler)
show = MainWindow.show

def show_and_be_interrupted(self):
    show(self)
    interrupt = lambda: os.kill(os.getpid(), signal.SIGINT)
    threading.Timer(1.0, interrupt).start()

MainWindow.show = show_and_be_interrupted
sys.argv[1:] = sys.argv[1:2]
sys.exit(main())
"""


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_ctrl_c_closes_the_window_and_ends_with_130(tmp_path: Path):
    done = subprocess.run(
        [sys.executable, "-c", CODE, str(tmp_path)],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        check=False,
        capture_output=True,
        text=True,
        timeout=40,
    )
    assert done.returncode == 130, done.stderr
    assert "Traceback" not in done.stderr
