"""MusicXML files: valid by the W3C's schema, and read back by music21 as they were meant.

References: the MusicXML 4.0 XSD (W3C), and music21 as another program's reading.
"""

from __future__ import annotations

import warnings
from fractions import Fraction
from functools import lru_cache
from itertools import product
from pathlib import Path

import pytest
from lxml import etree

from halfstep.instruments import INSTRUMENTS, Clef, Instrument
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.notation import NOTE_VALUES
from halfstep.pitch import UNISON, Interval, parse_pitch
from halfstep.render.musicxml_writer import musicxml_text, write_musicxml
from halfstep.score import LEADING, Barline, ChordText, Mark, Score, ScoreBar, ScoreNote

SCHEMA = Path(__file__).parents[3] / "shared" / "data" / "w3c-musicxml"
needs_schema = pytest.mark.skipif(
    not SCHEMA.exists(), reason=f"the W3C's schema is not at {SCHEMA}"
)
EIGHTH, SIXTEENTH = Fraction(1, 2), Fraction(1, 4)
COMMON = Meter(4, 4)
SILENT = ChordText(Fraction(0), plain="N.C.", kind="none")
SEVENTH = ChordText(
    Fraction(0),
    root="B♭",
    quality="",
    extension="7♭9",
    bass="A♭",
    plain="",
    kind="dominant",
    degrees=((9, -1, "add"),),
)
HALF_DIMINISHED = ChordText(
    Fraction(3, 2), root="F♯", quality="ø", extension="7", kind="half-diminished"
)


class LocalSchemas(etree.Resolver):
    """Finds what the schema imports beside it, without a network."""

    def resolve(self, address, _public, context):
        return self.resolve_filename(str(SCHEMA / address.rsplit("/", 1)[-1]), context)


@lru_cache(maxsize=1)
def schema() -> etree.XMLSchema:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(LocalSchemas())
    return etree.XMLSchema(etree.parse(str(SCHEMA / "musicxml.xsd"), parser))


def tree(score: Score) -> etree._Element:
    return etree.fromstring(musicxml_text(score).encode())


def faults(score: Score) -> list[str]:
    checker = schema()
    checker.validate(tree(score))
    return [entry.message for entry in checker.error_log]


def read_back(score: Score):
    """The score as music21 reads it; it warns of chord degrees it has no name for."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return converter.parseData(musicxml_text(score), format="musicxml")


def notes(text: str, beats: object = 1, marks: Mark = Mark.NONE) -> tuple[ScoreNote, ...]:
    pitches = [None if word == "r" else parse_pitch(word) for word in text.split()]
    lengths = beats if isinstance(beats, list) else [beats] * len(pitches)
    return tuple(ScoreNote(p, Fraction(b), marks) for p, b in zip(pitches, lengths, strict=True))


def part(*bars: ScoreBar, fifths: int = 0, rise: Interval = UNISON, **more: object) -> Score:
    fields = {
        "title": "Slow bus & two stops", "label": "Part", "key_fifths": fifths, "mode": "major",
        "clef": Clef.TREBLE, "rise": rise, "program": 65, "tempo_bpm": 96.0, "swing": None,
    }  # fmt: skip
    return Score(**{**fields, **more}, bars=tuple(bars))


def full_bar(meter: Meter) -> ScoreBar:
    """A bar of eighths with every mark, and chords on and inside notes."""
    count = int(meter.bar_beats / EIGHTH)
    line = notes(" ".join(["Eb5", "F#5"] * count), EIGHTH)[:count]
    marks = Mark.CHANGING | Mark.BREATH | LEADING
    marked = [ScoreNote(n.pitch, n.beats, marks, "♭7") for n in line]
    inside = ChordText(Fraction(5, 4), root="C", extension="7", kind="dominant")
    return ScoreBar(1, meter, tuple(marked), chords=(SEVENTH, inside, HALF_DIMINISHED))


# Valid


@needs_schema
@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("mode", ["major", "minor", "dorian", "locrian"])
def test_every_key_is_valid(fifths, mode):
    assert faults(part(full_bar(COMMON), fifths=fifths, mode=mode)) == []


@needs_schema
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda each: each.key)
def test_every_instrument_is_valid(instrument):
    score = part(
        full_bar(COMMON),
        rise=instrument.rise,
        clef=instrument.clef,
        label=instrument.label,
        program=instrument.program,
    )
    assert faults(score) == []


@needs_schema
@pytest.mark.parametrize("meter", [(4, 4), (3, 4), (6, 8), (5, 4), (2, 2), (12, 8), (7, 8)])
@pytest.mark.parametrize("swing", [None, False, True])
def test_every_metre_is_valid(meter, swing):
    assert faults(part(full_bar(Meter(*meter)), swing=swing)) == []


@needs_schema
def test_every_value_and_every_kind_of_bar_is_valid():
    values = [ScoreBar(n, COMMON, notes("C5 r", [v, v])) for n, v in enumerate(NOTE_VALUES, 1)]
    tied = ScoreBar(9, COMMON, notes("G4", 4, Mark.TIE), chords=(SILENT,), barline=Barline.DOUBLE)
    end = ScoreBar(10, Meter(3, 4), notes("G4", 3), chords=(), barline=Barline.FINAL)
    empty = ScoreBar(11, Meter(5, 4), notes("r", 5))
    pickup = ScoreBar(0, COMMON, notes("F#5 G5", EIGHTH))
    assert faults(part(pickup, *values, tied, end, empty)) == []


@needs_schema
def test_the_schema_refuses_a_kind_that_is_not_in_it():
    """The check itself can fail."""
    wrong = ChordText(Fraction(0), root="C", extension="7", kind="dominant-seventh")
    bad = ScoreBar(1, COMMON, notes("C5", 4), chords=(wrong,))
    assert any("dominant-seventh" in fault for fault in faults(part(bad)))


@needs_schema
def test_every_kind_of_the_schema_can_be_written():
    import json

    kinds = json.loads((SCHEMA / "kind-values.json").read_text())["values"]
    bars = [
        ScoreBar(
            n,
            COMMON,
            notes("C5", 4),
            chords=(ChordText(Fraction(0), root="C", kind=kind),),
        )
        for n, kind in enumerate(kinds, 1)
    ]
    assert len(bars) == 33
    assert faults(part(*bars)) == []


# Read back by music21


def sounding(instrument: Instrument) -> list[int]:
    compass = instrument.compass(Level.ADVANCED)
    return [instrument.concert(pitch).midi for pitch in (compass.low, compass.high)]


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda each: each.key)
def test_music21_hears_the_concert_pitches_of_every_instrument(instrument):
    compass = instrument.compass(Level.ADVANCED)
    line = (ScoreNote(compass.low, Fraction(2)), ScoreNote(compass.high, Fraction(2)))
    score = part(ScoreBar(1, COMMON, line), rise=instrument.rise, clef=instrument.clef)
    heard = read_back(score).toSoundingPitch().recurse().notes
    assert [note.pitch.midi for note in heard if note.isNote] == sounding(instrument)


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_music21_reads_the_same_key_names_and_printed_accidentals(fifths):
    line = notes("C5 C#5 Cb5 C5 B4 Bb4 F##5 Ebb5", EIGHTH)
    read = read_back(part(ScoreBar(1, COMMON, line), fifths=fifths))
    (key,) = read.recurse().getElementsByClass("KeySignature")
    assert key.sharps == fifths
    found = [n.pitch.nameWithOctave.replace("-", "b") for n in read.recurse().notes]
    assert found == [note.pitch.ascii for note in line]


def test_music21_reads_chord_symbols_at_their_beats():
    plain = ChordText(Fraction(3), root="D♭", quality="m", extension="7", kind="minor-seventh")
    bar = ScoreBar(1, COMMON, notes("C5 D5", 2), chords=(SEVENTH, HALF_DIMINISHED, plain))
    chords = read_back(part(bar)).recurse().getElementsByClass("ChordSymbol")
    assert [chord.root().name for chord in chords] == ["B-", "F#", "D-"]
    assert [Fraction(chord.offset) for chord in chords] == [0, Fraction(3, 2), 3]
    assert [chord.chordKind for chord in chords] == [
        "dominant-seventh", "half-diminished-seventh", "minor-seventh",
    ]  # fmt: skip
    assert chords[0].bass().name == "A-"


def test_music21_reads_silence_as_no_chord():
    (read,) = (
        read_back(part(ScoreBar(1, COMMON, notes("C5", 4), chords=(SILENT,))))
        .recurse()
        .getElementsByClass("Harmony")
    )
    assert type(read).__name__ == "NoChord"
    assert read.figure == "N.C."


def test_music21_joins_ties_over_the_bar_line():
    bars = (
        ScoreBar(1, COMMON, notes("F#4", 4, Mark.TIE)),
        ScoreBar(2, COMMON, notes("F#4 F#4", 2)),
    )
    lengths = [note.quarterLength for note in read_back(part(*bars)).stripTies().recurse().notes]
    assert lengths == [6.0, 2.0]


def test_music21_reads_a_pickup_as_one():
    bars = (ScoreBar(0, COMMON, notes("G4 A4")), ScoreBar(1, COMMON, notes("C5", 4)))
    first, second = read_back(part(*bars)).recurse().getElementsByClass("Measure")
    assert (first.number, second.number) == (0, 1)
    assert first.paddingLeft == 2.0


@pytest.mark.parametrize(
    ("meter", "quarters"), [(COMMON, 96.0), (Meter(3, 4), 96.0), (Meter(6, 8), 144.0)]
)
def test_the_tempo_counts_pulses_on_paper_and_quarters_in_sound(meter, quarters):
    """In 6/8 at dotted quarter = 96 there are 144 quarters a minute."""
    score = part(full_bar(meter))
    assert float(tree(score).find(".//sound").get("tempo")) == quarters
    (mark,) = read_back(score).recurse().getElementsByClass("MetronomeMark")
    assert mark.number == 96
    assert mark.getQuarterBPM() == quarters


# What stands in the file


def test_programs_count_from_one():
    assert tree(part(full_bar(COMMON))).findtext(".//midi-program") == "66"


def test_swing_is_said_in_words_and_in_sound():
    found = tree(part(full_bar(COMMON), swing=True))
    assert found.findtext(".//words") == "Swing"
    assert (found.findtext(".//swing/first"), found.findtext(".//swing/second")) == ("2", "1")
    assert tree(part(full_bar(COMMON))).find(".//swing") is None


def test_the_kind_carries_the_printed_text_and_the_degrees_do_not_print_again():
    found = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=(SEVENTH,))))
    assert found.find(".//kind").get("text") == "7♭9"
    assert [degree.get("print-object") for degree in found.iter("degree")] == ["no"]


def test_each_bar_has_its_chords_and_marks():
    found = tree(part(full_bar(COMMON)))
    assert len(found.findall(".//harmony")) == 3
    assert len(found.findall(".//breath-mark")) == 8
    assert {each.text for each in found.iter("other-notation")} == {
        "changing note",
        "approach from the scale",
        "chromatic approach",
        "enclosure",
    }
    assert {each.text for each in found.iter("text")} == {"♭7"}


def test_beams_begin_and_end_in_pairs_and_sixteenths_have_two():
    line = notes("C5 D5 E5 F5 G5 A5", [EIGHTH, SIXTEENTH, SIXTEENTH, Fraction(3, 4), SIXTEENTH, 2])
    found = tree(part(ScoreBar(1, COMMON, line)))
    words = [[(b.get("number"), b.text) for b in note.iter("beam")] for note in found.iter("note")]
    assert words == [
        [("1", "begin")],
        [("1", "continue"), ("2", "begin")],
        [("1", "end"), ("2", "end")],
        [("1", "begin")],
        [("1", "end"), ("2", "backward hook")],
        [],
    ]


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda each: each.key)
def test_the_transposition_adds_up_to_the_fall(instrument):
    found = tree(part(full_bar(COMMON), rise=instrument.rise)).find(".//transpose")
    if found is None:
        assert instrument.rise == UNISON
        return
    octaves = int(found.findtext("octave-change", "0"))
    assert int(found.findtext("chromatic")) + 12 * octaves == -instrument.rise.semitones
    assert int(found.findtext("diatonic")) + 7 * octaves == -instrument.rise.letters
    assert abs(int(found.findtext("chromatic"))) < 12


def test_a_length_no_note_has_names_its_bar():
    with pytest.raises(ValueError, match="bar 3: no single note lasts 5/2 beats"):
        musicxml_text(part(ScoreBar(3, COMMON, notes("C5 D5", [Fraction(5, 2), Fraction(3, 2)]))))


def test_chords_on_any_division_of_the_beat_keep_their_place():
    thirds = tuple(ChordText(Fraction(n, 3), root="C", kind="major") for n in (0, 4, 8))
    found = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=thirds)))
    divisions = int(found.findtext(".//divisions"))
    places = [Fraction(int(h.findtext("offset", "0")), divisions) for h in found.iter("harmony")]
    assert places == [chord.at for chord in thirds]


def test_the_file_is_the_text_in_utf_8(tmp_path):
    score = part(full_bar(COMMON))
    write_musicxml(tmp_path / "part.musicxml", score)
    assert (tmp_path / "part.musicxml").read_bytes() == musicxml_text(score).encode("utf-8")


def test_names_with_markup_in_them_come_back_whole():
    found = tree(part(full_bar(COMMON), label="Flute <2>"))
    assert found.findtext(".//work-title") == "Slow bus & two stops"
    assert found.findtext(".//part-name") == "Flute <2>"


@needs_schema
def test_every_alteration_of_every_letter_is_valid():
    names = [letter + sign for letter, sign in product("CDEFGAB", ("bb", "b", "", "#", "##"))]
    line = [ScoreBar(n, COMMON, notes(f"{name}4", 4)) for n, name in enumerate(names, 1)]
    assert faults(part(*line)) == []
