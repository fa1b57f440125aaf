from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from msgspec.structs import replace

from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_file import save_layer
from stavelight.annotation.project import Project, ProjectError, find_project
from stavelight.errors import LayerFileError


def write_layer(path: Path, layer: Layer, score_name: str, data: bytes = b"") -> None:
    reference = replace(layer.score, file_name=score_name, sha256=hashlib.sha256(data).hexdigest())
    save_layer(path, replace(layer, score=reference))


def test_a_score_is_a_project_with_or_without_a_layer(tmp_path: Path, rich_layer: Layer):
    score, layer = tmp_path / "evening.mxl", tmp_path / "evening.layer.json"
    score.touch()
    project = find_project(score)
    assert project == Project(tmp_path, score, layer)
    assert not project.has_layer
    write_layer(layer, rich_layer, "evening.mxl")
    assert find_project(score).has_layer


def test_a_layer_leads_to_the_score_that_it_names(tmp_path: Path, rich_layer: Layer):
    score, layer = tmp_path / "evening.mxl", tmp_path / "my lesson.layer.json"
    score.touch()
    (tmp_path / "other.mxl").touch()
    write_layer(layer, rich_layer, "evening.mxl")
    assert find_project(layer) == Project(tmp_path, score, layer)


def test_a_layer_leads_to_a_renamed_score_by_its_content(tmp_path: Path, rich_layer: Layer):
    layer = tmp_path / "evening.layer.json"
    (tmp_path / "evening.mei").write_bytes(b"other")
    (tmp_path / "night.mxl").write_bytes(b"music")
    write_layer(layer, rich_layer, "gone.mxl", b"music")
    assert find_project(layer).score_path.name == "night.mxl"


def test_a_layer_leads_to_a_revised_and_renamed_score_by_its_own_name(
    tmp_path: Path, rich_layer: Layer
):
    layer = tmp_path / "evening.layer.json"
    (tmp_path / "evening.mei").write_bytes(b"revised")
    write_layer(layer, rich_layer, "gone.mxl", b"music")
    assert find_project(layer).score_path.name == "evening.mei"


@pytest.mark.parametrize("name", ["gone.mxl", "", "../outside/evening.mxl", "/etc/evening.mxl"])
def test_a_layer_whose_score_is_not_beside_it_says_so(tmp_path: Path, rich_layer: Layer, name: str):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "evening.mxl").touch()
    folder = tmp_path / "project"
    folder.mkdir()
    write_layer(folder / "lesson.layer.json", rich_layer, name, b"music")
    with pytest.raises(ProjectError, match="not beside it"):
        find_project(folder / "lesson.layer.json")


def test_a_broken_layer_is_told_as_such(tmp_path: Path):
    path = tmp_path / "evening.layer.json"
    path.write_text("{", encoding="utf-8")
    with pytest.raises(LayerFileError, match="line 1"):
        find_project(path)


def test_a_folder_with_one_score_is_a_project(tmp_path: Path):
    (tmp_path / "evening.mxl").touch()
    (tmp_path / "notes.txt").touch()
    (tmp_path / ".hidden.mxl").touch()
    (tmp_path / "folder.mei").mkdir()
    assert find_project(tmp_path).score_path.name == "evening.mxl"


def test_a_folder_prefers_the_score_that_has_a_layer(tmp_path: Path, rich_layer: Layer):
    (tmp_path / "evening.mxl").touch()
    (tmp_path / "evening for piano.mxl").touch()
    with pytest.raises(ProjectError) as caught:
        find_project(tmp_path)
    assert "several scores in this folder: evening for piano.mxl, evening.mxl." in str(caught.value)
    assert "by itself" in caught.value.remedy
    write_layer(tmp_path / "evening.layer.json", rich_layer, "evening.mxl")
    assert find_project(tmp_path).score_path.name == "evening.mxl"
    write_layer(tmp_path / "evening for piano.layer.json", rich_layer, "evening for piano.mxl")
    with pytest.raises(ProjectError, match="several scores with a layer"):
        find_project(tmp_path)


def test_a_folder_without_a_score_says_so(tmp_path: Path):
    with pytest.raises(ProjectError, match="no score"):
        find_project(tmp_path)


def test_a_path_that_is_nothing_says_so(tmp_path: Path):
    with pytest.raises(ProjectError, match="no such file"):
        find_project(tmp_path / "gone.mxl")
    (tmp_path / "notes.txt").touch()
    with pytest.raises(ProjectError, match="neither a score"):
        find_project(tmp_path / "notes.txt")


def test_a_folder_that_cannot_be_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(ProjectError, match="cannot be read"):
        find_project(tmp_path)


def test_a_score_that_cannot_be_read_is_passed_by_in_the_search(
    tmp_path: Path, rich_layer: Layer, monkeypatch: pytest.MonkeyPatch
):
    layer = tmp_path / "lesson.layer.json"
    write_layer(layer, rich_layer, "gone.mxl", b"music")
    (tmp_path / "night.mxl").write_bytes(b"music")
    real = Path.open

    def refuse(self: Path, *args: str, **kwargs: str):
        if self.suffix == ".mxl":
            raise PermissionError(13, "Permission denied")
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(ProjectError, match="not beside it"):
        find_project(layer)
