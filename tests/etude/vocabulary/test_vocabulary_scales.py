"""Which notes the vocabulary plays over a chord: held against what the trade says."""

from __future__ import annotations

import pytest

from halfstep.etude.step_scales import degree_over, has_scale_of_step, with_scales
from halfstep.etude.steps import find_step
from halfstep.etude.vocabulary.bebop_scales import beat_tones, eight_notes_over
from halfstep.etude.vocabulary.blues_scale import blues_over
from halfstep.etude.vocabulary.pentatonics import pentatonic_over
from halfstep.etude.vocabulary.triad_pairs import pairs_in, triad_pair_over
from halfstep.harmony.analysis import AnalysedChord, Analysis, analyse
from halfstep.harmony.scales import MODES, Scale
from halfstep.pitch import parse_name
from typed_charts import read_chart_text

MINOR_CADENCE = "key: Cm\n| Dm7b5 | G7alt | Cm7 |"


def chord_of(chart: str, place: int = 0) -> tuple[Analysis, AnalysedChord]:
    analysis = analyse(read_chart_text(chart))
    return analysis, analysis.chords[place]


def names_of(scale: Scale | None) -> str:
    return " ".join(map(str, scale.names)) if scale else ""


@pytest.mark.parametrize(
    ("chart", "place", "named"),
    [
        ("key: C\n| Cmaj7 |", 0, "C major pentatonic"),
        ("key: C\n| Dm7 | G7 |", 0, "D minor pentatonic"),
        ("key: C\n| Dm7 | G7 |", 1, "G major pentatonic"),
        ("key: C\n| Cm6 |", 0, "C minor sixth pentatonic"),
        (MINOR_CADENCE, 0, "F minor pentatonic"),
        (MINOR_CADENCE, 1, "D♭ major pentatonic"),
        ("key: C\n| Bdim7 | Cmaj7 |", 0, "None"),
    ],
)
def test_a_chord_has_the_pentatonic_that_players_use(chart: str, place: int, named: str) -> None:
    """Common practice, no source: on the root, and on other tones of chords with a flat fifth."""
    assert str(pentatonic_over(*chord_of(chart, place))) == named


@pytest.mark.parametrize(
    ("symbol", "mode"),
    [("G7", "bebop dominant"), ("Cmaj7", "bebop major"), ("C6", "bebop major")],
)
def test_eight_notes_over_a_chord_are_the_scale_that_has_a_name(symbol: str, mode: str) -> None:
    """Common practice, no source: the two scales stand in the table of `scales`."""
    scale = eight_notes_over(*chord_of(f"key: C\n| {symbol} |"))
    assert scale is not None
    assert {note.degree for note in scale.notes} == set(MODES[mode].degrees)


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [("Dm7", "D F A C"), ("Cm(maj7)", "C E♭ G A"), ("Bm7b5", "B D F A"), ("C7sus4", "C F G B♭")],
)
def test_four_tones_of_a_chord_stand_on_the_beats(symbol: str, tones: str) -> None:
    """Common practice, no source: a natural seventh gives its place to the sixth."""
    assert " ".join(map(str, beat_tones(chord_of(f"key: C\n| {symbol} |")[1]))) == tones


def test_between_two_tones_a_half_step_apart_no_note_has_room() -> None:
    chord = chord_of("key: C\n| Cmaj7#5 |")
    assert eight_notes_over(*chord) is None
    assert not has_scale_of_step(with_scales(chord[0], eight_notes_over).chords[0])


@pytest.mark.parametrize(
    ("chart", "place", "notes"),
    [
        ("key: C\n| Dm7 | G7 |", 0, "D F G A B C"),
        (MINOR_CADENCE, 1, "G A♭ B♭ D♭ E♭ F"),
        ("key: C\n| F7#11 |", 0, "F G A B C D"),
        ("key: C\n| G7#5 |", 0, "G A B C♯ D♯ F"),
    ],
)
def test_a_triad_pair_is_the_one_that_players_use(chart: str, place: int, notes: str) -> None:
    """Common practice, no source.

    F and G over D minor, D flat and E flat over the altered G, F and G over F with a sharp
    eleventh, two augmented triads over a whole-tone scale.
    """
    assert sorted(names_of(triad_pair_over(*chord_of(chart, place))).split()) == sorted(
        notes.split()
    )


def test_the_notes_of_a_pair_lie_by_turns() -> None:
    """In C major each triad with the next one, and none with one two steps away."""
    roots = {pair.roots for pair in pairs_in(frozenset({0, 2, 4, 5, 7, 9, 11}))}
    assert roots == {
        (low, high) for low, high in roots if high - low in {1, 2, 10, 11, -1, -2, -10, -11}
    }
    assert (5, 7) in roots
    assert pairs_in(frozenset({0, 2, 4, 7, 9})) == ()


def test_the_blues_scale_is_that_of_the_home_key_over_every_chord_of_a_blues() -> None:
    """Common practice, no source: 1 ♭3 4 ♭5 5 ♭7 of the key, counted over each root."""
    blues = "key: F\n| F7 | Bb7 | F7 | % | Bb7 | Bdim7 | F7 | % | Gm7 | C7 | F7 | C7 |"
    analysis = find_step("blues-scale").explained(analyse(read_chart_text(blues)))
    for chord in analysis.chords:
        assert set(names_of(chord.scale).split()) == {"F", "A♭", "B♭", "C♭", "C", "E♭"}
        root = chord.span.symbol.root
        assert [root + note.degree.interval for note in chord.scale.notes] == list(
            chord.scale.names
        )


def test_where_the_blues_scale_tells_nothing_of_a_chord_its_pentatonic_stands_in() -> None:
    analysis, chord = chord_of("key: C\n| Cmaj7 | Emaj7 |", 1)
    assert str(blues_over(analysis, chord)) == "E major pentatonic"


@pytest.mark.parametrize("step", ["pentatonics", "blues-scale", "bebop-scales", "triad-pairs"])
def test_a_chart_explained_for_a_step_twice_is_explained_as_once(step: str) -> None:
    chart = "key: C\n| Dm7 | G7alt | Cmaj7 N.C. | Bdim7 Cm6 |"
    once = find_step(step).explained(analyse(read_chart_text(chart)))
    assert find_step(step).explained(once) == once
    assert [chord.silent for chord in once.chords] == [False, False, False, True, False, False]


def test_a_degree_is_counted_in_letters_over_the_root() -> None:
    over = (
        degree_over(parse_name("A"), parse_name("C#")),
        degree_over(parse_name("F"), parse_name("Cb")),
    )
    assert [str(degree) for degree in over] == ["3", "♭5"]
