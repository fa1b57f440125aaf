from __future__ import annotations

from lxml import etree

from stavelight.engraving.musicxml_slice import SliceRequest


def _cut(source, bars: range, parts=(0, 1, 2), **options):
    return etree.fromstring(source.cut(SliceRequest((bars,), parts, **options)).document)


def test_a_slice_has_a_bar_of_context_on_either_side(small):
    root = _cut(small, range(3, 5))
    for part in root.findall("part"):
        assert [measure.get("id") for measure in part] == ["b2", "b3", "b4", "b5"]
        pages = [m.get("id") for m in part if m.find("print[@new-page='yes']") is not None]
        assert pages == ["b3", "b5"]


def test_no_context_beyond_the_ends_of_the_score(small):
    root = _cut(small, range(0, 8))
    assert [measure.get("id") for measure in root.find("part")] == [f"b{n}" for n in range(8)]
    assert root.find(".//print") is None


def test_what_is_in_force_stands_at_the_head(small):
    root = _cut(small, range(6, 8))
    flute, clarinet, harp = (part.find("measure/attributes") for part in root.findall("part"))
    assert flute.findtext("key/fifths") == "2"
    assert flute.findtext("clef/sign") == "C"
    assert flute.findtext("time/beats") == "4"
    assert flute.findtext("divisions") == "2"
    assert clarinet.findtext("key/fifths") == "4"
    assert clarinet.findtext("transpose/chromatic") == "-2"
    assert harp.findtext("staves") == "2"
    assert harp.findtext("divisions") == "4"
    assert [clef.get("number") for clef in harp.findall("clef")] == ["1", "2"]


def test_lines_are_reopened_and_closed_at_the_edges(small):
    flute = _cut(small, range(3, 4)).find("part")
    head, _, tail = flute
    assert head.find("note/notations/slur").get("type") == "start"
    assert head.find("direction/direction-type/wedge").get("type") == "crescendo"
    assert tail.findall("note")[-1].find("notations/slur").get("type") == "stop"
    assert tail.findall("direction")[-1].find("direction-type/wedge").get("type") == "stop"


def test_ids_are_those_of_the_whole_score(small):
    root = _cut(small, range(3, 5), parts=(2,))
    assert [note.get("id") for note in root.find("part")[1].iter("note")] == ["n2-3-0", "n2-3-1"]


def test_hidden_parts_leave_their_rehearsal_marks(small):
    root = _cut(small, range(4, 5), parts=(1, 2))
    assert [part.get("id") for part in root.findall("part")] == ["clarinet", "harp"]
    assert root.findtext(".//rehearsal") == "B"
    assert [p.get("id") for p in root.iter("score-part")] == ["clarinet", "harp"]


def test_groups_without_parts_are_dropped(small):
    assert _cut(small, range(4, 5), parts=(2,)).find(".//part-group") is None
    assert _cut(small, range(4, 5), parts=(1, 2)).find(".//part-group") is not None


def test_names_are_trimmed_and_never_missing(small):
    parts = list(_cut(small, range(0, 2)).iter("score-part"))
    assert [p.findtext("part-name") for p in parts] == ["Flute", "Clarinet in B-flat", "Harp"]
    short = [p.findtext("part-abbreviation") for p in parts]
    assert short == ["Fl.", "Clarinet in B-flat", "Hp."]
    full = _cut(small, range(0, 2), full_names=True)
    assert full.find(".//score-part").findtext("part-abbreviation") == "Flute"


def test_the_file_is_not_touched(small):
    before = bytes(small.text.data)
    _cut(small, range(3, 5))
    assert small.text.data == before


def test_octave_transpositions_stay_in_a_score_in_c(small):
    raw = small.text.data
    octave = raw.replace(
        b"<diatonic>-1</diatonic><chromatic>-2</chromatic>",
        b"<diatonic>-7</diatonic><chromatic>-12</chromatic>",
    )
    from stavelight.engraving.musicxml_source import MusicXmlSource

    assert _cut(small, range(3, 5), sounding_pitch=True).find(".//transpose") is not None
    source = MusicXmlSource(octave, "octave.musicxml")
    assert _cut(source, range(3, 5), sounding_pitch=True).find(".//transpose") is None


def test_words_at_a_dynamic_sign_are_written_behind_it():
    from stavelight.engraving.musicxml_slice import join_dynamics_and_words

    sign = (
        b'<direction placement="below"><direction-type><dynamics><fp/></dynamics>'
        b"</direction-type>%s</direction>"
    )
    words = (
        b'<direction placement="%s"><direction-type><words font-style="italic">dim.</words>'
        b"</direction-type>%s</direction>"
    )
    joined = join_dynamics_and_words(sign % b"" + words % (b"below", b""))
    root = etree.fromstring(b"<m>" + joined + b"</m>")
    assert len(root) == 1
    assert root.findtext("direction/direction-type/words") == " dim."
    for other in (words % (b"above", b""), words % (b"below", b"<staff>2</staff>")):
        apart = sign % b"" + other
        assert join_dynamics_and_words(apart) == apart


def test_keys_that_change_staff_by_staff_are_told(small):
    piece = small.cut(SliceRequest((range(3, 5),), (0, 1, 2)))
    assert piece.keys == {"b4": {1: 2, 2: 4, 3: 2, 4: 2}}
    assert small.cut(SliceRequest((range(3, 5),), (0, 2))).keys == {}


def test_attributes_of_the_context_bar_belong_to_the_head(small):
    flute = _cut(small, range(4, 5)).find("part")
    assert len(flute[0].findall("attributes")) == 1
    assert flute[0].findtext("attributes/clef/sign") == "C"
