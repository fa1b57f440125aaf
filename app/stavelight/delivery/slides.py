"""Export slides: as a .pptx or .pdf file, or as PNG pictures in a folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from stavelight.delivery.pdf import PdfSlides
from stavelight.delivery.png_folder import PngFolder, open_png_folder
from stavelight.delivery.pptx import PptxSlides
from stavelight.delivery.qt_ground import ensure_gui
from stavelight.delivery.safe_writing import file_to_replace
from stavelight.delivery.slide_excerpts import ExcerptSource
from stavelight.delivery.slide_model import (
    SlideOptions,
    TitleSlide,
    foot_line,
    passages,
    title_slide,
)
from stavelight.delivery.slide_plan import Slide, SlidePlanner
from stavelight.errors import Cancelled, DeliveryError
from stavelight.score.structure import Score

if TYPE_CHECKING:
    from stavelight.annotation.layer import Layer
    from stavelight.annotation.tags import Vocabulary

_OTHER_FORMATS = frozenset(
    (".ppt", ".odp", ".key", ".doc", ".docx", ".html", ".svg", ".png", ".jpg", ".jpeg", ".mp4")
)


class SlideWriter(Protocol):
    """One format that slides can be written in."""

    def add_title(self, slide: TitleSlide) -> None:
        """Write the title slide, which is the first."""

    def add(self, slide: Slide) -> None:
        """Write any other slide."""

    def finish(self) -> None:
        """Complete what is written."""


def export_slides(
    score: Score,
    layer: Layer,
    vocabulary: Vocabulary,
    engraved: ExcerptSource,
    output: Path,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    options: SlideOptions | None = None,
) -> int:
    """Write the slides of an annotated score.

    Parameters
    ----------
    score, layer
        What to show.
    vocabulary
        For the names of tags.
    engraved
        Who engraves excerpts of this score.
    output
        A file that ends in .pptx or .pdf; any other name is a folder for PNG pictures. What is
        there already is replaced, but only once everything is made.
    progress
        Told how many of how many passages are done.
    cancelled
        Asked whether to stop.
    options
        What the user chose.

    Returns
    -------
    int
        How many slides were written.

    Raises
    ------
    DeliveryError
        If there is nothing to show, or the output cannot be written.
    EngravingError
        If an excerpt cannot be engraved.
    Cancelled
        If the user stopped; nothing is written then.
    """
    options = options or SlideOptions()
    stop = cancelled or (lambda: False)
    shown = passages(score, layer, vocabulary, options)
    if not shown:
        raise DeliveryError(
            "There is nothing to show yet.",
            where=score.path.name,
            remedy="Mark a region or write a commentary first.",
        )
    ensure_gui()
    title = title_slide(score, layer, options)
    planner = SlidePlanner(score, foot_line(score, layer), engraved, options, stop)
    with _writer(output, title, options) as writer:
        writer.add_title(title)
        count = 1
        for done, passage in enumerate(shown):
            if progress is not None:
                progress(done, len(shown))
            for slide in planner.slides(passage, count + 1):
                writer.add(slide)
                count += 1
                if stop():
                    raise Cancelled
        writer.finish()
        if stop():
            raise Cancelled
    if progress is not None:
        progress(len(shown), len(shown))
    return count


@contextmanager
def _writer(output: Path, title: TitleSlide, options: SlideOptions) -> Iterator[SlideWriter]:
    """Give a writer for the format that the output's name asks for."""
    suffix = output.suffix.lower()
    if suffix == ".pptx":
        with file_to_replace(output) as path:
            yield PptxSlides(path, title)
    elif suffix == ".pdf":
        with file_to_replace(output) as path:
            writer = PdfSlides(path, title.title, title.author)
            try:
                yield writer
            finally:
                writer.release()
    elif suffix in _OTHER_FORMATS and not output.is_dir():
        raise DeliveryError(
            f"Slides are not written as {suffix}.",
            where=str(output),
            remedy="Choose a name that ends in .pptx or .pdf, or a folder for PNG pictures.",
        )
    else:
        with open_png_folder(output) as folder:
            yield PngFolder(folder, options.picture_width)
