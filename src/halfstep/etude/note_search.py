"""The steps whose line is chosen note by note.

The slots are laid out first, then every slot may hold any note of the player's range;
rules forbid, costs rank, and the search picks. Rests cut the line into stretches that
are searched one by one. A bar that was heard before, in another etude of the same step,
has a price.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import groupby, pairwise

import numpy as np

from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.etude.blocked import Blocked
from halfstep.etude.costs import TEMPERATURE, Cost, awkward, contour, crossing, out_of_hand
from halfstep.etude.etude_brief import Brief
from halfstep.etude.kept_bars import JOINT, slots_with_pins
from halfstep.etude.layouts import LAYOUTS_TRIED, stretches
from halfstep.etude.line_choice import best_drawn, relative_outline
from halfstep.etude.palette import Midis, Palette
from halfstep.etude.prior_notes import Heard, Line, heard_in
from halfstep.etude.rules import LocalRule, palette
from halfstep.etude.seed_choices import manner
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.search import Chain, Costs, Lazy, NoPath, Word, best_path, sample_path

CONTOUR_WEIGHT = 0.35
HAND_WEIGHT = {Level.BEGINNER: 0.6, Level.INTERMEDIATE: 0.4, Level.ADVANCED: 0.25}
"""For a note that lies badly on the instrument, and again for two in a row."""
BREAK_WEIGHT = {Level.BEGINNER: 2.2, Level.INTERMEDIATE: 0.6, Level.ADVANCED: 0.2}
OTHERWISE = 2.0
"""For a note that a seed does not wish for; seed 0 has no wishes."""
THIRDS, WISHED = 3, 1
"""A seed wishes for every third of the notes that the second of a bar may be."""
SAME_BAR = 12.0
"""What a bar costs that an earlier etude has; a line shares it only when it must."""
MOST_TABLES = 2000
"""Tables known at a time; a table for three notes may take 100 kB."""
FAR_BACK = 32
"""Notes before a blocked one that are looked at to say which rule blocks."""


def line_step(
    step: Step,
    writing: NoteByNote,
    analysis: Analysis,
    brief: Brief,
    found: Sequence[Palette | None],
    rng: np.random.Generator,
    heard: Sequence[Etude] = (),
) -> tuple[list[Slot], Line]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Raises
    ------
    Blocked
        When no line keeps the rules; it names the rule and the chord where it fails.
    """
    least = step.least_outline
    tried: list[tuple[float, list[Slot], Line]] = []
    blocked: list[Blocked] = []
    lines = [heard_in(etude) for etude in heard]
    for layout in writing.layouts(analysis, brief, found, rng, lines):
        slots = with_contour(slots_with_pins(layout, analysis, brief, found), brief, rng)
        try:
            line = _filled(step, writing, slots, analysis, brief, rng, lines)
        except Blocked as error:
            blocked.append(error)
            if not tried and len(blocked) == LAYOUTS_TRIED:
                break
            continue
        told = relative_outline(slots, line, analysis.chart) if least else None
        if least is None or told is None or told >= least:
            return slots, line
        tried.append((told, slots, line))
    if not tried:
        raise blocked[-1]
    return max(tried, key=lambda each: each[0])[1:]


def _filled(
    step: Step,
    writing: NoteByNote,
    slots: Sequence[Slot],
    analysis: Analysis,
    brief: Brief,
    rng: np.random.Generator,
    heard: Sequence[Heard],
) -> Line:
    """Notes for the slots."""
    bars = [start for _, start in analysis.chart.placed()]

    def draw(more: Sequence[Heard]) -> Line:
        midis: Line = [None] * len(slots)
        for start, stop in stretches(slots):
            every = [*heard, *more]
            midis[start:stop] = _stretch(step, writing, slots[start:stop], brief, rng, bars, every)
        return midis

    least = step.least_outline if writing.redrawn else None
    return best_drawn(least, draw, slots, analysis.chart)


def with_contour(slots: Sequence[Slot], brief: Brief, rng: np.random.Generator) -> list[Slot]:
    """Give every slot a height to aim at: slow waves, the highest crest past the middle."""
    low, high = brief.concert_low, brief.concert_high
    middle, reach = (low + high) / 2, min(high - low, 24) / 2 * 0.6
    waves = rng.uniform(0.6, 1.4) * len(slots) / 32
    peak = rng.uniform(0.55, 0.8)
    places = np.arange(len(slots)) / max(1, len(slots) - 1)
    near_peak = np.cos((places - peak) * np.pi / 2 / max(peak, 1 - peak))
    crests = np.cos(2 * np.pi * waves * (places - peak)) * (0.4 + 0.4 * near_peak)
    heights = middle + reach * (crests + 0.6 * near_peak - 0.3)
    return [replace(s, target=s.target or float(h)) for s, h in zip(slots, heights, strict=True)]


def _stretch(
    step: Step,
    writing: NoteByNote,
    slots: Sequence[Slot],
    brief: Brief,
    rng: np.random.Generator,
    bars: Sequence[Fraction],
    heard: Sequence[Heard],
) -> list[int | None]:
    chain, notes = line_chain(step.local_rules, writing.costs, slots, brief)
    if brief.seed:
        ones = [
            one + wish
            for one, wish in zip(chain.ones, _wishes(slots, notes, bars, brief.seed), strict=True)
        ]
        chain = replace(chain, ones=ones)
    words = [word for line in heard for word in _words(slots, notes, bars, line)]
    try:
        path = sample_path(chain, temperature=TEMPERATURE, rng=rng, words=words)
    except NoPath as blocked:
        slot = slots[blocked.place]
        near = slots[max(0, blocked.place - FAR_BACK) : blocked.place + 1]
        find_rule = partial(_blocking, step.local_rules, near, brief)
        raise Blocked(step, brief, palette(slot).label, slot.onset, find_rule) from None
    return [int(midis[state]) for midis, state in zip(notes, path, strict=True)]


def _wishes(
    slots: Sequence[Slot], notes: Sequence[Midis], bars: Sequence[Fraction], seed: int
) -> Iterator[Costs]:
    """What a seed has against notes: against two of three for the second note of each bar.

    So another seed has another note there, and with it another bar.
    """
    for _, group in groupby(range(len(slots)), key=lambda n: bisect_right(bars, slots[n].onset)):
        for turn, n in enumerate(group):
            count = len(notes[n])
            if turn != WISHED or count < THIRDS:
                yield np.zeros(count)
                continue
            wanted = manner(seed, bisect_right(bars, slots[n].onset), 0, THIRDS)
            yield np.where(np.arange(count) % THIRDS == wanted, 0.0, OTHERWISE)


def _words(
    slots: Sequence[Slot], notes: Sequence[Midis], bars: Sequence[Fraction], heard: Heard
) -> Iterator[Word]:
    """The bars of another line that this one could have too, each at its price."""
    places = groupby(range(len(slots)), key=lambda n: bisect_right(bars, slots[n].onset))
    for _, group in places:
        bar = list(group)
        midis = heard.midis(slots[bar[0] : bar[-1] + 1])
        if midis is None or all(slots[n].stands for n in bar):
            continue
        states = [np.flatnonzero(notes[n] == midi) for n, midi in zip(bar, midis, strict=True)]
        if all(len(found) for found in states):
            yield Word(bar[0], tuple(int(found[0]) for found in states), SAME_BAR)


def _blocking(rules: Sequence[LocalRule], slots: Sequence[Slot], brief: Brief) -> LocalRule | None:
    """The rule without which the last of the slots can be reached; None when it takes two."""
    for left_out in rules:
        try:
            best_path(line_chain([r for r in rules if r is not left_out], (), slots, brief)[0])
        except NoPath as blocked:
            if blocked.place < len(slots) - 1:
                return None
        else:
            return left_out
    return None


def playability(brief: Brief) -> list[Cost]:
    """What is hard on the player's instrument: its break, notes and pairs that lie badly."""
    instrument = brief.instrument
    down = instrument.rise.semitones
    costs: list[Cost] = []
    if instrument.break_midi is not None:
        across = crossing(instrument.break_midi - down, BREAK_WEIGHT[brief.level])
        costs += [across] if across else []
    if instrument.easy is not None:
        easy = instrument.easy.low.midi - down, instrument.easy.high.midi - down
        costs += out_of_hand(easy, HAND_WEIGHT[brief.level])
    if pairs := awkward_pairs(instrument):
        costs += awkward(pairs, HAND_WEIGHT[brief.level])
    return costs


def line_chain(
    rules: Sequence[LocalRule], costs: Sequence[Cost], slots: Sequence[Slot], brief: Brief
) -> tuple[Chain, list[Midis]]:
    """Rules and costs as a chain, and the MIDI numbers its states stand for."""
    costs = [*costs, *playability(brief)]
    grid = np.arange(brief.concert_low, brief.concert_high + 1)
    tables = _Tables(rules, costs, grid, slots)
    ones = [
        tables.of(1, place) + contour(slot, tables.notes[place], CONTOUR_WEIGHT)
        for place, slot in enumerate(slots)
    ]
    twos = Lazy[Costs | None](len(slots), partial(tables.of, 2))
    threes = Lazy[Costs | None](len(slots), partial(tables.of, 3))
    return Chain(ones, twos, threes), tables.notes


class _Tables:
    """Cost tables over the notes a slot may hold, worked out once for each kind."""

    def __init__(
        self,
        rules: Sequence[LocalRule],
        costs: Sequence[Cost],
        grid: Midis,
        slots: Sequence[Slot],
    ) -> None:
        self.rules = rules
        self.costs = costs
        self.grid = grid
        self.slots = slots
        numbers: dict[tuple[object, ...], int] = {}
        self.kinds = [numbers.setdefault(slot.kind, len(numbers)) for slot in slots]
        self.known: dict[tuple[object, ...], Costs] = {}
        opened: dict[int, Midis] = {}
        for kind, slot in zip(self.kinds, slots, strict=True):
            if kind not in opened:
                opened[kind] = self._open_notes(slot)
        self.notes = [opened[kind] for kind in self.kinds]
        """The MIDI numbers that no rule for one note forbids, for each slot."""

    def _open_notes(self, slot: Slot) -> Midis:
        if slot.stands:
            return np.array([slot.pin])
        allowed = np.ones(len(self.grid), bool)
        for rule in self.rules:
            if rule.width == 1 and rule.applies([slot]):
                allowed &= rule.holds([slot], [self.grid])
        if slot.pin is not None:
            allowed = self.grid == slot.pin
        return self.grid[allowed]

    def of(self, width: int, place: int) -> Costs:
        """Summed costs of all open notes for the window that ends at a place.

        Infinite where a rule forbids; high where it is broken beside pinned notes.
        """
        start = place - width + 1
        window = self.slots[start : place + 1]
        same = tuple(old.palette is new.palette for old, new in pairwise(window))
        kind = (same, *self.kinds[start : place + 1])
        if kind not in self.known:
            if len(self.known) >= MOST_TABLES:
                self.known.clear()
            self.known[kind] = self._table(width, start, window)
        return self.known[kind]

    def _table(self, width: int, start: int, window: Sequence[Slot]) -> Costs:
        notes = self.notes[start : start + width]
        midis = np.ix_(*notes)
        table = np.zeros([len(each) for each in notes])
        for cost in self.costs:
            if cost.width == width:
                table += cost.weight * cost.amount(window, midis)
        standing = [slot.stands for slot in window]
        if width == 1 or all(standing):
            return table
        for rule in self.rules:
            if rule.width == width and rule.applies(window):
                broken = ~np.broadcast_to(rule.holds(window, midis), table.shape)
                table[broken] += JOINT if any(standing) else np.inf
        return table
