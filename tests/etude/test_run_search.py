"""Runs placed against all placings of a tiny case, and what each placing costs."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of

from halfstep.etude.blocked import Blocked
from halfstep.etude.chord_runs import DOWN, UP, ChordRun, RunShape, folded_shapes, ladder_of
from halfstep.etude.kept_bars import JOINT
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.run_search import (
    _JOIN,
    FAR,
    SAME_RUN,
    RunStretch,
    _blocking,
    _chain,
    _edge_join,
    _fresh,
    _off_root,
    _placings,
    _price,
    _rooted,
    _told,
    _with_ends,
    _with_turns,
)  # fmt: skip
from halfstep.etude.slots import Slot, slots_of
from halfstep.etude.step import OFF_ROOT, InRuns
from halfstep.etude.steps import find_step
from halfstep.random_stream import RandomStream
from halfstep.search import NoPath, best_path

THREE = brief_over("key: C\n| Dm7 | G7 | Cmaj7 |", low="C4", high="A5")
QUARTERS = (Fraction(1),) * 4
STEP = find_step("arpeggio")
WRITING = STEP.writing
assert isinstance(WRITING, InRuns)


def run_over(
    request: BriefOverChart, chord: int, *shapes: RunShape, lengths: tuple[Fraction, ...] = QUARTERS
) -> ChordRun:
    piece, palette = request.cut[chord], request.palette(chord)
    slots = slots_of(piece, piece.start, lengths, palette, 0)
    return ChordRun(slots, shapes or folded_shapes(UP), ladder_of(palette.core))


RUNS = [
    run_over(THREE, 0, *folded_shapes(UP)[:2]),
    run_over(THREE, 1, RunShape(DOWN, 3)),
    run_over(THREE, 2, RunShape(UP)),
]
COSTS = [
    dict(zip(map(tuple, made.midis.tolist()), made.costs.tolist(), strict=True))
    for made in (_placings(run, STEP.local_rules, THREE.brief, WRITING) for run in RUNS)
]
"""What each placing of each run costs by itself."""


def rows(run: ChordRun) -> list[tuple[int, ...]]:
    return [
        tuple(row) for row in _placings(run, STEP.local_rules, THREE.brief, WRITING).midis.tolist()
    ]


def test_every_placing_is_the_shape_from_some_rung() -> None:
    """1 3 5 7 from each tone of D minor seventh that leaves room above it."""
    run = run_over(THREE, 0, RunShape(UP))
    ladder = midis_of("C4 D4 F4 A4 C5 D5 F5 A5")
    assert rows(run) == [tuple(ladder[n : n + 4]) for n in range(5)]


def test_a_run_on_another_tone_costs_more_and_the_further_from_the_root_the_more() -> None:
    palette = THREE.palette(0)
    costs = [_off_root(palette, OFF_ROOT)[midi % 12] for midi in midis_of("D4 F4 A4 C5")]
    assert costs[0] == 0
    assert costs[1] >= OFF_ROOT
    assert costs[1:] == sorted(set(costs[1:]))


def test_runs_far_from_the_middle_cost_by_the_semitone() -> None:
    run = run_over(THREE, 0, RunShape(UP))
    placings = _placings(run, STEP.local_rules, THREE.brief, WRITING)
    middle = (THREE.brief.concert_low + THREE.brief.concert_high) / 2
    for row, cost in zip(placings.midis, placings.costs, strict=True):
        away = max(0.0, abs(row.mean() - middle) - 7)
        assert cost == pytest.approx(
            _off_root(THREE.palette(0), OFF_ROOT)[row[0] % 12] + FAR * away
        )


def price(line: list[tuple[int, ...]]) -> float:
    """What runs one after another cost, by hand; infinite where a rule is broken."""
    total = sum(costs[row] for costs, row in zip(COSTS, line, strict=True))
    slots: list[Slot] = [slot for run in RUNS for slot in run.slots]
    notes = [midi for row in line for midi in row]
    for rule in STEP.local_rules:
        for end in range(rule.width, len(notes) + 1):
            window = slots[end - rule.width : end]
            midis = [np.asarray(midi) for midi in notes[end - rule.width : end]]
            if rule.applies(window) and not rule.holds(window, midis):
                return float("inf")
    joins = [abs(new[0] - old[-1]) for old, new in pairwise(line)]
    return total + sum(float(_JOIN[size]) if size < len(_JOIN) else 2.5 for size in joins)


def test_runs_that_end_and_begin_alike_join_alike_and_each_as_its_notes_do() -> None:
    """Two ways up to each note, some with a leap before it; against the rules one by one."""
    old = run_over(THREE, 0, RunShape((0, 1, 2, 3)), RunShape((1, 0, 2, 3)), RunShape((2, 1, 0, 3)))
    new = run_over(THREE, 1, RunShape((3, 2, 1, 0)), RunShape((3, 2, 0, 1)))
    placings = [_placings(run, STEP.local_rules, THREE.brief, WRITING) for run in (old, new)]
    runs = [old, new]
    join = _edge_join(1, runs, placings, STEP.local_rules, 0.0, None)
    table = _with_turns(join.table(), 1, runs, placings)
    windows = [(old.slots[-2:], new.slots[:1]), (old.slots[-1:], new.slots[:2])]
    for (row, left), (column, right) in product(*(enumerate(made.midis) for made in placings)):
        size = abs(left[-1] - right[0])
        kept = all(
            rule.holds((*before, *after), [*left[-len(before) :, None], *right[: len(after), None]])
            for rule in STEP.local_rules
            for before, after in windows
            if rule.asks_notes_alone
        )
        joined = _JOIN[size] if size < len(_JOIN) else 2.5
        assert table[row, column] == (joined if kept else np.inf)
    assert np.isfinite(table).any()
    assert not np.isfinite(table).all()


def test_the_best_placing_of_three_runs_is_that_of_all() -> None:
    chain, _, placings = _chain(WRITING, RUNS, THREE.brief, STEP.local_rules)
    path = best_path(chain)
    least = min(price(list(line)) for line in product(*COSTS))
    assert chain.cost(path) == pytest.approx(least)
    best = [tuple(placed.midis[way].tolist()) for placed, way in zip(placings, path, strict=True)]
    assert price(best) == pytest.approx(least)


def test_drawn_runs_keep_the_rules_and_mostly_lie_near_the_best() -> None:
    rng = RandomStream(2)
    chain, _, _ = _chain(WRITING, RUNS, THREE.brief, STEP.local_rules)
    least = chain.cost(best_path(chain))
    prices = []
    stretch = RunStretch(STEP, WRITING, RUNS, THREE.brief)
    for _ in range(60):
        midis = stretch.drawn(rng)
        line = [tuple(midis[n : n + 4]) for n in (0, 4, 8)]
        prices.append(price(line))  # type: ignore[arg-type]
    assert all(np.isfinite(prices))
    assert float(np.median(prices)) < least + 2
    assert min(prices) >= least - 1e-9


def test_a_run_that_was_written_before_is_dearer() -> None:
    placings = _placings(RUNS[0], STEP.local_rules, THREE.brief, WRITING)
    row = placings.midis[2].tolist()
    prior = PriorNotes(
        (slot.onset, slot.beats, midi) for slot, midi in zip(RUNS[0].slots, row, strict=True)
    )
    dearer = _fresh(RUNS[0], placings, [prior, prior]) - placings.costs
    same = (placings.midis == row).all(axis=1)
    assert dearer.tolist() == (2 * SAME_RUN * same).tolist()
    assert same.any()
    assert not same.all()


@pytest.mark.parametrize(
    ("standing", "cost"), [([True, True], 0.0), ([True, False], JOINT), ([False, False], np.inf)]
)
def test_a_broken_rule_is_forbidden_but_beside_notes_that_stand(
    standing: list[bool], cost: float
) -> None:
    assert _price([RUNS[0].slots[0]._replace(stands=stands) for stands in standing]) == cost


def test_what_a_run_leaves_untold_is_least_for_its_most_telling_notes() -> None:
    request = brief_over("| C7 | F#7 |")
    run = run_over(request, 0, lengths=(Fraction(2), Fraction(2)))
    grid = np.array([[low, high] for low in range(60, 72) for high in range(60, 72)])
    untold = _told(run, grid)
    assert untold.min() == pytest.approx(0.0)
    assert (untold >= -1e-9).all()
    gains = request.palette(0).gain
    expected = [
        sum(gains[slot.weight].max() - gains[slot.weight, midi]
            for slot, midi in zip(run.slots, row, strict=True))
        for row in grid.tolist()
    ]  # fmt: skip
    assert untold.tolist() == pytest.approx(expected)


def test_a_rooted_run_stands_on_its_root_where_its_shape_says() -> None:
    run = run_over(THREE, 0, RunShape(UP))._replace(rooted=True)
    midis = np.array([midis_of("D4 F4 A4 C5"), midis_of("F4 A4 C5 D5")])
    first = np.zeros(len(midis), int)
    assert _rooted(run, THREE.palette(0), midis, first).tolist() == [True, False]
    later = run._replace(shapes=(RunShape(UP[1:]),))
    assert _rooted(later, THREE.palette(0), midis[:, 1:], first).tolist() == [True, False]
    free = run._replace(rooted=False)
    assert _rooted(free, THREE.palette(0), midis, first).all()


def test_phrases_and_the_last_note_are_marked_in_runs() -> None:
    request = brief_over("key: C\n| Dm7 | G7 | Cmaj7 |", instrument="alto-sax")
    marked = _with_ends(RUNS, request.analysis, request.brief)
    slots = [slot for run in marked for slot in run.slots]
    assert [n for n, slot in enumerate(slots) if slot.closes] == [11]
    assert [n for n, slot in enumerate(slots) if slot.last] == [11]
    assert slots[-1].breath
    assert not any(slot.breath for slot in slots[:-1])


def test_runs_without_a_placing_are_blocked_by_the_rule_that_forbids_them() -> None:
    """A rung from outside the scale may not stand."""
    off = RUNS[1]._replace(ladder=tuple(midis_of("C#4 D#4 F#4 G#4 C#5")), shapes=(RunShape(UP),))
    with pytest.raises(NoPath) as no_path:
        _chain(WRITING, [RUNS[0], off], THREE.brief, STEP.local_rules)
    assert no_path.value.place == 1
    with pytest.raises(Blocked, match="into G7") as blocked:
        RunStretch(STEP, WRITING, [RUNS[0], off], THREE.brief)
    assert blocked.value.onset == 4
    whole_steps = RUNS[0]._replace(ladder=tuple(midis_of("D4 E4 F4 G4")), shapes=(RunShape(UP),))
    rule = _blocking(STEP.local_rules, WRITING, [whole_steps], THREE.brief)
    assert rule is not None
    assert rule.text == "only tones of the arpeggio"


@pytest.mark.parametrize("again", [0.0, 2.5])
def test_a_join_costs_by_its_size_and_more_on_the_same_note(again: float) -> None:
    """Every placing of a run beside every one of the next, without rules."""
    placed = [_placings(run, [], THREE.brief, WRITING) for run in RUNS]
    table = _edge_join(1, RUNS, placed, [], again, None).table()
    sizes = np.abs(placed[0].midis[:, -1, None] - placed[1].midis[None, :, 0])
    assert 0 in sizes
    for size, cost in zip(sizes.ravel().tolist(), table.ravel().tolist(), strict=True):
        by_size = float(_JOIN[size]) if size < len(_JOIN) else 2.5
        assert cost == pytest.approx(by_size + (again if size == 0 else 0.0))
