"""The wheel holds all that the program needs, and its command starts without the checkout."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import sysconfig
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

MADE_BY_TOOLS = re.compile(r"__pycache__|(^|/)\.")


def run(*words: str | Path, cwd: Path, **environment: str) -> str:
    """Run a command and return what it wrote."""
    done = subprocess.run(
        [str(word) for word in words],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": "", **environment},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=checkout)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh virtual environment with the wheel, which borrows the dependencies from ours."""
    folder = tmp_path_factory.mktemp("installed")
    venv.create(folder, symlinks=os.name != "nt")
    binaries = folder / ("Scripts" if os.name == "nt" else "bin")
    pip = (sys.executable, "-m", "pip", "--python", binaries / "python", "install")
    run(*pip, "--quiet", "--no-deps", "--no-index", wheel, cwd=folder)
    (site_packages,) = folder.glob("[Ll]ib/python*/site-packages")
    borrowed = site_packages / "borrowed.pth"
    borrowed.write_text(sysconfig.get_paths()["purelib"], encoding="utf-8")
    return binaries


def test_every_resource_and_sample_is_in_the_wheel(wheel: Path, checkout: Path):
    with zipfile.ZipFile(wheel) as archive:
        inside = {name: archive.read(name) for name in archive.namelist()}
    expected = {
        f"stavelight/{path.relative_to(checkout).as_posix()}": path.read_bytes()
        for folder in ("resources", "sample_projects")
        for path in (checkout / folder).rglob("*")
        if path.is_file() and not MADE_BY_TOOLS.search(path.relative_to(checkout).as_posix())
    }
    assert expected
    assert {name for name in expected if inside.get(name) != expected[name]} == set()
    assert "stavelight/py.typed" in inside
    assert not [name for name in inside if name.startswith(("tests/", "start", "app/"))]


def test_the_installed_command_works_without_the_checkout(
    installed: Path, checkout: Path, tmp_path: Path
):
    code = (
        "import stavelight, stavelight.resource_files as files; print(stavelight.__file__); "
        "print(files.sample_projects_folder()); print(files.resource('licences'))"
    )
    places = run(installed / "python", "-c", code, cwd=tmp_path).split("\n")[:3]
    assert all(Path(place).is_relative_to(installed.parent) for place in places)
    assert not any(Path(place).is_relative_to(checkout) for place in places)
    command = installed / "stavelight"
    version = tomllib.loads((checkout / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    assert run(command, "--version", cwd=tmp_path) == f"stavelight {version}\n"
    sample = next(path for path in Path(places[1]).iterdir() if path.is_dir())
    run(command, "check", sample, cwd=tmp_path)
    run(command, "notes", sample, "-o", "notes.csv", cwd=tmp_path)
    assert len((tmp_path / "notes.csv").read_text(encoding="utf-8").splitlines()) > 1000
