"""Which notes are in the scale? Against step patterns, music21, and the chord's spelling."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.harmony.scales import MODES, Mode, scale_over
from halfstep.harmony.tones import chord_degrees
from halfstep.pitch import Name, name_at, parse_degrees, parse_name
from halfstep.progression.key import Key
from halfstep.progression.symbol import parse_symbol
from name_intervals import ascending
from strategies import names

# common practice, no source: semitones from each note to the next, up to the octave
STEPS = {
    "Ionian": "2 2 1 2 2 2 1",
    "Dorian": "2 1 2 2 2 1 2",
    "Phrygian": "1 2 2 2 1 2 2",
    "Lydian": "2 2 2 1 2 2 1",
    "Mixolydian": "2 2 1 2 2 1 2",
    "Aeolian": "2 1 2 2 1 2 2",
    "Locrian": "1 2 2 1 2 2 2",
    "melodic minor": "2 1 2 2 2 2 1",
    "Lydian augmented": "2 2 2 2 1 2 1",
    "Lydian dominant": "2 2 2 1 2 1 2",
    "Mixolydian ♭6": "2 2 1 2 1 2 2",
    "Locrian ♮2": "2 1 2 1 2 2 2",
    "altered": "1 2 1 2 2 2 2",
    "harmonic minor": "2 1 2 2 1 3 1",
    "Phrygian dominant": "1 3 1 2 1 2 2",
    "Dorian ♭2": "1 2 2 2 2 1 2",
    "Locrian ♮6": "1 2 2 1 3 1 2",
    "Ionian ♯5": "2 2 1 3 1 2 1",
    "Dorian ♯4": "2 1 3 1 2 1 2",
    "Lydian ♯2": "3 1 2 1 2 2 1",
    "Locrian ♭4 𝄫7": "1 2 1 2 2 1 3",
    "whole-tone": "2 2 2 2 2 2",
    "half-whole diminished": "1 2 1 2 1 2 1 2",
    "whole-half diminished": "2 1 2 1 2 1 2 1",
    "major pentatonic": "2 2 3 2 3",
    "minor pentatonic": "3 2 2 3 2",
    "minor blues": "3 2 1 1 3 2",
    "major blues": "2 1 1 3 2 3",
    "bebop dominant": "2 2 1 2 2 1 1 1",
    "bebop major": "2 2 1 2 1 1 2 1",
}

PARENT_STEP = {
    "major": ["Ionian", "Dorian", "Phrygian", "Lydian", "Mixolydian", "Aeolian", "Locrian"],
    "melodic minor": [
        *("melodic minor", "Dorian ♭2", "Lydian augmented", "Lydian dominant", "Mixolydian ♭6"),
        *("Locrian ♮2", "altered"),
    ],
    "harmonic minor": [
        *("harmonic minor", "Locrian ♮6", "Ionian ♯5", "Dorian ♯4", "Phrygian dominant"),
        *("Lydian ♯2", "Locrian ♭4 𝄫7"),
    ],
}

TONICS = tuple(name_at(fifths) for fifths in range(-7, 8))
"""Tonics of the fifteen signatures of major keys."""

EVERY_MODE = pytest.mark.parametrize("label", MODES)


def modes() -> st.SearchStrategy[Mode]:
    return st.sampled_from(list(MODES.values()))


def spelled(root: str, label: str, chord: str = "") -> str:
    degrees = chord_degrees(parse_symbol(chord)) if chord else ()
    return " ".join(name.ascii for name in scale_over(parse_name(root), label, degrees).names)


@EVERY_MODE
def test_a_mode_climbs_by_its_steps(label: str) -> None:
    places = [degree.semitones for degree in MODES[label].degrees]
    steps = [high - low for low, high in pairwise([*places, 12])]
    assert " ".join(map(str, steps)) == STEPS[label]


def test_every_scale_of_the_table_is_there() -> None:
    assert set(STEPS) == set(MODES)


@given(modes(), names())
def test_a_scale_starts_on_its_root_and_sounds_each_note_once(mode: Mode, root: Name) -> None:
    scale = scale_over(root, mode.label)
    assert scale.names[0] == root
    assert len(scale.pitch_classes) == len(mode.degrees)


@given(modes().filter(lambda mode: len(mode.degrees) == 7 and mode.label != "altered"), names())
def test_a_seven_note_scale_uses_every_letter_once(mode: Mode, root: Name) -> None:
    letters = [name.letter for name in scale_over(root, mode.label).names]
    assert letters == [(root.letter + place) % 7 for place in range(7)]


@given(modes(), names())
def test_each_note_is_spelled_by_its_degree(mode: Mode, root: Name) -> None:
    for note in scale_over(root, mode.label).notes:
        assert note.name == root + note.degree.interval


@given(modes(), names(), names(), names())
def test_a_scale_moves_with_its_root(mode: Mode, root: Name, low: Name, high: Name) -> None:
    interval = ascending(low, high)
    moved = scale_over(root + interval, mode.label)
    assert moved.names == tuple(n + interval for n in scale_over(root, mode.label).names)


# --- music21 10 (BSD); flats are "-" there --------------------------------------------


def theirs_in_order(scale: Any, tonic: Name) -> list[str]:
    """The seven notes of a music21 scale upwards from its tonic, in our spelling."""
    low = tonic.ascii.replace("b", "-")
    found = scale.getPitches(f"{low}3", f"{low}4")
    return [pitch.name.replace("-", "b") for pitch in found[:7]]


MUSIC21_SCALES = {
    "Ionian": "MajorScale",
    "Dorian": "DorianScale",
    "Phrygian": "PhrygianScale",
    "Lydian": "LydianScale",
    "Mixolydian": "MixolydianScale",
    "Aeolian": "MinorScale",
    "Locrian": "LocrianScale",
    "melodic minor": "MelodicMinorScale",
    "harmonic minor": "HarmonicMinorScale",
}


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize(("label", "name"), MUSIC21_SCALES.items())
def test_music21_spells_the_scale_alike_from_every_root(label: str, name: str) -> None:
    module = pytest.importorskip("music21.scale")
    for root in TONICS:
        theirs = theirs_in_order(getattr(module, name)(root.ascii.replace("b", "-")), root)
        assert [n.ascii for n in scale_over(root, label).names] == theirs


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("parent", PARENT_STEP)
def test_a_mode_has_the_notes_music21_gives_its_parent(parent: str) -> None:
    module = pytest.importorskip("music21.scale")
    kinds = {"major": "MajorScale", "melodic minor": "MelodicMinorScale"}
    kind = getattr(module, kinds.get(parent, "HarmonicMinorScale"))
    for tonic in TONICS:
        theirs = theirs_in_order(kind(tonic.ascii.replace("b", "-")), tonic)
        for step, label in enumerate(PARENT_STEP[parent]):
            if label == "altered":  # its third is spelled as a third: by sound only
                found = scale_over(parse_name(theirs[step]), label).pitch_classes
                assert found == {parse_name(name).pitch_class for name in theirs}
            elif label:
                found = scale_over(parse_name(theirs[step]), label)
                assert [n.ascii for n in found.names] == theirs[step:] + theirs[:step]


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize(
    ("label", "name", "arguments"),
    [
        ("whole-tone", "WholeToneScale", ()),
        ("half-whole diminished", "OctatonicScale", ("m2",)),
        ("whole-half diminished", "OctatonicScale", ("M2",)),
    ],
)
def test_music21_hears_the_same_symmetric_scale(
    label: str, name: str, arguments: tuple[str, ...]
) -> None:
    module = pytest.importorskip("music21.scale")
    for root in TONICS:
        low = root.ascii.replace("b", "-")
        found = getattr(module, name)(low, *arguments).getPitches(f"{low}3", f"{low}4")
        assert scale_over(root, label).pitch_classes == {pitch.pitchClass for pitch in found}


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("label", PARENT_STEP["major"])
def test_the_parents_signature_alters_the_notes_the_mode_alters(label: str) -> None:
    module = pytest.importorskip("music21.key")
    for tonic in TONICS:
        root = scale_over(tonic, "Ionian").names[PARENT_STEP["major"].index(label)]
        scale = scale_over(root, label)
        assert scale.parent is not None
        altered = module.KeySignature(scale.parent.fifths).alteredPitches
        assert {p.name.replace("-", "b") for p in altered} == {
            name.ascii for name in scale.names if name.alteration
        }


# --- parents -------------------------------------------------------------------------


@pytest.mark.parametrize("parent", PARENT_STEP)
def test_every_mode_finds_its_parent_from_every_root(parent: str) -> None:
    for tonic in TONICS:
        for step, label in enumerate(PARENT_STEP[parent]):
            if label:
                root = tonic + MODES[_first(parent)].degrees[step].interval
                scale = scale_over(root, label)
                key = Key(tonic, parent != "major")
                is_named = abs(key.fifths) <= 7 and label != "altered"
                assert scale.parent == (key if is_named else None)
                assert scale.parent_label == (f"{tonic} {parent}" if is_named else "")


SEVEN_LETTERS = {"major": "1 2 3 4 5 6 7", "melodic minor": "1 2 b3 4 5 6 7",
                 "harmonic minor": "1 2 b3 4 5 b6 7"}  # fmt: skip


@pytest.mark.sampled
@pytest.mark.parametrize("label", MODES)
def test_a_parent_that_is_named_has_the_very_names_that_are_shown(label: str) -> None:
    """On every root of up to seven signs, over chords that keep their letters, and as it is
    read at sight. Common practice, no source.
    """
    for fifths in range(-8, 13):
        for chord in ("", "7", "m7", "maj7", "dim7", "7#5", "7#9", "m7b5"):
            degrees = chord_degrees(parse_symbol(f"C{chord}")) if chord else ()
            strict = scale_over(name_at(fifths), label, degrees)
            for scale in (strict, strict.readable):
                parent = scale.parent
                assert parent is None or abs(parent.fifths) <= 7
                if parent:
                    steps = parse_degrees(SEVEN_LETTERS[scale.mode.parent])
                    shown = {parent.tonic + degree.interval for degree in steps}
                    assert shown == set(scale.names)


def _first(parent: str) -> str:
    return "Ionian" if parent == "major" else parent


@pytest.mark.parametrize("label", [label for label, mode in MODES.items() if not mode.parent])
def test_a_symmetric_or_shortened_scale_has_no_parent(label: str) -> None:
    scale = scale_over(parse_name("Eb"), label)
    assert (scale.parent, scale.parent_label) == (None, "")


# --- over a chord: a chord tone keeps its own letter. Common practice, no source ------


def test_the_whole_tone_scale_over_an_augmented_seventh_skips_a_letter() -> None:
    assert spelled("C", "whole-tone", "C7#5") == "C D E F# G# Bb"


def test_the_diminished_scale_over_a_diminished_seventh_repeats_a_letter() -> None:
    assert spelled("C", "whole-half diminished", "Cdim7") == "C D Eb F Gb Ab Bbb B"


@pytest.mark.parametrize("chord", ["G7alt", "Galt"])
def test_the_altered_scale_names_its_third_as_a_third(chord: str) -> None:
    assert spelled("G", "altered", chord) == "G Ab Bb B Db Eb F"


@pytest.mark.parametrize(
    ("root", "label", "chord", "names"),
    [
        ("C", "altered", "C7#9", "C Db D# E Gb Ab Bb"),
        ("C", "altered", "C7#5#9", "C Db D# E Gb G# Bb"),
        ("C", "half-whole diminished", "C13b9", "C Db Eb E F# G A Bb"),
        ("C", "half-whole diminished", "C7#9", "C Db D# E F# G A Bb"),
        ("Gb", "Ionian", "", "Gb Ab Bb Cb Db Eb F"),
        ("F#", "Ionian", "", "F# G# A# B C# D# E#"),
        ("Db", "Lydian dominant", "Db7", "Db Eb F G Ab Bb Cb"),
        ("C", "minor blues", "", "C Eb F Gb G Bb"),
        ("C", "major blues", "", "C D Eb E G A"),
    ],
)
def test_a_scale_is_spelled_for_its_chord(root: str, label: str, chord: str, names: str) -> None:
    assert spelled(root, label, chord) == names


@given(modes(), names(), st.sampled_from(["", "7", "maj7", "m7", "dim7", "7#5", "7b9", "7#9", "6"]))
def test_the_chord_changes_the_spelling_and_never_the_sound(
    mode: Mode, root: Name, suffix: str
) -> None:
    degrees = chord_degrees(parse_symbol(root.ascii + suffix))
    plain, over = scale_over(root, mode.label), scale_over(root, mode.label, degrees)
    assert [n.pitch_class for n in over.names] == [n.pitch_class for n in plain.names]
