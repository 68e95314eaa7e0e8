"""Which two notes are hard to go to and fro between.

What is expected of a player's fingers is common practice, no source.
"""

from __future__ import annotations

import pytest

from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.pitch import parse_pitch

SAXES = [key for key in INSTRUMENTS if key.endswith("-sax")]


def written_pairs(key: str) -> set[tuple[int, int]]:
    """Pairs in the pitch that the player reads."""
    up = INSTRUMENTS[key].rise.semitones
    return {(low + up, high + up) for low, high in awkward_pairs(INSTRUMENTS[key])}


def pair(names: str) -> tuple[int, int]:
    low, high = sorted(parse_pitch(name).midi for name in names.split())
    return low, high


@pytest.mark.parametrize("key", SAXES)
@pytest.mark.parametrize(
    ("names", "hard"),
    [
        ("Bb3 B3", True),  # one little finger
        ("B3 C#4", True),
        ("C4 Eb4", True),
        ("C5 D5", True),  # open to closed, over the break
        ("D6 Eb6", True),  # palm keys
        ("C4 D4", False),
        ("G4 A4", False),
        ("E5 F5", False),
        ("C#5 C5", False),
    ],
)
def test_saxophones_read_the_same_fingering(key: str, names: str, hard: bool) -> None:
    assert (pair(names) in written_pairs(key)) is hard


def test_saxophones_differ_in_what_sounds() -> None:
    sounds = {key: awkward_pairs(INSTRUMENTS[key]) for key in SAXES}
    assert len(set(sounds.values())) == len({INSTRUMENTS[key].rise for key in SAXES})
    assert len({len(pairs) for pairs in sounds.values()}) == 1


@pytest.mark.parametrize(
    ("key", "hard", "easy"),
    [
        ("clarinet", "A4 B4", "G4 F4"),  # the break
        ("clarinet", "E3 F3", "D4 E4"),
        ("flute", "C5 D5", "G4 A4"),
        ("flute", "C4 C#4", "A5 B5"),
        ("trumpet", "C#4 Eb4", "C4 D4"),  # the third valve
        ("trombone", "Bb2 B2", "D3 F3"),  # first position to seventh
    ],
)
def test_what_lies_badly_and_what_does_not(key: str, hard: str, easy: str) -> None:
    assert pair(hard) in written_pairs(key)
    assert pair(easy) not in written_pairs(key)


@pytest.mark.parametrize("key", INSTRUMENTS)
def test_a_pair_is_two_notes_the_lower_first_in_the_widest_range(key: str) -> None:
    compass = INSTRUMENTS[key].compass(Level.ADVANCED)
    for low, high in written_pairs(key):
        assert low < high
        assert compass.low.midi <= low
        assert high <= compass.high.midi


@pytest.mark.parametrize("key", ["piano", "guitar", "voice", "concert"])
def test_no_pair_is_hard_where_each_note_has_its_own_place(key: str) -> None:
    assert awkward_pairs(INSTRUMENTS[key]) == frozenset()


def test_only_the_little_finger_of_a_saxophone_has_pairs_wider_than_a_fifth() -> None:
    """Wider ones are leaps, which have a cost of their own; the G sharp key is on its table."""
    for key in INSTRUMENTS:
        wide = {both for both in written_pairs(key) if both[1] - both[0] > 7}
        assert wide == ({pair("Bb3 G#4"), pair("B3 G#4")} if key in SAXES else set())
