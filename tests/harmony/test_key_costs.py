"""What a chord costs in a key: the arithmetic of the table, chord by chord.

The costs are the project's own; what is held here is that each is asked where it should be,
and nowhere else. Common practice, no source, for what leads where.
"""

from __future__ import annotations

import pytest

from halfstep.harmony.key_costs import (
    APPLIED,
    BLUES,
    CADENCE,
    FULL_CADENCE,
    MINOR_MADE_MAJOR,
    MISSPELLED,
    OUTSIDE,
    PREPARED,
    TONIC,
    blues_keys,
    candidates,
    every_key,
    key_costs,
)
from halfstep.progression.key import parse_key
from halfstep.progression.symbol import parse_symbol


def cost(chords: str, key: str, *, place: int = 1) -> float:
    """What one of the chords costs in a key, the second unless said."""
    symbols = [parse_symbol(word) for word in chords.split()]
    (of_chord,) = key_costs(symbols, candidates([parse_key(key)]))[place]
    return of_chord


@pytest.mark.parametrize(
    ("chords", "key", "expected"),
    [
        # a chord by itself: what it has outside, and what is spelled otherwise
        ("C Em C", "C", 0.0),
        ("C Eb C", "C", 2 * OUTSIDE),
        ("C Ebm C", "C", 3 * OUTSIDE),
        ("Gb F#m9 Gb", "Gb", 2 * OUTSIDE + 3 * MISSPELLED),
        ("C Fmaj13#11 C", "C", 0.0),  # tones over the ninth do not count
        # the tonic, which a dominant seventh and a minor chord are not
        ("F Cmaj7 F", "C", TONIC),
        ("Fm Cm6 Fm", "Cm", TONIC),
        ("Fm C Fm", "Cm", OUTSIDE + MINOR_MADE_MAJOR),
        ("Fm C+ Fm", "Cm", OUTSIDE + MISSPELLED + MINOR_MADE_MAJOR),
        # minor: the raised sixth and seventh are at home on i, V and vii°
        ("Fm Bdim7 Cm", "Cm", 0.0),
        ("Fm Bdim Cm", "Cm", 0.0),
        ("Fm Dm7 Fm", "Cm", OUTSIDE),
        ("Ab G Cm", "Cm", 0.0),
        ("Ab G G7", "Cm", 0.0),
        ("Ab G Fm", "Cm", OUTSIDE),
        ("Ab Gmaj7 Ab", "Cm", 2 * OUTSIDE),
        # what leads to the next chord
        ("C A7 Dm7", "C", APPLIED),
        ("C Bb7 A7", "C", APPLIED),
        ("C A7 Am7", "C", APPLIED),
        ("C Bb7 C", "C", APPLIED),
        ("Cm Bb7 Cm", "Cm", 0.0),
        ("C Bb7 Em", "C", 2 * OUTSIDE),
        ("C C#dim7 Dm7", "C", APPLIED),
        ("C D#dim7 Dm7", "C", APPLIED),
        ("C Fdim7 F", "C", APPLIED + 2 * MISSPELLED),
        ("C C#dim7 F", "C", 2 * OUTSIDE),
        ("C Fm C", "C", APPLIED),
        ("C Fm Bb7", "C", APPLIED),
        ("C Fm Bb", "C", OUTSIDE),
        ("C Ebm7 N.C.", "C", 4 * OUTSIDE),
        # I7 that rests, IV7 that is no blues without its I7
        ("G7 C7 Am", "C", BLUES),
        ("G7 C7 N.C.", "C", BLUES),
        ("G7 C7 F", "C", APPLIED),
        ("C F7 C", "C", OUTSIDE),
        # V7 between its neighbours
        ("C G7 Am", "C", 0.0),
        ("C G7 C", "C", CADENCE),
        ("Dm7 G7 C", "C", CADENCE + FULL_CADENCE),
        ("Em7 G7 C", "C", CADENCE),
        ("C G7 N.C.", "C", 0.0),
        ("Dm7b5 G7 Cm", "Cm", CADENCE + FULL_CADENCE),
        # II before V7, in the form of its key or not
        ("C Dm7 G7", "C", PREPARED),
        ("C Dm7 G", "C", 0.0),
        ("C Dm7b5 G7", "C", OUTSIDE + PREPARED + OUTSIDE / 2),
        ("Cm Dm7b5 G7", "Cm", PREPARED),
        ("Cm Dm7 G7", "Cm", OUTSIDE + PREPARED + OUTSIDE / 2),
        ("C D7 G7", "C", APPLIED),
        ("C N.C. C", "C", 0.0),
    ],
)
def test_a_chord_costs_what_the_table_says(chords: str, key: str, expected: float) -> None:
    assert cost(chords, key) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("chords", "place", "expected"),
    [
        ("C7 F7 C7 G7", 0, BLUES),
        ("C7 F7 C7 G7", 1, BLUES),
        ("C7 F7 C7 G7", 3, CADENCE / 2),
        ("C7 F7 G7 F7", 2, 0.0),
    ],
)
def test_a_blues_is_at_home_on_one_and_four(chords: str, place: int, expected: float) -> None:
    assert cost(chords, "C", place=place) == pytest.approx(expected)


def test_the_last_chord_goes_on_to_the_first() -> None:
    assert cost("Cmaj7 Dm7 G7", "C", place=2) == CADENCE + FULL_CADENCE
    assert cost("G7 Cmaj7 Dm7", "C", place=0) == CADENCE + FULL_CADENCE


def test_a_blues_has_its_keys() -> None:
    keys = every_key()
    blues = blues_keys([parse_symbol(word) for word in ("C7", "F7", "Bbm7", "Eb")], keys)
    assert [key.ascii for key, is_blues in zip(keys.keys, blues, strict=True) if is_blues] == ["C"]


def test_there_are_thirty_keys_of_seven_flats_to_seven_sharps() -> None:
    keys = every_key().keys
    assert len(set(keys)) == 30
    assert [key.fifths for key in keys] == [*range(-7, 8)] * 2
    assert [key.minor for key in keys] == [False] * 15 + [True] * 15
