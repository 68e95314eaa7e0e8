"""Lead sheets in MusicXML, against counted facts, the suite's files and hostile bytes."""

from __future__ import annotations

import io
import random
import warnings
import zipfile
from collections.abc import Callable, Iterable
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Feel, Meter
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations.musicxml_file import read_score_root
from halfstep.progression.notations.musicxml_reader import part_with_harmonies, read_musicxml
from reference_files import DATA
from typed_charts import load_chart

Reader = Callable[[str], Chart]


def chart_of(path: Path) -> Chart:
    """The chart as played, by way of the program's own entry."""
    return load_chart(str(path))


def find(name: str) -> Path | None:
    """The file a line of the facts table means, in either folder; None if it is not there."""
    places = (DATA / "musicxml" / name, DATA / "musicxml-test-suite" / name.removeprefix("suite-"))
    return next((place for place in places if place.is_file()), None)


def facts() -> list[list[str]]:
    """Rows of the table of counted facts: name and nine values."""
    sources = DATA / "SOURCES.md"
    if not sources.is_file():
        return []
    lines = sources.read_text().splitlines()
    rows = ([c.strip() for c in line.strip("|").split("|")] for line in lines)
    return [row for row in rows if len(row) == 10 and row[1].isdigit()]


REPEATS = {"suite-45d-Repeats-Nested-Alternatives.xml": "4"}
"""The edition that was counted had two signs; this one closes four of its five endings."""


@pytest.mark.parametrize("row", facts(), ids=lambda row: row[0])
def test_counted_facts_are_reproduced(row: list[str]) -> None:
    """Source: the table of facts beside the reference data, counted by another program."""
    path = find(row[0])
    if path is None:
        pytest.skip("the file is not there")
    row[8] = REPEATS.get(row[0], row[8])
    root = read_score_root(path.read_bytes())
    part = part_with_harmonies(root)
    sheet = read_musicxml(path.read_bytes(), melody_will_do=True)
    assert [
        str(len(root.findall("part"))),
        str(len(sheet.bars)),
        sheet.bars[0].number,
        ",".join(changes(map(metre_text, part.iter("time")))),
        ",".join(changes(map(key_text, part.iter("key")))),
        *(str(sum(1 for _ in part.iter(tag))) for tag in ("harmony", "bass", "repeat", "ending")),
    ] == row[1:]


def metre_text(time: Element) -> str:
    return f"{(time.findtext('beats') or '').strip()}/{time.findtext('beat-type')}"


def key_text(key: Element) -> str:
    mode = key.findtext("mode")
    return f"{key.findtext('fifths')}:{mode}" if mode else str(key.findtext("fifths"))


def changes(texts: Iterable[str]) -> list[str]:
    """The texts without those equal to the one before."""
    return [text for text, _ in groupby(texts)]


def all_files() -> list[Path]:
    folders = (DATA / "musicxml", DATA / "musicxml-test-suite")
    return sorted(p for f in folders if f.is_dir() for p in f.iterdir() if p.suffix)


@pytest.mark.sampled
@pytest.mark.parametrize("path", all_files(), ids=lambda path: path.name)
def test_a_real_file_reads_or_says_that_it_has_no_chords(path: Path) -> None:
    part = part_with_harmonies(read_score_root(path.read_bytes()))
    if part.find(".//harmony") is not None:
        chart = chart_of(path)
        assert sum((span.beats for span in spans(chart)), Fraction(0)) == chart.beats
    else:
        with pytest.raises(ReadError, match="no chord symbols"):
            chart_of(path)


def chords(chart: Chart) -> list[list[tuple[str, Fraction]]]:
    return [[(c.symbol.ascii, c.at) for c in bar.chords] for bar in chart.bars]


def test_harmonies_in_front_of_one_note_share_it(reference_data: Path) -> None:
    """Source: the unofficial MusicXML test suite, 71g (MIT)."""
    chart = chart_of(reference_data / "musicxml-test-suite/71g-MultipleChordnames.xml")
    assert chords(chart) == [[("C", 0), ("F#m6", 1), ("Dm7", 2), ("G7", 3)]]
    assert "share the note" in chart.notices[0]


def test_offsets_move_a_harmony_either_way(reference_data: Path) -> None:
    chart = chart_of(reference_data / "musicxml/testChordOffset.xml")
    assert [[at for _, at in bar] for bar in chords(chart)] == [[0, 2], [0, 2], [0, 2]]


def test_no_chord_ends_the_harmony(reference_data: Path) -> None:
    chart = chart_of(reference_data / "musicxml/testNC.xml")
    silent = [(b.number, c.at) for b in chart.bars for c in b.chords if c.symbol.silent]
    assert silent == [(1, 2), (2, 1)]


def test_chords_over_a_bar_of_rest_are_placed_by_backup(reference_data: Path) -> None:
    path = reference_data / "musicxml/test_chord_whole_rest_double_chord.musicxml"
    assert chords(chart_of(path))[1] == [("D", 0), ("A", 2)]


def test_a_pickup_that_is_not_marked_is_found(reference_data: Path) -> None:
    chart = chart_of(reference_data / "musicxml/auld-lang-syne.mxl")
    assert chart.pickup_beats == 1
    assert (chart.form[0].number, chart.form[0].written) == (1, 2)
    assert len(chart.form) == 32


def test_words_for_jumps_are_obeyed(reference_data: Path) -> None:
    chart = chart_of(reference_data / "musicxml/maple-leaf-rag.mxl")
    assert [bar.written for bar in chart.bars[-16:]] == list(range(1, 17))
    signs = chart_of(
        reference_data / "musicxml/test_chord_symbols_repetition_instructions_overlap_1689.musicxml"
    )
    assert [bar.written for bar in signs.bars] == [1, 2, 3, 1, 2, 4]


def measure(content: str, *, number: int = 1, attributes: str = "") -> str:
    return f'<measure number="{number}">{attributes}{content}</measure>'


def harmony(root: str = "C", alter: str = "", kind: str = "major", more: str = "") -> str:
    sign = f"<root-alter>{alter}</root-alter>" if alter else ""
    step = f"<root><root-step>{root}</root-step>{sign}</root>"
    return f"<harmony>{step}<kind>{kind}</kind>{more}</harmony>"


WHOLE = "<note><rest/><duration>4</duration></note>"


def attributes(*, fifths: int = 0, beats: str = "4", unit: int = 4, more: str = "") -> str:
    key = f"<key><fifths>{fifths}</fifths><mode>major</mode></key>"
    time = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    return f"<attributes><divisions>1</divisions>{key}{time}{more}</attributes>"


def score_text(*measures: str, head: str = "") -> str:
    return f'<score-partwise>{head}<part id="P1">{"".join(measures)}</part></score-partwise>'


@pytest.fixture
def read(tmp_path: Path) -> Reader:
    def _read(text: str) -> Chart:
        path = tmp_path / "sheet.musicxml"
        path.write_text(text, encoding="utf-8")
        return chart_of(path)

    return _read


def test_harmony_of_a_transposed_part_becomes_concert(read: Reader) -> None:
    down = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    bars = measure(harmony("A") + WHOLE, attributes=attributes(fifths=3, more=down))
    chart = read(score_text(bars))
    assert chords(chart) == [[("G", 0)]]
    assert chart.key == parse_key("G")


@pytest.mark.parametrize(("chromatic", "sounding"), [(-9, "C"), (-2, "G"), (-14, "G"), (3, "C")])
def test_a_transposition_may_state_only_its_semitones(
    read: Reader,
    chromatic: int,
    sounding: str,
) -> None:
    move = f"<transpose><chromatic>{chromatic}</chromatic></transpose>"
    bars = measure(harmony("A") + WHOLE, attributes=attributes(fifths=3, more=move))
    assert read(score_text(bars)).bars[0].chords[0].symbol.root.ascii == sounding


def test_a_sounding_key_beyond_seven_accidentals_flips_with_its_chords(read: Reader) -> None:
    up = "<transpose><diatonic>1</diatonic><chromatic>2</chromatic></transpose>"
    bars = measure(harmony("F", "1") + WHOLE, attributes=attributes(fifths=6, more=up))
    chart = read(score_text(bars))
    assert chart.key == parse_key("Ab")
    assert chords(chart) == [[("Ab", 0)]]


@pytest.mark.parametrize(("alter", "root"), [(" -1 ", "Bb"), ("0", "B"), ("1", "B#")])
def test_the_alteration_of_a_root_is_trimmed(read: Reader, alter: str, root: str) -> None:
    bars = measure(harmony("B", alter) + WHOLE, attributes=attributes())
    assert read(score_text(bars)).bars[0].chords[0].symbol.root.ascii == root


def test_an_inversion_without_a_bass_names_the_chord_tone(read: Reader) -> None:
    bars = measure(harmony("F", "1", more="<inversion>2</inversion>") + WHOLE)
    assert read(score_text(bars)).bars[0].chords[0].symbol.ascii == "F#/C#"


def test_a_change_of_metre_is_followed(read: Reader) -> None:
    three = "<note><rest/><duration>3</duration></note>"
    chart = read(
        score_text(
            measure(harmony() + WHOLE, attributes=attributes()),
            measure(harmony("F") + three, number=2, attributes=attributes(beats="3")),
        )
    )
    assert [bar.meter for bar in chart.bars] == [Meter(4, 4), Meter(3, 4)]


def test_a_compound_time_signature_is_added_up(read: Reader) -> None:
    five = "<note><rest/><duration>5</duration></note>"
    bars = measure(harmony() + five, attributes=attributes(beats="3+2"))
    assert read(score_text(bars)).meter == Meter(5, 4, (3, 2))


@pytest.mark.parametrize(("beats", "unit", "tempo"), [("4", 4, 90.0), ("6", 8, 60.0)])
def test_a_tempo_in_quarters_is_told_in_pulses(
    read: Reader, beats: str, unit: int, tempo: float
) -> None:
    bars = measure(
        '<sound tempo="90"/>' + harmony() + "<note><rest/><duration>3</duration></note>",
        attributes=attributes(beats=beats, unit=unit),
    )
    assert read(score_text(bars)).tempo_bpm == tempo


def test_a_metronome_mark_counts_its_own_unit(read: Reader) -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>half</beat-unit>"
        "<per-minute>ca. 80</per-minute></metronome></direction-type></direction>"
    )
    assert read(score_text(measure(mark + harmony() + WHOLE))).tempo_bpm == 160


@pytest.mark.parametrize(
    ("direction", "feel"),
    [
        ("<sound><swing><first>2</first><second>1</second></swing></sound>", Feel.SWING),
        ("<sound><swing><straight/></swing></sound>", Feel.STRAIGHT),
        ("<direction-type><words>Medium Swing</words></direction-type>", Feel.SWING),
        ("<direction-type><words>Even 8ths</words></direction-type>", Feel.STRAIGHT),
        ("<direction-type><words>softly</words></direction-type>", None),
    ],
)
def test_the_feel_is_read_from_sound_or_words(
    read: Reader, direction: str, feel: Feel | None
) -> None:
    bars = measure(f"<direction>{direction}</direction>" + harmony() + WHOLE)
    assert read(score_text(bars)).feel is feel


def test_a_minor_key_that_is_not_stated_is_told_by_the_last_chord(read: Reader) -> None:
    key = "<attributes><divisions>1</divisions><key><fifths>-3</fifths></key></attributes>"
    chart = read(score_text(measure(harmony(kind="minor") + WHOLE, attributes=key)))
    assert chart.key == parse_key("Cm")
    assert any("mode is not stated" in notice for notice in chart.notices)


def test_bars_drawn_as_a_repeat_sign_have_the_chords_they_repeat(read: Reader) -> None:
    sign = (
        "<attributes><measure-style><measure-repeat type='start'>1</measure-repeat>"
        "</measure-style></attributes>"
    )
    half = "<note><rest/><duration>2</duration></note>"
    two = harmony("C") + half + harmony("F") + half
    chart = read(score_text(measure(two), measure(WHOLE, number=2, attributes=sign)))
    assert chords(chart)[1] == [("C", 0), ("F", 2)]


def test_only_the_first_part_with_harmonies_is_read(read: Reader) -> None:
    text = score_text(measure(WHOLE)).replace(
        "</part>", f'</part><part id="P2">{measure(harmony("G") + WHOLE)}</part>'
    )
    assert chords(read(text)) == [[("G", 0)]]


def test_a_score_sorted_by_bars_is_read(read: Reader) -> None:
    bar = f'<measure number="1"><part id="P1">{harmony("G")}{WHOLE}</part></measure>'
    assert chords(read(f"<score-timewise>{bar}</score-timewise>")) == [[("G", 0)]]


def test_the_title_is_the_work_else_the_name_of_the_file(read: Reader) -> None:
    bars = measure(harmony() + WHOLE)
    assert read(score_text(bars)).title == "sheet"
    head = "<work><work-title> Evening\n Class </work-title></work>"
    assert read(score_text(bars, head=head)).title == "Evening Class"


def note(step: str, octave: int = 4, duration: int = 1, more: str = "", voice: int = 1) -> str:
    pitch = f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
    rest = f"<duration>{duration}</duration>{more}<voice>{voice}</voice>"
    if "<chord/>" in more or "<grace/>" in more:
        rest = rest.replace(more, "")
        return f"<note>{more}{pitch}{rest}</note>"
    return f"<note>{pitch}{rest}</note>"


REST = "<note><rest/><duration>1</duration><voice>1</voice></note>"


def melody_of(tmp_path: Path, *measures: str) -> list[list[tuple[str, Fraction, Fraction]]]:
    path = tmp_path / "sheet.musicxml"
    path.write_text(score_text(*measures), encoding="utf-8")
    bars = load_sheet_file(path).bars
    return [[(n.pitch.ascii, n.at, n.beats) for n in bar.notes] for bar in bars]


def test_the_melody_is_read_with_its_rests_as_gaps(tmp_path: Path) -> None:
    bar = harmony() + note("C") + REST + note("E", 4, 2)
    assert melody_of(tmp_path, measure(bar)) == [[("C4", 0, 1), ("E4", 2, 2)]]


def test_the_melody_is_the_first_voice_and_the_top_of_its_chords(tmp_path: Path) -> None:
    """Grace notes take no time and are left out."""
    grace = note("D", more="<grace/>").replace("<duration>1</duration>", "")
    chord = note("C") + note("G", more="<chord/>") + note("E", more="<chord/>")
    low = "<backup><duration>2</duration></backup>" + note("C", 3, 2, voice=2)
    bar = harmony() + grace + chord + note("A") + low
    assert melody_of(tmp_path, measure(bar)) == [[("G4", 0, 1), ("A4", 1, 1)]]


@pytest.mark.parametrize(
    "unseen",
    [
        note("B", 4, 4, "<notehead>slash</notehead>"),
        note("B", 4, 4).replace("<note>", "<note><cue/>"),
        note("B", 4, 4).replace("<note>", '<note print-object="no">'),
        note("B", 4, 4).replace("pitch>", "unpitched>"),
    ],
    ids=["slash", "cue", "unseen", "unpitched"],
)
def test_what_is_no_tune_is_no_melody(unseen: str, tmp_path: Path) -> None:
    assert melody_of(tmp_path, measure(harmony() + unseen)) == [[]]


def test_bars_of_slashes_are_no_melody(tmp_path: Path) -> None:
    style = "<measure-style><slash type='{}'/></measure-style>"
    bars = (
        measure(harmony() + note("B"), attributes=attributes(more=style.format("start"))),
        measure(note("B"), number=2),
        measure(note("B"), number=3, attributes=attributes(more=style.format("stop"))),
    )
    assert melody_of(tmp_path, *bars) == [[], [], [("B4", 0, 1)]]


def test_the_melody_of_a_transposed_part_sounds_in_its_octave(tmp_path: Path) -> None:
    """A tenor saxophone: a major second and an octave lower (MusicXML 4.0, transpose)."""
    down = "<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>"
    head = attributes(fifths=2, more=f"<transpose>{down}</transpose>")
    bars = measure(harmony("D") + note("F", 5, more="", duration=4), attributes=head)
    bars = bars.replace("<step>F</step>", "<step>F</step><alter>1</alter>")
    assert melody_of(tmp_path, bars) == [[("E4", 0, 4)]]


def test_a_tie_leads_to_the_same_note_or_is_cut(tmp_path: Path) -> None:
    tie = '<tie type="start"/>'
    path = tmp_path / "sheet.musicxml"
    bars = (
        measure(harmony() + note("C", 4, 4, tie), number=1),
        measure(note("C", 4, 4, tie), number=2),
        measure(note("D", 4, 4), number=3),
    )
    path.write_text(score_text(*bars))
    sheet = load_sheet_file(path)
    assert [n.tied for bar in sheet.bars for n in bar.notes] == [True, False, False]


def test_a_rehearsal_mark_names_the_section(tmp_path: Path) -> None:
    mark = (
        "<direction><direction-type><rehearsal> Last\n time </rehearsal></direction-type>"
        "</direction>"
    )
    path = tmp_path / "sheet.musicxml"
    path.write_text(score_text(measure(harmony() + WHOLE), measure(mark + WHOLE, number=2)))
    assert [bar.section for bar in load_sheet_file(path).bars] == ["", "Last time"]


def test_a_bar_drawn_as_a_repeat_sign_has_the_melody_it_repeats(tmp_path: Path) -> None:
    sign = (
        "<attributes><measure-style><measure-repeat type='start'>1</measure-repeat>"
        "</measure-style></attributes>"
    )
    bars = measure(harmony() + note("C", 4, 4)), measure(WHOLE, number=2, attributes=sign)
    assert melody_of(tmp_path, *bars) == [[("C4", 0, 4)]] * 2


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        "musicxml/after-youve-gone.mxl",
        "musicxml/auld-lang-syne.mxl",
        "musicxml/dinah.mxl",
        "musicxml/fuer-elise.mxl",
        "musicxml/test_transpose_enharmonic_9_1345.musicxml",
        "musicxml-test-suite/71f-AllChordTypes.xml",
    ],
)
def test_the_melody_is_that_of_another_reader(name: str, reference_data: Path) -> None:
    """Places, lengths and sounding pitch of every bar against music21."""
    music21 = pytest.importorskip("music21")
    path = reference_data / name
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(path)
        parts = (p for p in score.parts if p.recurse().getElementsByClass("Harmony"))
        part = next(parts).toSoundingPitch()
    theirs = []
    for bar in part.getElementsByClass("Measure"):
        voice = bar.voices[0] if bar.voices else bar
        sounding = [e for e in voice.notes if "Harmony" not in e.classes and e.pitches]
        theirs.append(
            [
                (Fraction(e.offset), Fraction(e.quarterLength), max(p.midi for p in e.pitches))
                for e in sounding
                if not e.duration.isGrace
            ]
        )
    mine = [
        [(n.at, n.beats, n.pitch.midi) for n in bar.notes] for bar in load_sheet_file(path).bars
    ]
    assert mine == theirs
    assert sum(map(len, mine)) > 10


HOSTILE = {
    "entity bomb": '<!DOCTYPE s [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><s>&b;</s>',
    "outside entity": '<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/hostname">]><s>&a;</s>',
    "not closed": "<score-partwise><part>",
    "not a score": "<html><body/></html>",
    "no parts": "<score-partwise/>",
    "no bars": '<score-partwise><part id="P1"/></score-partwise>',
    "nothing": "",
    "unknown encoding": '<?xml version="1.0" encoding="nonsense"?><score-partwise/>',
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_or_broken_file_is_refused_in_one_line(name: str, tmp_path: Path) -> None:
    path = tmp_path / "sheet.xml"
    path.write_text(HOSTILE[name])
    with pytest.raises(ReadError, match=r"sheet\.xml") as caught:
        chart_of(path)
    assert "\n" not in str(caught.value)


def archive(entries: dict[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in entries.items():
            packed.writestr(name, data)
    return file.getvalue()


SCORE = score_text(measure(harmony("G") + WHOLE)).encode()


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ({"../outside.xml": SCORE}, "outside it"),
        ({"/etc/outside.xml": SCORE}, "outside it"),
        ({f"{n}.xml": SCORE for n in range(101)}, "more than 100 entries"),
        ({"a.xml": b" " * 21_000_000}, "more than 20 MB"),
        ({"a.xml": b" " * 9_000_000}, "beyond measure"),
        ({"a.txt": b"hello"}, "no score"),
        ({}, "no score"),
    ],
)
def test_an_archive_that_asks_for_too_much_is_refused(
    entries: dict[str, bytes], words: str, tmp_path: Path
) -> None:
    path = tmp_path / "sheet.mxl"
    path.write_bytes(archive(entries))
    with pytest.raises(ReadError, match=words):
        chart_of(path)


@pytest.mark.parametrize("method", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
@pytest.mark.parametrize("damage", [0, 60])
def test_an_archive_packed_otherwise_than_by_deflate_is_refused(
    method: int, damage: int, tmp_path: Path
) -> None:
    """MusicXML 4.0, compressed files: DEFLATE; once a damaged LZMA stream came through."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as packed:
        packed.writestr("a.xml", SCORE)
    data = bytearray(file.getvalue())
    data[60 : 60 + damage] = bytes(damage)
    path = tmp_path / "sheet.mxl"
    path.write_bytes(data)
    with pytest.raises(ReadError, match="packed in a way that MusicXML does not know"):
        chart_of(path)


@pytest.mark.parametrize("kept", [2, 30, 0.5, -30, -1])
def test_a_compressed_file_cut_short_is_refused(kept: float, tmp_path: Path) -> None:
    whole = archive({"a.xml": SCORE})
    path = tmp_path / "sheet.mxl"
    path.write_bytes(whole[: int(len(whole) * kept) if kept == 0.5 else int(kept)])
    with pytest.raises(ReadError, match=r"sheet\.mxl: the compressed file is damaged"):
        chart_of(path)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "iso-8859-1"])
def test_a_file_is_read_in_the_encoding_it_states(encoding: str, tmp_path: Path) -> None:
    head = f'<?xml version="1.0" encoding="{encoding.removesuffix("-sig")}"?>'
    title = "<work><work-title>Übung</work-title></work>"
    path = tmp_path / "sheet.xml"
    text = head + score_text(measure(harmony("G") + WHOLE), head=title)
    path.write_bytes(text.encode(encoding))
    assert (chart_of(path).title, chords(chart_of(path))) == ("Übung", [[("G", 0)]])


def test_a_file_in_another_encoding_than_it_states_is_refused(tmp_path: Path) -> None:
    title = "<work><work-title>Übung</work-title></work>"
    path = tmp_path / "sheet.xml"
    path.write_bytes(score_text(measure(harmony("G") + WHOLE), head=title).encode("latin-1"))
    with pytest.raises(ReadError, match=r"line 1, column \d+: this is no well-formed XML"):
        chart_of(path)


def test_an_archive_is_read_through_its_container(tmp_path: Path) -> None:
    container = b'<container><rootfiles><rootfile full-path="b.xml"/></rootfiles></container>'
    other = score_text(measure(harmony("F") + WHOLE)).encode()
    path = tmp_path / "sheet.mxl"
    path.write_bytes(archive({"META-INF/container.xml": container, "a.xml": other, "b.xml": SCORE}))
    assert chords(chart_of(path)) == [[("G", 0)]]


SMALL = (
    "musicxml/testChordOffset.xml",
    "musicxml-test-suite/71g-MultipleChordnames.xml",
    "musicxml/auld-lang-syne.mxl",
    "musicxml/skye-boat-song.mxl",
)


def read_or_error(path: Path) -> Chart | ReadError:
    try:
        return chart_of(path)
    except ReadError as error:
        return error


@pytest.mark.slow
@pytest.mark.parametrize("name", SMALL)
def test_damaged_files_are_read_or_refused(name: str, reference_data: Path, tmp_path: Path) -> None:
    """Bytes are changed, dropped and cut off at random; nothing but ReadError comes out."""
    whole = (reference_data / name).read_bytes()
    chance = random.Random(name)
    path = tmp_path / name.rpartition("/")[2]
    results = []
    for _ in range(60):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 6)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        if chance.random() < 0.4:
            del data[chance.randrange(len(data)) :]
        path.write_bytes(data)
        results.append(read_or_error(path))
    assert any(isinstance(result, ReadError) for result in results)
    assert all(isinstance(result, ReadError) or result.bars for result in results)


VALUES = (
    "",
    "x",
    "-1",
    "0",
    "1",
    "7",
    "13",
    "-99",
    "1e9",
    "nan",
    "99999999999999",
    "0.5",
    "C",
    "H",
)
PLACES = (
    *("divisions", "fifths", "beats", "beat-type", "duration", "offset", "root-step"),
    *("root-alter", "kind", "degree-value", "degree-alter", "degree-type", "inversion"),
    *("chromatic", "diatonic", "octave-change", "step", "alter", "octave"),
)


@pytest.mark.slow
@settings(max_examples=200)
@given(st.dictionaries(st.sampled_from(PLACES), st.sampled_from(VALUES), max_size=6))
def test_senseless_values_are_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, values: dict[str, str]
) -> None:
    degree = (
        "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter>"
        "<degree-type>add</degree-type></degree><inversion>1</inversion><offset>1</offset>"
    )
    move = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
        "<octave-change>-1</octave-change></transpose>"
    )
    tune = note("B", 4, 2).replace("</step>", "</step><alter>-1</alter>") * 2
    sheet = harmony("B", "-1", "dominant", degree) + tune
    text = score_text(measure(sheet, attributes=attributes(more=move)), measure(sheet, number=2))
    for place, value in values.items():
        start, end = f"<{place}>", f"</{place}>"
        before, _, rest = text.partition(start)
        text = before + start + value + end + rest.partition(end)[2]
    path = tmp_path_factory.getbasetemp() / "senseless.xml"
    path.write_text(text)
    result = read_or_error(path)
    assert isinstance(result, ReadError) or sum(s.beats for s in spans(result)) == result.beats
