"""Fields that this version does not know survive a save, wherever their record goes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace

from stavelight.annotation.editing import change_region, move_edges, remove_region
from stavelight.annotation.history import History
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_file import load_layer, save_layer
from stavelight.annotation.layer_text import decode_layer, encode_layer
from stavelight.annotation.region import Place
from stavelight.errors import LayerFileError


def canonical(raw: Any) -> bytes:
    text = json.dumps(raw, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
    return text.encode()


def objects(raw: Any) -> Iterator[dict[str, Any]]:
    if isinstance(raw, dict):
        yield raw
    for value in raw.values() if isinstance(raw, dict) else raw if isinstance(raw, list) else ():
        yield from objects(value)


@pytest.fixture
def strange(rich_layer: Layer) -> dict[str, Any]:
    """The rich layer as JSON, with unknown fields in every object of it."""
    raw = json.loads(encode_layer(rich_layer))
    for number, one in enumerate(list(objects(raw))):
        one[f"later_{number}"] = {"zeta": [1, 2.5, None, {"b": True, "a": "é\n"}], "id": number}
        one["unknown_fields"] = "a name that the records use themselves"
        one["aaa"] = 12345678901234567890123
    return raw


def test_every_object_keeps_its_unknown_fields(strange: dict[str, Any]):
    assert len(list(objects(strange))) > 60
    data = canonical(strange)
    assert encode_layer(decode_layer(data, "x")) == data


def test_the_order_of_keys_in_the_file_does_not_matter(strange: dict[str, Any]):
    turned = json.dumps(dict(reversed(strange.items()))).encode()
    assert encode_layer(decode_layer(turned, "x")) == canonical(strange)


def test_they_go_with_their_region_when_regions_are_turned_round(strange: dict[str, Any]):
    layer = decode_layer(canonical(strange), "x")
    turned = replace(layer, regions=layer.regions[::-1])
    strange["regions"].reverse()
    assert encode_layer(turned) == canonical(strange)


def test_they_go_when_their_region_goes_and_come_back_by_undo(strange: dict[str, Any]):
    history = History(decode_layer(canonical(strange), "x"))
    history.record(remove_region(history.layer, "r-second", when=""), "Delete region")
    raw = json.loads(encode_layer(history.layer))
    assert raw["regions"] == strange["regions"][1:]
    # The entry about it is about its spans now, with all that the spans had.
    assert raw["entries"][0]["target"]["spans"] == strange["regions"][0]["spans"]
    assert encode_layer(history.undo()) == canonical(strange)


def test_they_stay_when_their_record_is_changed(strange: dict[str, Any]):
    layer = decode_layer(canonical(strange), "x")
    changed = change_region(layer, "r-first", label="New", when="2032-01-01T00:00:00Z")
    strange["regions"][1]["label"] = "New"
    strange["regions"][1]["changed"] = "2032-01-01T00:00:00Z"
    assert encode_layer(changed) == canonical(strange)


def test_a_moved_edge_keeps_those_of_the_other_edge_and_of_the_span(strange: dict[str, Any]):
    layer = decode_layer(canonical(strange), "x")
    moved = move_edges(layer, "r-first", end=Place(bar=4, printed="4"), when="")
    raw = json.loads(encode_layer(moved))["regions"][1]["spans"][0]
    expected = strange["regions"][1]["spans"][0]
    assert raw == {**expected, "end": {"bar": 4, "offset": "0", "printed": "4"}}


def test_they_survive_open_and_save_on_disk(strange: dict[str, Any], tmp_path: Path):
    path = tmp_path / "evening.layer.json"
    path.write_bytes(canonical(strange))
    loaded = load_layer(path)
    save_layer(path, loaded.layer, loaded=loaded)
    assert path.read_bytes() == canonical(strange)


def test_layers_that_differ_only_there_are_not_equal(rich_layer: Layer):
    other = replace(rich_layer, unknown_fields='{"a": 1}')
    assert other != rich_layer
    assert hash(other.regions[0]) == hash(rich_layer.regions[0])


def test_a_known_field_wins_over_an_unknown_one_of_its_name(rich_layer: Layer):
    # As happens when a value made by an older version meets a newer one in memory.
    region = replace(rich_layer.regions[0], unknown_fields='{"label": "old", "extra": 1}')
    raw = json.loads(encode_layer(replace(rich_layer, regions=(region,))))
    assert raw["regions"][0]["label"] == region.label
    assert raw["regions"][0]["extra"] == 1


def test_an_unknown_field_nested_beyond_reason_is_refused(rich_layer: Layer):
    raw = json.loads(encode_layer(rich_layer))
    deep: list[Any] = []
    for _ in range(300):
        deep = [deep]
    raw["regions"][0]["later"] = deep
    with pytest.raises(LayerFileError, match="nested too deeply"):
        decode_layer(msgspec.json.encode(raw), "x")
