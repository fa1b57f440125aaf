"""How fast pages come, side by side with plain verovio in one run.

    python tests/benchmarks/engraving.py [SCORE ...] [--all-pages] [--json FILE]

Without a score: the orchestral scores beside the checkout (``../shared/scores``), where they are.
Every figure is measured in a process of its own where start-up or memory matters. Ratios are what
counts: the seconds are those of one machine on one day.

What the costs are (a score of 36 parts and 943 bars, 26.5 MB of MusicXML, two cores)
--------------------------------------------------------------------------------------
========================================  ==========
unpacking                                  0.07 s
checking that it is well-formed (expat)    0.15 s
finding all parts and bars in the bytes    0.10 s
rhythm of all bars, for the page plan      0.4 s
cutting one page                           0.01 s
verovio, loading one page                  0.1 s
verovio, drawing one page                  0.06 s
making the drawing plain, reading places   0.03 s
Qt, reading and painting the page          0.1 s
a tree of the whole file (not made)        0.8 s, 400 MB
verovio, loading the whole (not done)      20-36 s, 1.2 GB
========================================  ==========
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SHARED = Path(__file__).resolve().parents[3] / "shared" / "scores"
SCORES = ("Beethoven_Op.125_4.mxl", "Brahms_Op.98_4.mxl", "Schubert_D.485_1.mxl")


def plain(path: str, width: float, height: float, margin: float, scale: float, everything: bool):
    """Engrave with verovio alone, on paper of the same size with staves of the same size."""
    import verovio

    toolkit = verovio.toolkit()
    units = 1 / scale / 10
    toolkit.setOptions(
        {
            "pageWidth": int(width * units),
            "pageHeight": int(height * units),
            "pageMarginLeft": int(margin * units),
            "pageMarginRight": int(margin * units),
            "pageMarginTop": int(margin * units),
            "pageMarginBottom": int(margin * units),
            "breaks": "auto",
            "scale": 100,
        }
    )
    start = time.perf_counter()
    toolkit.loadFile(path)
    toolkit.renderToSVG(1)
    first = time.perf_counter() - start
    pages = toolkit.getPageCount()
    if everything:
        for page in range(2, pages + 1):
            toolkit.renderToSVG(page)
    total = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"first": first, "all": total, "pages": pages, "megabytes": peak}


def memory_megabytes(process_ids) -> float:
    """Return what some processes take together, shared pages counted once (Linux)."""
    total = 0
    for process_id in process_ids:
        for line in Path(f"/proc/{process_id}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                total += int(line.split()[1])
    return total / 1024


def ours(path: str, everything: bool, cache: str, workers: int = 2):
    """Engrave with Stavelight: cold, jumping about, all pages, and again from the store."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtGui import QGuiApplication

    from stavelight.engraving.fonts import load_fonts

    app = QGuiApplication([])
    load_fonts()
    figures = _jumping(Path(path), workers)
    figures |= _cold(Path(path), workers, everything)
    figures |= _from_the_store(Path(path), Path(cache))
    app.quit()
    return figures


def _painted(page) -> None:
    from stavelight.engraving.page_picture import PagePainter

    PagePainter(page).image(4.0)


def _jumping(path: Path, workers: int) -> dict:
    """Start processes, open a score and jump to pages that were not seen before."""
    from stavelight.engraving.engraver import Engraver

    figures: dict = {}
    engraver = Engraver(workers=workers)
    start = time.perf_counter()
    score = engraver.open(path)
    _painted(score.first.result()[1])
    figures["first with start of processes"] = time.perf_counter() - start
    whole = score.plan.result()
    figures["pages"] = len(whole.pages)
    figures["paper"] = (whole.width, whole.height, score.layout.margin, whole.staff_height / 720)
    numbers = [page.number for page in whole.pages[1:]]
    random.Random(1).shuffle(numbers)
    jumps, fill = [], [1.0]
    for number in numbers[:30]:
        start = time.perf_counter()
        engraved = score.page(number).result()
        _painted(engraved)
        jumps.append(time.perf_counter() - start)
        if number < len(whole.pages):
            fill.append(engraved.geometry.systems[-1].outer_bottom / whole.height)
    engraver.close()
    jumps.sort()
    figures["jump, middle"] = jumps[len(jumps) // 2]
    figures["jump, 95th percentile"] = jumps[int(len(jumps) * 0.95)]
    figures["least full page"] = min(fill)
    return figures


def _cold(path: Path, workers: int, everything: bool) -> dict:
    """Open a score that no process has seen, in processes that are up."""
    from stavelight.engraving.engraver import SOME_TIME, Engraver

    engraver = Engraver(workers=workers)
    before = engraver.open(path)
    before.first.result()
    before.plan.result()
    other = _copy(path)
    start = time.perf_counter()
    score = engraver.open(other)
    _painted(score.first.result()[1])
    figures = {"first": time.perf_counter() - start}
    if everything:
        pages = score.plan.result().pages
        for future in [score.page(page.number, SOME_TIME) for page in pages]:
            future.result()
        figures["all"] = time.perf_counter() - start
    figures["megabytes"] = memory_megabytes([os.getpid(), *engraver.process_ids])
    engraver.close()
    return figures


def _from_the_store(path: Path, cache: Path) -> dict:
    """Open a score whose pages lie in the store; processes are started within the time."""
    from stavelight.engraving.engraver import Engraver
    from stavelight.engraving.page_store import PageStore

    store = PageStore(cache)
    engraver = Engraver(workers=1, store=store)
    score = engraver.open(path)
    score.first.result()
    score.plan.result()
    engraver.close()
    start = time.perf_counter()
    engraver = Engraver(workers=1, store=store)
    _painted(engraver.open(path).first.result()[1])
    figures = {"first, from the store": time.perf_counter() - start}
    engraver.close()
    return figures


def _copy(path: Path) -> Path:
    """Return a copy under another name, so that nothing of it is open yet."""
    folder = Path(tempfile.mkdtemp())
    copy = folder / ("copy of " + path.name)
    copy.write_bytes(path.read_bytes())
    return copy


def _in_a_process(name: str, *arguments) -> dict:
    """Call a function of this file in a fresh process."""
    source = (
        f"import sys, json; sys.path.insert(0, {str(Path(__file__).parent)!r}); import engraving; "
        f"print('RESULT' + json.dumps(engraving.{name}(*json.loads(sys.argv[1]))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", source, json.dumps(arguments)],
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout[done.stdout.index("RESULT") + 6 :])


def main() -> None:
    """Measure, and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("scores", nargs="*", type=Path)
    parser.add_argument("--all-pages", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    scores = options.scores or [SHARED / name for name in SCORES if (SHARED / name).exists()]
    table = {}
    for path in scores:
        with tempfile.TemporaryDirectory() as cache:
            mine = _in_a_process("ours", str(path), options.all_pages, cache)
        theirs = _in_a_process("plain", str(path), *mine["paper"], options.all_pages)
        table[path.name] = {"stavelight": mine, "verovio": theirs}
        print(f"\n{path.name}")
        print(
            f"  first page      verovio {theirs['first']:.2f} s, here {mine['first']:.2f} s", end=""
        )
        print(f": {theirs['first'] / mine['first']:.1f} times faster")
        if options.all_pages:
            print(
                f"  all pages       verovio {theirs['all']:.1f} s, here {mine['all']:.1f} s", end=""
            )
            print(f": {mine['all'] / theirs['all']:.2f} of the time")
        pages = mine["pages"] / theirs["pages"]
        print(f"  pages           verovio {theirs['pages']}, here {mine['pages']}: {pages:.2f}")
        print(f"  memory          verovio {theirs['megabytes']:.0f} MB", end="")
        print(f", here {mine['megabytes']:.0f} MB (all processes)")
        for name in (
            "first with start of processes",
            "jump, middle",
            "jump, 95th percentile",
            "first, from the store",
        ):
            print(f"  {name:32} {mine[name]:.3f} s")
        print(f"  {'least full page':32} {mine['least full page']:.2f} of its height")
    if options.json:
        options.json.write_text(json.dumps(table, indent=1))


if __name__ == "__main__":
    main()
