"""Which accidentals are printed: they hold in their octave to the end of the bar.

Common practice, no source, and music21 as another program's answer.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.notation import (
    Accidental,
    printed_accidentals,
    score_accidentals,
    signature_alterations,
)
from halfstep.pitch import Name, Pitch, parse_pitch
from halfstep.score import Mark, Score, ScoreBar, ScoreNote
from strategies import pitches
from written_scores import COMMON, line, part

ONE_OCTAVE = st.builds(Pitch, st.builds(Name, st.integers(0, 6), st.integers(-2, 2)), st.just(4))


def printed(text: str, fifths: int = 0) -> list[int | str | None]:
    """The signs of a bar; one in parentheses as text."""
    names = [None if word == "r" else parse_pitch(word) for word in text.split()]
    return list(map(shown, printed_accidentals(names, fifths)))


def signs_shown(score: Score) -> list[list[int | str | None]]:
    """The signs of every bar of notes with one head each."""
    return [[shown(sign) for (sign,) in bar] for bar in score_accidentals(score)]


def shown(sign: Accidental | None) -> int | str | None:
    if sign is None:
        return None
    return f"({sign.alteration})" if sign.courtesy else sign.alteration


def of_bars(*texts: str, fifths: int = 0, tied: bool = False) -> list[list[int | str | None]]:
    """The signs of bars of quarters; the last note of each but the last is tied over."""
    bars = []
    for number, text in enumerate(texts, 1):
        *notes, last = line(text)
        if tied and number < len(texts):
            last = replace(last, marks=Mark.TIE)
        bars.append(ScoreBar(number, COMMON, (*notes, last)))
    return signs_shown(part(*bars, fifths=fifths))


@pytest.mark.parametrize(
    ("fifths", "altered"),
    [
        (0, ""), (1, "F"), (2, "FC"), (3, "FCG"), (4, "FCGD"), (5, "FCGDA"), (6, "FCGDAE"),
        (7, "FCGDAEB"), (-1, "B"), (-2, "BE"), (-3, "BEA"), (-4, "BEAD"), (-5, "BEADG"),
        (-6, "BEADGC"), (-7, "BEADGCF"),
    ],
)  # fmt: skip
def test_a_signature_alters_its_letters_in_the_order_of_fifths(fifths: int, altered: str) -> None:
    sign = 1 if fifths > 0 else -1
    assert signature_alterations(fifths) == {
        "CDEFGAB".index(letter): sign if letter in altered else 0 for letter in "CDEFGAB"
    }


@pytest.mark.parametrize(
    ("text", "fifths", "shown"),
    [
        ("F#4 F#4", 0, [1, None]),
        ("F#4 F4 F#4", 0, [1, 0, 1]),
        ("F#4 F#5 F4", 0, [1, 1, 0]),
        ("F4 F#4 F4", 1, [0, 1, 0]),
        ("F#4 F4", 1, [None, 0]),
        ("Bb4 B4 Bb4", -1, [None, 0, -1]),
        ("Cb5 C5 C##5", -7, [None, 0, 2]),
        ("C5 C#5 Cb5", 0, [None, 1, -1]),
        ("E#4 F4", 0, [1, None]),
        ("Gb4 F#4", 0, [-1, 1]),
        ("Bbb4 Bb4 B4", -2, [-2, -1, 0]),
        ("F#4 r F#4", 0, [1, None, None]),
        ("r r", 3, [None, None]),
        ("F#4 G4 A4 F#4", 0, [1, None, None, None]),
        ("C4 C5 C6", 7, [0, 0, 0]),
        ("F###4 F##4", 0, [3, 2]),
        ("B#3 C4", 0, [1, None]),
    ],
)
def test_accidentals_hold_in_their_octave_to_the_end_of_the_bar(
    text: str, fifths: int, shown: list[int | None]
) -> None:
    assert printed(text, fifths) == shown


@settings(max_examples=25)
@given(st.lists(ONE_OCTAVE, min_size=1, max_size=8), st.integers(-7, 7))
@pytest.mark.slow
def test_printed_accidentals_are_those_music21_prints(notes: list[Pitch], fifths: int) -> None:
    """Reference: music21, told to add no courtesy accidentals.

    Within one octave: for naturals in another octave music21 has a rule of its own.
    """
    from music21 import key, note, stream

    measure = stream.Measure([key.KeySignature(fifths)])
    measure.append([note.Note(pitch.ascii.replace("b", "-")) for pitch in notes])
    measure.makeAccidentals(
        inPlace=True, cautionaryPitchClass=False, cautionaryNotImmediateRepeat=False
    )
    signs = [note.pitch.accidental for note in measure.notes]
    expected = [bool(sign and sign.displayStatus) for sign in signs]
    signs_here = printed_accidentals(notes, fifths)
    assert [sign is not None and not sign.courtesy for sign in signs_here] == expected


def read_as_a_player(
    notes: list[Pitch], accidentals: tuple[Accidental | None, ...], fifths: int
) -> list[Pitch]:
    """What one plays who knows the rule and sees heads, signs and signature."""
    signature = signature_alterations(fifths)
    holding: dict[int, int] = {}
    played = []
    for pitch, sign in zip(notes, accidentals, strict=True):
        step = 7 * pitch.octave + pitch.name.letter
        if sign is not None:
            holding[step] = sign.alteration
        alteration = holding.get(step, signature[pitch.name.letter])
        played.append(Pitch(Name(pitch.name.letter, alteration), pitch.octave))
    return played


@given(st.lists(pitches(3, 5), max_size=12), st.integers(-7, 7))
def test_who_reads_what_is_printed_plays_what_was_meant(notes: list[Pitch], fifths: int) -> None:
    accidentals = printed_accidentals(notes, fifths)
    assert read_as_a_player(notes, accidentals, fifths) == notes


@given(st.lists(pitches(4, 5), min_size=1, max_size=8), st.integers(-7, 7))
def test_a_courtesy_could_be_left_out(notes: list[Pitch], fifths: int) -> None:
    accidentals = printed_accidentals(notes, fifths)
    needed = tuple(None if sign and sign.courtesy else sign for sign in accidentals)
    assert read_as_a_player(notes, needed, fifths) == notes


@given(st.lists(pitches(4, 5), min_size=1, max_size=8), st.integers(-7, 7))
def test_no_sign_but_a_courtesy_could_be_left_out(notes: list[Pitch], fifths: int) -> None:
    accidentals = printed_accidentals(notes, fifths)
    for place, sign in enumerate(accidentals):
        if sign is not None and not sign.courtesy:
            fewer = (*accidentals[:place], None, *accidentals[place + 1 :])
            assert read_as_a_player(notes, fewer, fifths) != notes


# From bar to bar


def test_after_a_tie_over_the_bar_line_the_next_note_shows_what_it_is() -> None:
    assert of_bars("G4 F#4", "F#4 F4 F4", tied=True)[1] == [None, "(0)", None]
    assert of_bars("G4 F#4", "F#4 F#4 F#4", tied=True)[1] == [None, 1, None]


def test_no_natural_is_repeated_after_a_tie() -> None:
    """What stands as in the signature needs no sign after a tie either."""
    assert of_bars("G4 F4", "F4 F4 G4", tied=True)[1] == [None, None, None]
    assert of_bars("G4 F#4", "F#4 F#4 G4", tied=True, fifths=1)[1] == [None, None, None]
    assert of_bars("F#4 F4", "F4 F4", tied=True)[1] == [None, None]


def test_a_tie_over_two_bar_lines_is_remembered() -> None:
    assert of_bars("G4 F#4", "F#4", "F#4 F4", "F4", tied=True)[2] == [None, "(0)"]
    assert of_bars("F#4", "F#4", "F#4", "F4")[3] == ["(0)"]


def test_a_tie_over_the_bar_line_concerns_its_own_line_or_space_alone() -> None:
    assert of_bars("G4 F#4", "F#4 F#5 G4", tied=True)[1] == [None, 1, None]


def test_an_accidental_ends_with_its_bar() -> None:
    assert of_bars("F#4 F#4", "F#4 F#4") == [[1, None], [1, None]]


@pytest.mark.parametrize(
    ("first", "second", "fifths", "signs"),
    [
        ("F#4 G4", "G4 F4 F4", 0, [None, "(0)", None]),  # once, not at each note
        ("Bb4 A4", "B4 Bb4 B4", 0, ["(0)", -1, 0]),
        ("F4 G4", "F#4 G4", 1, ["(1)", None]),  # back to a sharp of the signature
        ("F#4 F4", "F4 G4", 0, [None, None]),  # taken back in its own bar
        ("F#4 G4", "F5 G4", 0, [None, None]),  # another octave after the bar line
        ("F#4 G4", "Fb4 F4", 0, [-1, 0]),  # a sign of its own
        ("F#4 G4", "r F4", 0, [None, "(0)"]),
    ],
)
def test_a_courtesy_stands_where_the_bar_before_had_another_sign(
    first: str, second: str, fifths: int, signs: list[int | str | None]
) -> None:
    assert of_bars(first, second, fifths=fifths)[1] == signs


def test_a_courtesy_is_for_the_next_bar_alone() -> None:
    assert of_bars("F#4 G4", "G4 A4", "F4 G4")[2] == [None, None]


@pytest.mark.parametrize(
    ("text", "signs"),
    [
        ("F#4 F5 F5", [1, "(0)", None]),
        ("F#4 F4 F5", [1, 0, None]),  # taken back already
        ("F4 F#5 F4", [None, 1, None]),
        ("F#4 F#5", [1, 1]),
    ],
)
def test_a_courtesy_stands_in_another_octave_of_the_same_bar(
    text: str, signs: list[int | str | None]
) -> None:
    assert printed(text) == signs


def test_a_note_tied_into_a_bar_shows_no_accidental() -> None:
    assert of_bars("F#4", "F#4 F4 F4 F#4", tied=True) == [[1], [None, "(0)", None, 1]]


def test_a_tie_inside_a_bar_changes_nothing() -> None:
    tied, plain = line("F#4", 2, Mark.TIE), line("F#4", 2)
    bars = (ScoreBar(1, COMMON, tied + plain), ScoreBar(2, COMMON, line("F#4", 4)))
    assert signs_shown(part(*bars)) == [[1, None], [1]]


def test_a_signature_holds_until_another_begins() -> None:
    bars = [ScoreBar(n, COMMON, line("F#4", 4)) for n in (1, 3, 4)]
    change = ScoreBar(2, COMMON, line("F#4", 4), key=(2, "major"))
    assert signs_shown(part(bars[0], change, *bars[1:])) == [[1], [None], [None], [None]]


def test_a_bar_without_notes_ends_a_tie() -> None:
    bars = (
        ScoreBar(1, COMMON, line("F#4", 4, Mark.TIE)),
        ScoreBar(2, Meter(4, 4), ()),
        ScoreBar(3, COMMON, line("F#4", 4)),
    )
    assert signs_shown(part(*bars)) == [[1], [], [1]]


def test_each_head_on_a_stem_has_its_own_sign_and_holds_for_the_bar() -> None:
    """A flat seventh under a third: what stood before holds for both heads."""
    chord = ScoreNote(
        parse_pitch("F#4"), Fraction(2), below=(parse_pitch("C4"), parse_pitch("Bb3"))
    )
    bar = ScoreBar(1, COMMON, (chord, chord))
    signs = score_accidentals(part(bar))[0]
    assert [[shown(sign) for sign in heads] for heads in signs] == [[1, None, -1], [None] * 3]
