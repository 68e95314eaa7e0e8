"""The four steps before the first: one note, echo, question and answer, root and third.

They need no theory; what they ask is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of, slots_laid_out
from step_lines import CADENCE, CHARTS, broken_rules, keeps, line_of, midi, rule_of, words_on
from typed_lines import typed

from halfstep.etude.calls import ASKS
from halfstep.etude.palette import Palette
from halfstep.etude.played_back import fitting_classes
from halfstep.etude.steps.echo import echo_starts
from halfstep.etude.steps.question import answer_closes, question_open
from halfstep.etude.steps.rhythm import (
    NEW_NOTE,
    NO_CHORD_TONE,
    its_colours,
    one_note,
    same_in_chord,
    the_note,
)  # fmt: skip
from halfstep.etude.steps.root_third import third_to_third
from halfstep.random_stream import RandomStream

FALLING = "key: F\n| C7 | F7 |"
EIGHT = "key: C\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | % |"


# One note


def price(palettes: list[Palette], line: tuple[int, ...], middle: float) -> float:
    """What a one-note solo costs, added up by hand."""
    total = 0.0
    for palette, note in zip(palettes, line, strict=True):
        last = palette is palettes[-1]
        fits = palette.core if last else palette.scale & ~palette.avoid
        if not fits[note]:
            return float("inf")
        outside = NO_CHORD_TONE * float(palette.beats) / 4 * (not palette.tones[note])
        total += outside + 0.01 * abs(note - middle)
    return total + sum(NEW_NOTE + 0.3 * abs(a - b) for a, b in pairwise(line) if a != b)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    "chart", ["key: C\n| Dm7 | G7 | Cmaj7 |", "| C7 | F#7 | C7 |", "| Cmaj7 | Abmaj7 | Db7 |"]
)
def test_one_note_is_the_cheapest_of_all_lines(chart: str, seed: int) -> None:
    """Against every line of three notes of an octave."""
    request = brief_over(chart, low="C4", high="C5")
    palettes = [request.palette(n) for n in range(3)]
    shift = float(RandomStream(seed).integers(-4, 5))
    middle = float(np.flatnonzero(palettes[0].open).mean()) + shift
    line = one_note(request.palettes, RandomStream(seed))
    least = min(price(palettes, other, middle) for other in product(range(60, 73), repeat=3))
    assert price(palettes, (line[0], line[1], line[2]), middle) == pytest.approx(least)


def test_one_note_stays_over_a_key_and_moves_where_it_must() -> None:
    in_key = one_note(brief_over(EIGHT.replace("A7", "Am7")).palettes, RandomStream(0))
    assert len(set(in_key.values())) == 1
    tritone = one_note(brief_over("| Cmaj7 | F#maj7 |").palettes, RandomStream(0))
    assert len(set(tritone.values())) <= 2
    assert one_note((None, None), RandomStream(0)) == {}


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(2))
def test_a_written_note_never_moves_within_a_chord(chart: str, seed: int) -> None:
    etude = line_of("rhythm", brief_over(chart, seed=seed))
    for chord in range(len(etude.analysis.chords)):
        notes = {note.pitch for note in etude.notes if note.chord == chord and note.pitch}
        assert len(notes) <= 1


@pytest.mark.parametrize(("notes", "kept"), [((60, 60), True), ((60, 72), False)])
def test_the_octave_is_another_note(notes: tuple[int, int], kept: bool) -> None:
    assert bool(same_in_chord([], [np.asarray(note) for note in notes])) is kept


def test_the_note_and_its_colours_are_told() -> None:
    line = "G4- G4 G4 G4- G4- | G4- G4- G4--,"
    assert words_on(the_note, "rhythm", FALLING, line) == (
        "G4 fits every chord: stay on it to the end."
    )
    assert words_on(its_colours, "rhythm", FALLING, line) == (
        "Hear it change colour: it is the fifth of C7 and the ninth of F7."
    )
    moved = "G4- G4 G4 G4- G4- | A4- A4- A4--,"
    assert words_on(the_note, "rhythm", FALLING, moved) == "Your note is G4, then A4 from bar 2."
    assert words_on(its_colours, "rhythm", FALLING, moved) == ""


# Echo


@pytest.mark.sampled
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize("seed", range(3))
def test_two_bars_are_written_and_two_are_left_to_play_back(level: str, seed: int) -> None:
    etude = line_of("echo", brief_over(EIGHT, level=level, seed=seed))
    for note in etude.notes:
        assert (note.pitch is not None) is (int(note.onset // 4) % 4 < 2)
        if note.pitch:
            chord = etude.analysis.chords[note.chord]
            assert note.pitch.midi % 12 in fitting_classes(chord)


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("C5 G4 E4 G4 Bb4-- | A4 C5 A4 F4 C5--,", set()),
        ("C5 G4 D4 G4 Bb4-- | A4 C5 A4 F4 C5--,", {"what is played fits where it is played back"}),
        ("C5 C5 C5 G4 Bb4-- | A4 C5 A4 F4 C5--,", {"no more than two equal notes in a row"}),
        ("C5 C5 G4 G4 Bb4-- | A4 C5 A4 F4 C5--,", set()),
    ],
)
def test_a_line_to_echo_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("echo", FALLING, line) == broken


def test_where_the_first_call_starts_is_told() -> None:
    text = "The first call starts on C5 and reaches D5: find these two first."
    assert words_on(echo_starts, "echo", "| C7 |", "C5- D5- C5--,") == text
    assert words_on(echo_starts, "echo", "| C7 |", "E5- D5- C5--,") == (
        "The first call starts on its highest note, E5: find it first."
    )


# Question and answer


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("level", ["beginner", "advanced"])
def test_questions_are_open_and_the_written_answer_comes_home(level: str, seed: int) -> None:
    etude = line_of("question", brief_over(EIGHT, level=level, seed=seed))
    sounding = [note for note in etude.notes if note.pitch]
    assert {int(note.onset // 4) for note in sounding} == {0, 1, 4, 5, 6, 7}
    assert sounding[-1].degree is not None
    assert sounding[-1].degree.number == 1
    last = next(note for note in sounding if note.end == 8)
    assert last.degree is not None
    assert last.degree.number != 1


@pytest.mark.parametrize("bars", [1, 2, 3, 4, 5, 8])
def test_the_last_two_bars_are_always_written(bars: int) -> None:
    request = brief_over("key: C\n| Dm7 |" + " G7 |" * (bars - 1))
    slots = slots_laid_out("question", request)
    played = {int(slot.onset // 4) + 1 for slot in slots if slot.palette}
    assert played >= {max(1, bars - 1), bars}
    assert all(slot.closes and not slot.last for slot in slots if slot.motif == ASKS)
    assert slots[-1].motif is None


@pytest.mark.parametrize(("note", "kept"), [("F4", True), ("F3", True), ("C5", False)])
def test_the_answer_ends_on_the_root(note: str, kept: bool) -> None:
    slots = typed("question", FALLING, "C5---- | F4----,", instrument="piano")[1]
    rule = rule_of("question", "the last answer")
    advanced = brief_over(FALLING, level="advanced")
    assert advanced.palette(1).open[midis_of("F4")]
    if note == "F3":
        assert not keeps(rule, slots[1:], note)  # below the player's range
    else:
        assert keeps(rule, slots[1:], note) is kept


def test_without_the_root_an_answer_ends_on_another_tone_of_the_arpeggio() -> None:
    request: BriefOverChart = brief_over(FALLING, known="C4 E4 G4 A4 Bb4 C5")
    last = slots_laid_out("question", request)[-1:]
    rule = rule_of("question", "the last answer")
    assert keeps(rule, last, "A4")
    assert not keeps(rule, last, "G4")


def test_what_keeps_a_question_open_is_told_and_the_tonic_is_not() -> None:
    line = "C5- E4--- | r---- | r---- | C4----,"
    chart = "key: C\n| C | G7 | G7 | C |"
    assert words_on(question_open, "question", chart, line) == (
        "The first question stays open on E in bar 1 beat 2, the third of C."
    )
    assert words_on(question_open, "question", chart, line.replace("E4", "C4")) == ""
    assert words_on(answer_closes, "question", chart, line) == (
        "The last answer comes home to C in bar 4."
    )
    assert words_on(answer_closes, "question", chart, line.replace("C4----", "E4----")) == ""


# Root and third


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(2))
def test_only_roots_and_thirds(chart: str, seed: int) -> None:
    etude = line_of("root-third", brief_over(chart, seed=seed))
    assert {n.degree.number for n in etude.notes if n.degree} == {1, 3}


@pytest.mark.parametrize(
    ("symbol", "names"), [("C7", "C E"), ("Cm7", "C Eb"), ("C7sus4", "C F"), ("Csus2", "C D")]
)
def test_a_suspended_chord_has_its_fourth_or_second_for_the_third(symbol: str, names: str) -> None:
    request = brief_over(f"| {symbol} |")
    slots = slots_laid_out("root-third", request)
    first = next(slot for slot in slots if slot.palette)
    rule = rule_of("root-third", "only the root")
    grid = np.arange(60, 72)
    kept = {int(n) for n in grid[np.asarray(rule.holds([first], [grid]))]}
    assert kept == set(midis_of(" ".join(f"{name}4" for name in names.split())))


def test_the_smallest_step_from_chord_to_chord_is_told() -> None:
    line = "C4- E4 C4 E4- E4- | F4- A4- F4--,"
    assert words_on(third_to_third, "root-third", FALLING, line) == (
        "In bar 2 E rises a half step to F over F7: hear it before you play it."
    )


@pytest.mark.parametrize("step", ["rhythm", "echo", "question", "root-third"])
def test_a_beginner_has_no_note_shorter_than_an_eighth_and_breathes(step: str) -> None:
    etude = line_of(step, brief_over(CADENCE, level="beginner", instrument="alto-sax", seed=1))
    assert min(note.beats for note in etude.notes) >= Fraction(1, 2)
    assert any(note.breath for note in etude.notes)
    assert midi(next(n for n in etude.notes if n.pitch)) >= etude.brief.concert_low
