"""How evenly the window goes on while a score opens.

    python tests/benchmarks/heartbeat.py SCORE [--json FILE]

A timer in the UI thread ticks every 5 ms. What counts is the longest time between two ticks, from
the moment at which the score is asked for until its layer is there and its first page sharp, and
while one page after the other is turned. Run it with a display, or offscreen.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from pathlib import Path

TICK_MILLISECONDS = 5
WORST_ALLOWED_MILLISECONDS = 100


def measure(score: Path, pages: int) -> dict[str, float]:
    """Open a score in the window and return the figures, in milliseconds and seconds."""
    from PySide6.QtCore import QSettings, Qt, QTimer
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication

    from stavelight.engraving.engraver import Engraver
    from stavelight.window.appearance import Appearance
    from stavelight.window.main_window import MainWindow

    application = QApplication.instance() or QApplication(["heartbeat"])
    folder = tempfile.TemporaryDirectory()
    settings = QSettings(f"{folder.name}/settings.ini", QSettings.Format.IniFormat)
    appearance = Appearance(application, settings)
    window = MainWindow(settings, Engraver(), appearance)
    window.resize(1600, 1000)
    window.show()
    QTest.qWait(1500)  # the engraving process starts meanwhile, as it does when a person chooses

    gaps: list[float] = []
    last = time.perf_counter()

    def tick() -> None:
        nonlocal last
        now = time.perf_counter()
        gaps.append((now - last) * 1000)
        last = now

    timer = QTimer(timerType=Qt.TimerType.PreciseTimer)
    timer.setInterval(TICK_MILLISECONDS)
    timer.timeout.connect(tick)

    def wait(is_there) -> None:
        while not is_there():
            application.processEvents()
            time.sleep(0.0005)

    begin = time.perf_counter()
    at: dict[str, float] = {}
    session, view = window.session, window.view
    session.pages_opened.connect(lambda _: at.setdefault("pages", time.perf_counter() - begin))
    session.score_read.connect(lambda _: at.setdefault("notes", time.perf_counter() - begin))
    timer.start()
    window.open(score)
    wait(lambda: session.desk.layer is not None and view.is_settled)
    wait(lambda: session.engraved is not None and session.engraved.plan.done())
    opening = gaps[1:]
    gaps.clear()
    last = time.perf_counter()
    for _ in range(pages):
        view.next_page()
        wait(lambda: view.is_settled)
    turning = gaps[:]
    timer.stop()
    window.session.desk.clear()
    window.close()
    folder.cleanup()
    return {
        "first page, seconds": round(at["pages"], 2),
        "notes read, seconds": round(at["notes"], 2),
        "opening, longest gap, ms": round(max(opening), 1),
        "opening, second longest gap, ms": round(sorted(opening)[-2], 1),
        "opening, 99 in 100 below, ms": round(statistics.quantiles(opening, n=100)[98], 1),
        "turning pages, longest gap, ms": round(max(turning), 1),
        "turning pages, 99 in 100 below, ms": round(statistics.quantiles(turning, n=100)[98], 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("score", type=Path)
    parser.add_argument("--pages", type=int, default=12, help="how many pages to turn")
    parser.add_argument("--json", type=Path, help="write the figures there")
    options = parser.parse_args()
    figures = measure(options.score.resolve(), options.pages)
    for name, value in figures.items():
        print(f"{name:40}{value:10}")
    worst = max(figures["opening, longest gap, ms"], figures["turning pages, longest gap, ms"])
    verdict = "never more than" if worst <= WORST_ALLOWED_MILLISECONDS else "MORE THAN"
    print(f"The window stood still for {verdict} {WORST_ALLOWED_MILLISECONDS} ms at a time.")
    if options.json:
        options.json.write_text(json.dumps(figures, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
