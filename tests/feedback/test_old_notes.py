"""Which old note stayed, and what should it have become? Lines typed by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.laid_take import laid_take
from halfstep.feedback.old_notes import old_note_findings
from halfstep.harmony.analysis import analyse
from halfstep.level import Level
from halfstep.part.take_part import spelled
from halfstep.pitch import parse_name
from name_intervals import ascending
from typed_charts import read_chart_text
from typed_takes import take_of, typed_line

DOMINANTS = "key: F\n| C7 | F7 |"
C7_BAR = "C4 E4 G4 Bb4 C5 Bb4 G4 E4"
KEYS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]


def findings(chart: str, *groups: str, instrument: str = "piano") -> list[Finding]:
    return [
        *old_note_findings(laid_take(take_of(typed_line(*groups), chart, instrument=instrument)))
    ]


def told(chart: str, *groups: str, instrument: str = "piano") -> list[tuple[str, str, int, float]]:
    return [
        (str(f.note), str(f.instead), f.place.bar, f.place.beat)
        for f in findings(chart, *groups, instrument=instrument)
    ]


def test_the_note_that_stayed_is_named_with_what_it_should_have_become() -> None:
    """E of C7 over F7: the third should have fallen to the seventh."""
    assert told(DOMINANTS, C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5") == [("E5", "E♭5", 2, 2.0)]


@pytest.mark.parametrize(
    ("instrument", "names"),
    [("alto-sax", ("C♯5", "C5")), ("trumpet", ("F♯5", "F5")), ("flute", ("E5", "E♭5"))],
)
def test_names_are_those_that_the_player_reads(instrument: str, names: tuple[str, str]) -> None:
    (finding,) = findings(DOMINANTS, C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5", instrument=instrument)
    assert (finding.note and finding.note.name, finding.instead and finding.instead.name) == tuple(
        parse_name(name[:-1]) for name in names
    )
    assert finding.fault
    assert finding.kind is FindingKind.OLD_NOTE_KEPT
    assert finding.certainty > 0.9


@pytest.mark.parametrize("key", KEYS)
def test_it_is_told_in_every_key(key: str) -> None:
    interval = ascending(parse_name("F"), parse_name(key))
    analysis = analyse(read_chart_text(DOMINANTS).moved(interval))
    line = [
        note._replace(midi=note.midi + interval.semitones)
        for note in typed_line(C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5")
    ]
    (finding,) = old_note_findings(laid_take(take_of(line, analysis)))
    assert finding.note
    assert finding.instead
    assert finding.note.midi == 76 + interval.semitones
    assert finding.instead.midi == finding.note.midi - 1
    assert finding.note.name.letter == finding.instead.name.letter


@pytest.mark.parametrize(
    ("bar", "craft"),
    [
        ("F4 A4 C5 Eb5 D5 E5 F5 C5", "a half step into the root"),
        ("F4 A4 C5 F5 E5 Eb5 C5 A4", "chromatic, down to the seventh"),
        ("F4 A4 C5 A4 G5 E5 F5 C5", "from above and below around the root"),
        ("F4 A4 C5 Eb5 F5 E5 F5 C5", "a neighbour and back"),
        ("F4 A4 C5 Eb5 F5 C5 A4 F4", "no old note"),
    ],
)
def test_what_leads_on_within_a_beat_is_no_old_note(bar: str, craft: str) -> None:
    assert told(DOMINANTS, C7_BAR, bar) == [], craft


def test_a_blue_note_stays_over_a_blues_and_the_third_of_the_key_does_not() -> None:
    """Over IV7 the A of the key should become A♭; over I7 A♭ is the blue third."""
    blues = "key: F\n| F7 | Bb7 | F7 | % | Bb7 | % | F7 | % | Gm7 | C7 | F7 | C7 |"
    lines = ["F4 A4 C5 A4 F4 A4 C5 A4", "Bb4 D5 A4 F4 Bb4 D5 F5 D5", "F4 C5 Ab4 C5 F4 A4 C5 A4"]
    assert told(blues, *lines) == [("A4", "A♭4", 2, 2.0)]


def test_a_tension_beside_the_third_is_a_colour_and_in_its_place_an_old_note() -> None:
    """C over A7 is its ♯9 among notes of the altered scale that has C♯, and else the old root."""
    chart = "key: C\n| Cmaj7 | A7 | Dm7 | G7 |"
    bar = "C4 E4 G4 B4 C5 B4 G4 E4"
    assert told(chart, bar, "A4 C#5 F5 G4 C5 Bb4 G4 F4") == []
    assert told(chart, bar, "A4 C#5 E5 G4 C5 A4 G4 E4") == [("C5", "C♯5", 2, 3.0)]
    assert told(chart, bar, "A4 E5 G4 A4 C5 A4 G4 E4") == [("C5", "C♯5", 2, 3.0)]


def test_where_no_note_takes_its_place_the_letter_says_what_it_should_be() -> None:
    """E♭ of the half-whole scale has no partner in F Ionian, which has D and E beside it."""
    bars = "C4 E4 A4 Db5 Bb4 A4 E4 C4", "F4 A4 Eb5 C5 A4 F4 A4 C5"
    assert told("key: F\n| C13b9 | Fmaj7 |", *bars) == [("E♭5", "E5", 2, 2.0)]


def test_an_old_note_long_after_the_new_chord_was_told_is_less_sure() -> None:
    chart = "key: F\n| C7 | F7 | % | C7 |"
    early = findings(chart, C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5", "F4 A4 C5 Eb5 C5 A4 F4 A4")
    late = findings(chart, C7_BAR, "F4 A4 Eb5 C5 A4 F4 A4 C5", "F4 A4 E5 C5 A4 F4 A4 C5")
    assert len(early) == len(late) == 1
    assert late[0].certainty < 0.75 * early[0].certainty


def test_a_note_kept_twice_over_a_chord_is_told_once_and_is_surer() -> None:
    once = findings(DOMINANTS, C7_BAR, "F4 A4 C5 E5 C5 A4 F4 A4")
    twice = findings(DOMINANTS, C7_BAR, "F4 A4 C5 E5 C5 E5 C5 A4")
    assert len(once) == len(twice) == 1
    assert twice[0].certainty > once[0].certainty


def test_a_player_who_often_goes_outside_is_hardly_blamed() -> None:
    """F♯ and B, and D♭ over the one and the other, are of neither chord and lead nowhere."""
    outside = "C4 F#4 Bb4 F#4 C5 F#4 G4 F#4", "F4 B4 E5 Db5 A4 B4 Db5 A4"
    line = typed_line(*outside)
    (player,) = old_note_findings(laid_take(take_of(line, DOMINANTS, level=Level.ADVANCED)))
    (student,) = findings(DOMINANTS, C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5")
    assert player.certainty < 0.6 < student.certainty


def test_a_note_that_is_written_is_no_fault() -> None:
    line = typed_line(C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5")
    written = [
        EtudeNote(Fraction(n.onset), Fraction(n.beats), spelled(n.midi, -1), int(n.onset >= 4))
        for n in line
    ]
    assert list(old_note_findings(laid_take(take_of(line, DOMINANTS, written=written)))) == []


def test_a_note_that_is_hardly_heard_is_hardly_told() -> None:
    """The certainty falls with that of the ear."""
    from dataclasses import replace

    from halfstep.listen.heard_take import HeardNote

    take = take_of(typed_line(C7_BAR, "F4 A4 E5 C5 A4 F4 A4 C5"), DOMINANTS)
    faint = HeardNote(0, 1, 60, 0, -40, 0.5, 60)
    notes = tuple(replace(note, sound=faint) for note in take.notes)
    (finding,) = old_note_findings(laid_take(replace(take, notes=notes)))
    assert finding.certainty < 0.5
