"""Where does each run start? Runs of fixed shape placed so that they join well.

A `ChordRun` is the notes of one chord, or of one bar of it, whose shape the step gives. Every
way to place it that keeps the rules is a state, and the search picks one for each run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache, partial
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from halfstep.edge_search import EdgeJoin, sample_joined_path
from halfstep.etude.blocked import Blocked
from halfstep.etude.chord_runs import ChordRun
from halfstep.etude.cost_tables import unhurried
from halfstep.etude.costs import TEMPERATURE, Cost
from halfstep.etude.etude_brief import Brief
from halfstep.etude.kept_bars import JOINT
from halfstep.etude.kept_runs import runs_with_pins
from halfstep.etude.line_choice import Work, best_drawn, outline_of_lines
from halfstep.etude.palette import Flags, Midis, Palette, chord_palettes
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rules import LocalRule, palette_at
from halfstep.etude.slots import Slot, phrase_ends, pieces, with_barrier
from halfstep.etude.step import InRuns, RunLayout, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, Lazy, NoPath, best_path, redrawn, sample_path

HIGHER_TONE = 0.5
"""And for each tone of the arpeggio that it is further from the root."""
RESTLESS = 2.0
"""For a phrase that ends on no tone of the arpeggio."""
SAME_RUN = 8.0
"""For a run that an earlier etude has: it is rather built on another tone."""
FAR_BACK = 8
"""Runs before a blocked one that are looked at to say which rule blocks."""
MOST_JOINS = 512
"""Tables from one run to the next that are kept while lines are drawn."""
MOST_STRETCHES = 64
"""Stretches that are kept, likewise."""
FAR = 0.15
"""For each semitone between a run and the middle of the range, beyond a fifth."""
# semitones from the end of one run to the start of the next: 0, 1, 2, …
_JOIN = np.array([0.6, 0.0, 0.0, 0.2, 0.2, 0.5, 0.8, 0.7, 1.2, 1.2, 1.5, 1.8, 1.6])


def search_runs(
    step: Step,
    writing: InRuns,
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    priors: Sequence[PriorNotes] = (),
) -> tuple[list[Slot], list[int | None]]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Raises
    ------
    Blocked
        When no placing of the runs keeps the rules.
    """
    runs = _with_ends(_runs(writing.layout, analysis, brief, palettes, rng), analysis, brief)
    runs = runs_with_pins(runs, analysis, brief, palettes)
    for barrier in dict.fromkeys((brief.barrier, None)):
        try:
            return _drawn(step, writing, _with_barrier(runs, barrier), analysis, brief, rng, priors)
        except Blocked as error:
            blocked = error
    raise blocked


def _with_barrier(runs: Sequence[ChordRun], barrier: int | None) -> list[ChordRun]:
    return [run._replace(slots=tuple(with_barrier(run.slots, barrier))) for run in runs]


def _drawn(
    step: Step,
    writing: InRuns,
    runs: Sequence[ChordRun],
    analysis: Analysis,
    brief: Brief,
    rng: RandomStream,
    lines: Sequence[PriorNotes],
) -> tuple[list[Slot], list[int | None]]:
    groups = [(resting, list(group)) for resting, group in groupby(runs, lambda run: run.rest)]
    stretch_of = lru_cache(MOST_STRETCHES)(lambda n: RunStretch(step, writing, groups[n][1], brief))

    def draw(more: Sequence[PriorNotes]) -> list[int | None]:
        midis: list[int | None] = []
        for number, (resting, stretch) in enumerate(groups):
            if resting:
                midis += [None] * sum(len(run.slots) for run in stretch)
            else:
                midis += stretch_of(number).drawn(rng, [*lines, *more])
        return midis

    def redraw(line: list[int | None], more: Sequence[PriorNotes]) -> list[int | None]:
        midis = list(line)
        stop = 0
        for number, (resting, stretch) in enumerate(groups):
            start, stop = stop, stop + sum(len(run.slots) for run in stretch)
            if not resting:
                midis[start:stop] = stretch_of(number).redrawn(
                    midis[start:stop], rng, [*lines, *more]
                )
        return midis

    slots = [slot for run in runs for slot in run.slots]
    if step.is_study:  # what is practised may come again as often as its chords do
        return slots, draw(())
    told = outline_of_lines(slots, analysis.chart)
    chart, work = analysis.chart, Work()
    return slots, best_drawn(step.least_outline, draw, redraw, slots, chart, told, work)


def _runs(
    layout: RunLayout,
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
) -> list[ChordRun]:
    """The runs of a step, laid out over all notes in range.

    Notes that the player does not know are left out by the rules; a ladder without them
    would jump over them unseen.
    """
    every = (
        chord_palettes(analysis, replace(brief, known=None))
        if brief.known is not None
        else palettes
    )
    cut, ends = pieces(analysis), phrase_ends(analysis, brief)
    return [
        run._replace(
            slots=tuple(
                slot._replace(palette=palettes[slot.palette.chord]) if slot.palette else slot
                for slot in run.slots
            )
        )
        for run in layout(cut, every, ends, brief, rng)
    ]


def _with_ends(runs: Sequence[ChordRun], analysis: Analysis, brief: Brief) -> list[ChordRun]:
    """Mark where phrases end, where players breathe, and the last note."""
    ends = phrase_ends(analysis, brief)
    stops = {start + bar.beats for bar, start in analysis.chart.placed() if bar.number in ends}
    breath = brief.instrument.breath
    marked = []
    for run in runs:
        stopping = [not run.rest and slot.onset + slot.beats in stops for slot in run.slots]
        slots = [
            slot._replace(closes=closes, breath=closes and breath)
            for slot, closes in zip(run.slots, stopping, strict=True)
        ]
        slots[-1] = slots[-1]._replace(last=run is runs[-1] and not run.rest)
        marked.append(run._replace(slots=tuple(slots)))
    return marked


class _Placings(NamedTuple):
    """Every way to place a run: ``midis`` has shape (ways, notes), ``costs`` (ways,)."""

    midis: Midis
    costs: Costs


def _edges(midis: Midis) -> tuple[Midis, Midis]:
    """The different rows of one or two notes, and for each row the number of its own."""
    codes = midis[:, 0] * 128 + midis[:, -1]
    _, places, numbers = np.unique(codes, return_index=True, return_inverse=True)
    return midis[places], numbers


def _told(run: ChordRun, midis: Midis) -> Costs:
    """What each row of notes leaves untold of its chord, in nats."""
    gains = palette_at(run.slots[0]).gain
    columns = zip(run.slots, midis.T, strict=True)
    return np.asarray(sum(gains[s.weight].max() - gains[s.weight, column] for s, column in columns))


def _placings(
    run: ChordRun, rules: Sequence[LocalRule], brief: Brief, writing: InRuns
) -> _Placings:
    ladder = np.array(run.ladder, int)
    middle = (brief.concert_low + brief.concert_high) / 2
    palette = palette_at(run.slots[0])
    if run.slots[0].stands:
        return _Placings(ladder[None, :], np.zeros(1))
    midis, shapes = _placed_shapes(run, ladder)
    begins = palette.tones | (palette.cell & (set(run.ladder) <= set(np.flatnonzero(palette.cell))))
    kept = begins[midis[:, 0]] & _rooted(run, palette, midis, shapes)
    midis, shapes = midis[kept], shapes[kept]
    kept = _keeps(rules, run.slots, midis)
    midis, shapes = midis[kept], shapes[kept]
    away = np.maximum(0.0, np.abs(midis.mean(axis=1) - middle) - 7)
    bases = np.array([shape.base for shape in run.shapes])[shapes]
    costs = (
        np.array([shape.cost for shape in run.shapes])[shapes]
        + _off_root(palette, writing.off_root)[midis[np.arange(len(midis)), bases] % 12]
        + FAR * away
        + RESTLESS * (run.slots[-1].closes & ~palette.core[midis[:, -1]])
        + _hurried_within(run, midis, unhurried(brief))
        + writing.untold * _told(run, midis)
    )
    return _Placings(midis, costs)


def _placed_shapes(run: ChordRun, ladder: Midis) -> tuple[Midis, Midis]:
    """The notes of every shape from every rung of the ladder, and the number of the shape.

    Returns
    -------
    midis : array of int, shape (ways, notes)
    shapes : array of int, shape (ways,)
    """
    placed, shapes = [np.zeros((0, len(run.slots)), int)], [np.zeros(0, int)]
    for number, shape in enumerate(run.shapes):
        offsets = np.array(shape.offsets)
        bases = np.arange(-min(shape.offsets), len(ladder) - max(shape.offsets))
        placed.append(ladder[bases[:, None] + offsets])
        shapes.append(np.full(len(bases), number))
    return np.concatenate(placed), np.concatenate(shapes)


def _hurried_within(run: ChordRun, midis: Midis, cost: Cost | None) -> Costs:
    """What each row of notes costs that crosses the player's break too quickly."""
    prices = np.zeros(len(midis))
    if cost is None:
        return prices
    for place in range(1, len(run.slots)):
        window = slice(place - 1, place + 1)
        slots = run.slots[window]
        if cost.applies(slots):
            prices += cost.weight * cost.amount(slots, list(midis[:, window].T))
    return prices


def _rooted(run: ChordRun, palette: Palette, midis: Midis, shapes: Midis) -> Flags:
    """For each row of notes, whether it stands on the root where the run asks for that."""
    if not run.rooted:
        return np.ones(len(midis), bool)
    classes = sorted(
        {midi % 12 for midi in run.ladder}, key=lambda pc: (pc - palette.root_class) % 12
    )
    firsts = np.array([classes[shape.offsets[0] % len(classes)] for shape in run.shapes])
    return np.asarray(midis[:, 0] % 12 == firsts[shapes])


def _off_root(palette: Palette, off_root: float) -> Costs:
    """What it costs to build a run on a note of each pitch class."""
    if not off_root:
        return np.zeros(12)
    above = {int(midi - palette.root_class) % 12 for midi in np.flatnonzero(palette.core)}
    prices = np.zeros(12)
    for rise in range(1, 12):
        tones_below = sum(tone < rise for tone in above)
        prices[(palette.root_class + rise) % 12] = off_root + HIGHER_TONE * tones_below
    return prices


def _keeps(rules: Sequence[LocalRule], slots: Sequence[Slot], midis: Midis) -> Flags:
    """For each row of notes, whether every window inside the run keeps the rules."""
    kept = np.ones(len(midis), bool)
    for rule in rules:
        for end in range(rule.width, len(slots) + 1):
            window = slots[end - rule.width : end]
            if rule.applies(window):
                kept &= rule.holds(window, list(midis[:, end - rule.width : end].T))
    return kept


class RunStretch:
    """Runs without a rest between them, and every way to place them: made once for all lines.

    Raises
    ------
    Blocked
        When no placing keeps the rules of the step; `drawn` too.
    """

    def __init__(self, step: Step, writing: InRuns, runs: Sequence[ChordRun], brief: Brief) -> None:
        self._step, self._writing, self._runs, self._brief = step, writing, runs, brief
        try:
            chain = _chain(writing, runs, brief, step.local_rules)
        except NoPath as no_path:
            raise self._blocked(no_path.place) from None
        self._chain, self._joins, self._placings = chain
        turning = any(run.turns for run in runs[1:])
        self._joins_by_edges = not turning and all(len(run.slots) > 1 for run in runs[1:-1])

    def drawn(self, rng: RandomStream, priors: Sequence[PriorNotes] = ()) -> list[int]:
        """Concert MIDI numbers for all notes of the runs, one after another."""
        chain = self._fresh_chain(priors)
        try:
            if self._joins_by_edges:
                path = sample_joined_path(chain.ones, self._joins, temperature=TEMPERATURE, rng=rng)
            else:
                path = sample_path(chain, temperature=TEMPERATURE, rng=rng)
        except NoPath as no_path:
            raise self._blocked(no_path.place) from None
        return self._line(path)

    def redrawn(
        self, line: Sequence[int | None], rng: RandomStream, priors: Sequence[PriorNotes]
    ) -> Sequence[int | None]:
        """The same notes, but for the runs that the last of the prior notes have."""
        own = list(self._own(line))
        pairs = zip(self._runs, own, strict=True)
        again = [n for n, (run, midis) in enumerate(pairs) if priors[-1].midis(run.slots) == midis]
        if not again:
            return line
        path = [
            int(np.flatnonzero((placing.midis == midis).all(axis=1))[0])
            for placing, midis in zip(self._placings, own, strict=True)
        ]
        chain = self._fresh_chain(priors)
        for place in again:
            here = place, place + 1
            path[slice(*here)] = redrawn(chain, path, here, temperature=TEMPERATURE, rng=rng)
        return self._line(path)

    def _fresh_chain(self, priors: Sequence[PriorNotes]) -> Chain:
        pairs = zip(self._runs, self._placings, strict=True)
        return replace(self._chain, ones=[_fresh(*pair, priors) for pair in pairs])

    def _line(self, path: Sequence[int]) -> list[int]:
        """The notes of a placing for each run."""
        ways = zip(self._placings, path, strict=True)
        return [int(midi) for placing, way in ways for midi in placing.midis[way]]

    def _own(self, line: Sequence[int | None]) -> Iterator[list[int | None]]:
        """The notes of each run."""
        stop = 0
        for run in self._runs:
            start, stop = stop, stop + len(run.slots)
            yield list(line[start:stop])

    def _blocked(self, place: int) -> Blocked:
        slot = self._runs[place].slots[0]
        near = self._runs[max(0, place - FAR_BACK) : place + 1]
        rules = self._step.local_rules
        find_rule = partial(_blocking, rules, self._writing, near, self._brief)
        return Blocked(self._step, self._brief, palette_at(slot).label, slot.onset, find_rule)


def _blocking(
    rules: Sequence[LocalRule], writing: InRuns, runs: Sequence[ChordRun], brief: Brief
) -> LocalRule | None:
    """The rule without which the last run can be placed; None when there is no single one."""
    for left_out in rules:
        try:
            best_path(_chain(writing, runs, brief, [r for r in rules if r is not left_out])[0])
        except NoPath:
            continue
        return left_out
    return None


def _chain(
    writing: InRuns,
    runs: Sequence[ChordRun],
    brief: Brief,
    rules: Sequence[LocalRule],
) -> tuple[Chain, Sequence[EdgeJoin], list[_Placings]]:
    """Runs as places of a chain, with their placings as states.

    The joins are all that its tables are of, where no run turns and none within is one note.

    Raises
    ------
    NoPath
        At the first run that has no placing.
    """
    kinds = _kinds(runs)
    known: dict[int, _Placings] = {}
    for place, (run, kind) in enumerate(zip(runs, kinds, strict=True)):
        if kind not in known:
            known[kind] = _placings(run, rules, brief, writing)
        if not len(known[kind].costs):
            raise NoPath(place)
    placings = [known[kind] for kind in kinds]
    count, hurried = len(runs), unhurried(brief)
    changes = [one.slots[-1].palette is not two.slots[0].palette for one, two in pairwise(runs)]
    borders = zip(pairwise(kinds), changes, strict=True)
    firsts: dict[tuple[object, ...], int] = {}
    alike = [0, *(firsts.setdefault(border, n) for n, border in enumerate(borders, 1))]
    again = writing.again
    by_edges = lru_cache(MOST_JOINS)(lambda n: _edge_join(n, runs, placings, rules, again, hurried))
    join = lru_cache(MOST_JOINS)(lambda n: _with_turns(by_edges(n).table(), n, runs, placings))
    chain = Chain(
        [placing.costs for placing in placings],
        Lazy[Costs | None](count, lambda n: join(alike[n])),
        Lazy[Costs | None](count, lambda n: _over_one(n, runs, placings, rules)),
    )
    return chain, Lazy(count, lambda n: by_edges(alike[n])), placings


def _kinds(runs: Sequence[ChordRun]) -> list[int]:
    """A number for each run, the same for those whose placings and joins are."""
    looks: dict[Palette, tuple[object, ...]] = {}
    look_numbers: dict[tuple[object, ...], int] = {}
    kinds: dict[tuple[object, ...], int] = {}
    numbers = []
    for run in runs:
        palette = palette_at(run.slots[0])
        look = looks.setdefault(palette, palette.look)
        number = look_numbers.setdefault(look, len(look_numbers))
        marks = tuple(slot.marks for slot in run.slots)
        kind = (number, marks, run.shapes, run.ladder, run.rooted, run.turns)
        numbers.append(kinds.setdefault(kind, len(kinds)))
    return numbers


def _fresh(run: ChordRun, placings: _Placings, priors: Sequence[PriorNotes]) -> Costs:
    """The costs of each placing, dearer where prior notes are the same."""
    known = [line.midis(run.slots) for line in priors]
    times = sum((placings.midis == midis).all(axis=1) for midis in known if midis is not None)
    return np.asarray(placings.costs + SAME_RUN * times)


def _with_turns(
    table: Costs, place: int, runs: Sequence[ChordRun], placings: Sequence[_Placings]
) -> Costs:
    """The costs from each placing of a run to each of the next, those of one direction dearer."""
    old, new = placings[place - 1].midis, placings[place].midis
    if runs[place].turns and old.shape[1] == new.shape[1]:
        up, on = np.diff(old) > 0, np.diff(new) > 0
        window = runs[place - 1].slots[-2:][0], runs[place].slots[:2][-1]
        table[(up[:, None] == on[None]).all(axis=2)] += _price(window)
    return table


def _edge_join(
    place: int,
    runs: Sequence[ChordRun],
    placings: Sequence[_Placings],
    rules: Sequence[LocalRule],
    again: float,
    hurried: Cost | None,
) -> EdgeJoin:
    """What it costs to go from a run to the next but for directions: two notes on either side."""
    old, ends = _edges(placings[place - 1].midis[:, -2:])
    new, starts = _edges(placings[place].midis[:, :2])
    distance = np.abs(old[:, -1, None] - new[None, :, 0])
    table = np.where(distance < len(_JOIN), _JOIN[np.minimum(distance, 12)], 2.5)
    table += again * (distance == 0)
    border_slots = (runs[place - 1].slots[-1], runs[place].slots[0])
    if hurried and hurried.applies(border_slots):
        sides = [old[:, -1, None], new[None, :, 0]]
        table += hurried.weight * hurried.amount(border_slots, sides)
    slots = (*runs[place - 1].slots[-2:], *runs[place].slots[:2])
    columns = [*old.T[:, :, None], *new.T[:, None]]
    border = old.shape[1]
    for rule in rules:
        for end in range(border + 1, len(columns) + 1):
            start = end - rule.width
            if not 0 <= start < border:
                continue
            window = slots[start:end]
            if rule.applies(window):
                held = rule.holds(window, columns[start:end])
                table += np.where(held, 0.0, _price(window))
    return EdgeJoin(ends, starts, table)


def _price(window: Sequence[Slot]) -> float:
    """What it costs to break a rule: too much, unless there are the teacher's own notes."""
    standing = [slot.stands for slot in window]
    return 0.0 if all(standing) else JOINT if any(standing) else np.inf


def _over_one(
    place: int, runs: Sequence[ChordRun], placings: Sequence[_Placings], rules: Sequence[LocalRule]
) -> Costs | None:
    """Rules for three notes whose middle one is a run of its own."""
    if len(runs[place - 1].slots) != 1:
        return None
    first, middle, last = (placings[place - back].midis for back in (2, 1, 0))
    window = (runs[place - 2].slots[-1], runs[place - 1].slots[0], runs[place].slots[0])
    columns = [first[:, -1, None, None], middle[None, :, 0, None], last[None, None, :, 0]]
    table = np.zeros((len(first), len(middle), len(last)))
    for rule in rules:
        if rule.width == 3 and rule.applies(window):
            table += np.where(rule.holds(window, columns), 0.0, _price(window))
    return table
