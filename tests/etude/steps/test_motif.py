"""The motif: one figure in every bar, adapted only where it must; common practice, no source."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from statistics import mean

import numpy as np
import pytest
from briefs_over_charts import brief_over, slots_laid_out
from etude_charts import INVENTED
from hypothesis import given, settings
from hypothesis import strategies as st
from step_lines import (
    CADENCE,
    CHARTS,
    broken_rules,
    keeps,
    line_of,
    midi,
    relative_outline_of,
    rule_of,
    words_on,
)
from typed_lines import typed

from halfstep.etude.steps.motif import (
    FEWEST,
    MOST,
    MOST_STRAIGHT,
    SIZES,
    _drawn,
    _held,
    _moves,
    exact_bars,
    figure,
    figure_gives_way,
    shifted_bar,
    unlike_figure,
)  # fmt: skip
from halfstep.meter import Feel, Meter
from halfstep.random_stream import RandomStream
from strategies import meters

FALLING = "key: F\n| C7 | F7 |"
LINE = "C4- D4{1} E4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"
BRIEF = brief_over(FALLING).brief


@pytest.mark.slow
@settings(max_examples=40)
@given(meters(), st.integers(0, 500))
def test_a_figure_fills_its_bar_with_small_steps(meter: Meter, seed: int) -> None:
    made = _drawn(meter, BRIEF, RandomStream(seed), Feel.SWING)
    onsets, moves = [at for at, _ in made], [move for _, move in made]
    assert onsets[0] == 0
    assert onsets == sorted(set(onsets))
    assert onsets[-1] < meter.bar_beats
    assert moves[0] == 0
    assert {abs(move) for move in moves[1:]} <= set(SIZES)
    straight = 1
    for old, new in pairwise(moves[1:]):
        straight = straight + 1 if old * new > 0 else 1
        assert straight <= MOST_STRAIGHT
    if meter.bar_beats in {3, 4}:
        assert FEWEST <= len(made) <= MOST


@pytest.mark.slow
def test_steps_are_mostly_small_ones() -> None:
    """Chi-square of 400 ways, wide ones among them; 13.8 is passed once in a thousand (memory)."""
    rng = RandomStream(8)
    moves = [abs(move) for _ in range(400) for move in _moves(4, rng)[1:]]
    counts = np.array([moves.count(size) for size in (1, 2, 3)])
    expected = len(moves) * np.array([3, 2, 1]) / 6
    assert ((counts - expected) ** 2 / expected).sum() < 13.8


@pytest.mark.parametrize(
    ("meter", "onsets", "held"),
    [
        (Meter(4, 4), "0 1 2 3", "0 1 2 3"),
        (Meter(4, 4), "0 1 2 7/2", "0 1 2"),
        (Meter(4, 4), "0 1 3 7/2", "0 1 3"),
        (Meter(6, 8), "0 1 3/2 5/2", "0 1 3/2"),
        (Meter(1, 8), "0 1/4", "0"),
    ],
)
def test_where_a_phrase_ends_the_end_of_the_figure_is_held(
    meter: Meter, onsets: str, held: str
) -> None:
    made = [(Fraction(at), 1) for at in onsets.split()]
    assert _held(made, meter) == [(Fraction(at), 1) for at in held.split()]


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        (LINE, set()),
        (LINE.replace("C4-", "D4-", 1).replace("D4{1}", "E4{1}").replace("E4{1} E4", "E4{1} F4"),
         {"the figure begins on a chord tone"}),
        (LINE.replace("G4--{1}", "C4--{1}"), {"the figure keeps its directions"}),
        (LINE.replace("G4--{1}", "C4--{-1}"), set()),
        (LINE.replace("E4{1}", "D4{1}"), {"the figure keeps its directions"}),
    ],
)  # fmt: skip
def test_a_line_typed_by_hand_breaks_just_these_rules(line: str, broken: set[str]) -> None:
    assert broken_rules("motif", FALLING, line) == broken


@pytest.mark.parametrize(
    ("notes", "up", "down"),
    [("C4 D4", True, False), ("D4 C4", False, True), ("C4 C4", False, False),
     ("C4 C5", True, False)],
)  # fmt: skip
def test_directions_are_kept_and_standing_still_is_none(notes: str, up: bool, down: bool) -> None:
    rule = rule_of("motif", "the figure keeps")
    rising = typed("motif", FALLING, "C4- D4{2} E4{1} G4--{1} | F4----")[1][:2]
    falling = typed("motif", FALLING, "C4- D4{-2} E4{1} G4--{1} | F4----")[1][:2]
    assert keeps(rule, rising, notes) is up
    assert keeps(rule, falling, notes) is down


@pytest.mark.parametrize(
    ("notes", "cost"), [((60, 62), 1), ((60, 64), 0), ((60, 65), 1), ((60, 60), 2), ((64, 60), 4)]
)
def test_each_step_more_or_less_than_the_figure_has_costs_one(
    notes: tuple[int, int], cost: int
) -> None:
    slots = typed("motif", FALLING, "C4- E4{2} E4{1} G4--{1} | F4----")[1][:2]
    assert float(unlike_figure(slots, [np.asarray(note) for note in notes])) == cost


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("seed", range(3))
def test_every_bar_goes_where_the_figure_goes(chart: str, seed: int) -> None:
    """The directions of the motif marks are those of the notes, in each bar alike."""
    request = brief_over(chart, seed=seed)
    etude = line_of("motif", request)
    bar_beats = etude.analysis.chart.meter.bar_beats
    late = shifted_bar(request.analysis, request.brief)
    routes: dict[Fraction, set[bool]] = defaultdict(set)
    for old, new in pairwise(etude.notes):
        if not (old.pitch and new.pitch) or new.onset // bar_beats + 1 == late:
            continue
        at = new.onset % bar_beats
        starts = {etude.analysis.chords[new.chord].span.start}
        if at and new.onset not in starts:
            routes[at].add(midi(new) > midi(old))
    assert routes
    assert all(len(directions) == 1 for directions in routes.values())


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_in_a_third_of_the_bars_the_figure_is_exact(chart: str, level: str) -> None:
    """Step for step of the scale, as the written notes say; one bar past the middle is late."""
    request = brief_over(chart, level=level, seed=1)
    etude = line_of("motif", request)
    bar_beats = etude.analysis.chart.meter.bar_beats
    exact = exact_bars(request.analysis)
    bars = len(etude.analysis.chart.form)
    assert 3 * len(exact) >= bars
    shapes: dict[int, dict[Fraction, int]] = defaultdict(dict)
    late = shifted_bar(request.analysis, request.brief)
    starts = {chord.span.start for chord in etude.analysis.chords}
    for old, new in pairwise(etude.notes):
        bar, at = int(new.onset // bar_beats) + 1, new.onset % bar_beats
        if bar in exact and bar != late and at and new.onset not in starts:
            rank = request.palette(new.chord).scale_rank
            shapes[bar][at] = int(rank[midi(new)] - rank[midi(old)])
    moves = {at: {shape[at] for shape in shapes.values() if at in shape} for at in shapes[1]}
    assert moves
    assert all(len(each) == 1 for each in moves.values())
    silent = [note for note in etude.notes if note.pitch is None]
    assert [int(note.onset // bar_beats) + 1 for note in silent] == ([late] if late else [])


def test_the_rhythm_of_the_figure_is_heard_in_every_whole_bar() -> None:
    slots = slots_laid_out("motif", brief_over(CADENCE), 4)
    bars: dict[int, list[Fraction]] = defaultdict(list)
    for slot in slots:
        bars[int(slot.onset // 4)].append(slot.beats)
    assert bars[0] == bars[1] == bars[2] == bars[5] == bars[6]
    assert slots[sum(map(len, list(bars.values())[:4]))].palette is None  # it comes late in bar 5


@pytest.mark.parametrize(
    ("line", "text", "gives_way"),
    [
        (LINE, "The figure is C D E G in bar 1; the same shape comes back in bar 2.", ""),
        ("C4- D4{1} E4{1} G4--{1} | F4- G4{1} A4{1} D5--{1},", "The figure is C D E G in bar 1.",
         "Over F7 in bar 2 it changes to fit the chord: F G A D."),
    ],
)  # fmt: skip
def test_the_figure_is_told_and_where_it_gives_way(line: str, text: str, gives_way: str) -> None:
    assert words_on(figure, "motif", FALLING, line) == text
    assert words_on(figure_gives_way, "motif", FALLING, line) == gives_way


@pytest.mark.slow
def test_a_motif_tells_most_of_what_the_plain_arpeggio_does() -> None:
    """On the mean of charts that its costs were not chosen on; the measure is the program's own."""
    lines = [line_of("motif", brief_over(c, seed=n)) for c in INVENTED.values() for n in (1, 2)]
    assert mean(map(relative_outline_of, lines)) >= 0.8


def test_where_no_line_keeps_the_figure_in_a_third_of_the_bars_that_is_said() -> None:
    few = brief_over(CADENCE, level="beginner", seed=1, known="E4 F4 G4 A4 Bb4")
    (text,) = [notice.text for notice in line_of("motif", few).notices if "exact" in notice.text]
    assert text.startswith("the figure is exact in fewer bars than a third: it gives way in bar")
    every = brief_over(CADENCE, level="beginner", seed=1)
    assert not any("exact" in notice.text for notice in line_of("motif", every).notices)
