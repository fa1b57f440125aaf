from __future__ import annotations

import errno
import hashlib
import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from stavelight.annotation import layer_file
from stavelight.annotation.layer import Layer
from stavelight.annotation.layer_file import (
    LayerChangedOnDiskError,
    LayerReadOnlyError,
    ReadOnlyCause,
    changed_on_disk,
    layer_path_for,
    load_layer,
    save_layer,
)
from stavelight.annotation.layer_text import encode_layer
from stavelight.errors import LayerFileError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "evening.layer.json"


@pytest.fixture
def other(rich_layer: Layer) -> Layer:
    return replace(rich_layer, credits=("Changed",))


def test_open_edit_save_and_open_again_gives_the_same(path: Path, rich_layer: Layer, other: Layer):
    saved = save_layer(path, rich_layer)
    loaded = load_layer(path)
    assert loaded.layer == rich_layer
    assert loaded == saved
    again = save_layer(path, other, loaded=loaded)
    assert load_layer(path).layer == other
    assert save_layer(path, rich_layer, loaded=again).layer == rich_layer
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_saving_the_same_again_gives_the_same_bytes(path: Path, rich_layer: Layer):
    saved = save_layer(path, rich_layer)
    before = path.read_bytes()
    save_layer(path, load_layer(path).layer, loaded=saved)
    assert path.read_bytes() == before
    assert saved.digest == hashlib.sha256(before).hexdigest()


# ---- where the layer of a score lies -------------------------------------------------------------


@pytest.mark.parametrize(
    ("score", "layer"),
    [
        ("evening.musicxml", "evening.layer.json"),
        ("evening.xml", "evening.layer.json"),
        ("Evening Walk.MXL", "Evening Walk.layer.json"),
        ("op. 98.4.mei", "op. 98.4.layer.json"),
        ("evening.musicxml.mxl", "evening.musicxml.layer.json"),
        ("evening.score", "evening.score.layer.json"),
        ("evening", "evening.layer.json"),
    ],
)
def test_a_layer_lies_beside_its_score(tmp_path: Path, score: str, layer: str):
    assert layer_path_for(tmp_path / score) == tmp_path / layer
    assert layer_path_for(tmp_path / "nowhere" / score) == tmp_path / "nowhere" / layer


def test_scores_of_one_name_have_layers_of_their_own(tmp_path: Path, rich_layer: Layer):
    mxl, mei = tmp_path / "evening.mxl", tmp_path / "evening.mei"
    mxl.touch()
    assert layer_path_for(mxl).name == "evening.layer.json"
    mei.touch()
    assert layer_path_for(mxl).name == "evening.mxl.layer.json"
    assert layer_path_for(mei).name == "evening.mei.layer.json"
    # A layer that was there before the second score came keeps its name.
    named = replace(rich_layer.score, file_name="evening.mxl")
    save_layer(tmp_path / "evening.layer.json", replace(rich_layer, score=named))
    assert layer_path_for(mxl).name == "evening.layer.json"
    assert layer_path_for(mei).name == "evening.mei.layer.json"
    # And the long name goes before the short one.
    save_layer(tmp_path / "evening.mxl.layer.json", rich_layer)
    assert layer_path_for(mxl).name == "evening.mxl.layer.json"


def test_a_layer_of_a_score_that_is_gone_or_a_broken_one_is_not_passed_by(
    tmp_path: Path, rich_layer: Layer
):
    for name in ("evening.mxl", "evening.mei"):
        (tmp_path / name).touch()
    short = tmp_path / "evening.layer.json"
    short.write_text("{", encoding="utf-8")
    assert layer_path_for(tmp_path / "evening.mei") == short
    named = replace(rich_layer.score, file_name="older.mxl")
    short.write_bytes(encode_layer(replace(rich_layer, score=named)))
    assert layer_path_for(tmp_path / "evening.mei") == short


# ---- what is read, and may not be written --------------------------------------------------------


def test_a_layer_of_this_score_may_be_written(path: Path, rich_layer: Layer):
    save_layer(path, rich_layer)
    loaded = load_layer(path, score_sha256=rich_layer.score.sha256)
    assert (loaded.cause, loaded.read_only_reason) == (None, None)


def test_a_layer_of_another_score_is_told_and_not_overwritten(path: Path, rich_layer: Layer):
    save_layer(path, rich_layer)
    before = path.read_bytes()
    loaded = load_layer(path, score_sha256="cd" * 32)
    assert loaded.cause is ReadOnlyCause.ANOTHER_SCORE
    assert "evening.musicxml" in str(loaded.read_only_reason)
    assert loaded.layer == rich_layer
    with pytest.raises(LayerReadOnlyError, match="was made for"):
        save_layer(path, rich_layer, loaded=loaded)
    assert path.read_bytes() == before
    # Once the user agrees, it is.
    mine = replace(rich_layer, score=replace(rich_layer.score, sha256="cd" * 32))
    save_layer(path, mine, loaded=loaded, overwrite=True)
    assert load_layer(path, score_sha256="cd" * 32).cause is None


def test_a_newer_layer_is_read_and_never_overwritten(path: Path, rich_layer: Layer):
    data = encode_layer(rich_layer).replace(b'"format_version": 1', b'"format_version": 2')
    path.write_bytes(data)
    loaded = load_layer(path, score_sha256="cd" * 32)
    assert loaded.cause is ReadOnlyCause.NEWER_FORMAT
    assert "version 2" in str(loaded.read_only_reason)
    assert loaded.layer.regions == rich_layer.regions
    for overwrite in (False, True):
        with pytest.raises(LayerReadOnlyError):
            save_layer(path, loaded.layer, loaded=loaded, overwrite=overwrite)
        with pytest.raises(LayerFileError):
            save_layer(path, rich_layer, loaded=loaded, overwrite=overwrite)
    with pytest.raises(LayerReadOnlyError, match="newer"):
        save_layer(path.with_name("elsewhere.layer.json"), loaded.layer)
    assert path.read_bytes() == data
    assert len(list(path.parent.iterdir())) == 1


def test_a_file_protected_against_writing_stays_as_it_is(path: Path, rich_layer: Layer):
    save_layer(path, rich_layer)
    path.chmod(0o444)
    loaded = load_layer(path)
    assert loaded.cause is ReadOnlyCause.WRITE_PROTECTED
    with pytest.raises(LayerReadOnlyError, match="protected") as caught:
        save_layer(path, rich_layer, loaded=loaded, overwrite=True)
    assert "another place" in caught.value.remedy
    path.chmod(0o644)


def test_a_file_that_changed_on_disk_is_not_overwritten_unless_told(
    path: Path, rich_layer: Layer, other: Layer
):
    saved = save_layer(path, rich_layer)
    assert not changed_on_disk(saved)
    theirs = encode_layer(other)
    path.write_bytes(theirs)
    assert changed_on_disk(saved)
    with pytest.raises(LayerChangedOnDiskError, match="changed by someone else"):
        save_layer(path, rich_layer, loaded=saved)
    assert path.read_bytes() == theirs
    save_layer(path, rich_layer, loaded=saved, overwrite=True)
    assert load_layer(path).layer == rich_layer


def test_a_layer_that_was_not_opened_is_not_overwritten(
    path: Path, rich_layer: Layer, other: Layer
):
    saved = save_layer(path, rich_layer)
    with pytest.raises(LayerChangedOnDiskError, match="already"):
        save_layer(path, other)
    elsewhere = save_layer(path.with_name("copy.layer.json"), other, loaded=saved)
    with pytest.raises(LayerChangedOnDiskError, match="already"):
        save_layer(path, other, loaded=elsewhere)
    assert load_layer(path).layer == rich_layer


def test_a_broken_file_is_overwritten_only_when_told(path: Path, rich_layer: Layer):
    path.write_text("{", encoding="utf-8")
    with pytest.raises(LayerChangedOnDiskError):
        save_layer(path, rich_layer)
    assert path.read_text(encoding="utf-8") == "{"
    save_layer(path, rich_layer, overwrite=True)
    assert load_layer(path).layer == rich_layer


def test_a_file_that_was_deleted_is_written_again(path: Path, rich_layer: Layer):
    saved = save_layer(path, rich_layer)
    path.unlink()
    assert changed_on_disk(saved)
    save_layer(path, rich_layer, loaded=saved)
    assert load_layer(path).layer == rich_layer


# ---- links and rights ----------------------------------------------------------------------------


def test_a_link_stays_a_link(path: Path, rich_layer: Layer, other: Layer):
    real = path.parent / "store" / "real.layer.json"
    real.parent.mkdir()
    saved = save_layer(real, rich_layer)
    path.symlink_to(real)
    loaded = load_layer(path)
    save_layer(path, other, loaded=loaded)
    assert path.is_symlink()
    assert load_layer(real).layer == other
    with pytest.raises(LayerChangedOnDiskError):
        save_layer(path, rich_layer, loaded=saved)


def test_a_new_file_has_the_usual_rights_and_an_old_one_keeps_its_own(
    path: Path, rich_layer: Layer
):
    plain = path.with_name("plain")
    plain.touch()
    saved = save_layer(path, rich_layer)
    assert path.stat().st_mode == plain.stat().st_mode
    path.chmod(0o660)
    save_layer(path, rich_layer, loaded=saved)
    assert stat.S_IMODE(path.stat().st_mode) == 0o660


# ---- failures ------------------------------------------------------------------------------------


def failing(number: int) -> Callable[..., None]:
    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    return fail


@pytest.mark.parametrize("step", ["open", "fsync", "fdopen", "replace"])
@pytest.mark.parametrize(
    ("number", "what"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EACCES, "cannot be written to"),
        (errno.EROFS, "cannot be written to"),
        (errno.EIO, "could not be saved"),
    ],
)
def test_a_save_that_fails_leaves_the_old_file_whole(
    path: Path,
    rich_layer: Layer,
    other: Layer,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    number: int,
    what: str,
):
    saved = save_layer(path, rich_layer)
    before = path.read_bytes()
    with monkeypatch.context() as patch:
        if step == "replace":
            patch.setattr(Path, "replace", failing(number))
        else:
            patch.setattr(layer_file.os, step, failing(number))
        with pytest.raises(LayerFileError, match=what) as caught:
            save_layer(path, other, loaded=saved)
    assert str(path) in caught.value.where
    assert "Nothing is lost" in caught.value.remedy
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]
    # The next attempt succeeds.
    save_layer(path, other, loaded=saved)
    assert load_layer(path).layer == other


def test_a_disk_that_fills_up_half_way_leaves_the_old_file_whole(path: Path, rich_layer: Layer):
    """The operating system itself stops the file at 100 bytes."""
    resource = pytest.importorskip("resource")
    saved = save_layer(path, rich_layer)
    before = path.read_bytes()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100, limits[1]))
        with pytest.raises(LayerFileError):
            save_layer(path, rich_layer, loaded=saved)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, handler)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path, rich_layer: Layer):
    with pytest.raises(LayerFileError, match="folder is not there"):
        save_layer(tmp_path / "no" / "evening.layer.json", rich_layer)


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path: Path, rich_layer: Layer):
    with pytest.raises(LayerFileError, match="could not be saved"):
        save_layer(tmp_path, rich_layer)
    with pytest.raises(LayerFileError, match="cannot be read"):
        load_layer(tmp_path)


def test_a_file_that_is_not_there_is_told(path: Path):
    with pytest.raises(LayerFileError, match="not there"):
        load_layer(path)


def test_a_file_that_cannot_be_read_is_told(
    path: Path, rich_layer: Layer, monkeypatch: pytest.MonkeyPatch
):
    saved = save_layer(path, rich_layer)
    monkeypatch.setattr(Path, "read_bytes", failing(errno.EACCES))
    with pytest.raises(LayerFileError, match="cannot be read"):
        load_layer(path)
    with pytest.raises(LayerFileError, match="cannot be read"):
        changed_on_disk(saved)
    with pytest.raises(LayerFileError, match="could not be saved"):
        save_layer(path, rich_layer, loaded=saved)


def test_a_system_that_cannot_sync_folders_can_still_save(
    path: Path, rich_layer: Layer, monkeypatch: pytest.MonkeyPatch
):
    real = os.open

    def no_folders(name: object, flags: int, mode: int = 0o777) -> int:
        if flags == os.O_RDONLY:
            raise PermissionError(errno.EACCES, "no folders")
        return real(name, flags, mode)  # type: ignore[arg-type]

    monkeypatch.setattr(layer_file.os, "open", no_folders)
    save_layer(path, rich_layer)
    assert load_layer(path).layer == rich_layer


def test_leftovers_of_killed_saves_go_after_an_hour(path: Path, rich_layer: Layer):
    old = path.with_name(".0123456789abcdef.layer.tmp")
    fresh = path.with_name(".0123456789abcdeg.layer.tmp")
    not_ours = path.with_name(".notes.layer.tmp")
    for one in (old, fresh, not_ours):
        one.touch()
    for one in (old, not_ours):
        os.utime(one, (time.time() - 7200, time.time() - 7200))
    save_layer(path, rich_layer)
    assert not old.exists()
    assert fresh.exists()
    assert not_ours.exists()


_SAVE_FOR_EVER = """
import sys
from pathlib import Path
from msgspec.structs import replace
from stavelight.annotation.layer_file import load_layer, save_layer

loaded = load_layer(Path(sys.argv[1]))
print("ready", flush=True)
number = 0
while True:
    number += 1
    layer = replace(loaded.layer, credits=(str(number),) * 50)
    loaded = save_layer(loaded.path, layer, loaded=loaded)
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system cannot kill like that")
def test_a_process_killed_while_saving_leaves_a_whole_file(
    path: Path, random_layer: Callable[[int, int], Layer], checkout: Path
):
    layer = random_layer(1, 300)
    save_layer(path, layer)
    chance = random.Random(1)
    seen = set()
    for _ in range(12):
        with subprocess.Popen(
            [sys.executable, "-c", _SAVE_FOR_EVER, str(path)],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(checkout / "app")},
        ) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == b"ready\n"
            time.sleep(chance.uniform(0.005, 0.12))
            process.kill()
        after = load_layer(path).layer
        seen.add(after.credits)
        assert replace(after, credits=()) == replace(layer, credits=())
        assert len(set(after.credits)) <= 1
    assert len(seen) > 1
