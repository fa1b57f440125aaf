"""`stavelight check`: silence for a sound layer, one line a fault, one line for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from stavelight.command_line import program


def check(path: Path, capsys) -> tuple[int, list[str], list[str]]:
    code = program.run(["check", str(path)], lambda path: pytest.fail("opened the window"))
    captured = capsys.readouterr()
    return code, captured.out.splitlines(), captured.err.splitlines()


def edit(project: Path, change) -> None:
    path = project / "tune.layer.json"
    raw = json.loads(path.read_text(encoding="utf-8"))
    change(raw)
    path.write_text(json.dumps(raw), encoding="utf-8")


@pytest.mark.parametrize("name", ["", "tune.layer.json", "tune.musicxml"])
def test_a_sound_layer_passes_in_silence(project, name, capsys):
    before = {path: path.read_bytes() for path in project.iterdir()}
    assert check(project / name, capsys) == (0, [], [])
    assert {path: path.read_bytes() for path in project.iterdir()} == before


def test_each_fault_is_one_line(project, capsys):
    def change(raw):
        raw["regions"][0]["colour"] = "sky-blue-pink"
        raw["regions"][0]["spans"][0]["end"]["bar"] = 7

    edit(project, change)
    code, lines, errors = check(project, capsys)
    assert (code, errors) == (1, [])
    assert len(lines) == 2
    assert all(line.startswith(f"{project / 'tune.layer.json'}: $.regions[0]") for line in lines)
    assert "sky-blue-pink" in "".join(lines)


def test_a_changed_score_is_a_fault(project, capsys):
    path = project / "tune.musicxml"
    path.write_text(path.read_text("utf-8").replace("Oboe", "Oboes"), encoding="utf-8")
    code, lines, _ = check(project, capsys)
    assert code == 1
    assert any("$.score.sha256" in line for line in lines)


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", "\x00"])
def test_what_is_no_layer_is_told_in_one_line(project, text, capsys):
    (project / "tune.layer.json").write_text(text, encoding="utf-8")
    code, lines, errors = check(project / "tune.layer.json", capsys)
    assert code == 1
    assert len(lines + errors) == 1
    assert "tune.layer.json" in (lines + errors)[0]


def test_a_score_without_a_layer_is_told(project, capsys):
    (project / "tune.layer.json").unlink()
    code, lines, errors = check(project, capsys)
    assert (code, lines) == (1, [])
    (line,) = errors
    assert "There is no layer beside this score. It would be called tune.layer.json." in line


def test_a_layer_without_its_score_is_told(project, capsys):
    (project / "tune.musicxml").unlink()
    code, lines, errors = check(project / "tune.layer.json", capsys)
    assert code == 1
    assert len(lines + errors) == 1
    assert "tune.musicxml" in (lines + errors)[0]
