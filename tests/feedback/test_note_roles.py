"""What is each note to its chord, and which strokes of craft are named?"""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.feedback.craft import UNRESOLVED, craft_findings
from halfstep.feedback.laid_take import laid_take
from halfstep.feedback.note_roles import NoteRole, RoledNote, note_roles
from halfstep.harmony.line_over_chords import LineNote
from halfstep.instruments import INSTRUMENTS
from typed_takes import take_of, typed_line

BLUES = "key: F\n| F7 | Bb7 | F7 | % | Bb7 | % | F7 | % | Gm7 | C7 | F7 | C7 |"


def roled(chart: str, *groups: str, instrument: str = "piano") -> tuple[RoledNote, ...]:
    return note_roles(laid_take(take_of(typed_line(*groups), chart, instrument=instrument)))


def roles(chart: str, *groups: str) -> list[str]:
    return [str(note.role) for note in roled(chart, *groups)]


def strokes(chart: str, *groups: str) -> list[tuple[str, int, float, str]]:
    findings = craft_findings(laid_take(take_of(typed_line(*groups), chart)))
    return [(str(f.kind), f.place.bar, f.place.beat, str(f.note)) for f in findings]


@pytest.mark.parametrize(
    ("bar", "names"),
    [
        ("C4 E4 G4 Bb4", ["chord-tone"] * 4),
        ("C4 D4 F4 A4", ["chord-tone", "scale-tone", "scale-tone", "scale-tone"]),
        ("D#4 E4 B4 C5", ["approach", "chord-tone", "approach", "chord-tone"]),
        ("D4 D#4 E4 G4", ["approach", "approach", "chord-tone", "chord-tone"]),
        ("G4 . A4 F#4 G4 .", ["chord-tone", "enclosure", "enclosure", "chord-tone"]),
        ("A4 Ab4 G4 B4", ["approach", "approach", "chord-tone", "outside"]),
        ("D4 F#4 E4 Db4", ["scale-tone", "colour", "chord-tone", "outside"]),
    ],
)
def test_each_note_has_its_role(bar: str, names: list[str]) -> None:
    """Over C7 that stays."""
    assert roles("key: F\n| C7 | % |", bar)[: len(names)] == names


def test_the_rest_of_the_roles() -> None:
    """Before the form, without a chord, of the old chord, half a beat ahead, over a blues."""
    pickup = [LineNote(Fraction(-1), Fraction(1), 60)]
    line = [*pickup, *typed_line("C4 . . .", "C4 . . .")]
    early, _, silent = note_roles(laid_take(take_of(line, "meter: 2/4\n| C7 | N.C. |")))
    assert (str(early.role), early.chord, early.degree) == ("before-form", None, None)
    assert (str(silent.role), silent.chord, silent.degree) == ("no-chord", None, None)
    assert roles("key: F\n| C7 | F7 |", "C4 E4 G4 C5 C5 G4 E4 A4", "- . E5 . C5 . . .") == [
        *["chord-tone"] * 7,
        "anticipation",
        "old-note",
        "chord-tone",
    ]
    assert roles(BLUES, "F4 Ab4 C5 F4")[:2] == ["chord-tone", "blue-note"]


def test_degrees_are_counted_over_the_chord() -> None:
    notes = roled("key: C\n| Dm7 | G7b9 |", "D4 F4 A4 C5 E4 G4 B4 Eb4", "G4 B4 Ab4 D4 F4 E4 C5 Bb4")
    assert [str(note.degree) for note in notes] == [
        *["1", "♭3", "5", "♭7", "2", "4", "6", "♭2"],
        *["1", "3", "♭9", "5", "♭7", "6", "4", "♭3"],
    ]


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_written_pitches_sound_as_they_were_played(instrument: str) -> None:
    """For each instrument, whatever leads where."""
    line = typed_line("C4 D#4 E4 F#4 G4 Ab4 Bb4 B4", "F4 A4 E5 Eb5 D5 Db5 C5 Gb4")
    notes = note_roles(laid_take(take_of(line, "key: F\n| C7 | F7 |", instrument=instrument)))
    rise = INSTRUMENTS[instrument].rise.semitones
    assert [note.pitch.midi for note in notes] == [note.midi + rise for note in line]


def test_names_say_where_a_note_goes_or_comes_from() -> None:
    """D♯ leads up to E, G♭ down to F; the E that stayed keeps the name of its scale."""
    notes = roled("key: F\n| C7 | F7 |", "D#4 E4 C4 D4 E4 Bb4 A4 G4", "F4 A4 C5 E5 C5 Gb4 F4 C4")
    names = [str(note.pitch.name) for note in notes]
    assert (names[0], names[11], names[13]) == ("D♯", "E", "G♭")


@pytest.mark.parametrize(
    ("line", "stroke"),
    [
        ("C4 E4 G4 D#4 E4 G4 C5 .", ("approach", 1, 2.5, "D♯4")),
        ("C4 . F4 D#4 E4 . C4 .", ("enclosure", 1, 2.0, "F4")),
        ("C4 . D4 F#4 G4 . A4 .", ("approach", 1, 2.5, "F♯4")),
    ],
)
def test_craft_is_named_once_and_never_a_fault(
    line: str, stroke: tuple[str, int, float, str]
) -> None:
    findings = [*craft_findings(laid_take(take_of(typed_line(line), "key: F\n| C7 | % |")))]
    assert [(str(f.kind), f.place.bar, f.place.beat, str(f.note)) for f in findings] == [stroke]
    assert not any(finding.fault for finding in findings)


def test_an_anticipation_is_named_and_counts_to_its_chord() -> None:
    line = "C4 E4 G4 C5 Bb4 G4 E4 A4", "- C5 Eb5 C5 A4 F4 A4 C5"
    assert strokes("key: F\n| C7 | F7 |", *line) == [("anticipation", 1, 4.5, "A4")]
    assert roled("key: F\n| C7 | F7 |", *line)[7].chord == 1


def test_what_is_in_no_chord_anticipates_none() -> None:
    """B before the bar line is of neither chord, though it would fit F7 a little better."""
    notes = roled("key: F\n| C7 | F7 |", "C4 E4 G4 C5 Bb4 G4 E4 B4", "- C5 Eb5 C5 A4 F4 A4 C5")
    assert notes[7].role not in {NoteRole.ANTICIPATION, NoteRole.CHORD_TONE}


def test_a_blue_note_gets_a_word_where_it_stays() -> None:
    """A♭ and C♭ over F7 in F; the A♭ that moves on, and one that is held."""
    moving = craft_findings(laid_take(take_of(typed_line("F4 . Ab4 G4 F4 . C5 ."), BLUES)))
    assert [(str(f.kind), f.reason) for f in moving] == [("blue-note", "")]
    held = craft_findings(laid_take(take_of(typed_line("F4 . Ab4 - - - - -"), BLUES)))
    assert [(str(f.kind), f.reason, f.fault) for f in held] == [("blue-note", UNRESOLVED, False)]
