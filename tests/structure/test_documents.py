"""README.md and DEVELOPERS.md speak of what is there."""

from __future__ import annotations

import re
import shlex
import struct
from pathlib import Path

import pytest

from stavelight.command_line import program

_LINK = re.compile(r"\]\(([^)#\s]+)\)")
_CODE = re.compile(r"`([^`\n]+)`")
_SOURCE_NAME = re.compile(r"[a-z_]+/[a-z_]+\.py|[a-z_]+\.py")


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_what_the_documents_link_to_is_there(checkout: Path, name: str):
    links = _LINK.findall((checkout / name).read_text(encoding="utf-8"))
    local = [link for link in links if "://" not in link]
    assert [link for link in local if not (checkout / link).exists()] == []
    assert local or name == "DEVELOPERS.md"


def test_the_readme_begins_with_the_job_and_the_two_commands(checkout: Path):
    text = (checkout / "README.md").read_text(encoding="utf-8")
    first_picture = text.index("![")
    commands = [line.strip() for line in text.splitlines() if line.startswith("    ")]
    assert commands == ["python3 app/start.py", "python3 app/start.py --test"]
    assert text.index(commands[1]) < first_picture
    assert commands[1] in (checkout / ".ci" / "run").read_text(encoding="utf-8")


def test_the_pictures_of_the_readme_are_large_enough_to_be_read(checkout: Path):
    text = (checkout / "README.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", text)
    assert len(pictures) >= 2
    for picture in pictures:
        data = (checkout / picture).read_bytes()
        # PNG specification, 3rd edition, 5.2 and 11.2.1: signature, then IHDR with the width.
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        width, height = struct.unpack_from(">II", data, 16)
        assert width >= 1200
        assert height >= 675


def test_the_commands_of_the_readme_are_those_of_the_program(checkout: Path):
    text = (checkout / "README.md").read_text(encoding="utf-8")
    shown = [code for code in _CODE.findall(text) if code.startswith("stavelight ")]
    named = set()
    for code in shown:
        # An option in brackets may be left out; of several choices any will do.
        words = shlex.split(re.sub(r"\[[^]]*\]", "", code).replace("\\|", "|"))[1:]
        words = [word.split("|")[0] for word in words]
        if words and words[0] in program.COMMANDS:
            named.add(words[0])
            program.command_parser(words[0]).parse_args(words[1:])
        else:
            program.main_parser().parse_args(words)
    assert named == set(program.COMMANDS)


def test_the_modules_that_the_documents_name_are_there(checkout: Path):
    text = (checkout / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = {name for code in _CODE.findall(text) for name in _SOURCE_NAME.findall(code)}
    there = {path.as_posix() for path in (checkout / "app").rglob("*.py")}
    assert named
    assert {name for name in named if not any(path.endswith(f"/{name}") for path in there)} == set()
