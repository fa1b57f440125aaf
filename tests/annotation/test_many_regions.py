"""Ten thousand regions: right, and with no more memory a step than the step needs."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from stavelight.annotation.checking import check_layer
from stavelight.annotation.editing import change_region, remove_regions, retag
from stavelight.annotation.history import History
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_file import load_layer, save_layer

MANY = 10_000


@pytest.fixture
def many(random_layer: Callable[[int, int], Layer]) -> Layer:
    return random_layer(0, MANY)


def test_they_are_saved_opened_found_and_sorted(many: Layer, tmp_path: Path):
    path = tmp_path / "many.layer.json"
    save_layer(path, many)
    layer = load_layer(path).layer
    assert layer == many
    assert all(layer.region(region.id) is region for region in layer.regions)
    places = [(region.start, region.end) for region in layer.regions_in_score_order()]
    assert places == sorted(places)
    assert sum(len(layer.entries_on(region.id)) for region in layer.regions) > MANY / 3
    assert check_layer(path) == []


def test_they_are_tagged_and_removed_at_once(many: Layer):
    ids = [region.id for region in many.regions]
    assert all("bass" in region.tags for region in retag(many, ids, add=["bass"]).regions)
    left = remove_regions(many, ids[1:])
    assert [region.id for region in left.regions] == ids[:1]
    assert len(left.entries) == len(many.entries)


def test_undo_of_many_steps_keeps_differences_not_layers(many: Layer):
    """A tuple of 10,000 places takes 80 kB: 200 layers would take 16 MB."""
    history = History(many)
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    for number in range(200):
        region = history.layer.regions[number * 37].id
        history.record(change_region(history.layer, region, label=str(number)), "Rename")
    after, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert after - before < 2_000_000
    while history.undo_name is not None:
        history.undo()
    assert history.layer == many
