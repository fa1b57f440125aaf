from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from msgspec.structs import replace

from stavelight.annotation.commentary import Entry
from stavelight.annotation.layer import FORMAT_VERSION, Layer
from stavelight.annotation.layer_text import decode_layer, encode_layer
from stavelight.annotation.region import Place
from stavelight.errors import LayerFileError


def test_the_text_is_what_the_standard_library_writes(rich_layer: Layer):
    data = encode_layer(rich_layer)
    standard = json.dumps(json.loads(data), indent=2, sort_keys=True, ensure_ascii=False)
    assert data.decode("utf-8") == standard + "\n"


def test_a_change_of_one_value_is_a_change_of_one_line(rich_layer: Layer):
    regions = (rich_layer.regions[0], replace(rich_layer.regions[1], label="New"))
    before = encode_layer(rich_layer).splitlines()
    after = encode_layer(replace(rich_layer, regions=regions)).splitlines()
    assert len(before) == len(after)
    assert sum(one != other for one, other in zip(before, after, strict=True)) == 1


def test_everything_comes_back(rich_layer: Layer):
    assert decode_layer(encode_layer(rich_layer), "x") == rich_layer


@pytest.mark.parametrize("number", range(30))
def test_random_layers_come_back(random_layer: Callable[[int, int], Layer], number: int):
    layer = random_layer(number, number)
    assert decode_layer(encode_layer(layer), "x") == layer
    # Also when another program has written it with other spaces and another order of keys.
    other = json.dumps(dict(reversed(json.loads(encode_layer(layer)).items()))).encode()
    assert decode_layer(other, "x") == layer


def test_fields_left_out_have_their_defaults(rich_layer: Layer):
    short = {"format_version": 1, "score": {"file_name": "a.mxl", "sha256": "00"}}
    layer = decode_layer(json.dumps(short).encode(), "x")
    assert (layer.regions, layer.lessons, layer.credits) == ((), (), ())
    assert layer.format_version == FORMAT_VERSION


def test_a_byte_order_mark_does_no_harm(rich_layer: Layer):
    data = encode_layer(rich_layer)
    assert decode_layer(b"\xef\xbb\xbf" + data, "x") == rich_layer


@pytest.mark.parametrize(
    "broken",
    [
        {"start": Place(bar=-1)},
        {"start": Place(bar=1, offset="half")},
    ],
)
def test_what_could_not_be_read_again_is_not_written(rich_layer: Layer, broken: dict[str, Any]):
    span = replace(rich_layer.regions[0].spans[0], **broken)
    region = replace(rich_layer.regions[0], spans=(span,))
    with pytest.raises(ValueError, match="Expected"):
        encode_layer(replace(rich_layer, regions=(region,)))


@pytest.mark.parametrize(
    ("data", "where", "what"),
    [
        (b"", "f", "it is empty"),
        (b" \n\t", "f", "it is empty"),
        (b'{\n  "format_version": 1,\n  oops\n}', "f, line 3, column 3", "property name"),
        (b'{"format_version": 1', "f, line 1, column 21", "delimiter"),
        (b'{"a": 1}}', "f, line 1, column 9", "extra data"),
        (b'{\n"a": NaN}', "f, line 2, column 6", "does not allow"),
        (b'{"a":\n "caf\xe9"}', "f, line 2", "not UTF-8"),
        ('{"a": 1}'.encode("utf-16"), "f, line 1", "not UTF-8"),
        (b'{"a": "\\ud800"}', "f", "does not allow"),
        (b'{"a": ' + b"9" * 5000 + b"}", "f", "too long"),
        (b"[" * 100_000, "f", "nested too deeply"),
        (b'{"a": 1,\n<<<<<<< mine\n"b": 2\n=======\n', "f, line 2", "could not merge"),
    ],
)
def test_broken_json_is_told_with_its_place(data: bytes, where: str, what: str):
    with pytest.raises(LayerFileError) as caught:
        decode_layer(data, "f")
    assert what in caught.value.what
    assert caught.value.where == where
    assert caught.value.remedy


@pytest.mark.parametrize(
    "data",
    [
        b"[]",
        b"3",
        b'"x"',
        b"null",
        b"{}",
        b'{"format_version": "1"}',
        b'{"format_version": true}',
        b'{"format_version": 0}',
        b'{"type": "FeatureCollection"}',
    ],
)
def test_other_json_is_no_layer(data: bytes):
    with pytest.raises(LayerFileError, match="not an annotation layer"):
        decode_layer(data, "f")


def change(raw: Any, path: list[str | int], value: Any) -> None:
    for step in path[:-1]:
        raw = raw[step]
    if value is KeyError:
        del raw[path[-1]]
    else:
        raw[path[-1]] = value


@pytest.mark.parametrize(
    ("path", "value", "where"),
    [
        (["regions"], {}, "$.regions"),
        (["regions", 1], 5, "$.regions[1]"),
        (["regions", 1, "id"], "", "$.regions[1].id"),
        (["regions", 0, "id"], KeyError, "$.regions[0]"),
        (["regions", 0, "certainty"], "perhaps", "$.regions[0].certainty"),
        (["regions", 0, "created"], "yesterday", "$.regions[0].created"),
        (["regions", 0, "spans", 1, "start", "bar"], -1, "$.regions[0].spans[1].start.bar"),
        (["regions", 0, "spans", 1, "start", "bar"], 1.5, "$.regions[0].spans[1].start.bar"),
        (["regions", 0, "spans", 0, "end", "offset"], 0.5, "$.regions[0].spans[0].end.offset"),
        (
            ["regions", 0, "spans", 0, "staves", 0, "staff"],
            0,
            "$.regions[0].spans[0].staves[0].staff",
        ),
        (["entries", 0, "target", "on"], "moon", "$.entries[0].target.on"),
        (["entries", 0, "target"], "moon", "$.entries[0].target"),
        (["entries", 1, "start_seconds"], -1, "$.entries[1].start_seconds"),
        (["entries", 1, "kind"], "poem", "$.entries[1].kind"),
        (["lessons", 0, "order"], "random", "$.lessons[0].order"),
        (["score"], KeyError, "$"),
        (["score", "sha256"], None, "$.score.sha256"),
        (["credits", 0], 7, "$.credits[0]"),
    ],
)
def test_a_wrong_structure_is_told_with_the_path(
    rich_layer: Layer, path: list[str | int], value: Any, where: str
):
    raw = json.loads(encode_layer(rich_layer))
    change(raw, path, value)
    with pytest.raises(LayerFileError) as caught:
        decode_layer(json.dumps(raw).encode(), "f")
    assert caught.value.where == f"f: {where}"
    assert "`" not in caught.value.one_line()


def test_a_newer_file_is_read_as_far_as_it_is_known(rich_layer: Layer):
    raw = json.loads(encode_layer(rich_layer))
    raw["format_version"] = 99
    raw["sections"] = [{"name": "Exposition"}]
    layer = decode_layer(json.dumps(raw).encode(), "f")
    assert layer.format_version == 99
    assert layer.regions == rich_layer.regions


def test_a_newer_file_that_cannot_be_read_says_that_it_is_newer(rich_layer: Layer):
    raw = json.loads(encode_layer(rich_layer))
    raw["format_version"] = 99
    raw["regions"] = {"by": "id"}
    with pytest.raises(LayerFileError, match="format version 99") as caught:
        decode_layer(json.dumps(raw).encode(), "f")
    assert "newer version" in caught.value.remedy


def test_a_field_of_the_files_own_that_looks_like_ours_is_kept(rich_layer: Layer):
    data = encode_layer(replace(rich_layer, entries=(Entry(id="e", text='"unknown_fields":'),)))
    assert decode_layer(data, "f").entries[0].text == '"unknown_fields":'
    raw = json.loads(data)
    raw["unknown_fields"] = "text"
    layer = decode_layer(json.dumps(raw).encode(), "f")
    assert json.loads(encode_layer(layer)) == raw
