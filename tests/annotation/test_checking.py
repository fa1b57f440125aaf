from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from stavelight.annotation.checking import Fault, check_layer
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_text import encode_layer
from stavelight.errors import LayerFileError
from stavelight.score.structure import Score


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "evening.layer.json"


@pytest.fixture
def raw(rich_layer: Layer) -> dict[str, Any]:
    return json.loads(encode_layer(rich_layer))


def lines(path: Path, raw: Any, score: Score | None = None) -> list[str]:
    path.write_text(json.dumps(raw), encoding="utf-8")
    return [fault.one_line() for fault in check_layer(path, score)]


def test_a_good_layer_has_no_faults(path: Path, raw: dict[str, Any], score: Score):
    assert lines(path, raw) == []
    assert lines(path, raw, score) == []


def test_fields_of_newer_versions_are_no_faults(path: Path, raw: dict[str, Any]):
    raw["regions"][0]["spans"][0]["later"] = raw["unknown_fields"] = {"a": 1}
    assert lines(path, raw) == []


def test_all_faults_of_kind_are_listed_each_with_its_path(path: Path, raw: dict[str, Any]):
    raw["regions"][0]["certainty"] = "perhaps"
    raw["regions"][0]["spans"][1]["start"]["bar"] = "four"
    raw["regions"][0]["spans"][0]["staves"][1]["staff"] = 0
    del raw["regions"][0]["spans"][0]["end"]
    raw["regions"][1]["spans"] = {"start": 1}
    raw["entries"][0]["target"]["on"] = "moon"
    raw["entries"][1]["start_seconds"] = -3
    raw["entries"][1]["target"]["spans"][0]["start"]["offset"] = "half"
    raw["entries"][2] = "text"
    raw["credits"] = [1, "fine", 2]
    del raw["score"]["sha256"]
    found = lines(path, raw)
    assert [line.split(": ")[0] for line in found] == [
        "$.score",
        "$.regions[0].spans[0]",
        "$.regions[0].spans[0].staves[1].staff",
        "$.regions[0].spans[1].start.bar",
        "$.regions[0].certainty",
        "$.regions[1].spans",
        "$.entries[0].target.on",
        "$.entries[1].target.spans[0].start.offset",
        "$.entries[1].start_seconds",
        "$.entries[2]",
        "$.credits[0]",
        "$.credits[2]",
    ]
    assert found[0] == "$.score: Object missing required field sha256."
    assert "`" not in "".join(found)


def test_a_faulty_item_hides_no_fault_of_the_others(path: Path, raw: dict[str, Any]):
    raw["regions"][0]["certainty"] = "perhaps"
    raw["regions"][1]["colour"] = "mauve"
    found = lines(path, raw)
    assert found[-1] == "$.regions[1].colour: There is no colour 'mauve'."
    assert len(found) == 2


SPAN = ("regions", 0, "spans", 0)


@pytest.mark.parametrize(
    ("at", "value", "fault"),
    [
        (("regions", 1, "id"), "r-second", "$.regions[1].id: The id 'r-second' is taken by"),
        (("entries", 2, "id"), "r-first", "$.entries[2].id: The id 'r-first' is taken by"),
        (("lessons", 1, "id"), "l-all", "$.lessons[1].id: The id 'l-all' is taken by"),
        (("regions", 0, "colour"), "black", "$.regions[0].colour: Black belongs to the score"),
        (("regions", 0, "pattern"), "spots", "$.regions[0].pattern: There is no pattern"),
        (("regions", 0, "tags", 1), "shine", "$.regions[0].tags[1]: There is no tag 'shine'."),
        (("regions", 0, "tags", 1), "melody", "$.regions[0].tags[1]: The tag 'melody' is given"),
        (("regions", 1, "spans"), [], "$.regions[1].spans: The region has no span."),
        ((*SPAN, "staves"), [], "$.regions[0].spans[0].staves: The span has no staff."),
        (
            (*SPAN, "staves", 1),
            {"part": "P1", "staff": 1, "name": "Flute"},
            "$.regions[0].spans[0].staves[1]: The staff is given twice.",
        ),
        ((*SPAN, "end", "bar"), 1, "$.regions[0].spans[0].end: The span ends before it starts."),
        (
            (*SPAN, "end"),
            {"bar": 2, "offset": "2/8"},
            "$.regions[0].spans[0].end: The span ends where it starts.",
        ),
        (("entries", 0, "target", "region"), "gone", "$.entries[0].target.region: There is no"),
        (("entries", 1, "target", "spans"), [], "$.entries[1].target.spans: The entry has no"),
        (
            ("entries", 1, "target", "spans", 0, "end", "bar"),
            0,
            "$.entries[1].target.spans[0].end: The span ends before",
        ),
        (("entries", 1, "end_seconds"), 60, "$.entries[1].end_seconds: The entry's time ends"),
        (("entries", 1, "start_seconds"), None, "$.entries[1].end_seconds: The entry has an end"),
        (("entries", 0, "changed"), "2031-04-01T00:00:00Z", "$.entries[0].changed: It was changed"),
        (("regions", 0, "created"), "2031-02-30T00:00:00Z", "$.regions[0].created: There is no"),
        (("lessons", 1, "items", 0), "gone", "$.lessons[1].items[0]: There is no region or"),
        (("own_tags", 0, "broader"), "gone", "$.own_tags[0].broader: There is no tag 'gone'."),
        (("own_tags", 0, "colour"), "mauve", "$.own_tags[0].colour: There is no colour"),
    ],
)
def test_what_does_not_fit_together_is_one_line(
    path: Path, raw: dict[str, Any], at: tuple[str | int, ...], value: Any, fault: str
):
    target: Any = raw
    for step in at[:-1]:
        target = target[step]
    target[at[-1]] = value
    found = [line for line in lines(path, raw) if line.startswith(fault)]
    assert len(found) == 1


def test_an_entry_about_a_faulty_region_points_to_something(path: Path, raw: dict[str, Any]):
    raw["regions"][0]["certainty"] = "perhaps"
    assert [line.split(": ")[0] for line in lines(path, raw)] == ["$.regions[0].certainty"]


@pytest.mark.parametrize(
    ("at", "value", "fault"),
    [
        (
            (*SPAN, "end", "bar"),
            400,
            "$.regions[0].spans[0].end: The score has no bar of index 400",
        ),
        (
            (*SPAN, "start", "offset"),
            "5/4",
            "$.regions[0].spans[0].start: Bar 2 is 3/4 whole notes",
        ),
        ((*SPAN, "start", "printed"), "77", "$.regions[0].spans[0].start: The bar of index 2 was"),
        ((*SPAN, "staves", 0, "part"), "P77", "$.regions[0].spans[0].staves[0]: The part 'Flute'"),
        (
            (*SPAN, "staves", 1, "staff"),
            3,
            "$.regions[0].spans[0].staves[1]: The score has no staff",
        ),
        (
            (*SPAN, "staves", 0),
            {"part": "P77", "name": "Gong"},
            "$.regions[0].spans[0].staves[0]: The score has no staff 1 of P77 'Gong'.",
        ),
        (("regions", 1, "notes", 0, "id"), "n9", "$.regions[1].notes[0].id: The score has no note"),
        (("regions", 1, "notes", 0, "place", "bar"), 99, "$.regions[1].notes[0].place: The score"),
        (("score", "sha256"), "cd" * 32, "$.score.sha256: The layer was made for another score"),
    ],
)
def test_what_does_not_fit_the_score_is_one_line(
    path: Path, raw: dict[str, Any], score: Score, at: tuple[str | int, ...], value: Any, fault: str
):
    target: Any = raw
    for step in at[:-1]:
        target = target[step]
    target[at[-1]] = value
    assert len([line for line in lines(path, raw, score) if line.startswith(fault)]) == 1
    assert not [line for line in lines(path, raw) if line.startswith(fault)]


def test_a_broken_reference_is_told_once(path: Path, raw: dict[str, Any], score: Score):
    raw["score"] = "evening.musicxml"
    assert [line.split(": ")[0] for line in lines(path, raw, score)] == ["$.score"]


def test_broken_json_is_one_fault_with_its_place(path: Path):
    path.write_text('{\n  "format_version": 1,\n  oops\n}', encoding="utf-8")
    faults = check_layer(path)
    assert [fault.where for fault in faults] == ["line 3, column 3"]
    path.write_text("", encoding="utf-8")
    assert [fault.where for fault in check_layer(path)] == ["$"]


def test_other_json_is_one_fault(path: Path):
    assert len(lines(path, [])) == 1
    assert len(lines(path, {"type": "FeatureCollection"})) == 1


def test_a_newer_version_is_a_fault(path: Path, raw: dict[str, Any]):
    raw["format_version"] = 7
    assert lines(path, raw)[0].startswith("$.format_version: Version 7 is newer")


def test_a_key_that_stands_twice_is_a_fault(path: Path, rich_layer: Layer):
    data = encode_layer(replace(rich_layer, regions=(), entries=(), lessons=()))
    path.write_bytes(data.replace(b'"credits": [', b'"score": 1,\n"credits": [', 1))
    assert Fault("$", "The key 'score' stands twice in one object.") in check_layer(path)


def test_a_field_nested_beyond_reason_is_a_fault(path: Path, raw: dict[str, Any]):
    deep: list[Any] = []
    for _ in range(300):
        deep = [deep]
    raw["later"] = deep
    assert [line.split(": ")[0] for line in lines(path, raw)] == ["$"]


def test_a_file_that_is_not_there_is_an_error(path: Path):
    with pytest.raises(LayerFileError):
        check_layer(path)
