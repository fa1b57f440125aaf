"""Pictures of pages: made elsewhere, kept within bounds, dropped when nobody wants them."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from PySide6.QtGui import QImage

from stavelight.engraving.geometry import CELLS, MOMENTS, NOTES, PageGeometry
from stavelight.engraving.page_maker import EngravedPage
from stavelight.window import page_images
from stavelight.window.page_images import PageImages, PictureWant, page_image

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="200mm" viewBox="0 0 100 200">'
    b'<rect x="50" y="100" width="50" height="100" fill="#ff0000"/></svg>'
)


def page(number: int = 1, svg: bytes = SVG) -> EngravedPage:
    geometry = PageGeometry(
        100.0, 200.0, (), np.empty(0, CELLS), (), np.empty(0, NOTES), np.empty(0, MOMENTS), {}
    )
    return EngravedPage(number, svg, geometry)


@pytest.fixture
def images(qtbot):
    images = PageImages(kept_bytes=3 * 100 * 200 * 4)
    yield images
    images.close()


def test_a_whole_page_on_white(qtbot):
    image = page_image(SVG, PictureWant(1, 200, 400))
    assert (image.width(), image.height()) == (200, 400)
    assert image.format() == QImage.Format.Format_RGB32
    assert image.pixelColor(20, 20).name() == "#ffffff"
    assert image.pixelColor(180, 380).name() == "#ff0000"


def test_a_part_of_a_page_in_its_own_scale(qtbot):
    image = page_image(SVG, PictureWant(1, 20_000, 40_000, (9_990, 19_990, 30, 40)))
    assert (image.width(), image.height()) == (30, 40)
    assert image.pixelColor(5, 5).name() == "#ffffff"
    assert image.pixelColor(15, 5).name() == "#ffffff"
    assert image.pixelColor(15, 15).name() == "#ff0000"


def test_what_is_wanted_arrives_and_is_kept(qtbot, images):
    want = PictureWant(3, 100, 200)
    with qtbot.waitSignal(images.arrived) as caught:
        images.want([(want, page(3))])
    assert caught.args == [3]
    assert images.picture(want) is not None
    assert not images.is_busy


def test_the_oldest_pictures_go_when_there_are_too_many(qtbot, images):
    wants = [PictureWant(number, 100, 200) for number in range(1, 6)]
    for want in wants:
        images.want([(want, page(want.number))])
        qtbot.waitUntil(lambda want=want: images.picture(want) is not None)
    assert images.used_bytes <= 3 * 100 * 200 * 4
    assert [images.picture(want) is not None for want in wants] == [False, False, True, True, True]


def test_what_is_not_wanted_any_more_is_dropped(qtbot, images, monkeypatch):
    go_on = threading.Event()
    painted = []

    def slow(svg: bytes, want: PictureWant) -> QImage:
        go_on.wait(20)
        painted.append(want.number)
        return page_image(svg, want)

    monkeypatch.setattr(page_images, "page_image", slow)
    first = [(PictureWant(number, 100, 200), page(number)) for number in (1, 2, 3, 4)]
    images.want(first)  # two threads: 3 and 4 have to wait
    last = PictureWant(9, 100, 200)
    images.want([(last, page(9))])
    with qtbot.waitSignal(images.arrived) as caught:
        go_on.set()
    assert caught.args == [9]
    assert set(painted) <= {1, 2, 9}
    assert all(images.picture(want) is None for want, _ in first)


def test_of_other_scales_a_finer_one_is_taken_first(qtbot, images):
    for width in (40, 80):
        want = PictureWant(1, width, width * 2)
        images.want([(want, page())])
        qtbot.waitUntil(lambda want=want: images.picture(want) is not None)
    assert images.best(1, 60).want.width == 80
    assert images.best(1, 200).want.width == 80
    assert images.best(1, 20).want.width == 40
    assert images.best(2, 60) is None


def test_a_page_that_cannot_be_painted_is_told(qtbot, images):
    with qtbot.waitSignal(images.failed) as caught:
        images.want([(PictureWant(1, 100, 200), page(svg=b"no drawing"))])
    number, error = caught.args
    assert number == 1
    assert "cannot be painted" in error.what


def test_closing_twice_does_no_harm(qtbot):
    images = PageImages()
    images.close()
    images.close()
