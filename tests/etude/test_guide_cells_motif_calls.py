"""Guide tones, cells, a motif and calls, asked in plain code of what was written.

Source of what is asked: common practice, no source.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import cycle, pairwise, product

import pytest
from etude_charts import (
    INVENTED,
    briefs,
    chart_with,
    etude_charts,
    lengths_in,
    of_seeds,
)
from etude_charts import written as written_once
from hypothesis import given, settings
from hypothesis import strategies as st
from shared_bars import shared_bars
from typed_lines import typed

from halfstep.errors import BriefError
from halfstep.etude.calls import call_bars
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.played_back import fitting_classes
from halfstep.etude.rhythm_grammar import filled_in
from halfstep.etude.slots import pieces
from halfstep.etude.steps import find_step
from halfstep.etude.steps.cells import _spans, in_forms
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.progression.chart import Bar, Chart
from halfstep.random_stream import RandomStream
from strategies import COMMON, ROOTS
from typed_charts import read_chart_text

STEPS = ("guide-tones", "cells", "motif", "call-and-response")
PLAYERS = ("alto-sax", "trumpet", "trombone", "piano")
ODD = (Meter(2, 4), Meter(12, 8), Meter(9, 8), Meter(7, 4), Meter(7, 8), Meter(5, 8), Meter(3, 2))
"""Metres beside those of the shared charts."""


def over_chart(
    step: str, chart: Chart, level: Level = Level.INTERMEDIATE, player: str = "alto-sax",
    seed: int = 1,
) -> Etude:  # fmt: skip
    brief = Brief(INSTRUMENTS[player], level, 120.0, seed)
    return write_etude(find_step(step), analyse(chart, level=level), brief)


def invented(step: str, *players: str) -> list[Etude]:
    """The step over every invented chart, at every level, for these players or two in turn."""
    return [
        written_once(step, name, player, level, 1)
        for place, name in enumerate(INVENTED)
        for turn, level in enumerate(Level)
        for player in players or PLAYERS[(place + turn) % 2 :: 2]
    ]


def midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


def above_root(etude: Etude, note: EtudeNote) -> int:
    return (midi(note) - etude.analysis.chords[note.chord].span.symbol.root.pitch_class) % 12


def is_avoided(etude: Etude, note: EtudeNote) -> bool:
    """The fourth over a chord that has a major third and no fourth."""
    here = etude.analysis.chords[note.chord]
    root = here.span.symbol.root.pitch_class
    held = {(tone.name.pitch_class - root) % 12 for tone in here.tones}
    return 4 in held and 5 not in held and above_root(etude, note) == 5


def bars_of(etude: Etude) -> list[list[EtudeNote]]:
    """The notes that begin in each bar of the form."""
    bars = [(start, start + bar.beats) for bar, start in etude.analysis.chart.placed()
            if bar.number >= 1]  # fmt: skip
    return [[n for n in etude.notes if low <= n.onset < high] for low, high in bars]


# All four


@pytest.mark.slow
@pytest.mark.parametrize(
    ("step", "most"),
    [("broken-arpeggio", 0.0), ("guide-tones", 0.06), ("cells", 0.02), ("enclosures", 0.0)],
)
def test_two_seeds_seldom_share_half_their_bars(step: str, most: float) -> None:
    """Any two among six seeds, the levels in turn; guide tones in six eight, which must tell
    much, vary less.

    For four neighbours, written unlike each other, see the next test.
    """
    shared = [
        share
        for name, level in zip(INVENTED, cycle((Level.INTERMEDIATE, Level.ADVANCED)), strict=False)
        for share in shared_bars(of_seeds(step, name, level, range(1, 7)))
    ]
    assert sum(share >= 0.5 for share in shared) <= most * len(shared)
    assert max(shared) <= 0.75


@pytest.mark.slow
@pytest.mark.parametrize("level", Level)
def test_guide_tones_of_four_neighbouring_seeds_are_unlike_each_other(level: Level) -> None:
    """Forms of four bars left out: there two bars that must be so are half of all."""
    for name in INVENTED:
        etudes = of_seeds("guide-tones", name, level, range(4))
        if len(bars_of(etudes[0])) > 4:
            assert max(shared_bars(etudes)) <= 0.5


@pytest.mark.slow
@given(etude_charts(), briefs(), st.sampled_from(STEPS), st.integers(7, 14), st.data())
@settings(max_examples=40)
def test_a_narrow_range_or_few_notes_are_kept_or_refused(
    chart: Chart, brief: Brief, step: str, width: int, data: st.DataObject
) -> None:
    """Nothing but a refusal in words comes of limits and known notes; else they hold."""
    low = data.draw(st.integers(brief.concert_low, brief.concert_high))
    limits = (low, low + width)
    known = data.draw(st.none() | st.frozensets(st.integers(*limits), min_size=3))
    brief = replace(brief, limits=limits, known=known)
    try:
        etude = write_etude(find_step(step), analyse(chart, level=brief.level), brief)
    except BriefError:
        return
    heard = {midi(note) for note in etude.notes if note.pitch}
    assert heard <= set(range(low, low + width + 1))
    assert known is None or heard <= known


@pytest.mark.slow
@pytest.mark.parametrize(("step", "meter"), list(product(STEPS, ODD))[::2], ids=str)
def test_odd_metres_and_chords_of_half_a_beat_to_eight_bars_are_written(
    step: str, meter: Meter
) -> None:
    """Each metre has two of the steps."""
    rng = random.Random(step)
    lengths = [Fraction(1, 2), *lengths_in(meter), 8 * meter.bar_beats]
    chords, at = [(Fraction(0), "C7")], Fraction(0)
    while (at := at + rng.choice(lengths)) < 12 * meter.bar_beats:
        chords.append((at, rng.choice(ROOTS) + rng.choice(COMMON)))
    etude = over_chart(step, chart_with(meter, 12, chords))
    assert sum(note.beats for note in etude.notes) == 12 * meter.bar_beats


@pytest.mark.parametrize("step", STEPS)
def test_a_pickup_is_left_to_the_player_and_a_bar_without_chord_rests(step: str) -> None:
    chart = read_chart_text("key: F\n| C7 | F7 | N.C. | Bb7 | F7 |")
    pickup = Bar(0, chart.meter, Fraction(1), (), 0)
    chart = replace(chart, bars=(pickup, *chart.bars))
    assert chart.pickup_beats == 1
    etude = over_chart(step, chart)
    assert etude.notes[0].onset == 0
    assert all(note.pitch is None for note in bars_of(etude)[2])
    assert all(note.pitch for note in bars_of(etude)[0])


# Step 7


@pytest.mark.slow
def test_the_line_of_guide_tones_finds_a_start_that_has_no_leap_to_stumble_over() -> None:
    """A range of an octave and a half, where some starts strand on C4 before B♭4."""
    for seed in range(12):
        etude = written_once("guide-tones", "sixteen bars", "piano", Level.BEGINNER, seed)
        assert max(abs(midi(b) - midi(a)) for a, b in pairwise(etude.notes)) <= 7


@pytest.mark.slow
def test_a_guide_tone_takes_half_of_its_chords_stay_in_the_bar() -> None:
    """A chord that comes early has it longer still."""
    for name in INVENTED:
        for level in Level:
            etude = written_once("guide-tones", name, "alto-sax", level, 1)
            early = any(note.onset < begun(etude, note) for note in etude.notes)
            if early:
                assert level is Level.ADVANCED
                continue
            starts = {here.span.start for here in etude.analysis.chords}
            placed = etude.analysis.chart.placed()
            ends = [start + bar.beats for bar, start in placed if bar.number >= 1]
            for bar, end in zip(bars_of(etude), ends, strict=True):
                places = [n for n, note in enumerate(bar) if note.onset in starts or n == 0]
                for low, high in pairwise([*places, len(bar)]):
                    stay = sum(min(note.end, end) - note.onset for note in bar[low:high])
                    assert bar[low].beats * 2 >= stay


def begun(etude: Etude, note: EtudeNote) -> Fraction:
    """Where a note stands among those of its chord: with it, where it comes early."""
    return max(note.onset, etude.analysis.chords[note.chord].span.start)


@pytest.mark.slow
def test_a_beginner_plays_the_long_notes_alone() -> None:
    for name in INVENTED:
        etude = written_once("guide-tones", name, "alto-sax", Level.BEGINNER, 1)
        pulses = {bar.meter.tempo_beats for bar in etude.analysis.chart.bars}
        shortest = Fraction(1, 2) if Fraction(3, 2) in pulses else 1  # there and back in 6/8
        assert min(note.beats for note in etude.notes) >= shortest


@pytest.mark.slow
def test_over_one_chord_no_guide_tone_is_struck_again() -> None:
    """It is held, or the other one follows; a triad has no other one."""
    chart = read_chart_text("key: C\n| Dm7 | % | % | % | Ebm7 | % | Dm7 | % |")
    held = 0
    for seed in range(12):
        etude = over_chart("guide-tones", chart, Level.BEGINNER, seed=seed)
        for old, new in pairwise(etude.notes):
            assert old.chord != new.chord or midi(old) != midi(new)
        held += max(note.beats for note in etude.notes) > 4
    assert held


def test_a_cell_that_begins_off_its_root_is_told() -> None:
    """2 3 5 1 goes up as 1 2 3 5 does, but is no cell of F7."""
    cells = "C5 D5 E5 G5 G5 E5 D5 C5 | F5 G5 A5 C6 C6 A5 G5 F5,"
    etude, _ = typed("cells", "key: F\n| C7 | F7 |", cells, instrument="flute")
    assert not list(in_forms(etude))
    cells = cells.replace("F5 G5 A5 C6 C6", "G5 A5 C6 F6 C6")
    etude, _ = typed("cells", "key: F\n| C7 | F7 |", cells, instrument="flute")
    assert [note.onset for note in in_forms(etude)] == [4]


@pytest.mark.slow
@pytest.mark.parametrize("level", Level)
def test_guide_tones_spell_as_much_as_the_arpeggio_on_every_chart(level: Level) -> None:
    """Relative outline 1.0, but for what is lost in the last hundredth."""
    for name in INVENTED:
        etude = written_once("guide-tones", name, "alto-sax", level, 1)
        line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
        relative = outline(line, etude.analysis.chart).whole.relative
        assert relative is not None
        assert relative >= 0.98, name


# Step 8


@pytest.mark.slow
def test_one_cell_in_thirty_at_most_begins_on_the_note_before() -> None:
    again, joins = 0, 0
    for etude in invented("cells"):
        for old, new in pairwise(bars_of(etude)):
            if old[-1].pitch and new[0].pitch:
                again += midi(old[-1]) == midi(new[0])
                joins += 1
    assert again <= joins / 30


@pytest.mark.slow
def test_two_cells_of_a_bar_on_one_chord_differ_in_form() -> None:
    found = 0
    for etude in invented("cells"):
        for bar in bars_of(etude):
            if len(bar) == 8 and len({note.chord for note in bar}) == 1:
                first, second = ([n.degree for n in half] for half in (bar[:4], bar[4:]))
                assert first != second
                found += 1
    assert found > 150


@pytest.mark.slow
def test_a_cell_stands_on_its_root_wherever_the_player_has_all_of_it() -> None:
    """And a chord whose cells do not is named to the teacher; a beginner minds the break."""
    turned = 0
    for etude in invented("cells"):
        told = {chord for notice in etude.notices for chord in notice.chords}
        names = {str(etude.analysis.chords[index].span.symbol) for index in told}
        for index, here in enumerate(etude.analysis.chords):
            spans = [(p, s) for p in pieces(etude.analysis) if p.chord == index for s in _spans(p)]
            own = [note for note in etude.notes if note.chord == index and note.pitch]
            cells = [[n for n in own if s[0] <= begun(etude, n) < s[1]] for _, s in spans]
            for cell in (cell for cell in cells if len(cell) == 4):
                whole = len({midi(note) for note in cell}) == 4
                if whole and above_root(etude, min(cell, key=midi)) == 0:
                    continue
                turned += 1
                assert str(here.span.symbol) in names
                assert not _has_cell_from_root(etude, cell) or _minds_the_break(etude)
    assert turned > 5


def _minds_the_break(etude: Etude) -> bool:
    """True for a beginner whose instrument has a register break: a cell may not cross it."""
    brief = etude.brief
    return brief.level is Level.BEGINNER and brief.instrument.break_midi is not None


def _has_cell_from_root(etude: Etude, cell: list[EtudeNote]) -> bool:
    """True where root, second, third and fifth lie in the range, one above the other."""
    here = etude.analysis.chords[cell[0].chord]
    root = here.span.symbol.root.pitch_class
    own = {tone.degree.number: tone.degree.semitones for tone in here.tones}
    scale = {note.degree.number: note.degree.semitones for note in here.scale.notes}
    top = own.get(5, scale.get(5, 7)) % 12
    low, high = etude.brief.concert_low, etude.brief.concert_high
    return any(each % 12 == root and each + top <= high for each in range(low, high + 1))


def test_a_chord_of_half_a_bar_has_one_cell() -> None:
    etude = over_chart("cells", read_chart_text("key: F\n| C7 F7 | Bb7 C7 | F7 |"))
    for index in range(4):
        degrees = [note.degree.number for note in etude.notes if note.chord == index
                   and note.degree]  # fmt: skip
        assert sorted(degrees) == [1, 2, 3, 5]


@pytest.mark.slow
def test_cells_spell_the_change_at_three_of_four_bar_lines() -> None:
    told = []
    for etude in invented("cells"):
        line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
        changes = outline(line, etude.analysis.chart).changes
        told += [change.spelled for change in changes if change.spelled is not None]
    assert sum(told) / len(told) >= 0.75


# Step 11


@pytest.mark.slow
def test_a_figure_goes_the_same_way_in_every_bar_of_one_chord() -> None:
    """Its rhythm too, but for the end of a phrase, where the last note is held."""
    for etude in invented("motif", "alto-sax"):
        bars = [bar for bar in bars_of(etude) if len({n.chord for n in bar}) == 1]
        figure = max(bars, key=len)
        for bar in bars:
            shared = len(bar) - 1
            lengths = [note.beats for note in bar]
            assert lengths[:shared] == [note.beats for note in figure[:shared]]
            ways = [midi(b) > midi(a) for a, b in pairwise(bar)]
            assert ways == [midi(b) > midi(a) for a, b in pairwise(figure)][: len(ways)]
            assert bar[-1].beats >= 1 or not bar[-1].breath


@pytest.mark.slow
def test_a_figure_has_three_to_six_notes() -> None:
    for etude in invented("motif", "alto-sax"):
        assert 3 <= max(len(bar) for bar in bars_of(etude) if _one_chord(bar)) <= 6


def _one_chord(bar: list[EtudeNote]) -> bool:
    return len({note.chord for note in bar}) == 1


@pytest.mark.slow
@pytest.mark.parametrize("step", ["motif", "call-and-response"])
def test_a_long_note_does_not_stay_on_the_fourth_over_a_major_third(step: str) -> None:
    """One in a hundred may, where the figure leaves no other."""
    long = [(etude, n) for etude in invented(step) for n in etude.notes if n.pitch and n.beats >= 1]
    assert sum(is_avoided(etude, note) for etude, note in long) <= len(long) / 100


@pytest.mark.parametrize("meter", [Meter(6, 8), Meter(9, 8), Meter(12, 8), Meter(7, 8)], ids=str)
@pytest.mark.parametrize("level", Level)
def test_a_rhythm_in_groups_of_eighths_shows_every_group(meter: Meter, level: Level) -> None:
    """The rule of engraving that a beat is not hidden; common practice, no source."""
    for seed in range(30):
        rng = RandomStream(seed)
        lengths = filled_in(meter, Fraction(0), meter.bar_beats, level, rng, not_like=[])
        onsets = {sum(lengths[:n], Fraction(0)) for n in range(len(lengths))}
        assert set(meter.strong_beats) <= onsets
        assert sum(lengths) == meter.bar_beats


# Step 12


@pytest.mark.slow
def test_a_call_that_is_answered_asks() -> None:
    """Its last note is held and fits the chord, mostly as a tone of it, and is not the root."""
    ends = tones_of_chords = 0
    for etude in invented("call-and-response"):
        for note, after in pairwise(etude.notes):
            if note.pitch and after.pitch is None:
                ends += 1
                chord = etude.analysis.chords[note.chord]
                tones = {tone.name.pitch_class for tone in chord.tones}
                assert midi(note) % 12 in fitting_classes(chord)
                tones_of_chords += midi(note) % 12 in tones
                assert above_root(etude, note) != 0
                assert note.beats >= 1
    assert ends > 50
    assert tones_of_chords / ends > 0.9


def test_an_answer_is_left_as_whole_bars_of_rest_over_its_own_changes() -> None:
    """One rest a bar, though the chords change in it."""
    chart = read_chart_text("key: F\n| Gm7 C7 | Fmaj7 Dm7 | Gm7 C7 | Fmaj7 C7 |")
    etude = over_chart("call-and-response", chart)
    assert [len(bar) for bar in bars_of(etude)[2:4]] == [1, 1]
    assert sum(here.span.bar in (3, 4) for here in etude.analysis.chords) == 4


@given(st.integers(1, 40))
def test_calls_come_first_and_no_more_than_two_bars_are_played_in_a_row(bars: int) -> None:
    """An answer is as long as its call, but where an odd form cuts it short."""
    played = [number in call_bars(bars) for number in range(1, bars + 1)]
    assert played[0]
    assert not any(all(played[n : n + 3]) for n in range(bars - 2))
    assert 0 <= sum(played) - (bars - sum(played)) <= 1
