"""The steps before the first do what they promise, asked again in plain code.

Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise, product

import pytest
from briefs_over_charts import brief_over
from etude_charts import INVENTED, analysis_named, chart_with
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.palette import chord_palettes
from halfstep.etude.played_back import calls_that_fit, fitting_classes
from halfstep.etude.rules import FIFTH
from halfstep.etude.steps import find_step
from halfstep.etude.steps.rhythm import one_note
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.random_stream import RandomStream

RHYTHM, ECHO, QUESTION, ROOT_THIRD = "rhythm", "echo", "question", "root-third"
NAMES = sorted(INVENTED)
BRIEFS = st.builds(
    Brief,
    st.sampled_from(list(INSTRUMENTS.values())),
    st.sampled_from(list(Level)),
    st.sampled_from([60.0, 96.0, 160.0]),
    st.integers(0, 50),
)


def midis(etude: Etude) -> list[int]:
    return [note.pitch.midi for note in etude.notes if note.pitch]


def bar_of(etude: Etude, note: EtudeNote) -> int:
    return int(note.onset // etude.analysis.chart.meter.bar_beats) + 1


def over_root(etude: Etude, note: EtudeNote) -> int:
    """Semitones above the root of the chord."""
    assert note.pitch
    root = etude.analysis.chords[note.chord].span.symbol.root.pitch_class
    return (note.pitch.midi - root) % 12


def avoided(etude: Etude, note: EtudeNote) -> bool:
    """True for the fourth over a chord that has a major third and no fourth."""
    here = etude.analysis.chords[note.chord]
    root = here.span.symbol.root.pitch_class
    held = {(tone.name.pitch_class - root) % 12 for tone in here.tones}
    return over_root(etude, note) == 5 and 4 in held and 5 not in held


def plays_to_the_end(etude: Etude) -> bool:
    return etude.notes[-1].end == etude.analysis.chart.beats


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("step", [RHYTHM, ECHO, QUESTION, ROOT_THIRD])
@given(st.sampled_from(NAMES), BRIEFS)
@settings(max_examples=25)
def test_every_player_gets_every_pre_step(step: str, name: str, brief: Brief) -> None:
    etude = write_etude(find_step(step), analysis_named(name, brief.level), brief)
    assert plays_to_the_end(etude)
    low, high = brief.concert_low, brief.concert_high
    assert all(low <= midi <= high for midi in midis(etude))


@pytest.mark.slow
@given(st.sampled_from(NAMES), BRIEFS)
@settings(max_examples=25)
def test_one_note_moves_only_where_a_chord_begins(name: str, brief: Brief) -> None:
    etude = write_etude(find_step(RHYTHM), analysis_named(name, brief.level), brief)
    for old, new in pairwise([note for note in etude.notes if note.pitch]):
        assert old.chord != new.chord or old.pitch == new.pitch
    assert not any(avoided(etude, note) for note in etude.notes if note.pitch)


def leaps_and_moves(way: Sequence[int]) -> tuple[int, int]:
    """How often one note leaps further than a fifth, and how often it moves at all."""
    moves = [abs(new - old) for old, new in pairwise(way) if old != new]
    return sum(move > FIFTH for move in moves), len(moves)


@pytest.mark.slow
@given(
    st.lists(st.sampled_from(["Dm7", "G7", "Cmaj7", "F#7", "Bbmaj7", "Ebm7"]), min_size=2,
             max_size=4),
    st.frozensets(st.sampled_from(range(62, 74)), min_size=4, max_size=6),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_one_note_moves_as_seldom_as_can_be(symbols: list[str], known: frozenset[int]) -> None:
    """Against every way through the chords, one by one."""
    bar = Meter(4, 4).bar_beats
    chart = chart_with(Meter(4, 4), len(symbols), [(bar * n, s) for n, s in enumerate(symbols)])
    analysis = analyse(chart)
    brief = Brief(INSTRUMENTS["voice"], Level.ADVANCED, 96.0, limits=(62, 73))
    found = [here for here in chord_palettes(analysis, brief) if here is not None]
    rooms = [
        [m for m in known if (here.core[m] if here is found[-1] else here.scale[m])
         and not here.avoid[m]]
        for here in found
    ]  # fmt: skip
    if not all(rooms):
        reject()
    asked = Brief(INSTRUMENTS["voice"], Level.ADVANCED, 96.0, limits=(62, 73), known=known)
    if not all((here.core[list(known)]).any() for here in found):
        reject()  # refused before a note is chosen
    path = one_note(chord_palettes(analysis, asked), RandomStream(1))
    assert leaps_and_moves([*path.values()]) == min(map(leaps_and_moves, product(*rooms)))


def test_one_note_comes_back_by_steps_where_the_chords_climb_by_thirds() -> None:
    form = "| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 "
    request = brief_over(f"{form * 8}|", instrument="alto-sax")
    line = write_etude(find_step(RHYTHM), request.analysis, request.brief)
    midis = [note.pitch.midi for note in line.notes if note.pitch]
    assert leaps_and_moves(midis)[0] == 0


@pytest.mark.slow
@given(st.sampled_from(NAMES), BRIEFS)
@settings(max_examples=25)
def test_two_bars_of_chord_tones_and_two_to_echo_them(name: str, brief: Brief) -> None:
    etude = write_etude(find_step(ECHO), analysis_named(name, brief.level), brief)
    for note in etude.notes:
        played = bar_of(etude, note) in calls_that_fit(etude.analysis)
        assert (note.pitch is not None) == played
        if note.pitch:
            assert note.pitch.midi % 12 in fitting_classes(etude.analysis.chords[note.chord])


@pytest.mark.slow
@given(st.sampled_from(NAMES), BRIEFS)
@settings(max_examples=25)
def test_questions_stay_open_and_the_last_answer_comes_home(name: str, brief: Brief) -> None:
    etude = write_etude(find_step(QUESTION), analysis_named(name, brief.level), brief)
    asked = [old for old, new in pairwise(etude.notes) if old.pitch and not new.pitch]
    assert asked
    assert all(over_root(etude, note) for note in asked)
    assert over_root(etude, etude.notes[-1]) == 0


@pytest.mark.slow
@given(st.sampled_from(NAMES), BRIEFS)
@settings(max_examples=25)
def test_root_and_third_and_nothing_else(name: str, brief: Brief) -> None:
    etude = write_etude(find_step(ROOT_THIRD), analysis_named(name, brief.level), brief)
    assert {over_root(etude, note) for note in etude.notes if note.pitch} <= {0, 3, 4}


def test_a_pre_step_of_one_bar_is_played_through() -> None:
    chart = chart_with(Meter(3, 4), 1, [(Fraction(0), "Dm7")])
    for step in (RHYTHM, ECHO, QUESTION, ROOT_THIRD):
        etude = write_etude(
            find_step(step), analyse(chart), Brief(INSTRUMENTS["flute"], Level.BEGINNER, 84.0)
        )
        assert midis(etude)
        assert plays_to_the_end(etude)


@pytest.mark.slow
@pytest.mark.parametrize("step", [RHYTHM, ROOT_THIRD])
def test_some_notes_of_a_rhythm_are_rests(step: str) -> None:
    """Never the last note of a bar, and no phrase ends on one; beginners rest on the beat."""
    rests = sounds = 0
    for name, seed in product(NAMES, range(3)):
        brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 96.0, seed)
        etude = write_etude(find_step(step), analysis_named(name, Level.BEGINNER), brief)
        bars = {start + bar.beats for bar, start in etude.analysis.chart.placed()}
        for note in etude.notes:
            sounds += note.pitch is not None
            if note.pitch is None:
                rests += 1
                assert note.beats == 1
                assert note.end not in bars
    assert 0.02 < rests / sounds < 0.2
