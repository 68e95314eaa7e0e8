"""What changes? Switch the notes that differ, and name every one of them."""

from __future__ import annotations

from collections import Counter
from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.harmony.changes import Change, Motion, change_between, instruction
from halfstep.harmony.scales import MODES, Scale, scale_over
from halfstep.harmony.tones import chord_degrees
from halfstep.pitch import Name, name_at, parse_name
from halfstep.progression.symbol import parse_symbol
from name_intervals import ascending
from strategies import names

TWELVE = tuple(name_at(fifths) for fifths in range(-5, 7))
"""The roots of twelve keys, D flat to F sharp along the fifths."""

FIFTH_DOWN = ascending(parse_name("G"), parse_name("C"))


def scales() -> st.SearchStrategy[Scale]:
    return st.builds(scale_over, names(), st.sampled_from(list(MODES)))


def read(root: str, label: str, chord: str = "") -> Scale:
    degrees = chord_degrees(parse_symbol(chord)) if chord else ()
    return scale_over(parse_name(root), label, degrees)


def said(old: tuple[str, ...], new: tuple[str, ...]) -> str:
    return change_between(read(*old), read(*new)).instruction


def sounds(found: tuple[Name, ...]) -> list[int]:
    return [name.pitch_class for name in found]


# --- the core of the teaching. Common practice, no source -----------------------------


@pytest.mark.parametrize("root", TWELVE, ids=str)
def test_between_dominants_a_fourth_apart_the_third_falls_to_the_seventh(root: Name) -> None:
    old, new = (scale_over(each, "Mixolydian") for each in (root, root + FIFTH_DOWN))
    change = change_between(old, new)
    third, seventh = old.names[2], new.names[6]
    assert change.half_steps == (Motion(third, seventh),)
    assert third.letter == seventh.letter
    assert change.half_steps[0].semitones == -1
    assert (change.renamed, change.steps, change.new, change.leaves) == ((), (), (), ())
    assert change.instruction == f"only the {third} becomes {seventh}"


@pytest.mark.parametrize("tonic", TWELVE, ids=str)
def test_between_two_and_five_nothing_changes(tonic: Name) -> None:
    key = scale_over(tonic, "Ionian").names
    change = change_between(scale_over(key[1], "Dorian"), scale_over(key[4], "Mixolydian"))
    assert set(change.stays) == set(key)
    assert change.instruction == "keep every note"
    assert change.changing_notes == ()


# --- where letters do not meet: the smallest motion, renamed notes named ---------------


def smallest(old: Scale, new: Scale) -> int:
    """The least total motion in semitones of any pairing of two seven-note scales."""
    held = old.pitch_classes & new.pitch_classes
    left = sorted(old.pitch_classes - held)
    right = sorted(new.pitch_classes - held)
    return min(
        sum(min((b - a) % 12, (a - b) % 12) for a, b in zip(left, order, strict=True))
        for order in permutations(right)
    )


@pytest.mark.parametrize("root", TWELVE, ids=str)
def test_a_tritone_substitute_resolves_by_the_smallest_motion(root: Name) -> None:
    half_step_down = ascending(parse_name("Db"), parse_name("C"))
    old = scale_over(root, "Lydian dominant")
    new = scale_over(root + half_step_down, "Ionian")
    change = change_between(old, new)
    moved = [*change.half_steps, *change.steps]
    assert sum(abs(motion.semitones) for motion in moved) == smallest(old, new)
    assert change.renamed == (Motion(old.names[6], new.names[6]),)


def test_d_flat_seven_to_c_says_that_c_flat_is_only_renamed() -> None:
    change = change_between(read("Db", "Lydian dominant"), read("C", "Ionian"))
    assert [(str(m.old), str(m.new)) for m in change.renamed] == [("C♭", "B")]
    assert sorted(map(str, change.stays)) == ["F", "G"]
    assert [(str(m.old), str(m.new)) for m in change.half_steps] == [
        ("D♭", "D"),
        ("E♭", "E"),
        ("A♭", "A"),
    ]
    assert [(str(m.old), str(m.new)) for m in change.steps] == [("B♭", "C")]


# --- every note is accounted for --------------------------------------------------------


@given(scales(), scales())
def test_every_note_of_the_new_scale_is_accounted_for_once(old: Scale, new: Scale) -> None:
    change = change_between(old, new)
    moved = (*change.renamed, *change.half_steps, *change.steps)
    arrived = [*change.stays, *(motion.new for motion in moved), *change.new]
    assert Counter(arrived) == Counter(new.names)


@given(scales(), scales())
def test_every_note_of_the_old_scale_is_accounted_for_once(old: Scale, new: Scale) -> None:
    change = change_between(old, new)
    moved = (*change.renamed, *change.half_steps, *change.steps)
    left = [*change.stays, *(motion.old for motion in moved), *change.leaves]
    assert Counter(left) == Counter(old.names)


@given(scales(), scales())
def test_each_motion_is_as_large_as_its_heading_says(old: Scale, new: Scale) -> None:
    change = change_between(old, new)
    assert all(motion.semitones == 0 and motion.old != motion.new for motion in change.renamed)
    assert all(abs(motion.semitones) == 1 for motion in change.half_steps)
    assert all(abs(motion.semitones) == 2 for motion in change.steps)


@given(scales(), scales())
def test_the_changing_notes_are_those_that_were_not_sounding(old: Scale, new: Scale) -> None:
    changing = change_between(old, new).changing_notes
    assert sorted(sounds(changing)) == sorted(new.pitch_classes - old.pitch_classes)


@given(scales(), scales())
def test_no_note_is_new_while_one_within_a_step_of_it_is_left_out(old: Scale, new: Scale) -> None:
    change = change_between(old, new)
    for left, right in product(change.leaves, change.new):
        assert abs(Motion(left, right).semitones) > 2


@given(scales())
def test_nothing_changes_between_a_scale_and_itself(scale: Scale) -> None:
    change = change_between(scale, scale)
    assert change.stays == scale.names
    assert change.instruction == "keep every note"


@given(scales(), scales(), names(), names())
def test_a_change_moves_with_its_scales(old: Scale, new: Scale, low: Name, high: Name) -> None:
    up = ascending(low, high)
    here = change_between(old, new)
    there = change_between(
        scale_over(old.root + up, old.mode.label), scale_over(new.root + up, new.mode.label)
    )
    assert there.instruction == instruction(here, lambda name: str(name + up))


# --- what a player is told ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (("D", "Dorian"), ("G", "Mixolydian"), "keep every note"),
        (("A", "Mixolydian"), ("D", "Mixolydian"), "only the C♯ becomes C"),
        (("C", "Mixolydian"), ("F", "Mixolydian"), "only the E becomes E♭"),
        (("C", "Ionian"), ("D", "Lydian dominant"), "F becomes F♯ and G becomes G♯"),
        (("C", "Ionian"), ("F", "Dorian"), "A becomes A♭, B becomes B♭ and E becomes E♭"),
        (
            ("Gb", "Ionian"),
            ("F#", "Ionian"),
            "keep every note (G♭ = F♯, A♭ = G♯, B♭ = A♯, C♭ = B, D♭ = C♯, E♭ = D♯ and F = E♯)",
        ),
        (("C", "Ionian"), ("C", "major pentatonic"), "leave out F and B"),
        (("C", "major pentatonic"), ("C", "Ionian"), "F is new and B is new"),
        (("C", "Mixolydian"), ("C", "bebop dominant"), "only the B is new"),
        (("C", "bebop dominant"), ("C", "Ionian"), "leave out B♭"),
        (("C", "Ionian"), ("Gb", "Ionian"), "keep only F and B (= C♭); all else moves"),
        (
            ("C#", "whole-half diminished", "C#dim7"),
            ("D", "Dorian"),
            "D♯ becomes D, F♯ becomes F, B♭ becomes B and C♯ is left out",
        ),
        (
            ("Eb", "Mixolydian"),
            ("E", "Ionian"),
            "F becomes E, G becomes F♯, B♭ becomes A and C becomes B",
        ),
        (("C", "major pentatonic"), ("F#", "major pentatonic"), "every note moves"),
    ],
)
def test_a_player_is_told_the_shortest_thing(
    old: tuple[str, ...], new: tuple[str, ...], text: str
) -> None:
    assert said(old, new) == text


def test_a_player_of_a_transposing_instrument_is_told_written_names() -> None:
    change = change_between(read("A", "Mixolydian"), read("D", "Mixolydian"))
    up_a_sixth = ascending(parse_name("C"), parse_name("A"))
    assert instruction(change, lambda name: str(name + up_a_sixth)) == "only the A♯ becomes A"


@given(scales(), scales())
def test_only_is_said_of_one_thing_that_happens(old: Scale, new: Scale) -> None:
    change = change_between(old, new)
    happens = _events(change)
    assert change.instruction.startswith("only the") == (
        happens == 1 and not (change.leaves and happens == len(change.leaves))
    )


def _events(change: Change) -> int:
    return sum(map(len, (change.half_steps, change.steps, change.new, change.leaves)))
