"""The steps whose line is chosen note by note.

The slots are laid out first, then every slot may hold any note of the player's range;
rules forbid, costs rank, and the search picks. Rests cut the line into stretches that
are searched one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from halfstep.errors import BriefError
from halfstep.etude.costs import TEMPERATURE, Amounts, Cost, contour, crossing
from halfstep.etude.frame import Midis, Palette, Slot
from halfstep.etude.layouts import stretches
from halfstep.etude.parts import Brief
from halfstep.etude.rules import EVERY_STEP, LocalRule, palette
from halfstep.etude.search import Chain, Costs, NoPath, sample_path
from halfstep.etude.tables import LAYOUTS, LINE_COSTS, STEP_RULES
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Level

CONTOUR_WEIGHT = 0.35
BREAK_WEIGHT = {Level.BEGINNER: 1.5, Level.INTERMEDIATE: 0.6, Level.ADVANCED: 0.2}

_Table = Callable[[Sequence[Slot], Sequence[Midis]], Amounts]


def line_step(
    step: int,
    analysis: Analysis,
    brief: Brief,
    found: Sequence[Palette | None],
    rng: np.random.Generator,
) -> tuple[list[Slot], list[int | None]]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Raises
    ------
    BriefError
        When no line keeps the rules; the message names the chord where it fails.
    """
    slots = with_contour(LAYOUTS[step](analysis, brief, found, rng), brief, rng)
    midis: list[int | None] = [None] * len(slots)
    for start, stop in stretches(slots):
        midis[start:stop] = _stretch(step, slots[start:stop], brief, rng)
    return slots, midis


def with_contour(slots: Sequence[Slot], brief: Brief, rng: np.random.Generator) -> list[Slot]:
    """Give every slot a height to aim at: a slow wave with its peak past the middle."""
    low, high = brief.concert_low, brief.concert_high
    middle, reach = (low + high) / 2, min(high - low, 24) / 2 * 0.6
    waves = rng.uniform(0.6, 1.4) * len(slots) / 32
    phase = rng.uniform(0, 2 * np.pi)
    places = np.arange(len(slots)) / max(1, len(slots) - 1)
    arch = 0.5 * np.sin(np.pi * places**1.4)
    heights = middle + reach * (0.8 * np.sin(2 * np.pi * waves * places + phase) + arch - 0.2)
    return [replace(s, target=s.target or float(h)) for s, h in zip(slots, heights, strict=True)]


def _stretch(
    step: int, slots: Sequence[Slot], brief: Brief, rng: np.random.Generator
) -> list[int | None]:
    chain, notes = line_chain(step, slots, brief)
    try:
        path = sample_path(chain, temperature=TEMPERATURE, rng=rng)
    except NoPath as blocked:
        label = palette(slots[blocked.place]).label
        raise BriefError(
            f"step {step} finds no line for {brief.instrument.key} at level {brief.level} "
            f"into {label} that keeps its rules; widen the range or leave the step out"
        ) from None
    return [int(midis[state]) for midis, state in zip(notes, path, strict=True)]


def line_chain(step: int, slots: Sequence[Slot], brief: Brief) -> tuple[Chain, list[Midis]]:
    """Rules and costs of a step as a chain, and the MIDI numbers its states stand for."""
    rules = [r for r in (*EVERY_STEP, *STEP_RULES[step]) if isinstance(r, LocalRule)]
    costs = list(LINE_COSTS[step])
    instrument = brief.instrument
    if instrument.break_midi is not None:
        concert_break = instrument.break_midi - instrument.rise.semitones
        costs += [c for c in [crossing(concert_break, BREAK_WEIGHT[brief.level])] if c]
    tables = _Tables(rules, costs, np.arange(brief.concert_low, brief.concert_high + 1))
    notes = [tables.open_notes(slot) for slot in slots]
    ones = [
        tables.of(1, [slot]) + contour(slot, midis, CONTOUR_WEIGHT)
        for slot, midis in zip(slots, notes, strict=True)
    ]
    twos = [None, *(tables.of(2, pair) for pair in pairwise(slots))]
    windows = zip(slots, slots[1:], slots[2:], strict=False)
    threes = [None, None, *(tables.of(3, window) for window in windows)]
    return Chain(ones, twos[: len(slots)], threes[: len(slots)]), notes


class _Tables:
    """Cost tables over the notes a slot may hold, worked out once for each kind."""

    def __init__(self, rules: Sequence[LocalRule], costs: Sequence[Cost], grid: Midis) -> None:
        self.rules = rules
        self.costs = costs
        self.grid = grid
        self.opened: dict[tuple[object, ...], Midis] = {}
        self.known: dict[tuple[object, ...], Costs] = {}

    def open_notes(self, slot: Slot) -> Midis:
        """The notes of the range that no rule for one note forbids here."""
        if slot.kind not in self.opened:
            allowed = np.ones(len(self.grid), bool)
            for rule in self.rules:
                if rule.width == 1 and rule.applies([slot]):
                    allowed &= rule.holds([slot], [self.grid])
            if slot.pin is not None:
                allowed = self.grid == slot.pin
            self.opened[slot.kind] = self.grid[allowed]
        return self.opened[slot.kind]

    def of(self, width: int, window: Sequence[Slot]) -> Costs:
        """Summed costs of all open notes for a window; infinite where a rule forbids."""
        same = tuple(old.palette is new.palette for old, new in pairwise(window))
        kind = (same, *(slot.kind for slot in window))
        if kind not in self.known:
            self.known[kind] = self._table(width, window)
        return self.known[kind]

    def _table(self, width: int, window: Sequence[Slot]) -> Costs:
        notes = [self.open_notes(slot) for slot in window]
        midis = np.ix_(*notes)
        table = np.zeros([len(each) for each in notes])
        for cost in self.costs:
            if cost.width == width:
                table += cost.weight * cost.amount(window, midis)
        for rule in self.rules:
            if rule.width == width > 1 and rule.applies(window):
                table[~np.broadcast_to(rule.holds(window, midis), table.shape)] = np.inf
        return table
