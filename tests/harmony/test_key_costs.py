"""What a chord costs in a key: the arithmetic of the table, chord by chord.

The costs are the project's own; what is held here is that each is asked where it should be,
and nowhere else. Common practice, no source, for what leads where.
"""

from __future__ import annotations

import pytest

from halfstep.harmony.key_costs import (
    APPLIED,
    ARRIVAL,
    BLUES,
    BORROWED,
    FULL_CADENCE,
    LED_TO,
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
    symbols, field = [parse_symbol(word) for word in chords.split()], candidates([parse_key(key)])
    (of_chord,) = key_costs(symbols, field, blues_keys(symbols, field))[place]
    return of_chord


@pytest.mark.parametrize(
    ("chords", "key", "expected"),
    [
        # a chord by itself: what it has outside, and whether it is spelled otherwise
        ("C Em C", "C", 0.0),
        ("C E C", "C", OUTSIDE),
        ("C Ebm C", "C", 3 * OUTSIDE),
        ("Gb F#m9 Gb", "Gb", BORROWED + MISSPELLED),
        ("C Fmaj13#11 C", "C", 0.0),  # tones over the ninth do not count
        # the tonic, which a dominant seventh and a minor chord are not
        ("F Cmaj7 F", "C", TONIC),
        ("Fm Cm6 Fm", "Cm", TONIC),
        ("C C6 C", "C", 0.0),  # it is there already
        ("A Em7 A7", "Em", 0.0),  # on its way as ii of D
        ("A Em7 Eb7", "Em", 0.0),  # as well, with the tritone substitute
        ("Fm C Fm", "Cm", OUTSIDE + MINOR_MADE_MAJOR),
        ("Fm C7 Fm", "Cm", APPLIED),
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
        ("C D D/C", "C", OUTSIDE),
        ("C D/C G", "C", APPLIED),  # D7 with its seventh in the bass
        ("C Gm7 C7", "C", APPLIED),
        ("C Bb7 C", "C", APPLIED),
        ("Cm Bb7 Cm", "Cm", 0.0),
        ("Cm Bb7 Eb", "Cm", APPLIED),  # V7 of the relative major
        ("C C#dim7 Dm7", "C", APPLIED),
        ("C D#dim7 Dm7", "C", APPLIED),
        ("C Fdim7 F", "C", APPLIED + MISSPELLED),
        ("C C#dim7 F", "C", 2 * OUTSIDE),
        ("C Fm C", "C", APPLIED),
        ("C Fm Bb7", "C", APPLIED),
        # what the parallel minor lends
        ("C Fm Bb", "C", BORROWED),
        ("C Bb7 Em", "C", BORROWED),
        ("C Eb C", "C", BORROWED),
        ("C Abmaj7 F", "C", BORROWED),
        ("C Ebm7 N.C.", "C", 4 * OUTSIDE),
        # what its own dominant has led to, unless the parallel minor lends it
        ("B7 E F", "C", OUTSIDE + LED_TO),
        ("Bb7 Eb F", "C", BORROWED),
        # I7 that rests, IV7 that is no blues without its I7
        ("G7 C7 Am", "C", BLUES),
        ("G7 C7 N.C.", "C", BLUES),
        ("G7 C7 F", "C", APPLIED),
        ("C F7 C", "C", OUTSIDE),
        # V7 between its neighbours, and the tonic that it leads to
        ("C G7 Am", "C", 0.0),
        ("C G7 C", "C", 0.0),
        ("G7 C F", "C", TONIC + ARRIVAL),
        ("G C F", "C", TONIC),  # a triad may as well be I before IV
        ("G Cm Fm", "Cm", TONIC + ARRIVAL),
        ("Bdim7 C F", "C", TONIC + ARRIVAL),
        ("Bm7b5 C F", "C", TONIC + ARRIVAL),
        ("Gm7 C F", "C", TONIC),
        ("N.C. C F", "C", TONIC),
        ("G7 Cm Fm", "Cm", TONIC + ARRIVAL),
        ("Dm7 G7 C", "C", FULL_CADENCE),
        ("Em7 G7 C", "C", 0.0),
        ("C G7 N.C.", "C", 0.0),
        ("Dm7b5 G7 Cm", "Cm", FULL_CADENCE),
        # II before V7, in the form of its key or not
        ("C Dm7 G7", "C", PREPARED),
        ("C Dm7 G", "C", 0.0),
        ("F G C", "C", FULL_CADENCE),  # a triad on V after IV or ii
        ("Dm G C", "C", FULL_CADENCE),
        ("F G Am", "C", 0.0),
        ("C Dm7b5 G7", "C", APPLIED + PREPARED + OUTSIDE / 4),
        ("Cm Dm7b5 G7", "Cm", PREPARED),
        ("Cm Dm7 G7", "Cm", APPLIED + PREPARED + OUTSIDE / 4),
        ("C D7 G7", "C", APPLIED),
        ("C N.C. C", "C", 0.0),
    ],
)
def test_a_chord_costs_what_the_table_says(chords: str, key: str, expected: float) -> None:
    assert cost(chords, key) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("chords", "place", "expected"),
    [
        ("C7 F7 C7 G7", 0, TONIC + ARRIVAL / 2),
        ("C7 F7 C7 G7", 1, 0.0),
        ("C7 F7 C7 G7", 2, TONIC),
        ("C7 F7 C7 G7", 3, 0.0),
    ],
)
def test_a_blues_is_at_home_on_one_and_four(chords: str, place: int, expected: float) -> None:
    assert cost(chords, "C", place=place) == pytest.approx(expected)


def test_the_last_chord_goes_on_to_the_first() -> None:
    assert cost("Cmaj7 Dm7 G7", "C", place=2) == FULL_CADENCE
    assert cost("G7 Cmaj7 Dm7", "C", place=0) == FULL_CADENCE


def test_a_chord_leads_past_others_on_its_own_root() -> None:
    for place in (1, 2):
        assert cost("C A7 A7/C# Dm7", "C", place=place) == APPLIED


def test_a_blues_has_its_keys() -> None:
    keys = every_key()
    blues = blues_keys([parse_symbol(word) for word in ("C7", "F7", "C7", "Bbm7")], keys)
    assert [key.ascii for key, is_blues in zip(keys.keys, blues, strict=True) if is_blues] == ["C"]


def test_there_are_thirty_keys_of_seven_flats_to_seven_sharps() -> None:
    keys = every_key().keys
    assert len(set(keys)) == 30
    assert [key.fifths for key in keys] == [*range(-7, 8)] * 2
    assert [key.minor for key in keys] == [False] * 15 + [True] * 15
