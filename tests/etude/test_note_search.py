"""The search note by note against all lines of a tiny case, and what it says when blocked."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of, slots_laid_out

from halfstep.etude.blocked import Blocked
from halfstep.etude.cost_tables import CostTables, playability
from halfstep.etude.costs import TEMPERATURE, contour
from halfstep.etude.line_choice import outline_of_lines
from halfstep.etude.note_search import (
    OTHERWISE,
    SAME_BAR,
    THIRDS,
    _blocking,
    _in_bars,
    _InBar,
    _NoteSearch,
    _wishes,
    _words,
    search_notes,
    tables_of,
    with_contour,
)  # fmt: skip
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import IN_SCALE, MOVES_IN_SCALE
from halfstep.etude.slots import Slot, slots_of
from halfstep.etude.step import NoteByNote
from halfstep.etude.steps import find_step
from halfstep.random_stream import RandomStream
from halfstep.search import NoPath, best_path

SMALL = brief_over("key: C\n| G7 Cmaj7 |", low="G4", high="E5")
LENGTHS = (Fraction(1), Fraction(1))


def small_slots(request: BriefOverChart = SMALL) -> list[Slot]:
    """Two quarters for each of two chords; the last one closes the form."""
    slots = [
        slot
        for piece, palette in zip(request.cut, request.palettes, strict=True)
        for slot in slots_of(piece, piece.start, LENGTHS, palette, 0)
    ]
    return [*slots[:-1], slots[-1]._replace(last=True, closes=True)]


def in_bars(slots: list[Slot]) -> list[_InBar]:
    """The places of the slots in bars of four beats."""
    return list(_in_bars(slots, [0.0, 4.0]))


def writing_of(step: str) -> NoteByNote:
    writing = find_step(step).writing
    assert isinstance(writing, NoteByNote)
    return writing


def price(step: str, slots: list[Slot], line: tuple[int, ...]) -> float:
    """What a line costs, added up window by window; infinite where it breaks a rule."""
    total = sum(
        float(contour(np.array([midi]), np.array([slot.target]), writing_of(step).contour)[0])
        for slot, midi in zip(slots, line, strict=True)
    )
    for width in (1, 2, 3):
        for end in range(width, len(line) + 1):
            window = slots[end - width : end]
            midis = [np.asarray(midi) for midi in line[end - width : end]]
            for rule in find_step(step).local_rules:
                if rule.width == width and rule.applies(window) and not rule.holds(window, midis):
                    return float("inf")
            for cost in (*writing_of(step).costs, *playability(SMALL.brief)):
                if cost.width == width and cost.applies(window):
                    total += cost.weight * float(np.max(cost.amount(window, midis)))
    return total


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    "step", ["broken-arpeggio", "turning-scale", "one-line", "echo", "root-third", "motif"]
)
def test_the_cheapest_line_of_the_search_is_that_of_all_lines(step: str) -> None:
    slots = with_contour(small_slots(), SMALL.brief, RandomStream(4))
    expect_cheapest(step, slots, tables_of(find_step(step), writing_of(step), SMALL.brief))


@pytest.mark.slow
@pytest.mark.parametrize("step", ["one-line", "motif", "chorus"])
def test_below_high_points_the_cheapest_line_is_that_of_all_lines_too(step: str) -> None:
    """One after another with the same tables: what one leaves of them is not what another does."""
    slots = with_contour(small_slots(), SMALL.brief, RandomStream(4))
    tables = tables_of(find_step(step), writing_of(step), SMALL.brief)
    for top, place in (("C5", 2), ("E5", 3), ("E5", 2), ("C5", 3), ("D5", 0), ("B4", 2)):
        (high,) = midis_of(top)
        plan = [slot._replace(high_point=high, peaks=n == place) for n, slot in enumerate(slots)]
        expect_cheapest(step, plan, tables)


def expect_cheapest(step: str, slots: list[Slot], tables: CostTables) -> None:
    """Of all lines; where rules leave none the search says so."""
    prices = {
        other: price(step, slots, other)
        for other in product(midis_of("G4 A4 B4 C5 D5 E5"), repeat=4)
    }
    chain, midis = tables.chain(slots)
    if not np.isfinite(min(prices.values())):
        with pytest.raises(NoPath):
            best_path(chain)
        return
    path = best_path(chain)
    assert chain.cost(path) == pytest.approx(min(prices.values()))
    line = tuple(int(notes[state]) for notes, state in zip(midis, path, strict=True))
    assert prices[line] == pytest.approx(min(prices.values()))


@pytest.mark.slow
def test_lines_are_drawn_as_often_as_their_costs_say() -> None:
    """Chi-square of 1500 draws over the lines expected ten times or more.

    The rest are one class; 99.9 % of such sums lie below two and a half times the classes.
    """
    slots = with_contour(small_slots(), SMALL.brief, RandomStream(4))
    step, writing = find_step("root-third"), writing_of("root-third")
    tables = tables_of(step, writing, SMALL.brief)
    search = _NoteSearch(step, writing, SMALL.analysis, SMALL.brief, RandomStream(7), tables)
    told = outline_of_lines(slots, SMALL.analysis.chart)
    draws = Counter(tuple(search.filled(slots, [], told)) for _ in range(1500))
    weights = {
        line: np.exp(-price("root-third", slots, line) / TEMPERATURE)
        for line in product(midis_of("G4 B4 C5 E5"), repeat=4)
    }
    total = sum(weights.values())
    expected = {line: 1500 * weight / total for line, weight in weights.items()}
    often = [line for line, count in expected.items() if count >= 10]
    rest = 1500 - sum(expected[line] for line in often)
    others = 1500 - sum(draws[line] for line in often)
    statistic = sum((draws[line] - expected[line]) ** 2 / expected[line] for line in often)
    statistic += (others - rest) ** 2 / max(rest, 1)
    assert len(often) >= 3
    assert statistic < 2.5 * (len(often) + 1)
    assert all(np.isfinite(price("root-third", slots, line)) for line in draws)  # type: ignore[arg-type]


def test_a_seed_wishes_for_every_third_of_the_second_notes_of_bars() -> None:
    request = brief_over("| C7 | F7 |")
    slots = slots_laid_out("one-line", request)
    notes = [np.arange(60, 67)] * len(slots)
    costs = list(_wishes(in_bars(slots), notes, seed=1, chart=0))
    dear = [n for n, cost in enumerate(costs) if cost.any()]
    assert [float(slots[n].onset) for n in dear] == [0.5, 4.5]
    for n in dear:
        free = np.flatnonzero(costs[n] == 0)
        assert np.diff(free).tolist() == [THIRDS] * (len(free) - 1)
        assert set(costs[n].tolist()) == {0.0, OTHERWISE}


def test_three_neighbouring_seeds_wish_for_different_thirds() -> None:
    slots = slots_laid_out("one-line", brief_over("| C7 | F7 |"))
    notes = [np.arange(60, 69)] * len(slots)
    wishes = [list(_wishes(in_bars(slots), notes, seed, 0))[1] for seed in (3, 4, 5)]
    assert (sum(wish == 0 for wish in wishes) == 1).all()


def test_few_notes_leave_nothing_to_wish_for() -> None:
    slots = slots_laid_out("one-line", brief_over("| C7 | F7 |"))
    costs = _wishes(in_bars(slots), [np.arange(60, 62)] * len(slots), 1, 0)
    assert not any(cost.any() for cost in costs)


def test_a_bar_that_a_prior_line_has_is_a_word_with_its_price() -> None:
    slots = small_slots()
    notes = [np.array(midis_of("G4 A4 B4 C5"))] * 4
    known = [(slot.onset, slot.beats, midi) for slot, midi in
             zip(slots, midis_of("G4 B4 C5 A4"), strict=True)]  # fmt: skip
    words = list(_words(slots, notes, in_bars(slots), PriorNotes(known)))
    assert [(word.start, word.states, word.price) for word in words] == [
        (0, (0, 2, 3, 1), SAME_BAR)
    ]
    outside = [*known[:-1], (known[-1][0], known[-1][1], 61)]  # a note that may not stand there
    assert list(_words(slots, notes, in_bars(slots), PriorNotes(outside))) == []
    assert list(_words(slots, notes, in_bars(slots), PriorNotes(known[:-1]))) == []
    standing = [slot._replace(stands=True) for slot in slots]
    assert list(_words(standing, notes, in_bars(standing), PriorNotes(known))) == []


OCTAVE_ALONE = brief_over("key: F\n| C7 | F7 |", known="C4 C5")


def test_the_rule_that_blocks_is_the_one_without_which_there_is_a_line() -> None:
    """One note in two octaves is no third away across the change."""
    step, request = find_step("one-line"), OCTAVE_ALONE
    writing, rng = writing_of("one-line"), RandomStream(0)
    with pytest.raises(Blocked) as blocked:
        search_notes(step, writing, request.analysis, request.brief, request.palettes, rng)
    assert blocked.value.onset == 4
    assert blocked.value.label == "F7"
    rule = blocked.value.find_rule()
    where = "step 6 finds no line for piano at level intermediate into {chord} in bar 2: "
    assert blocked.value.sentence(2) == where + (
        f"the rule “{rule.text}” leaves no note there"
        if rule
        else "its rules together leave no note there"
    )
    assert blocked.value.marked_text.count("F7") == 1


def test_of_two_rules_that_block_together_neither_is_to_blame() -> None:
    """With one note alone no step can be made; asked twice, leaving one out does not help."""
    slots = slots_laid_out("one-line", OCTAVE_ALONE)[:2]
    alone = replace(OCTAVE_ALONE.brief, limits=(60, 60))
    assert _blocking([IN_SCALE, MOVES_IN_SCALE], slots, alone) is MOVES_IN_SCALE
    twice = [IN_SCALE, MOVES_IN_SCALE, MOVES_IN_SCALE._replace()]
    assert _blocking(twice, slots, alone) is None


@pytest.mark.parametrize("count", [1, 2, 7, 64])
def test_the_contour_leaves_heights_that_are_set_and_starts_alike(count: int) -> None:
    slots = [small_slots()[0]._replace(target=70.0 if n == 0 else 0.0) for n in range(count)]
    led = with_contour(slots, SMALL.brief, RandomStream(1))
    assert led[0].target == 70.0
    assert [slot.target for slot in led] == [
        slot.target for slot in with_contour(slots, SMALL.brief, RandomStream(1))
    ]
    low, high = SMALL.brief.concert_low, SMALL.brief.concert_high
    assert all(low <= slot.target <= high for slot in led)
