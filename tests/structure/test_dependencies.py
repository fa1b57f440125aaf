"""What the program imports is what it asks to have installed, and the other way round."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

PRESENT_BY_ITSELF = {"stavelight"}


def normal(name: str) -> str:
    """Return a distribution's name in its normal form (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def declared(checkout: Path) -> set[str]:
    project = tomllib.loads((checkout / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {normal(re.match(r"[\w.-]+", line)[0]) for line in project["dependencies"]}


def imported(checkout: Path) -> set[str]:
    found: set[str] = set()
    for path in (checkout / "app" / "stavelight").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                found.add((node.module or "").split(".")[0])
    return found - sys.stdlib_module_names - PRESENT_BY_ITSELF


def test_what_is_imported_is_declared_and_what_is_declared_is_imported(checkout: Path):
    owners = packages_distributions()
    known = declared(checkout)
    used: set[str] = set()
    for module in imported(checkout):
        providers = {normal(name) for name in owners[module]}
        # PySide6 comes in several distributions; all of them own the name.
        assert providers & known, f"{module} comes from {providers}, none of them declared"
        used |= providers & known
    assert known - used == set()
