"""Which accidentals are printed: they hold in their octave to the end of the bar.

Common practice, no source, and music21 as another program's answer.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.notation import printed_accidentals, score_accidentals, signature_alterations
from halfstep.pitch import Name, Pitch, parse_pitch
from halfstep.score import Mark, ScoreBar
from strategies import pitches
from written_scores import COMMON, line, part

ONE_OCTAVE = st.builds(Pitch, st.builds(Name, st.integers(0, 6), st.integers(-2, 2)), st.just(4))


def printed(text: str, fifths: int = 0, *, tied_over: bool = False) -> list[int | None]:
    names = [None if word == "r" else parse_pitch(word) for word in text.split()]
    return list(printed_accidentals(names, fifths, tied_over=tied_over))


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
    assert [sign is not None for sign in printed_accidentals(notes, fifths)] == expected


def read_as_a_player(
    notes: list[Pitch], accidentals: tuple[int | None, ...], fifths: int
) -> list[Pitch]:
    """What one plays who knows the rule and sees heads, signs and signature."""
    signature = signature_alterations(fifths)
    holding: dict[int, int] = {}
    played = []
    for pitch, sign in zip(notes, accidentals, strict=True):
        step = 7 * pitch.octave + pitch.name.letter
        if sign is not None:
            holding[step] = sign
        alteration = holding.get(step, signature[pitch.name.letter])
        played.append(Pitch(Name(pitch.name.letter, alteration), pitch.octave))
    return played


@given(st.lists(pitches(3, 5), max_size=12), st.integers(-7, 7))
def test_who_reads_what_is_printed_plays_what_was_meant(notes: list[Pitch], fifths: int) -> None:
    accidentals = printed_accidentals(notes, fifths)
    assert read_as_a_player(notes, accidentals, fifths) == notes


@given(st.lists(pitches(4, 5), min_size=1, max_size=8), st.integers(-7, 7))
def test_no_sign_could_be_left_out(notes: list[Pitch], fifths: int) -> None:
    accidentals = printed_accidentals(notes, fifths)
    for place, sign in enumerate(accidentals):
        if sign is not None:
            fewer = (*accidentals[:place], None, *accidentals[place + 1 :])
            assert read_as_a_player(notes, fewer, fifths) != notes


# From bar to bar


def test_after_a_tie_over_the_bar_line_the_next_note_shows_what_it_is() -> None:
    assert printed("F#4 F4 F4", tied_over=True) == [None, 0, None]
    assert printed("F#4 F#4 F#4", tied_over=True) == [None, 1, None]


def test_a_tie_over_the_bar_line_concerns_its_own_line_or_space_alone() -> None:
    assert printed("F#4 F#5 G4", tied_over=True) == [None, 1, None]


def test_a_rest_is_not_tied_to() -> None:
    assert printed("r F#4", tied_over=True) == [None, 1]


def test_an_accidental_ends_with_its_bar() -> None:
    bars = [ScoreBar(n, COMMON, line("F#4 F#4", 2)) for n in (1, 2)]
    assert score_accidentals(part(*bars)) == ((1, None), (1, None))


def test_a_note_tied_into_a_bar_shows_no_accidental() -> None:
    first = ScoreBar(1, COMMON, line("F#4", 4, Mark.TIE))
    second = ScoreBar(2, COMMON, line("F#4 F4 F4 F#4", 1))
    assert score_accidentals(part(first, second)) == ((1,), (None, 0, None, 1))


def test_a_tie_inside_a_bar_changes_nothing() -> None:
    tied, plain = line("F#4", 2, Mark.TIE), line("F#4", 2)
    bars = (ScoreBar(1, COMMON, tied + plain), ScoreBar(2, COMMON, line("F#4", 4)))
    assert score_accidentals(part(*bars)) == ((1, None), (1,))


def test_a_signature_holds_until_another_begins() -> None:
    bars = [ScoreBar(n, COMMON, line("F#4", 4)) for n in (1, 3, 4)]
    change = ScoreBar(2, COMMON, line("F#4", 4), key=(2, "major"))
    score = part(bars[0], change, *bars[1:])
    assert score_accidentals(score) == ((1,), (None,), (None,), (None,))


def test_a_bar_without_notes_ends_a_tie() -> None:
    bars = (
        ScoreBar(1, COMMON, line("F#4", 4, Mark.TIE)),
        ScoreBar(2, Meter(4, 4), ()),
        ScoreBar(3, COMMON, line("F#4", 4)),
    )
    assert score_accidentals(part(*bars)) == ((1,), (), (1,))


def test_every_bar_has_its_accidentals_as_by_itself() -> None:
    texts = ("F#4 F4 F#4 G4", "Bb4 B4 Bb4 B4", "C5 C5 C5 C5")
    bars = [ScoreBar(n, COMMON, line(text)) for n, text in enumerate(texts, 1)]
    assert score_accidentals(part(*bars, fifths=-1)) == tuple(
        tuple(printed(text, -1)) for text in texts
    )
