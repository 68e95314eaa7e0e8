"""What holds of every step: transposed alike, drawn alike, in range, and told truly."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from briefs_over_charts import BriefOverChart, brief_over
from etude_charts import NAMES_OF_STEPS
from step_lines import CADENCE, CHARTS, HALVES, SIX_EIGHT, as_read, line_of

from halfstep.etude.etude_writer import write_etude, write_etudes
from halfstep.etude.explanation import explained
from halfstep.etude.palette import chord_palettes
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for

IN_D = "key: D\n| Em7 | A7 | Dmaj7 | B7 | Em7 | A7 | Dmaj7 | % |"
IN_F = "key: F\n| Gm7 | C7 | Fmaj7 | D7 | Gm7 | C7 | Fmaj7 | % |"


COMES_EARLY = {"broken-arpeggio", "turning-scale", "one-line", "guide-tones", "cells",
               "approach-notes", "enclosures", "chorus"}  # fmt: skip


def places(etude: Etude) -> list[tuple[Fraction, Fraction, int | None]]:
    return [(n.onset, n.beats, n.pitch.midi if n.pitch else None) for n in etude.notes]


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
@pytest.mark.parametrize("seed", [0, 3])
def test_a_chart_and_a_range_moved_by_an_interval_move_the_line_by_it(step: str, seed: int) -> None:
    """Exactly, rhythm and all, where nothing depends on the hands of a player."""
    home = places(
        line_of(step, brief_over(CADENCE, level="advanced", low="A3", high="A5", seed=seed))
    )
    for chart, low, high, rise in ((IN_D, "B3", "B5", 2), (IN_F, "D4", "D6", 5)):
        request = brief_over(chart, level="advanced", low=low, high=high, seed=seed)
        raised = [(at, beats, midi and midi + rise) for at, beats, midi in home]
        assert places(line_of(step, request)) == raised


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_the_same_seed_writes_the_same_notes_whatever_was_written_between(step: str) -> None:
    request = brief_over(CADENCE, seed=11)
    first = write_etude(find_step(step), request.analysis, request.brief)
    write_etude(find_step("chorus"), request.analysis, replace(request.brief, seed=4))
    again = write_etude(find_step(step), request.analysis, request.brief)
    assert places(first) == places(again)
    assert first.notices == again.notices


@pytest.mark.slow
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_over_four_seeds_at_least_three_lines_differ(step: str) -> None:
    lines = {tuple(places(line_of(step, brief_over(CADENCE, seed=seed)))) for seed in range(4)}
    assert len(lines) >= 3


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
@pytest.mark.parametrize("chart", CHARTS)
def test_every_note_is_one_that_the_player_knows(step: str, chart: str) -> None:
    """Of a beginner's octave and a half without E flat, A flat, D flat and F sharp above."""
    known = "C4 D4 E4 F4 F#4 G4 G#4 A4 Bb4 B4 C5 C#5 D5 E5 F5 F#5 G5"
    etude = line_of(step, brief_over(chart, level="beginner", known=known))
    for note in etude.notes:
        if note.pitch:
            assert note.pitch.midi in (etude.brief.known or ())
            assert etude.brief.concert_low <= note.pitch.midi <= etude.brief.concert_high


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_two_etudes_of_one_brief_begin_with_that_of_the_seed_alone(step: str) -> None:
    request = brief_over(CADENCE, seed=0)
    both = write_etudes(find_step(step), request.analysis, request.brief, 2)
    assert places(both[0]) == places(line_of(step, request))
    assert places(both[0]) != places(both[1])
    assert [etude.brief.seed for etude in both] == [0, 1]


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_a_note_belongs_to_the_chord_it_sounds_in_or_comes_early_to(step: str) -> None:
    etude = line_of(step, brief_over(CADENCE, level="advanced", seed=5))
    for note in etude.notes:
        span = etude.analysis.chords[note.chord].span
        if note.pitch and not span.start <= note.onset < span.end:
            assert step in COMES_EARLY
            assert note.onset < span.start < note.end
            assert span.start - note.onset <= Fraction(1, 2)


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_a_degree_is_the_place_of_the_note_over_its_root(step: str) -> None:
    etude = line_of(step, brief_over(CADENCE, level="advanced", seed=2))
    for note in etude.notes:
        if note.pitch and note.degree:
            root = etude.analysis.chords[note.chord].span.symbol.root
            assert (note.pitch.midi - root.pitch_class - note.degree.semitones) % 12 == 0
            assert root + note.degree.interval == note.pitch.name


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_straight_eighths_have_no_triplets_and_swing_has_no_sixteenths(step: str) -> None:
    """A chorus may have both in swing, as solos do."""
    feels = ((Feel.STRAIGHT, 3), (Feel.SWING, 4))
    for feel, other in feels[: 1 if step == "chorus" else 2]:
        for seed in range(2):
            etude = line_of(step, brief_over(CADENCE, level="advanced", seed=seed, feel=feel))
            assert all(note.beats.denominator % other for note in etude.notes)


def mentioned_notes(sentence: str, symbols: set[str]) -> set[str]:
    """Names of notes with an octave; chord symbols such as C7 are none."""
    return set(re.findall(r"\b[A-G][♯♭]?\d\b", sentence)) - symbols


def mentioned_bars(sentence: str) -> set[int]:
    """Numbers after ``bar`` and ``bars``."""
    numbers: set[int] = set()
    for listed in re.findall(r"bars? ((?:\d+(?:–\d+)?(?:, | and )?)+)", sentence):
        for low, high in re.findall(r"(\d+)(?:–(\d+))?", listed):
            numbers |= set(range(int(low), int(high or low) + 1))
    return numbers


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
@pytest.mark.parametrize("instrument", ["alto-sax", "trombone"])
def test_sentences_mention_only_notes_and_bars_that_are_there(step: str, instrument: str) -> None:
    for chart in (CADENCE, HALVES, SIX_EIGHT):
        etude = line_of(step, brief_over(chart, instrument=instrument, seed=1))
        line = as_read(etude)
        part = line.part.of_line(etude.notes)
        names = {str(part.pitch(note)) for note in line.notes}
        symbols = {str(line.part.symbol(note.chord)) for note in line.notes}
        bars = {bar.number for bar, _ in line.bars}
        sentences = explained(etude, part_for(etude.analysis, etude.brief.instrument))
        assert 2 <= len(sentences) <= 4
        for sentence in sentences:
            assert mentioned_notes(sentence, symbols) <= names, sentence
            assert mentioned_bars(sentence) <= bars, sentence


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_a_range_of_the_whole_instrument_is_the_same_as_none(step: str) -> None:
    """Limits beyond the instrument narrow nothing."""
    request = brief_over(CADENCE, instrument="trumpet", seed=1)
    wide = replace(request.brief, limits=(20, 110))
    assert chord_palettes(request.analysis, wide)[0] is not None
    line = write_etude(find_step(step), request.analysis, wide)
    assert places(line) == places(line_of(step, request))


def test_a_request_is_worked_out_once() -> None:
    assert brief_over(CADENCE, seed=1) is brief_over(CADENCE, seed=1)
    assert isinstance(brief_over(CADENCE), BriefOverChart)
