"""The JSON Schema of layer files, made from the records themselves.

``python -m stavelight.annotation.schema`` writes it anew into the checkout's resources.
"""

from __future__ import annotations

import inspect
import json
from typing import Any

import msgspec

from stavelight.annotation.layer import FORMAT_VERSION, Layer
from stavelight.resource_files import resource

SCHEMA_NAME = "layer.schema.json"


def layer_schema() -> dict[str, Any]:
    """Return the schema of layer files: JSON Schema, draft 2020-12.

    Fields that it does not name are allowed: newer versions and other programs may add some.
    """
    schema = msgspec.json.schema(Layer)
    for definition in schema["$defs"].values():
        definition.get("properties", {}).pop("unknown_fields", None)
        description = definition.get("description")
        if description:
            first = inspect.cleandoc(description).split("\n\n", 1)[0]
            definition["description"] = " ".join(first.split())
    layer = schema["$defs"]["Layer"]
    layer["required"] = ["format_version", *layer["required"]]
    layer["properties"]["format_version"].pop("default", None)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Stavelight annotation layer, format version {FORMAT_VERSION}",
        **schema,
    }


def schema_text() -> str:
    """Return the schema as it stands in the file."""
    return json.dumps(layer_schema(), indent=2, ensure_ascii=False) + "\n"


def write_schema() -> None:
    """Write the schema anew into the resources."""
    path = resource("schema") / SCHEMA_NAME
    path.write_text(schema_text(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write_schema()
