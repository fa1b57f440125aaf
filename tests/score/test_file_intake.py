"""What is taken in as a score, and how what is broken or harmful is refused."""

from __future__ import annotations

import hashlib
import io
import zipfile

import pytest
from music21 import corpus

from score.small_musicxml import DOCTYPE, attributes, bar, document, note
from stavelight.errors import ScoreFileError
from stavelight.score.file_intake import read_source
from stavelight.score.reading import read_score

MUSIC = [bar(attributes(), note("C4", 4))]
SCORE = document(MUSIC)
CONTAINER = (
    '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'
)
MEI = (
    b'<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><scoreDef>'
    b'<staffGrp><staffDef n="1" lines="5"/></staffGrp></scoreDef><section><measure><staff n="1">'
    b'<layer><note pname="c" oct="4" dur="1"/></layer></staff></measure></section></score></mdiv>'
    b"</body></music></mei>"
)


def write(folder, data: bytes, name: str = "score.musicxml"):
    path = folder / name
    path.write_bytes(data)
    return path


def archive(entries: dict[str, bytes], *, container: str | None = "score.xml") -> bytes:
    """Return a compressed MusicXML file."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        if container is not None:
            file.writestr("META-INF/container.xml", CONTAINER.format(container))
        for name, data in entries.items():
            file.writestr(name, data)
    return buffer.getvalue()


def refusal(path) -> ScoreFileError:
    with pytest.raises(ScoreFileError) as caught:
        read_score(path)
    assert caught.value.where.startswith((path.name, str(path)))
    assert caught.value.remedy.endswith(".")
    assert "\n" not in caught.value.one_line()
    return caught.value


# What is taken in


def test_the_source_is_what_lies_on_disk_and_stays_so(tmp_path):
    path = write(tmp_path, archive({"score.xml": SCORE}), "score.mxl")
    before = path.read_bytes()
    path.chmod(0o444)
    source = read_source(path)
    assert source.sha256 == hashlib.sha256(before).hexdigest()
    assert source.data == SCORE
    assert (source.kind, source.path, source.warnings) == ("musicxml", path, ())
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["score.mxl"]


@pytest.mark.parametrize("name", ["a.musicxml", "a.xml", "a.mei", "a.mxl", "a.txt", "a"])
def test_the_kind_is_told_from_the_content(tmp_path, name):
    assert read_source(write(tmp_path, SCORE, name)).kind == "musicxml"
    assert read_source(write(tmp_path, MEI, name)).kind == "mei"
    assert read_source(write(tmp_path, archive({"score.xml": SCORE}), name)).kind == "musicxml"
    assert read_source(write(tmp_path, archive({"score.xml": MEI}), name)).kind == "mei"


def test_compressed_scores_without_container(tmp_path):
    path = write(tmp_path, archive({"notes.txt": b"x", "a.musicxml": SCORE}, container=None))
    assert read_source(path).data == SCORE


def test_the_container_leads_to_the_score_and_not_to_its_pictures(tmp_path):
    """MusicXML 4.0, container.xml: the first rootfile that is MusicXML is the score."""
    container = (
        '<container><rootfiles><rootfile full-path="a.pdf" media-type="application/pdf"/>'
        '<rootfile full-path="deep/b.xml" media-type="application/vnd.recordare.musicxml+xml"/>'
        "</rootfiles></container>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        for name, data in {
            "META-INF/container.xml": container.encode(),
            "a.pdf": b"%PDF",
            "a.xml": b"<other/>",
            "deep/b.xml": SCORE,
        }.items():
            file.writestr(name, data)
    assert read_source(write(tmp_path, buffer.getvalue())).data == SCORE


@pytest.mark.parametrize(
    ("encoding", "codec"),
    [
        ("UTF-16", "utf-16"),
        ("UTF-16", "utf-16-le"),
        ("UTF-16", "utf-16-be"),
        ("UTF-32", "utf-32"),
        ("UTF-8", "utf-8-sig"),
        ("ISO-8859-1", "latin-1"),
        ("windows-1252", "cp1252"),
        ("UTF-16", "utf-8"),  # a declaration that cannot be true
    ],
)
def test_encodings(tmp_path, encoding, codec):
    head = "<work><work-title>Träumerei</work-title></work>"
    text = document(MUSIC, head=head).decode().replace('"UTF-8"', f'"{encoding}"')
    path = write(tmp_path, text.encode(codec))
    assert read_score(path).title == "Träumerei"
    assert read_source(path).data.startswith(b'<?xml version="1.0" encoding="UTF-8"?>')


def test_timewise_is_turned_into_partwise(tmp_path):
    """Three bars of two parts, sorted by bars: the same score as sorted by parts."""
    pitches = {"P1": ["C5", "D5", "E5"], "P2": ["C3", "B2", "A2"]}
    parts = [
        [bar(attributes() if not k else "", note(pitch, 4), number=k) for k, pitch in enumerate(p)]
        for p in pitches.values()
    ]
    bars = "".join(
        f'<measure number="{k}">'
        + "".join(
            f'<part id="{part}">{attributes() if not k else ""}{note(pitch[k], 4)}</part>'
            for part, pitch in pitches.items()
        )
        + "</measure>"
        for k in range(3)
    )
    names = "".join(
        f'<score-part id="{p}"><part-name>{p}</part-name></score-part>' for p in pitches
    )
    timewise = (
        '<!DOCTYPE score-timewise PUBLIC "-//Recordare//DTD MusicXML 4.0 Timewise//EN" '
        '"http://www.musicxml.org/dtds/timewise.dtd">'
        f"<score-timewise><part-list>{names}</part-list>{bars}</score-timewise>"
    )
    one = read_score(write(tmp_path, timewise.encode(), "t.musicxml"))
    other = read_score(write(tmp_path, document(*parts), "p.musicxml"))
    assert one.bars == other.bars
    assert one.notes.ids == other.notes.ids
    assert one.notes.rows.tolist() == other.notes.rows.tolist()


def test_a_real_compressed_score():
    path = corpus.getWork("weber/concertino_clarinet", fileExtensions=(".mxl",))
    with zipfile.ZipFile(path) as file:
        plain = file.read(next(name for name in file.namelist() if "META" not in name))
    assert read_source(path).data == plain


# What is refused


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "empty"),
        (b"  \n ", "empty"),
        (b"%PDF-1.7 and so on", "not an XML file"),
        (b"\x00\x01\x02\x03", "not an XML file"),
        (b"<html><body/></html>", "<html>"),
        (b"<opus><title>x</title></opus>", "list of MusicXML scores"),
        (MEI.replace(b"<mei ", b"<meiCorpus ").replace(b"</mei>", b"</meiCorpus>"), "collection"),
        (SCORE[:-60], "cut off"),
        (SCORE.replace(b"</pitch>", b"", 1), "not well-formed"),
        (SCORE.replace(b"UTF-8", b"x-unknown"), "encoding"),
        (SCORE.replace(b"UTF-8", b"zlib"), "encoding"),
        (SCORE.replace(b"Part 1", b"\xff\xfe\xfd"), "not well-formed"),
        (b"\xff\xfe<\x00?\x00\xd8", "utf-16"),
    ],
)
def test_what_is_no_score_is_refused(tmp_path, data, what):
    assert what in refusal(write(tmp_path, data)).what


def test_the_place_of_a_fault_is_told(tmp_path):
    text = SCORE.replace(b"<measure", b"\n\n<measure").replace(b"</pitch>", b"</pitsch>")
    assert ", line 3, column " in refusal(write(tmp_path, text)).where


@pytest.mark.parametrize(
    ("parts", "what"),
    [
        ([], "no parts"),
        ([[]], "no bars"),
        ([[], []], "no bars"),
        ([[bar(attributes(), note("rest", 4))]], "no notes"),
        ([[bar()]], "no notes"),
    ],
)
def test_empty_scores_are_refused(tmp_path, parts, what):
    assert what in refusal(write(tmp_path, document(*parts))).what


def test_a_part_without_content_is_named(tmp_path):
    data = document(MUSIC, MUSIC).replace(b"</score-partwise>", b'<part id="P3"/></score-partwise>')
    fault = refusal(write(tmp_path, data))
    assert fault.where.endswith("part P3")
    assert "0 bars, but 1" in fault.what


def test_unequal_numbers_of_bars(tmp_path):
    """The message names the part, its number of bars and the number expected."""
    fault = refusal(write(tmp_path, document(MUSIC * 3, MUSIC * 2, MUSIC * 3)))
    assert fault.where == "score.musicxml, part Part 2 (P2)"
    assert "2 bars" in fault.what
    assert "3 were expected" in fault.what


def test_parts_inside_one_another_are_refused(tmp_path):
    data = document(MUSIC).replace(b'<part id="P1">', b'<part id="P1"><part id="P2"/>')
    assert "bars" in refusal(write(tmp_path, data)).what


@pytest.mark.parametrize(
    ("doctype", "text"),
    [
        # A "billion laughs" bomb in the small (CWE-776); external entities (CWE-611).
        ('<!DOCTYPE s [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>', "&b;"),
        ('<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/passwd">]>', "&a;"),
        ('<!DOCTYPE s [<!ENTITY % a SYSTEM "http://localhost/x.dtd"> %a;]>', ""),
        ('<!DOCTYPE s [<!ENTITY unused "">]>', ""),
        (DOCTYPE, "&copy;"),
    ],
)
def test_entities_are_refused(tmp_path, doctype, text):
    data = SCORE.replace(DOCTYPE.encode(), doctype.encode()).replace(b"Part 1", text.encode())
    assert "entities" in refusal(write(tmp_path, data)).what
    packed = write(tmp_path, archive({"score.xml": data}), "score.mxl")
    assert "entities" in refusal(packed).what


def test_entities_in_the_container_are_refused(tmp_path):
    container = '<!DOCTYPE c [<!ENTITY a "score.xml">]><container><rootfiles/></container>'
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        file.writestr("META-INF/container.xml", container)
        file.writestr("score.xml", SCORE)
    assert "entities" in refusal(write(tmp_path, buffer.getvalue())).what


def test_an_undeclared_entity_in_an_attribute_is_refused(tmp_path):
    """The checking parser may pass over it; the reader must not fall over it either."""
    data = SCORE.replace(b'<measure number="1"', b'<measure number="&x;"')
    assert refusal(write(tmp_path, data)).what


@pytest.mark.parametrize(
    "name", ["../score.xml", "/score.xml", "a/../../score.xml", "..\\score.xml", "C:/score.xml", ""]
)
def test_paths_out_of_the_archive_are_refused(tmp_path, name):
    named = archive({name or "x.xml": SCORE}, container=name)
    assert "outside itself" in refusal(write(tmp_path, named, "a.mxl")).what
    if name:
        found = archive({name: SCORE}, container=None)
        assert "outside itself" in refusal(write(tmp_path, found, "a.mxl")).what


def test_a_compressed_file_that_unpacks_to_far_too_much(tmp_path):
    """64 MiB of blanks in 64 KiB: a thousandfold."""
    bomb = archive({"score.xml": SCORE + b" " * (64 << 20)})
    assert len(bomb) < 100_000
    assert "far larger" in refusal(write(tmp_path, bomb, "a.mxl")).what


def test_a_bomb_that_lies_about_its_size(tmp_path):
    bomb = bytearray(archive({"score.xml": SCORE + b" " * (64 << 20)}))
    honest = zipfile.ZipFile(io.BytesIO(bytes(bomb))).getinfo("score.xml").file_size
    said = (1000).to_bytes(4, "little")
    data = bytes(bomb).replace(honest.to_bytes(4, "little"), said)
    assert data != bytes(bomb)
    assert refusal(write(tmp_path, data, "a.mxl")).what


def test_an_oversized_container_is_refused(tmp_path):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("META-INF/container.xml", b"<container>" + b" " * (2 << 20))
        file.writestr("score.xml", SCORE)
    assert "far larger" in refusal(write(tmp_path, buffer.getvalue(), "a.mxl")).what


def test_cut_off_archives(tmp_path):
    whole = archive({"score.xml": SCORE})
    for length in (3, 4, 30, len(whole) // 2, len(whole) - 10):
        fault = refusal(write(tmp_path, whole[:length], "a.mxl"))
        assert "damaged" in fault.what


def test_an_archive_with_a_wrong_byte(tmp_path):
    data = bytearray(archive({"score.xml": SCORE}, container=None))
    data[60] ^= 0xFF
    assert "damaged" in refusal(write(tmp_path, bytes(data), "a.mxl")).what


def test_archives_without_a_score(tmp_path):
    assert "no score" in refusal(write(tmp_path, archive({}, container=None))).what
    assert "no score" in refusal(write(tmp_path, archive({"a.pdf": b"x"}, container=None))).what
    assert "not in it" in refusal(write(tmp_path, archive({"a.xml": SCORE}))).what


def test_locked_archives(tmp_path):
    """Bit 0 of an entry's flags says that it is encrypted (PKWARE APPNOTE 6.3, 4.4.4)."""
    data = bytearray(archive({"score.xml": SCORE}, container=None))
    central = bytes(data).index(b"PK\x01\x02")
    data[6] |= 1
    data[central + 8] |= 1
    assert "password" in refusal(write(tmp_path, bytes(data))).what


def test_other_ways_of_compression(tmp_path):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_LZMA) as file:
        file.writestr("score.xml", SCORE)
    assert "way that MusicXML does not use" in refusal(write(tmp_path, buffer.getvalue())).what


def test_files_that_cannot_be_opened(tmp_path):
    assert "no such file" in refusal(tmp_path / "missing.mxl").what
    assert "folder" in refusal(tmp_path).what
    broken = tmp_path / "loop.xml"
    broken.symlink_to(broken)
    assert "cannot be read" in refusal(broken).what


def test_files_too_large_for_a_score(tmp_path):
    path = tmp_path / "huge.xml"
    with path.open("wb") as file:
        file.truncate((512 << 20) + 1)  # a hole in the file: it takes no space on disk
    assert "far larger" in refusal(path).what


def test_nesting_without_end(tmp_path):
    """Deeper than libxml2 follows: the checking parser lets it pass, the reader must not fall."""
    depth = 5000
    deep = b"<x>" * depth + b"</x>" * depth
    inside = SCORE.replace(b"</measure>", deep + b"</measure>")
    assert "cannot be read" in refusal(write(tmp_path, inside)).what
    before = SCORE.replace(b"<part-list>", deep + b"<part-list>")
    assert "cannot be read" in refusal(write(tmp_path, before)).what
    timewise = SCORE.replace(b"score-partwise", b"score-timewise").replace(
        b"</measure>", deep + b"</measure>"
    )
    assert "cannot be read" in refusal(write(tmp_path, timewise)).what
    mei = MEI.replace(b"<layer>", b"<layer>" + deep)
    assert "cannot be read" in refusal(write(tmp_path, mei)).what
