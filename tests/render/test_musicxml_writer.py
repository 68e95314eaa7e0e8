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
from hypothesis import HealthCheck, given, settings
from lxml import etree

from halfstep.instruments import INSTRUMENTS, Clef, Instrument
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.notation import NOTE_VALUES
from halfstep.pitch import UNISON, Interval, parse_pitch
from halfstep.render import musicxml_writer
from halfstep.render.musicxml_writer import musicxml_text, write_musicxml
from halfstep.road_words import LAST_TIME
from halfstep.score import (
    LEADING,
    Barline,
    ChordText,
    DegreeText,
    Dynamic,
    Mark,
    Road,
    Score,
    ScoreBar,
    ScoreNote,
)
from written_scores import whole_scores

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
    kind_text="7",
    bass="A♭",
    plain="",
    kind="dominant",
    degrees=(DegreeText(9, -1, "add"),),
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
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
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


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
def test_music21_hears_the_concert_pitches_of_every_instrument(instrument):
    compass = instrument.compass(Level.ADVANCED)
    line = (ScoreNote(compass.low, Fraction(2)), ScoreNote(compass.high, Fraction(2)))
    score = part(ScoreBar(1, COMMON, line), rise=instrument.rise, clef=instrument.clef)
    sounding_notes = read_back(score).toSoundingPitch().recurse().notes
    assert [note.pitch.midi for note in sounding_notes if note.isNote] == sounding(instrument)


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_music21_reads_the_same_key_names_and_printed_accidentals(fifths):
    line = notes("C5 C#5 Cb5 C5 B4 Bb4 F##5 Ebb5", EIGHTH)
    read = read_back(part(ScoreBar(1, COMMON, line), fifths=fifths))
    (key,) = read.recurse().getElementsByClass("KeySignature")
    assert key.sharps == fifths
    names = [n.pitch.nameWithOctave.replace("-", "b") for n in read.recurse().notes]
    assert names == [note.pitch.ascii for note in line]


def test_a_courtesy_accidental_is_marked_as_one():
    """MusicXML 4.0: `cautionary` and `parentheses`; it is no second alteration."""
    bars = [ScoreBar(n, COMMON, notes(text, 2)) for n, text in ((1, "F#4 G4"), (2, "F4 F4"))]
    signs = [dict(element.attrib) for element in tree(part(*bars)).iter("accidental")]
    assert signs == [{}, {"cautionary": "yes", "parentheses": "yes"}]
    assert [note.pitch.nameWithOctave for note in read_back(part(*bars)).recurse().notes] == [
        "F#4", "G4", "F4", "F4",
    ]  # fmt: skip


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


def touched() -> Score:
    """Every mark of how a note is touched, and slurs into a beat and over a tie."""
    marks = [
        Mark.ACCENT | Mark.SLUR, Mark.STACCATO, Mark.GHOST | Mark.SLUR, Mark.TENUTO | Mark.SLUR,
        Mark.SCOOP, Mark.TIE | Mark.SLUR, Mark.SLUR, Mark.FALL,
    ]  # fmt: skip
    line = notes("C5 D5 E5 D5 C5 G4 G4 A4", EIGHTH)
    marked = [ScoreNote(n.pitch, n.beats, m) for n, m in zip(line, marks, strict=True)]
    marked[2] = ScoreNote(marked[2].pitch, EIGHTH, marks[2], dynamic=Dynamic.MEZZO_PIANO)
    return part(ScoreBar(1, COMMON, tuple(marked)))


@needs_schema
def test_how_notes_are_touched_is_valid():
    assert faults(touched()) == []


def test_music21_reads_how_notes_are_touched():
    read = read_back(touched())
    slurs = [
        [n.pitch.nameWithOctave for n in slur] for slur in read.recurse().getElementsByClass("Slur")
    ]
    assert [(slur[0], slur[-1], len(slur)) for slur in slurs] == [
        ("C5", "D5", 2), ("E5", "C5", 2), ("G4", "A4", 2),
    ]  # fmt: skip
    every = list(read.recurse().notes)
    assert [[type(sign).__name__ for sign in note.articulations] for note in every] == [
        ["Accent"], ["Staccato"], [], ["Tenuto"], ["Scoop"], [], [], ["Falloff"],
    ]  # fmt: skip
    assert [note.noteheadParenthesis for note in every] == [False, False, True, *[False] * 5]
    (dynamic,) = read.recurse().getElementsByClass("Dynamic")
    assert (dynamic.value, dynamic.offset) == ("mp", 1.0)


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


# Any score


@pytest.mark.slow
@needs_schema
@settings(max_examples=20)
@given(whole_scores())
def test_any_score_is_valid(score: Score) -> None:
    assert faults(score) == []


def durations(measure: etree._Element) -> list[int]:
    return [int(note.findtext("duration")) for note in measure.iter("note")]


@pytest.mark.slow
@settings(max_examples=20)
@given(whole_scores())
def test_any_bar_adds_up_in_divisions(score: Score) -> None:
    root = tree(score)
    divisions = int(root.findtext(".//divisions"))
    for bar, measure in zip(score.bars, root.iter("measure"), strict=True):
        assert [Fraction(d, divisions) for d in durations(measure)] == [
            note.beats for note in bar.notes
        ]


@pytest.mark.slow
@settings(max_examples=20)
@given(whole_scores())
def test_what_a_note_looks_like_lasts_as_long_as_it_says(score: Score) -> None:
    """Type, dots and time modification against the duration (MusicXML 4.0)."""
    root = tree(score)
    divisions = int(root.findtext(".//divisions"))
    plain = {name: Fraction(4, divisor) for divisor, name in musicxml_writer._TYPES.items()}
    for note in root.iter("note"):
        if note.find("type") is None:
            assert note.find("rest").get("measure") == "yes"
            continue
        beats = plain[note.findtext("type")] * (2 - Fraction(1, 2 ** len(note.findall("dot"))))
        if note.find("time-modification") is not None:
            beats *= Fraction(int(note.findtext(".//normal-notes")))
            beats /= int(note.findtext(".//actual-notes"))
        assert Fraction(int(note.findtext("duration")), divisions) == beats


@pytest.mark.slow
@settings(max_examples=20)
@given(whole_scores())
def test_beams_open_and_close_in_pairs(score: Score) -> None:
    """In each bar, for each number; a hook stands by itself and inside an open beam."""
    for measure in tree(score).iter("measure"):
        opened: set[str] = set()
        for note in measure.iter("note"):
            for beam in note.iter("beam"):
                number, word = beam.get("number"), beam.text
                if word == "begin":
                    assert number not in opened
                    opened.add(number)
                elif word in {"continue", "end"}:
                    assert number in opened
                    opened -= {number} if word == "end" else set()
                else:
                    assert word in {"forward hook", "backward hook"}
                    assert number == "2"
        assert not opened


@pytest.mark.slow
@settings(max_examples=20)
@given(whole_scores())
def test_a_tie_that_starts_stops_at_the_next_note(score: Score) -> None:
    """Sound (``tie``) and notation (``tied``) say the same."""
    notes = list(tree(score).iter("note"))
    types = [[tie.get("type") for tie in note.findall("tie")] for note in notes]
    tied = [[tie.get("type") for tie in note.findall("notations/tied")] for note in notes]
    assert types == tied
    starts = ["start" in several for several in types]
    stops = ["stop" in several for several in types]
    assert starts[:-1] == stops[1:]


@pytest.mark.slow
@settings(max_examples=20)
@given(whole_scores())
def test_symbols_and_signs_of_any_score_are_there(score: Score) -> None:
    root = tree(score)
    chords = [chord for bar in score.bars for chord in bar.chords]
    assert [h.findtext("kind") for h in root.iter("harmony")] == [chord.kind for chord in chords]
    notes = [note for bar in score.bars for note in bar.notes]
    assert len(root.findall(".//lyric")) == sum(bool(note.degree) for note in notes)
    breaths = sum(Mark.BREATH in note.marks for note in notes)
    assert len(root.findall(".//breath-mark")) == breaths
    signs = [mark for note in notes for mark in (Mark.CHANGING, *LEADINGS) if mark in note.marks]
    assert len(root.findall(".//other-notation")) == len(signs)


LEADINGS = (Mark.LEADS, Mark.LEADS_CHROMATIC, Mark.ENCLOSES)


@pytest.mark.slow
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores(with_roads=False))
def test_music21_reads_any_score_as_it_was_written(score: Score) -> None:
    """Another program's reading: pitches, lengths, key and metre."""
    read = read_back(score)
    notes = [note for bar in score.bars for note in bar.notes]
    elements = [
        e for e in read.recurse().notesAndRests if e.classes[0] not in {"ChordSymbol", "NoChord"}
    ]
    assert [Fraction(e.quarterLength).limit_denominator(64) for e in elements] == [
        n.beats for n in notes
    ]
    pitches = [e.pitch.nameWithOctave.replace("-", "b") if e.isNote else None for e in elements]
    assert pitches == [note.pitch and note.pitch.ascii for note in notes]
    assert next(read.recurse().getElementsByClass("KeySignature")).sharps == score.key_fifths
    metre = next(read.recurse().getElementsByClass("TimeSignature"))
    assert (metre.numerator, metre.denominator) == (
        score.bars[0].meter.count,
        score.bars[0].meter.unit,
    )


# The road


def road_of(**signs: object) -> etree._Element:
    return tree(part(ScoreBar(1, COMMON, notes("C5", 4), road=Road(**signs))))


def test_a_repeat_has_its_two_ends() -> None:
    root = road_of(forward=True, backward=2)
    left, right = root.findall(".//barline")
    assert (left.get("location"), right.get("location")) == ("left", "right")
    assert [line.find("repeat").get("direction") for line in (left, right)] == [
        "forward",
        "backward",
    ]
    assert right.find("repeat").get("times") is None


def test_a_passage_played_three_times_says_so() -> None:
    assert road_of(backward=3).find(".//repeat").get("times") == "3"


def test_an_ending_that_goes_on_stays_open() -> None:
    """The last bracket turns down at a double or final bar line only; common practice."""
    (line,) = road_of(ending_stops=(2,)).iter("ending")
    assert line.get("type") == "discontinue"
    bar = ScoreBar(1, COMMON, notes("C5", 4), barline=Barline.FINAL, road=Road(ending_stops=(2,)))
    (line,) = tree(part(bar)).iter("ending")
    assert line.get("type") == "stop"


def test_a_jump_names_the_last_segno_before_it() -> None:
    signs = (("segno",), ("segno",), ("D.S. al Coda", "to coda"), ("coda",))
    bars = [
        ScoreBar(n, COMMON, notes("C5", 4), road=Road(signs=several))
        for n, several in enumerate(signs, 1)
    ]
    root = tree(part(*bars))
    assert [dict(sound.attrib) for sound in root.iter("sound") if not sound.get("tempo")] == [
        {"segno": "segno"}, {"segno": "segno2"}, {"dalsegno": "segno2"}, {"tocoda": "coda"},
        {"coda": "coda"},
    ]  # fmt: skip
    assert [words.text for words in root.iter("words")] == ["D.S. al Coda", "To Coda"]


def test_an_ending_starts_and_stops_with_its_passes() -> None:
    root = road_of(ending=(1, 3), ending_stops=(1, 3), backward=2)
    first, last = root.findall(".//ending")
    assert (first.get("type"), first.get("number")) == ("start", "1, 3")
    assert (last.get("type"), last.get("number")) == ("stop", "1, 3")


@pytest.mark.parametrize(
    ("sign", "tag", "words", "attribute", "value", "first"),
    [
        ("segno", "segno", None, "segno", "segno", True),
        ("coda", "coda", None, "coda", "coda", True),
        ("to coda", None, "To Coda", "tocoda", "coda", False),
        ("fine", None, "Fine", "fine", "yes", False),
        ("D.C.", None, "D.C.", "dacapo", "yes", False),
        ("D.S.", None, "D.S.", "dalsegno", "segno", False),
    ],
)
def test_a_sign_is_seen_and_heard(
    sign: str, tag: str | None, words: str | None, attribute: str, value: str, first: bool
) -> None:
    """MusicXML 4.0: ``sound`` tells a player what the sign tells a reader. What is gone to
    stands before the notes, what sends away after them.
    """
    (measure,) = road_of(signs=(sign,)).iter("measure")
    (direction,) = [d for d in measure.iter("direction") if d.find("sound").get(attribute)]
    assert direction.find("sound").get(attribute) == value
    assert (direction.find(f"direction-type/{tag}") is not None) if tag else True
    assert direction.findtext("direction-type/words") == words
    children = list(measure)
    assert (children.index(direction) < children.index(measure.find("note"))) == first


def test_the_bar_of_the_last_time_is_words_alone_on_the_line_before() -> None:
    """A program that plays goes straight on, and prints no line for one bar."""
    bars = [ScoreBar(n, COMMON, (ScoreNote(None, Fraction(4)),)) for n in range(1, 5)]
    last = ScoreBar(5, COMMON, notes("C4", 4), road=Road(signs=(LAST_TIME,)))
    element = tree(part(*bars, last))
    assert element.xpath("//measure[@number='5']/direction/direction-type/words/text()") == [
        "Last time"
    ]
    assert not element.xpath("//measure[@number='5']//sound | //print[@new-system]")
    assert not element.xpath("//measure[@number='5']/note/following-sibling::direction")
    longer = tree(part(*bars, ScoreBar(5, COMMON, notes("C4", 4))))
    assert longer.xpath("//measure[@number='5']/print[@new-system='yes']")


def test_a_section_is_a_rehearsal_mark() -> None:
    assert road_of(section="Bridge <2>").findtext(".//rehearsal") == "Bridge <2>"


def test_a_plain_bar_has_no_bar_lines_of_its_own() -> None:
    assert road_of().find(".//barline") is None


def test_a_repeat_before_a_section_keeps_its_own_line() -> None:
    """MusicXML 4.0, ``repeat``: a backward one comes with a light-heavy bar line."""
    bar = ScoreBar(1, COMMON, notes("C5", 4), barline=Barline.DOUBLE, road=Road(backward=2))
    (line,) = tree(part(bar)).findall(".//barline")
    assert line.findtext("bar-style") == "light-heavy"
    assert line.find("repeat") is not None


# Changes on the way


def test_attributes_stand_where_they_change() -> None:
    """Divisions and clef once; a metre and a key where they begin."""
    bars = (
        ScoreBar(1, COMMON, notes("C5", 4)),
        ScoreBar(2, COMMON, notes("C5", 4)),
        ScoreBar(3, Meter(3, 4), notes("C5", 3)),
        ScoreBar(4, Meter(3, 4), notes("C5", 3), key=(-3, "minor")),
    )
    first, second, third, fourth = tree(part(*bars)).iter("measure")
    assert [child.tag for child in first.find("attributes")] == ["divisions", "key", "time", "clef"]
    assert second.find("attributes") is None
    assert [child.tag for child in third.find("attributes")] == ["time"]
    assert [child.tag for child in fourth.find("attributes")] == ["key"]
    assert fourth.findtext("attributes/key/fifths") == "-3"
    assert fourth.findtext("attributes/key/mode") == "minor"


def test_a_stated_grouping_is_written_as_a_sum() -> None:
    bar = ScoreBar(1, Meter(7, 4, (2, 2, 3)), notes("C5 C5", [4, 3]))
    assert tree(part(bar)).findtext(".//time/beats") == "2+2+3"


def test_bars_that_are_not_counted_say_so() -> None:
    bars = (
        ScoreBar(0, COMMON, notes("C5")),
        ScoreBar(1, COMMON, notes("C5", 4)),
        ScoreBar(2, COMMON, notes("C5", 2), irregular=True, label="X1"),
    )
    measures = list(tree(part(*bars)).iter("measure"))
    assert [measure.get("implicit") for measure in measures] == ["yes", None, "yes"]
    assert [measure.get("number") for measure in measures] == ["0", "1", "X1"]


def test_nothing_stated_says_nothing_of_the_tempo() -> None:
    assert tree(part(full_bar(COMMON), tempo_bpm=None)).find(".//sound") is None
    assert tree(part(full_bar(COMMON), tempo_bpm=None)).find(".//metronome") is None


def test_straight_eighths_are_said() -> None:
    root = tree(part(full_bar(COMMON), swing=False, tempo_bpm=None))
    assert root.findtext(".//words") == "Straight"
    assert root.find(".//swing/straight") is not None
    assert root.find(".//sound").get("tempo") is None


@pytest.mark.parametrize(
    ("meter", "unit", "dots"),
    [(COMMON, "quarter", 0), (Meter(6, 8), "quarter", 1), (Meter(12, 8), "quarter", 1),
     (Meter(2, 2), "quarter", 0), (Meter(7, 8), "quarter", 0), (Meter(9, 16), "eighth", 1)],
    ids=str,
)  # fmt: skip
def test_the_metronome_mark_shows_the_pulse(meter: Meter, unit: str, dots: int) -> None:
    bar = ScoreBar(1, meter, (ScoreNote(None, meter.bar_beats),))
    root = tree(part(bar))
    assert root.findtext(".//metronome/beat-unit") == unit
    assert len(root.findall(".//metronome/beat-unit-dot")) == dots


@pytest.mark.parametrize("beats", ["1/8", "1/16", "1/32"])
def test_the_short_values_of_other_peoples_charts_are_written(beats: str) -> None:
    """Thirty-seconds and shorter, which our own writer never makes."""
    root = tree(part(ScoreBar(1, COMMON, notes("C5 D5", Fraction(beats)))))
    assert {note.findtext("type") for note in root.iter("note")} == {
        {"1/8": "32nd", "1/16": "64th", "1/32": "128th"}[beats]
    }


def test_an_odd_length_is_told_by_its_duration_alone() -> None:
    root = tree(part(ScoreBar(1, COMMON, notes("C5", Fraction(1, 64)))))
    assert root.find(".//note/type") is None
    assert int(root.findtext(".//duration")) * 64 == int(root.findtext(".//divisions"))


def test_a_chord_symbol_with_bass_names_both() -> None:
    (harmony,) = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=(SEVENTH,)))).iter("harmony")
    assert (harmony.findtext("root/root-step"), harmony.findtext("root/root-alter")) == ("B", "-1")
    assert (harmony.findtext("bass/bass-step"), harmony.findtext("bass/bass-alter")) == ("A", "-1")
    degree = harmony.find("degree")
    assert [child.text for child in degree] == ["9", "-1", "add"]


def test_characters_that_xml_has_not_are_left_out() -> None:
    assert tree(part(full_bar(COMMON), title="bell\u0007 and \ud800")).findtext(
        ".//work-title"
    ) == ("bell and ")


# What stands in the file


def test_programs_count_from_one():
    assert tree(part(full_bar(COMMON))).findtext(".//midi-program") == "66"


@pytest.mark.parametrize(
    ("tempo_bpm", "ratio"), [(None, ("2", "1")), (96, ("2", "1")), (240, ("3", "2"))]
)
def test_swing_is_said_in_words_and_in_the_sound_as_the_lesson_sounds(tempo_bpm, ratio):
    root = tree(part(full_bar(COMMON), swing=True, tempo_bpm=tempo_bpm))
    assert root.findtext(".//words") == "Swing"
    assert (root.findtext(".//sound/swing/first"), root.findtext(".//swing/second")) == ratio
    assert tree(part(full_bar(COMMON))).find(".//swing") is None


@pytest.mark.parametrize(
    "fields", [{"tempo_bpm": 300.0, "swing": True}, {"swing": False}], ids=["fast", "straight"]
)
def test_even_eighths_are_said_in_the_sound(fields) -> None:
    """The lesson's swing at 300 is even too (Friberg & Sundström 2002)."""
    assert tree(part(full_bar(COMMON), **fields)).find(".//sound/swing/straight") is not None


def test_a_bar_left_open_prints_no_rests() -> None:
    rests = notes("r r", 2, Mark.UNSEEN)
    root = tree(part(ScoreBar(1, COMMON, rests, chords=(SEVENTH,))))
    assert [note.get("print-object") for note in root.iter("note")] == ["no", "no"]
    (whole,) = tree(part(ScoreBar(1, COMMON, notes("r", 4, Mark.UNSEEN)))).iter("rest")
    assert whole.get("measure") is None


def test_a_line_begins_after_four_bars_and_at_a_section() -> None:
    sections = {3: Road(section="B")}
    bars = [
        ScoreBar(number, COMMON, notes("C5", 4), road=sections.get(number, Road()))
        for number in range(9)
    ]
    starts = [
        m.get("number") for m in tree(part(*bars)).iter("measure") if m.find("print") is not None
    ]
    assert starts == ["3", "7"]


def test_the_name_of_the_player_stands_at_the_top_and_before_the_staff() -> None:
    root = tree(part(full_bar(COMMON), label="Alto saxophone", program=65))
    credits = {c.findtext("credit-type"): c.findtext("credit-words") for c in root.iter("credit")}
    assert credits == {"title": "Slow bus & two stops", "part name": "Alto saxophone"}
    assert root.findtext(".//part-name") == root.findtext(".//instrument-name") == "Alto saxophone"
    assert root.findtext(".//instrument-sound") == "wind.reed.saxophone.alto"


@needs_schema
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
def test_the_sound_of_every_instrument_is_one_of_the_standard(instrument: Instrument) -> None:
    """Source: MusicXML 4.0 sounds (W3C)."""
    known = {sound.get("id") for sound in etree.parse(str(SCHEMA / "sounds.xml")).iter("sound")}
    root = tree(part(full_bar(COMMON), program=instrument.program))
    assert root.findtext(".//instrument-sound") in known


def test_the_text_of_a_kind_says_the_kind_alone_and_its_degrees_say_the_rest() -> None:
    """Printed one after the other they are the symbol once, not ``7♭9♭9``."""
    root = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=(SEVENTH,))))
    assert root.find(".//kind").get("text") == "7"
    (degree,) = root.iter("degree")
    assert (degree.get("print-object"), degree.find("degree-type").get("text")) == (None, "")


def test_silence_has_no_root_that_could_be_printed() -> None:
    root = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=(SILENT,))))
    assert [child.tag for child in root.find(".//harmony")] == ["function", "kind"]
    assert root.find(".//kind").get("text") == "N.C."


def test_each_bar_has_its_chords_and_marks():
    root = tree(part(full_bar(COMMON)))
    assert len(root.findall(".//harmony")) == 3
    assert len(root.findall(".//breath-mark")) == 8
    assert {item.text for item in root.iter("other-notation")} == {
        "changing note",
        "approach from the scale",
        "chromatic approach",
        "enclosure",
    }
    assert {item.text for item in root.iter("text")} == {"♭7"}


def test_beams_begin_and_end_in_pairs_and_sixteenths_have_two():
    line = notes("C5 D5 E5 F5 G5 A5", [EIGHTH, SIXTEENTH, SIXTEENTH, Fraction(3, 4), SIXTEENTH, 2])
    root = tree(part(ScoreBar(1, COMMON, line)))
    words = [[(b.get("number"), b.text) for b in note.iter("beam")] for note in root.iter("note")]
    assert words == [
        [("1", "begin")],
        [("1", "continue"), ("2", "begin")],
        [("1", "end"), ("2", "end")],
        [("1", "begin")],
        [("1", "end"), ("2", "backward hook")],
        [],
    ]


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
def test_the_transposition_adds_up_to_the_fall(instrument):
    root = tree(part(full_bar(COMMON), rise=instrument.rise)).find(".//transpose")
    if root is None:
        assert instrument.rise == UNISON
        return
    octaves = int(root.findtext("octave-change", "0"))
    assert int(root.findtext("chromatic")) + 12 * octaves == -instrument.rise.semitones
    assert int(root.findtext("diatonic")) + 7 * octaves == -instrument.rise.letters
    assert abs(int(root.findtext("chromatic"))) < 12


def test_a_length_no_note_has_names_its_bar():
    with pytest.raises(ValueError, match="bar 3: no single note lasts 5/2 beats"):
        musicxml_text(part(ScoreBar(3, COMMON, notes("C5 D5", [Fraction(5, 2), Fraction(3, 2)]))))


def test_chords_on_any_division_of_the_beat_keep_their_place():
    thirds = tuple(ChordText(Fraction(n, 3), root="C", kind="major") for n in (0, 4, 8))
    root = tree(part(ScoreBar(1, COMMON, notes("C5", 4), chords=thirds)))
    divisions = int(root.findtext(".//divisions"))
    places = [Fraction(int(h.findtext("offset", "0")), divisions) for h in root.iter("harmony")]
    assert places == [chord.at for chord in thirds]


def test_the_file_is_the_text_in_utf_8(tmp_path):
    score = part(full_bar(COMMON))
    write_musicxml(tmp_path / "part.musicxml", score)
    assert (tmp_path / "part.musicxml").read_bytes() == musicxml_text(score).encode("utf-8")


def test_names_with_markup_in_them_come_back_whole():
    root = tree(part(full_bar(COMMON), label="Flute <2>"))
    assert root.findtext(".//work-title") == "Slow bus & two stops"
    assert root.findtext(".//part-name") == "Flute <2>"


@needs_schema
def test_every_alteration_of_every_letter_is_valid():
    names = [letter + sign for letter, sign in product("CDEFGAB", ("bb", "b", "", "#", "##"))]
    line = [ScoreBar(n, COMMON, notes(f"{name}4", 4)) for n, name in enumerate(names, 1)]
    assert faults(part(*line)) == []
