"""Lines of the vocabulary over charts: in every key, odd metre, range and level."""

from __future__ import annotations

import random
from itertools import pairwise, product

import pytest
from briefs_over_charts import brief_over
from etude_charts import random_chart
from step_lines import CADENCE, line_of, midi, notes_of

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.explanation import explained
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import phrase_ends, pieces
from halfstep.etude.step import InRuns
from halfstep.etude.steps import (
    STEP_NAMES,
    STEPS,
    VOCABULARY,
    VOCABULARY_NAMES,
    find_step,
    parse_steps,
)
from halfstep.etude.vocabulary.bebop_scales import beat_tones
from halfstep.etude.vocabulary.pattern import cheapest, folded
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.part.transposed_part import part_for
from halfstep.random_stream import RandomStream

METERS = (Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(7, 8), Meter(2, 2))


def test_the_vocabulary_is_asked_for_by_name_and_no_span_of_the_lesson_has_it() -> None:
    assert [step.name for step in VOCABULARY] == list(VOCABULARY_NAMES)
    assert all(step.number is None for step in VOCABULARY)
    assert find_step("Walking-Bass") is VOCABULARY[VOCABULARY_NAMES.index("walking-bass")]
    assert [step.name for step in parse_steps("rhythm-13")] == list(STEP_NAMES)
    assert [step.name for step in parse_steps("pentatonics,1")] == ["arpeggio", "pentatonics"]
    lesson = LessonBrief(brief_over(CADENCE).analysis.chart).steps
    assert not set(lesson) & set(VOCABULARY)


def test_no_two_names_joined_are_a_third() -> None:
    names = (*STEP_NAMES, *VOCABULARY_NAMES)
    assert not {f"{one}-{other}" for one, other in product(names, names)} & set(names)
    assert len({step.title for step in (*STEPS, *VOCABULARY)}) == len(names)
    chances = [step.rng(1, 0).integers(2**31) for step in (*STEPS, *VOCABULARY)]
    assert len(set(chances)) == len(names)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("step", VOCABULARY_NAMES)
def test_a_line_is_written_whatever_chart_instrument_and_level(step: str) -> None:
    """Its rules are asked again by the writer; a brief too narrow is refused in one line."""
    rng = random.Random(step)
    refused = 0
    for meter in METERS:
        level, player = rng.choice(list(Level)), rng.choice(list(INSTRUMENTS.values()))
        analysis = analyse(random_chart(rng, meter), level=level)
        brief = Brief(
            player, level, rng.choice([60.0, 120.0]), rng.randrange(40), feel=rng.choice(list(Feel))
        )
        try:
            etude = write_etude(find_step(step), analysis, brief)
        except BriefError:
            refused += 1
            continue
        assert len(explained(etude, part_for(analysis, player))) >= 2
    assert refused <= 1


@pytest.mark.sampled
@pytest.mark.parametrize("step", [step.name for step in VOCABULARY if not step.in_chords])
def test_a_chart_and_a_range_moved_by_an_interval_move_the_line_by_it(step: str) -> None:
    home_range, moved_range = {"low": "A3", "high": "A5"}, {"low": "C4", "high": "C6"}
    wanted = {"level": "advanced", "seed": 2}
    home = [midi(note) for note in notes_of(step, CADENCE, **wanted, **home_range)]
    moved = "key: Eb\n| Fm7 | Bb7 | Ebmaj7 | C7 | Fm7 | Bb7 | Ebmaj7 | % |"
    raised = [midi(note) for note in notes_of(step, moved, **wanted, **moved_range)]
    assert raised == [note + 3 for note in home]


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("step", VOCABULARY_NAMES)
def test_seeds_differ_and_a_form_of_one_bar_and_of_many_has_a_line(step: str) -> None:
    lines = {
        tuple((note.onset, midi(note)) for note in notes_of(step, CADENCE, seed=seed))
        for seed in range(4)
    }
    assert len(lines) >= 3
    assert notes_of(step, "key: C\n| C7 |")
    many = "key: C\n" + "| Dm7 | G7 | Cmaj7 | % " * 16 + "|"
    assert line_of(step, brief_over(many, level="beginner")).notes[-1].end == 256


def test_the_plain_guide_tones_are_those_of_the_decorated_line() -> None:
    """Whatever is left of the step's line when its eighths are taken out."""
    for seed in range(3):
        plain = [(n.onset, midi(n)) for n in notes_of("plain-guide-tones", CADENCE, seed=seed)]
        decorated = {(n.onset, midi(n)) for n in notes_of("guide-tones", CADENCE, seed=seed)}
        assert len(plain) < len(decorated)
        assert set(plain) <= decorated


def test_on_every_beat_of_a_bebop_line_stands_one_of_four_tones() -> None:
    for seed in range(3):
        etude = line_of("bebop-scales", brief_over(CADENCE, level="advanced", seed=seed))
        plain = analyse(etude.analysis.chart, level=Level.ADVANCED)
        for note in etude.notes:
            tones = {name.pitch_class for name in beat_tones(plain.chords[note.chord])}
            assert note.onset % 1 or midi(note) % 12 in tones


def test_a_walking_line_has_the_root_first_and_comes_into_it_by_step() -> None:
    for level in ("beginner", "advanced"):
        notes = notes_of("walking-bass", CADENCE, instrument="double-bass", level=level)
        assert {note.beats for note in notes} == {1}
        for old, new in pairwise(notes):
            if old.chord != new.chord:
                assert str(new.degree) == "1"
                assert 1 <= abs(midi(new) - midi(old)) <= 2


def test_a_scale_that_fits_no_chord_is_told_once_with_its_bars() -> None:
    etude = line_of("pentatonics", brief_over("key: C\n| Cmaj7 | Bdim7 | Cmaj7 | Bdim7 |"))
    texts = [notice.text for notice in etude.notices]
    assert texts == [
        "where no pentatonic fits, the figure runs through the scale: {0} in bars 2 and 4"
    ]


def test_figures_from_the_root_are_turned_over_in_an_octave_and_that_is_told() -> None:
    chart = "key: C\n| Am7 | Bm7b5 |"
    etude = line_of("digital-patterns", brief_over(chart, low="C4", high="C5"))
    (notice,) = etude.notices
    assert "its upper notes stand an octave lower" in notice.text
    assert not line_of("digital-patterns", brief_over(chart, low="C4", high="C6")).notices


@pytest.mark.parametrize("step", [s.name for s in VOCABULARY if isinstance(s.writing, InRuns)])
def test_no_figure_that_is_carried_on_strikes_a_note_twice(step: str) -> None:
    """Within a bar, but for the note that a phrase comes to rest on."""
    request = brief_over(CADENCE, level="advanced")
    writing, analysis = find_step(step).writing, find_step(step).explained(request.analysis)
    assert isinstance(writing, InRuns)
    for seed in range(6):
        brief = Brief(request.brief.instrument, Level.ADVANCED, 120.0, seed)
        cut, palettes = pieces(analysis), chord_palettes(analysis, brief)
        runs = writing.layout(cut, palettes, phrase_ends(analysis, brief), brief, RandomStream(0))
        for shape in runs[0].shapes:
            assert all(old != new for old, new in pairwise(shape.offsets)), (step, seed)


def test_a_figure_is_folded_by_an_octave_of_its_ladder() -> None:
    assert folded((0, 1, 2, 3), 1, 4) == (0, 1, -2, -1)
    assert cheapest([((0, 1), 2.0), ((0, 1), 1.0), ((1, 0), 3.0)]) == [((0, 1), 1.0), ((1, 0), 3.0)]
