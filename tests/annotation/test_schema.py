"""The schema against an outside judge: a validator of JSON Schema, draft 2020-12."""

from __future__ import annotations

import json
import runpy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stavelight.annotation import schema as schema_module
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_text import encode_layer
from stavelight.annotation.schema import SCHEMA_NAME, layer_schema, schema_text
from stavelight.resource_files import resource

jsonschema = pytest.importorskip("jsonschema")


@pytest.fixture
def validator() -> Any:
    schema = json.loads((resource("schema") / SCHEMA_NAME).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_file_is_up_to_date():
    text = (resource("schema") / SCHEMA_NAME).read_text(encoding="utf-8")
    assert text == schema_text(), "run: python -m stavelight.annotation.schema"


def test_running_the_module_writes_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("stavelight.resource_files.resource", lambda _: tmp_path)
    with pytest.warns(RuntimeWarning, match="found in sys.modules"):
        runpy.run_module("stavelight.annotation.schema", run_name="__main__")
    assert (tmp_path / SCHEMA_NAME).read_text(encoding="utf-8") == schema_text()
    assert schema_module.SCHEMA_NAME == SCHEMA_NAME


def test_it_says_which_draft_it_is_of_and_hides_what_is_internal():
    schema = layer_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "unknown_fields" not in schema_text()


def test_saved_layers_are_valid(
    validator: Any, rich_layer: Layer, random_layer: Callable[[int, int], Layer]
):
    for layer in (rich_layer, *(random_layer(number, 12) for number in range(10))):
        assert [
            fault.message for fault in validator.iter_errors(json.loads(encode_layer(layer)))
        ] == []


def test_unknown_fields_are_valid(validator: Any, rich_layer: Layer):
    raw = json.loads(encode_layer(rich_layer))
    raw["later"] = raw["regions"][0]["spans"][0]["later"] = raw["entries"][0]["target"]["x"] = 1
    assert validator.is_valid(raw)


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (("format_version",), 0),
        (("format_version",), "1"),
        (("score",), None),
        (("score", "sha256"), 7),
        (("regions", 0, "id"), ""),
        (("regions", 0, "spans"), "all"),
        (("regions", 0, "spans", 0, "start", "bar"), -1),
        (("regions", 0, "spans", 0, "start", "offset"), "1/0"),
        (("regions", 0, "spans", 0, "staves", 0, "staff"), 0),
        (("regions", 0, "certainty"), "perhaps"),
        (("regions", 0, "changed"), "yesterday"),
        (("entries", 0, "target", "on"), "moon"),
        (("entries", 1, "start_seconds"), -0.5),
        (("lessons", 0, "order"), "random"),
        (("own_tags", 0, "alternatives", 0), "scintillio"),
    ],
)
def test_broken_layers_are_not(
    validator: Any, rich_layer: Layer, at: tuple[str | int, ...], value: Any
):
    raw = json.loads(encode_layer(rich_layer))
    target: Any = raw
    for step in at[:-1]:
        target = target[step]
    target[at[-1]] = value
    assert not validator.is_valid(raw)


@pytest.mark.parametrize(
    "at",
    [
        ("format_version",),
        ("score",),
        ("score", "sha256"),
        ("regions", 0, "id"),
        ("regions", 0, "spans", 0, "end"),
        ("entries", 0, "target", "on"),
    ],
)
def test_what_must_be_there_must_be_there(
    validator: Any, rich_layer: Layer, at: tuple[str | int, ...]
):
    raw = json.loads(encode_layer(rich_layer))
    target: Any = raw
    for step in at[:-1]:
        target = target[step]
    del target[at[-1]]
    assert not validator.is_valid(raw)
