"""Steps 7 to 12 over any chart, and what each promises, asked by code that is not theirs."""

from __future__ import annotations

from itertools import pairwise
from statistics import median

import pytest
from etude_charts import INVENTED, LATER, briefs, etude_charts
from etude_charts import written as written_once
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.palette import cell_classes
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.level import Level
from halfstep.progression.chart import Chart

PLAIN = sorted(set(INVENTED) - {"waltz", "six eight"})


def written(step: str, name: str, level: Level = Level.INTERMEDIATE, seed: int = 1) -> Etude:
    return written_once(step, name, "alto-sax", level, seed)


def midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


def relative_outline(etude: Etude) -> float:
    line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    found = outline(line, etude.analysis.chart).whole.relative
    assert found is not None
    return found


@pytest.mark.slow
@given(etude_charts(), briefs(), st.sampled_from(LATER))
@settings(max_examples=150)
def test_a_later_step_is_written_over_any_chart_or_refused(
    chart: Chart, brief: Brief, step: str
) -> None:
    """What is written keeps its rules, which the writer asks again; it fills the form."""
    try:
        etude = write_etude(find_step(step), analyse(chart, level=brief.level), brief)
    except BriefError:
        return
    assert sum(note.beats for note in etude.notes) == etude.analysis.chart.beats


@pytest.mark.sampled
@pytest.mark.parametrize("name", INVENTED)
@pytest.mark.parametrize("step", LATER)
@pytest.mark.parametrize("level", Level)
def test_every_invented_chart_has_every_later_step(name: str, step: str, level: Level) -> None:
    etude = written(step, name, level)
    assert sum(note.beats for note in etude.notes) == etude.analysis.chart.beats
    if level is Level.ADVANCED:
        again = write_etude(etude.step, etude.analysis, etude.brief)
        assert etude.notes == again.notes


def test_guide_tones_begin_every_chord_and_go_by_small_steps() -> None:
    """While a triad lasts its third may go to another of its tones, as it has no seventh."""
    for name in INVENTED:
        etude = written("guide-tones", name, Level.BEGINNER)
        for number, note in enumerate(etude.notes):
            here = etude.analysis.chords[note.chord]
            begins = not number or etude.notes[number - 1].chord != note.chord
            alone = len(here.guides) == 1 and not begins
            tones = here.core if alone else here.guides or here.core
            classes = {tone.name.pitch_class for tone in tones}
            assert midi(note) % 12 in classes
        pairs = list(pairwise(etude.notes))
        assert max(abs(midi(b) - midi(a)) for a, b in pairs) <= 6
        assert median(abs(midi(b) - midi(a)) for a, b in pairs if a.chord != b.chord) <= 2


def test_decorated_guide_tones_are_held_and_led_to_by_step() -> None:
    etude = written("guide-tones", "evening class", Level.ADVANCED)
    for note, following in pairwise(etude.notes):
        if note.beats == 0.5 and following.beats >= 1:
            assert abs(midi(following) - midi(note)) in {1, 2}
    assert any(note.beats == 0.5 for note in etude.notes)


@pytest.mark.slow
def test_cells_are_made_of_root_second_third_and_fifth() -> None:
    for name in PLAIN:
        etude = written("cells", name)
        for note in etude.notes:
            if not note.pitch:
                continue
            assert midi(note) % 12 in cell_classes(etude.analysis.chords[note.chord])


@pytest.mark.slow
def test_approach_notes_resolve_by_step_to_chord_tones() -> None:
    kinds = set()
    for name in PLAIN:
        for note, following in pairwise(written("approach-notes", name).notes):
            if note.approach is not Approach.NONE:
                kinds.add(note.approach)
                tones = written_tones(written("approach-notes", name), following)
                assert abs(midi(following) - midi(note)) in {1, 2}
                assert midi(following) % 12 in tones
    assert kinds == {Approach.SCALE, Approach.CHROMATIC}


def written_tones(etude: Etude, note: EtudeNote) -> set[int]:
    return {tone.name.pitch_class for tone in etude.analysis.chords[note.chord].tones}


def test_enclosures_stand_above_and_below_their_tone() -> None:
    found = 0
    for name in PLAIN:
        notes = written("enclosures", name).notes
        for first, second, goal in zip(notes, notes[1:], notes[2:], strict=False):
            around = {first.approach, second.approach} == {Approach.ENCLOSURE}
            if around and goal.approach is Approach.NONE:
                found += 1
                assert (midi(first) - midi(goal)) * (midi(second) - midi(goal)) < 0
    assert found > 30


def test_a_motif_has_one_rhythm_and_one_contour_in_every_whole_bar_of_one_chord() -> None:
    etude = written("motif", "dominants")
    bars = [
        [note for note in etude.notes if 4 * bar <= note.onset < 4 * bar + 4] for bar in range(8)
    ]
    assert bars.pop(4)[0].pitch is None  # past the middle it comes late
    whole = [bar for bar in bars if not bar[-1].breath]  # a phrase may end on a held note
    rhythms = {tuple(note.beats for note in bar) for bar in whole}
    contours = {tuple(midi(b) > midi(a) for a, b in pairwise(bar)) for bar in whole}
    assert len(whole) >= 4
    assert len(rhythms) == len(contours) == 1
    assert len(bars[0]) >= 3


def test_two_bars_are_played_and_two_are_left() -> None:
    etude = written("call-and-response", "sixteen bars")
    silent = {int(note.onset // 4) % 4 for note in etude.notes if note.pitch is None}
    heard = {int(note.onset // 4) % 4 for note in etude.notes if note.pitch}
    assert (heard, silent) == ({0, 1}, {2, 3})


@pytest.mark.slow
@pytest.mark.parametrize(
    ("step", "least"),
    [
        ("broken-arpeggio", 0.9),
        ("one-line", 0.6),
        ("cells", 0.6),
        ("approach-notes", 0.6),
        ("enclosures", 0.6),
    ],
)
def test_a_step_spells_its_changes(step: str, least: float) -> None:
    """Relative outline, the median over charts, levels and seeds (see checks of outline)."""
    found = [
        relative_outline(written(step, name, level, seed))
        for name in PLAIN
        for level in Level
        for seed in (1, 2)
    ]
    assert median(found) >= least


@pytest.mark.slow
def test_guide_tones_spell_as_much_as_the_arpeggio() -> None:
    found = [
        relative_outline(written("guide-tones", name, level)) for name in PLAIN for level in Level
    ]
    assert median(found) >= 1.0
