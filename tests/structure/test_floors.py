"""The house rules that a program can check: imports, sizes, places, style and types."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
LONGEST_MODULE_LINES = {"app": 450, "resources": 450, "tests": 500}
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "app",
    "resources",
    "sample_projects",
    "tests",
}
MADE_BY_TOOLS = {"output", "dist", "build"}
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "manager", "common", "misc"}


def project_files() -> list[Path]:
    """Return the files of the project, relative to the checkout."""
    return [
        path.relative_to(CHECKOUT)
        for entry in CHECKOUT.iterdir()
        if not entry.name.startswith(".") and entry.name not in MADE_BY_TOOLS
        for path in ([entry] if entry.is_file() else entry.rglob("*"))
        if path.is_file() and "__pycache__" not in path.parts
    ]


def run_module(*words: str) -> subprocess.CompletedProcess[str]:
    """Run a module of the tests' Python in the checkout."""
    return subprocess.run(
        [sys.executable, "-m", *words], cwd=CHECKOUT, check=False, capture_output=True, text=True
    )


def assert_fine(done: subprocess.CompletedProcess[str]) -> None:
    assert done.returncode == 0, done.stdout + done.stderr


def test_imports_point_down_only():
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", code, "--no-cache"],
        cwd=CHECKOUT,
        check=False,
        capture_output=True,
        text=True,
    )
    assert_fine(done)
    assert "0 broken" in done.stdout


# Which rooms may import a part of Qt: the window draws and asks, engraving and delivery paint.
QT_ROOMS = {
    "QtCore": {"window", "engraving", "delivery"},
    "QtGui": {"window", "engraving", "delivery"},
    "QtSvg": {"window", "engraving", "delivery"},
}


def test_widgets_stay_in_the_window_and_painting_out_of_the_lower_floors():
    package = CHECKOUT / "app" / "stavelight"
    wrong = [
        f"{path.relative_to(package)} imports {module}"
        for path in sorted(package.rglob("*.py"))
        for module in qt_modules(ast.parse(path.read_text(encoding="utf-8")))
        if path.relative_to(package).parts[0] not in QT_ROOMS.get(module, {"window"})
    ]
    assert wrong == []


def test_the_search_for_qt_modules_finds_every_way_to_import_one():
    source = """
import PySide6.QtGui
from PySide6 import QtCore, QtSvg
from PySide6.QtWidgets import QLabel
def late():
    from PySide6.QtPdf import QPdfDocument
"""
    found = qt_modules(ast.parse(source))
    assert sorted(found) == ["QtCore", "QtGui", "QtPdf", "QtSvg", "QtWidgets"]


def qt_modules(tree: ast.Module) -> list[str]:
    """Return the names of the Qt modules that a Python module imports anywhere."""
    dotted: list[str] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            dotted += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module == "PySide6":
            dotted += [f"PySide6.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            dotted.append(node.module or "")
    return [name.split(".")[1] for name in dotted if name.startswith("PySide6.")]


def test_top_level_holds_only_what_belongs_there():
    assert {path.parts[0] for path in project_files()} == TOP_LEVEL


def test_modules_are_short():
    lengths = {
        path: len((CHECKOUT / path).read_text(encoding="utf-8").splitlines())
        for path in project_files()
        if path.suffix == ".py"
    }
    assert lengths
    too_long = {n: path for path, n in lengths.items() if n > LONGEST_MODULE_LINES[path.parts[0]]}
    assert too_long == {}


def test_no_module_has_a_vague_name():
    modules = [path for path in project_files() if path.suffix == ".py"]
    names = {Path(part).stem for path in modules for part in path.parts}
    words = {word for name in names for word in name.split("_")}
    assert words & VAGUE_NAMES == set()


def test_every_test_folder_mirrors_a_floor():
    floors = {path.name for path in (CHECKOUT / "app" / "stavelight").iterdir() if path.is_dir()}
    folders = {
        path.parts[1]
        for path in project_files()
        if path.parts[0] == "tests" and len(path.parts) > 2
    }
    assert folders - floors - {"structure", "benchmarks", "sample_projects"} == set()


@pytest.mark.parametrize("words", [("ruff", "check"), ("ruff", "format", "--check"), ("mypy",)])
def test_style_and_types(words):
    assert_fine(run_module(*words))
