"""A line over a form that leads back to the top ends at home, the last time it is played.

Common practice, no source: a whole bar of root, third or fifth of the home chord, come to by
a step or a small leap.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from briefs_over_charts import brief_over
from etude_charts import NAMES_OF_STEPS

from halfstep.etude.ending_choice import ending_after, none_added
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import RuleBroken, octaves_apart, write_etude
from halfstep.etude.explanation import explained
from halfstep.etude.rules import ends_at_home, in_range
from halfstep.etude.run_notices import hurried_crossings
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.part.transposition import interval_of_fifths
from halfstep.pitch import parse_pitch
from typed_charts import read_chart_text

TURNAROUND = "key: F\n| Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 |"
AT_HOME = "key: F\n| Gm7 | C7 | Fmaj7 | % |"
BLUES = "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |"
MINOR = "key: Cm\n| Cm6 | Fm7 | Dm7b5 | G7 |"
MINOR_TRIAD = "key: Dm\n| Dm | Gm | Dm | A7 |"
JUMPING = (
    "key: F\n| {segno} Fmaj7 | Bbmaj7 {to coda} | Gm7 | C7 {D.S. al coda} | {coda} Gm7 | C7 |]"
)
METRES = {
    "4/4": "4", "3/4": "3", "6/8": "3", "5/4": "5", "2/2": "4", "7/4 2+2+3": "7", "12/8": "6",
    "2/4": "2",
}  # fmt: skip
PLAYERS = list(INSTRUMENTS)


def line(
    chart: str = TURNAROUND,
    step: str = "chorus",
    *,
    instrument: str = "piano",
    level: Level = Level.INTERMEDIATE,
    ending: bool | None = None,
    seed: int = 1,
    known: str = "",
    fifths: int = 0,
) -> Etude:
    played = read_chart_text(chart).moved(interval_of_fifths(fifths))
    notes = frozenset(parse_pitch(name).midi for name in known.split()) if known else None
    brief = Brief(INSTRUMENTS[instrument], level, 120.0, seed, known=notes, ending=ending)
    return write_etude(find_step(step), analyse(played, level=level), brief)


def midi(note: EtudeNote) -> int:
    assert note.pitch is not None
    return note.pitch.midi


def assert_ends_at_home(etude: Etude) -> None:
    """One held tone of the chord at the top, near the line, that this player may play."""
    ending = etude.ending
    assert ending is not None
    home = next(chord for chord in etude.analysis.chords if not chord.silent)
    triad = {tone.name for tone in home.tones if tone.degree.number in {1, 3, 5}}
    close, last = ending.note, [note for note in etude.notes if note.pitch][-1]
    assert close.pitch is not None
    assert close.pitch.name in triad
    assert ending.symbol == replace(home.span.symbol, bass=None)
    assert (close.onset, close.beats) == (etude.analysis.chart.beats, ending.bar.beats)
    assert ending.bar.beats == etude.analysis.chart.form[-1].meter.bar_beats
    assert ending.bar.number == len(etude.analysis.chart.form) + 1
    assert abs(midi(close) - midi(last)) <= 7
    assert etude.brief.has(midi(close))
    assert not list(in_range(etude))
    assert not hurried_crossings([last, close], etude.brief)


@pytest.mark.slow
@pytest.mark.parametrize("instrument", PLAYERS)
def test_every_player_ends_at_home_in_every_key(instrument: str) -> None:
    charts = [TURNAROUND, MINOR, MINOR_TRIAD]
    for place, fifths in enumerate(range(-5, 7)):
        level = list(Level)[place % 3]
        chart = charts[(place + PLAYERS.index(instrument)) % 3]
        assert_ends_at_home(line(chart, instrument=instrument, level=level, fifths=fifths))


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_every_step_has_an_ending_where_one_is_asked_for(step: str) -> None:
    for seed, instrument in enumerate(("alto-sax", "clarinet", "trombone")):
        level = list(Level)[seed]
        etude = line(step=step, instrument=instrument, level=level, ending=True, seed=seed)
        assert_ends_at_home(etude)


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_a_chorus_alone_has_an_ending_of_itself(step: str) -> None:
    """It is played to its end; the other steps are played round and round."""
    assert (line(step=step).ending is not None) == (step == "chorus")
    assert line(step=step, ending=False).ending is None


@pytest.mark.parametrize("step", ["chorus", "arpeggio", "one-line"])
def test_an_ending_changes_no_note_of_the_form(step: str) -> None:
    assert line(step=step, ending=True).notes == line(step=step, ending=False).notes


@pytest.mark.parametrize(("meter", "beats"), METRES.items())
def test_the_closing_note_lasts_a_bar_of_any_metre(meter: str, beats: str) -> None:
    etude = line(f"meter: {meter}\n{TURNAROUND}")
    assert_ends_at_home(etude)
    assert etude.ending is not None
    assert etude.ending.note.beats == Fraction(beats) >= 2


def test_the_metre_is_the_one_that_the_form_ends_in() -> None:
    etude = line("key: F\nmeter: 4/4\n| Fmaj7 | Gm7 C7 | {3/4} Gm7 | C7 |")
    assert etude.ending is not None
    assert str(etude.ending.bar.meter) == "3/4"
    assert_ends_at_home(etude)


def test_a_pickup_has_no_part_in_the_last_bar() -> None:
    etude = line("key: F\n{pickup 1} C7 | Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 |")
    assert etude.analysis.chart.pickup_beats == 1
    assert_ends_at_home(etude)


@pytest.mark.parametrize(
    ("chart", "bars"),
    [
        ("key: F\n|: Fmaj7 | Gm7 C7 :|", 5),
        ("key: F\n|: Fmaj7 | Dm7 |1. Gm7 | Fmaj7 :|2. Gm7 | C7 |]", 9),
        (JUMPING, 9),
    ],
)
def test_the_bar_comes_after_the_last_bar_that_is_played(chart: str, bars: int) -> None:
    etude = line(chart)
    assert_ends_at_home(etude)
    assert etude.ending is not None
    assert etude.ending.bar.number == bars


def test_a_blues_ends_on_its_seventh_chord() -> None:
    etude = line(BLUES)
    assert etude.ending is not None
    assert str(etude.ending.symbol) == "F7"
    assert_ends_at_home(etude)


@pytest.mark.parametrize(
    ("chart", "home"),
    [(MINOR, "Cm6"), (MINOR_TRIAD, "Dm"), ("key: F\n| F6/A | Gm7 | C7 | C7 |", "F6")],
)
def test_the_home_chord_is_the_one_the_chart_begins_on(chart: str, home: str) -> None:
    """A close stands on the root, whatever the bass at the top."""
    ending = line(chart).ending
    assert ending is not None
    assert (str(ending.symbol), ending.symbol.typed) == (home, home)


@pytest.mark.parametrize(
    ("chart", "words"),
    [
        (AT_HOME, "the form ends at home, on Fmaj7"),
        ("| Dm7 | G7 | Cmaj7 | A7 |", "the form begins on Dm7, not on its home chord"),
        ("| D7sus4 | % | F7sus4 | % | Eb7sus4 | % |", "there is no home to end on"),
    ],
)
def test_where_nothing_is_added_it_is_said_why(chart: str, words: str) -> None:
    etude = line(chart, ending=True)
    notice = none_added(etude.analysis)
    assert etude.ending is None
    assert notice is not None
    assert words in notice.sentence(lambda chord: etude.analysis.chords[chord].span.symbol)


def test_a_closing_note_that_is_not_known_is_missed_aloud() -> None:
    """With the seventh and the notes outside the triad alone there is nothing to end on."""
    etude = line("key: F\n| Fmaj7 | Bbmaj7 | Gm7 | C7 |", known="D4 E4 G4 Bb4 D5 E5")
    assert etude.ending is None
    assert any("no ending is added" in notice.text for notice in etude.notices)
    assert not any("no ending" in notice.text for notice in line(AT_HOME).notices)


def last_notes(analysis: Analysis, *names: str) -> list[EtudeNote]:
    """Quarters at the end of the form."""
    start = analysis.chart.beats - len(names)
    return [
        EtudeNote(start + place, Fraction(1), parse_pitch(name), len(analysis.chords) - 1)
        for place, name in enumerate(names)
    ]


@pytest.mark.parametrize(
    ("names", "close"),
    [
        ("D5 E5", "F5"),  # by step to the root
        ("E4 G4", "F4"),
        ("C5 Bb4", "A4"),  # by step to the third, the root a fourth away
        ("A4 C5", "F5"),  # the fourth up from five to one
        ("C4 E5", "C5"),  # a leap turns back: down to the fifth, not up to the root
        ("C6 D5", "F5"),  # and so does one that falls
    ],
)
def test_the_closing_note_is_near_and_turns_back_after_a_leap(names: str, close: str) -> None:
    request = brief_over(TURNAROUND)
    notes = last_notes(request.analysis, *names.split())
    ending = ending_after(notes, request.analysis, request.brief)
    assert ending is not None
    assert ending.note.pitch == parse_pitch(close)


def test_the_third_that_the_way_home_brings_is_a_changing_note() -> None:
    """From D♭7 to F6 the A♭ becomes A."""
    request = brief_over("key: F\n| F6 | Bb6 | Gm7 | Db7 |")
    ending = ending_after(last_notes(request.analysis, "Cb5", "Ab4"), *request[:2])
    assert ending is not None
    assert (str(ending.note.pitch), ending.note.changing) == ("A4", True)


def test_a_silent_line_has_nothing_to_come_home_from() -> None:
    request = brief_over(TURNAROUND)
    rest = EtudeNote(Fraction(0), request.analysis.chart.beats, None, 0)
    assert ending_after([rest], *request[:2]) is None


def test_a_player_an_octave_away_ends_an_octave_away() -> None:
    etude = line(instrument="trumpet", seed=7)  # whose highest note a trombone has, too
    moved = octaves_apart(etude, replace(etude.brief, instrument=INSTRUMENTS["trombone"]), -1)
    assert etude.ending is not None
    assert moved.ending is not None
    assert midi(moved.ending.note) == midi(etude.ending.note) - 12


def broken(etude: Etude, **changes: object) -> list[EtudeNote]:
    """The closing notes that break the rule, with that changed in them."""
    assert etude.ending is not None
    note = etude.ending.note._replace(**changes)  # type: ignore[arg-type]
    return list(ends_at_home(replace(etude, ending=etude.ending._replace(note=note))))


def test_an_etude_that_ends_elsewhere_is_never_handed_on() -> None:
    etude = line(instrument="trumpet")
    assert etude.ending is not None
    short = etude.ending._replace(note=etude.ending.note._replace(beats=Fraction(1)))
    with pytest.raises(RuleBroken, match="an ending holds root, third or fifth"):
        octaves_apart(replace(etude, ending=short), etude.brief, 0)


def test_a_close_on_another_degree_or_of_another_length_breaks_a_rule() -> None:
    etude = line()
    assert broken(etude) == []
    seventh = next(tone for tone in etude.analysis.chords[0].core if tone.degree.number == 7)
    assert broken(etude, degree=seventh.degree)
    assert broken(etude, beats=Fraction(1))
    assert broken(etude, onset=Fraction(0))
    assert broken(etude, degree=None)
    low = etude.ending.note._replace(pitch=parse_pitch("C0")) if etude.ending else None
    assert low is not None
    assert etude.ending is not None
    assert list(in_range(replace(etude, ending=etude.ending._replace(note=low)))) == [low]


def test_the_player_is_told_how_it_ends() -> None:
    etude = line(instrument="alto-sax")
    *said, touch = explained(etude, part_for(etude.analysis, INSTRUMENTS["alto-sax"]))
    assert touch.startswith("Tongue ")
    assert said[-1].startswith("The last time, go on to bar 5 and end at home: hold ")
    assert said[-1].endswith(" of Dmaj7.")
    plain = replace(etude, ending=None)
    before = explained(plain, part_for(etude.analysis, INSTRUMENTS["alto-sax"]))
    assert list(before[: len(said) - 1]) == said[:-1]
    assert not any("end at home" in sentence for sentence in before)


def test_every_note_has_the_closing_one_at_its_end() -> None:
    etude = line()
    assert etude.ending is not None
    assert etude.every_note == (*etude.notes, etude.ending.note)
    plain = EtudeLine(etude.analysis, etude.brief, etude.notes)
    assert plain.every_note == etude.notes
