"""The bootstrap app/start.py: what it needs, what it says, and what it leaves alone."""

from __future__ import annotations

import ast
import json
import os
import struct
import subprocess
import sys
from pathlib import Path

import PySide6
import pytest

import start

LINUX_ONLY = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux libraries")


def test_older_pythons_can_read_it_and_so_can_say_that_they_are_too_old(checkout: Path):
    source = (checkout / "app" / "start.py").read_text(encoding="utf-8")
    tree = ast.parse(source, feature_version=(3, 6))
    first_function = next(node for node in tree.body if isinstance(node, ast.FunctionDef))
    version_checks = [node for node in tree.body if isinstance(node, ast.If)]
    # An annotation such as dict[str, str] stops Python 3.8 where the function is defined.
    assert version_checks[0].lineno < first_function.lineno
    assert not any(
        isinstance(node, ast.ImportFrom) and node.module == "__future__" for node in tree.body
    )


def test_it_uses_only_the_standard_library(checkout: Path):
    tree = ast.parse((checkout / "app" / "start.py").read_text(encoding="utf-8"))
    imported: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add((node.module or "").split(".")[0])
    assert imported
    assert imported <= sys.stdlib_module_names


def needed_libraries(path: Path) -> set[str]:
    """Return the DT_NEEDED entries of a 64-bit ELF file (System V ABI, gABI 4.1, chapter 5)."""
    data = path.read_bytes()
    assert data[:6] == b"\x7fELF\x02\x01", "not a 64-bit little-endian ELF file"
    (section_table,) = struct.unpack_from("<Q", data, 0x28)
    entry_size, count = struct.unpack_from("<HH", data, 0x3A)
    # Of each section: type, offset, size, link.
    sections = [
        (
            struct.unpack_from("<I", data, at + 4)[0],
            *struct.unpack_from("<QQI", data, at + 24),
        )
        for at in range(section_table, section_table + count * entry_size, entry_size)
    ]
    needed = set()
    for kind, offset, size, link in sections:
        if kind == 6:  # SHT_DYNAMIC
            strings = sections[link][1]
            for at in range(offset, offset + size, 16):
                tag, value = struct.unpack_from("<QQ", data, at)
                if tag == 1:  # DT_NEEDED
                    begin = strings + value
                    needed.add(data[begin : data.index(b"\0", begin)].decode())
    return needed


def libraries_outside_the_wheel(*first: str) -> set[str]:
    """Return the system libraries that files of PySide6, and the Qt libraries they use, need."""
    qt = Path(PySide6.__file__).parent
    inside = {path.name: path for path in (qt / "Qt" / "lib").glob("*.so*")}
    inside |= {path.name: path for path in qt.glob("lib*.so*")}
    todo = [path for pattern in first for path in qt.glob(pattern)]
    assert len(todo) >= len(first)
    seen: set[Path] = set()
    outside: set[str] = set()
    while todo:
        path = todo.pop()
        if path in seen:
            continue
        seen.add(path)
        for name in needed_libraries(path):
            if name in inside:
                todo.append(inside[name])
            elif not name.startswith(("libshiboken6", "ld-linux")):
                outside.add(name)
    return outside


# Part of every Debian (essential or required by one that is): glibc, gcc's runtime, zlib, zstd.
ALWAYS_THERE = {
    "libc.so.6",
    "libdl.so.2",
    "libgcc_s.so.1",
    "libm.so.6",
    "libpthread.so.0",
    "librt.so.1",
    "libz.so.1",
    "libzstd.so.1",
}
# Comes with another one of the same package, or as a dependency of one (Debian 12 and 13).
BROUGHT_ALONG = {"libgthread-2.0.so.0", "libfreetype.so.6", "libxcb.so.1"}


@LINUX_ONLY
def test_every_library_that_qt_needs_is_known():
    needed = libraries_outside_the_wheel(
        "QtGui.abi3.so",
        "QtWidgets.abi3.so",
        "QtSvg.abi3.so",
        "Qt/plugins/platforms/libqoffscreen.so",
    )
    assert needed - ALWAYS_THERE - BROUGHT_ALONG - set(start.QT_LIBRARIES) == set()


@LINUX_ONLY
@pytest.mark.parametrize(
    ("plugin", "known"),
    [("libqxcb.so", start.X11_LIBRARIES), ("libqwayland*.so", start.WAYLAND_LIBRARIES)],
)
def test_every_library_that_a_screen_needs_is_known(plugin, known):
    needed = libraries_outside_the_wheel(f"Qt/plugins/platforms/{plugin}")
    needed -= ALWAYS_THERE | BROUGHT_ALONG | set(start.QT_LIBRARIES)
    assert needed - set(known) == set()
    assert needed, "this plugin needs nothing of its own: the list can go"


@LINUX_ONLY
def test_a_missing_library_is_noticed_and_a_present_one_is_not():
    wanted = {"libc.so.6": "libc6", "libsurely-not-there.so.7": "nothing"}
    assert start.missing_libraries(wanted) == ["libsurely-not-there.so.7"]


@LINUX_ONLY
@pytest.mark.parametrize(
    ("variables", "expected"),
    [
        ({}, False),
        ({"DISPLAY": ":0"}, True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, True),
        ({"DISPLAY": ":0", "QT_QPA_PLATFORM": "offscreen"}, False),
    ],
)
def test_a_display_is_found_by_the_environment(monkeypatch, variables, expected):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert start.has_display() is expected


@pytest.fixture
def small_checkout(tmp_path: Path, monkeypatch):
    """A checkout whose installations are only noted down."""
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    (tmp_path / ".venv").mkdir()
    installed: list[str] = []
    monkeypatch.setattr(start, "CHECKOUT", tmp_path)
    monkeypatch.setattr(start, "ENVIRONMENT", tmp_path / ".venv")
    monkeypatch.setattr(start, "STAMP", tmp_path / ".venv" / "stamp.json")
    monkeypatch.setattr(start, "environment_works", lambda module: True)
    monkeypatch.setattr(start, "install", installed.append)
    return tmp_path, installed


def test_a_second_start_installs_nothing(small_checkout):
    _, installed = small_checkout
    start.prepare_environment(testing=False)
    start.prepare_environment(testing=False)
    assert installed == [""]


def test_tests_add_their_extra_and_a_start_afterwards_keeps_it(small_checkout):
    folder, installed = small_checkout
    start.prepare_environment(testing=False)
    start.prepare_environment(testing=True)
    start.prepare_environment(testing=False)
    assert installed == ["", "test"]
    (folder / "pyproject.toml").write_text("[project] # other\n", encoding="utf-8")
    start.prepare_environment(testing=False)
    assert installed == ["", "test", "test"]


def test_an_interrupted_installation_is_taken_up_again(small_checkout, monkeypatch):
    _, installed = small_checkout
    start.prepare_environment(testing=False)

    def fail(extra: str) -> None:
        raise start.SetupError("no network")

    with monkeypatch.context() as patch:
        patch.setattr(start, "install", fail)
        with pytest.raises(start.SetupError):
            start.prepare_environment(testing=True)
    start.prepare_environment(testing=False)
    assert installed == ["", ""]


@pytest.mark.parametrize("content", ["", "[]", "{", '{"checkout": "elsewhere"}'])
def test_a_broken_or_moved_stamp_counts_for_nothing(small_checkout, content):
    _, installed = small_checkout
    start.STAMP.write_text(content, encoding="utf-8")
    start.prepare_environment(testing=False)
    assert installed == [""]
    assert json.loads(start.STAMP.read_text(encoding="utf-8"))["checkout"] == str(start.CHECKOUT)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="apt is for Debian and Ubuntu")
def test_without_root_and_sudo_the_command_to_type_is_named(monkeypatch):
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(start.shutil, "which", lambda name: None)
    monkeypatch.setattr(start, "succeeds", lambda *words, **options: pytest.fail("ran something"))
    with pytest.raises(start.SetupError, match=r"sudo apt-get install .*libegl1 libgl1"):
        start.apt_install(["libegl1", "libgl1"])


@LINUX_ONLY
def test_what_is_missing_is_named_where_there_is_no_apt(monkeypatch):
    monkeypatch.setattr(start.shutil, "which", lambda name: None)
    monkeypatch.setattr(start, "missing_libraries", lambda wanted: ["libGL.so.1"])
    with pytest.raises(start.SetupError, match=r"lacks libGL\.so\.1\."):
        start.prepare_system(screen=False)


@LINUX_ONLY
def test_everything_missing_is_installed_in_one_go(small_checkout, monkeypatch):
    asked: list[list[str]] = []

    def install(packages: list[str]) -> None:
        asked.append(packages)
        monkeypatch.setattr(start, "has_venv", lambda: True)
        monkeypatch.setattr(start, "missing_libraries", lambda wanted: [])

    monkeypatch.setattr(start, "has_venv", lambda: False)
    monkeypatch.setattr(start, "missing_libraries", lambda wanted: ["libGL.so.1", "libEGL.so.1"])
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(start, "apt_install", install)
    start.prepare_system(screen=False)
    (packages,) = asked
    assert packages[:2] == ["libegl1", "libgl1"]
    assert packages[2].endswith("-venv")


def test_help_comes_without_setting_anything_up(checkout: Path, tmp_path: Path):
    copy = tmp_path / "app" / "start.py"
    copy.parent.mkdir()
    copy.write_bytes((checkout / "app" / "start.py").read_bytes())
    done = subprocess.run(
        [sys.executable, str(copy), "--help"], check=False, capture_output=True, text=True
    )
    assert done.returncode == 0
    assert "--test" in done.stdout
    assert sorted(path.name for path in tmp_path.iterdir()) == ["app"]
