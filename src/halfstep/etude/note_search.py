"""The steps whose line is chosen note by note.

The slots are laid out first, then every slot may hold any note of the player's range;
rules forbid, costs rank, and the search picks. Rests cut the line into stretches that
are searched one by one. A bar that another etude of the same step has already has a price.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cache, partial
from itertools import groupby
from typing import NamedTuple

import numpy as np

from halfstep.etude.blocked import Blocked
from halfstep.etude.chart_number import chart_number
from halfstep.etude.cost_tables import CostTables
from halfstep.etude.costs import CONTOUR_REACH, TEMPERATURE
from halfstep.etude.etude_brief import Brief
from halfstep.etude.high_point import high_points
from halfstep.etude.kept_bars import slots_with_pins
from halfstep.etude.layouts import stretches
from halfstep.etude.line_choice import (
    MOST_DRAWN,
    MOST_OF_LAYOUT,
    Told,
    Work,
    best_drawn,
    outline_of_lines,
)
from halfstep.etude.palette import Midis, Palette
from halfstep.etude.pinned_notes import first_pinned_breach
from halfstep.etude.prior_notes import Line, Place, PriorNotes, place_of
from halfstep.etude.rules import HIGH_POINT, LocalRule, palette_at
from halfstep.etude.seed_choices import manner
from halfstep.etude.slots import Slot, with_barrier
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream
from halfstep.search import Chain, Costs, NoPath, Word, best_path, redrawn, sample_paths

OTHERWISE = 2.0
"""For a note that a seed does not wish for; seed 0 has no wishes."""
THIRDS, WISHED = 3, 1
"""A seed wishes for every third of the notes that the second of a bar may be."""
SAME_BAR = 12.0
"""What a bar costs that an earlier etude has; a line shares it only when it must."""
HIGH, REACH = (0.76, 1.0), 26
"""How far the highest note of a line should be above the middle of the range, as a share of half
of it; of a wider one than so many semitones no more is used."""
NEAR = (3, 2), (20, 4)
"""Notes before and after a high point that are looked at before a line is searched: first those
that mostly decide."""
FAR_BACK = 32
"""Notes before a blocked one that are looked at to say which rule blocks."""


def tables_of(step: Step, writing: NoteByNote, brief: Brief) -> CostTables:
    """The tables of a step for every seed of a brief."""
    return CostTables(step.local_rules, writing.costs, brief, writing.contour)


def search_notes(
    step: Step,
    writing: NoteByNote,
    analysis: Analysis,
    brief: Brief,
    palettes: Sequence[Palette | None],
    rng: RandomStream,
    priors: Sequence[PriorNotes] = (),
    tables: CostTables | None = None,
) -> tuple[list[Slot], Line]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Raises
    ------
    Blocked
        When no line keeps the rules; it names the rule and the chord where it fails.
    """
    tables = tables or tables_of(step, writing, brief)
    search = _NoteSearch(step, writing, analysis, brief, rng, tables)
    for barrier in dict.fromkeys((brief.barrier, None)):
        try:
            made = (
                with_contour(
                    slots_with_pins(slots, analysis, brief, palettes), brief, rng, writing.reach
                )
                for slots in writing.layouts(analysis, brief, palettes, rng, priors)
            )
            layouts = (with_barrier(slots, barrier) for slots in made)
            return search.best_filled(layouts, priors, high=barrier == brief.barrier)
        except Blocked as error:
            blocked = error
    raise blocked


def with_contour(
    slots: Sequence[Slot], brief: Brief, rng: RandomStream, reach: float = CONTOUR_REACH
) -> list[Slot]:
    """Give every slot a height to aim at: slow waves, the highest crest past the middle."""
    low, high = brief.concert_low, brief.concert_high
    middle, wave = (low + high) / 2, min(high - low, 24) / 2 * reach
    waves = rng.uniform(0.6, 1.4) * len(slots) / 32
    peak = rng.uniform(0.55, 0.8)
    places = np.arange(len(slots)) / max(1, len(slots) - 1)
    near_peak = np.cos((places - peak) * np.pi / 2 / max(peak, 1 - peak))
    crests = np.cos(2 * np.pi * waves * (places - peak)) * (0.4 + 0.4 * near_peak)
    heights = middle + wave * (crests + 0.6 * near_peak - 0.3)
    return [s._replace(target=s.target or float(h)) for s, h in zip(slots, heights, strict=True)]


class _InBar(NamedTuple):
    """The slots of a bar among slots in a row: which they are, and where they stand."""

    number: int
    slots: list[int]
    places: list[Place]


class _Unbroken(NamedTuple):
    """Slots without a rest between them, in their bars, and the chain of what may stand there."""

    start: int
    slots: Sequence[Slot]
    bars: Sequence[_InBar]
    chain: Chain
    midis: Sequence[Midis]

    def words(self, prior: PriorNotes) -> tuple[Word, ...]:
        """The bars of another line that could stand here too."""
        return tuple(_words(self.slots, self.midis, self.bars, prior))

    def line(self, path: Sequence[int]) -> list[int | None]:
        """The notes of a path through the chain."""
        return [int(midis[state]) for midis, state in zip(self.midis, path, strict=True)]

    def path(self, line: Line) -> list[int]:
        """The path of notes."""
        pairs = zip(self.midis, line, strict=True)
        return [int(np.flatnonzero(midis == midi)[0]) for midis, midi in pairs]


class _Filled(NamedTuple):
    """Slots with their notes, and the relative outline if it is asked."""

    slots: list[Slot]
    midis: Line
    outlined: float | None


class _NoHighPoint(Exception):
    """The rules of a step leave none to a layout."""


class _NoteSearch:
    """One step for one brief, whatever the layout."""

    def __init__(
        self,
        step: Step,
        writing: NoteByNote,
        analysis: Analysis,
        brief: Brief,
        rng: RandomStream,
        tables: CostTables,
    ) -> None:
        self._step = step
        self._chart = analysis.chart
        self._brief = brief
        self._rng = rng
        self._wishes = writing.wishes
        self._is_given = not writing.costs
        self._most_blocked = writing.most_blocked
        self._number = chart_number(analysis.chart.form)
        self._bars = [float(start) for _, start in analysis.chart.placed()]
        self._tables = tables
        self._work = Work(MOST_OF_LAYOUT)
        self._least = step.least_outline if writing.redrawn else None
        low, high = brief.concert_low, brief.concert_high
        self._ideal = (low + high + rng.uniform(*HIGH) * min(high - low, REACH)) / 2

    def best_filled(
        self, layouts: Iterable[list[Slot]], priors: Sequence[PriorNotes], *, high: bool
    ) -> tuple[list[Slot], Line]:
        """The first layout whose line tells enough, or the best one.

        Raises
        ------
        Blocked
            When some have been tried, and none can be filled.
        """
        tried: list[list[Slot]] = []

        def noted() -> Iterator[list[Slot]]:
            for layout in layouts:
                tried.append(layout)
                yield layout

        with_peak = partial(self._with_high_point, priors=priors)
        plain = partial(self._plain, priors=priors)
        try:
            if high and HIGH_POINT in self._step.rules:
                return self._first_telling(noted(), with_peak)
        except _NoHighPoint:
            layouts = tried
        return self._first_telling(layouts, plain)

    def _first_telling(
        self, layouts: Iterable[list[Slot]], fill: Callable[[list[Slot]], _Filled]
    ) -> tuple[list[Slot], Line]:
        filled: list[_Filled] = []
        blocked: list[Blocked | _NoHighPoint] = []
        for layout in layouts:
            try:
                filled.append(fill(layout))
            except (Blocked, _NoHighPoint) as error:
                blocked.append(error)
                if not filled and len(blocked) == self._most_blocked:
                    break
                continue
            if self._tells(filled[-1]) or self._work.is_done:
                break
            self._work.begin_layout()
        if not filled:
            raise blocked[-1]
        best = max(filled, key=lambda line: line.outlined or 0.0)
        return best.slots, best.midis

    def _tells(self, line: _Filled) -> bool:
        """True for a line that tells enough, or of which that cannot be said."""
        least = self._step.least_outline
        return least is None or line.outlined is None or line.outlined >= least

    def _with_high_point(self, slots: list[Slot], priors: Sequence[PriorNotes]) -> _Filled:
        """The slots with a high point and notes for them.

        Raises
        ------
        _NoHighPoint
        """
        blocks: list[tuple[int, int]] = []
        for place, plan in high_points(slots, self._ideal):
            top = plan[place].high_point or 0
            if any(top <= blocked_top and spot < place for spot, blocked_top in blocks):
                continue  # the notes before it are the same, or fewer
            if not all(self._leaves_a_way(plan, n) for n in (place, *{n for n, _ in blocks})):
                continue
            try:
                return self._plain(plan, priors)
            except Blocked as blocked:
                spot = next(n for n, slot in enumerate(plan) if slot.onset >= blocked.onset)
                blocks.append((spot, top))
        raise _NoHighPoint

    def _plain(self, slots: list[Slot], priors: Sequence[PriorNotes]) -> _Filled:
        told = outline_of_lines(slots, self._chart)
        line = self.filled(slots, priors, told)
        return _Filled(slots, line, told(line) if self._step.least_outline else None)

    def _leaves_a_way(self, slots: Sequence[Slot], place: int) -> bool:
        """False where no notes fit beside the one in a place, whatever stands further away."""
        start, stop = next(ends for ends in stretches(slots) if ends[0] <= place < ends[1])
        try:
            for before, after in NEAR:
                near = slots[max(start, place - before) : min(stop, place + after + 1)]
                best_path(self._tables.chain(near)[0])
        except NoPath:
            return False
        return True

    def filled(self, slots: Sequence[Slot], priors: Sequence[PriorNotes], told: Told) -> Line:
        """Notes for the slots, unlike earlier ones."""
        if all(slot.pin is not None or slot.palette is None for slot in slots):
            return self._pinned(slots)
        bounds = stretches(slots)
        part_of = cache(lambda number: self._stretch(slots, *bounds[number]))
        words_of = cache(lambda number, prior: part_of(number).words(prior))
        drawn: dict[tuple[int, tuple[Word, ...]], Iterator[list[int | None]]] = {}
        hopeless: set[int] = set()

        def draw(more: Sequence[PriorNotes]) -> Line:
            midis: Line = [None] * len(slots)
            for number in range(len(bounds)):
                part = part_of(number)
                words = tuple(w for prior in (*priors, *more) for w in words_of(number, prior))
                lines = self._drawn(part, words)
                if len(slots) <= MOST_DRAWN:  # what is kept of a longer one is too much
                    lines = drawn.setdefault((part.start, words), lines)
                midis[part.start : part.start + len(part.slots)] = next(lines)
            return midis

        def redraw(line: Line, more: Sequence[PriorNotes]) -> Line:
            midis = list(line)
            for number in range(len(bounds)):
                part, latest = part_of(number), words_of(number, more[-1])
                again = [w for w in latest if part.start + w.start not in hopeless]
                if again:
                    words = [w for prior in (*priors, *more) for w in words_of(number, prior)]
                    own = slice(part.start, part.start + len(part.slots))
                    midis[own], stuck = self._redrawn(part, midis[own], again, words)
                    hopeless.update(part.start + start for start in stuck)
            return midis

        if self._is_given:
            return draw(())
        return best_drawn(self._least, draw, redraw, slots, self._chart, told, self._work)

    def _pinned(self, slots: Sequence[Slot]) -> Line:
        """The notes of slots that are all pinned: there is no other line."""
        for start, stop in stretches(slots):
            part = slots[start:stop]
            place = first_pinned_breach(self._step.local_rules, part, self._brief)
            if place is not None:
                raise self._blocked(part, place)
            for _ in range(max(1, len(part) - 1)):  # so many a line takes that is drawn
                self._rng.random()
        return [slot.pin for slot in slots]

    def _stretch(self, slots: Sequence[Slot], start: int, stop: int) -> _Unbroken:
        part = slots[start:stop]
        bars = list(_in_bars(part, self._bars))
        chain, midis = self._tables.chain(part)
        if self._brief.seed and self._wishes:
            wishes = _wishes(bars, midis, self._brief.seed, self._number)
            ones = [costs + wish for costs, wish in zip(chain.ones, wishes, strict=True)]
            chain = replace(chain, ones=ones)
        return _Unbroken(start, part, bars, chain, midis)

    def _drawn(self, part: _Unbroken, words: Sequence[Word]) -> Iterator[list[int | None]]:
        """Notes for a stretch, again and again; what leads to each is summed up once."""
        paths = sample_paths(part.chain, temperature=TEMPERATURE, rng=self._rng, words=words)
        try:
            for path in paths:
                yield part.line(path)
        except NoPath as no_path:
            raise self._blocked(part.slots, no_path.place) from None

    def _redrawn(
        self, part: _Unbroken, line: Line, again: Sequence[Word], words: Sequence[Word]
    ) -> tuple[list[int | None], list[int]]:
        """The notes of a stretch, other ones in the bars that stand again, if there are any.

        And where bars begin that hardly have others beside those notes.
        """
        path, stuck = part.path(line), []
        of_bar: dict[int, list[Word]] = defaultdict(list)
        for word in words:
            of_bar[word.start].append(word)
        for bar in again:
            bounds = bar.start, bar.stop
            known = of_bar[bar.start]
            states = redrawn(
                part.chain, path, bounds, temperature=TEMPERATURE, rng=self._rng, words=known
            )
            if tuple(states) in {word.states for word in known}:
                stuck.append(bar.start)
            path[slice(*bounds)] = states
        return part.line(path), stuck

    def _blocked(self, slots: Sequence[Slot], place: int) -> Blocked:
        slot = slots[place]
        near = slots[max(0, place - FAR_BACK) : place + 1]
        find_rule = partial(_blocking, self._step.local_rules, near, self._brief)
        return Blocked(self._step, self._brief, palette_at(slot).label, slot.onset, find_rule)


def _in_bars(slots: Sequence[Slot], starts: Sequence[float]) -> Iterator[_InBar]:
    """The places of each bar; where bars start, in beats."""
    numbers = [bisect_right(starts, float(slot.onset)) for slot in slots]
    for number, group in groupby(range(len(slots)), key=numbers.__getitem__):
        own = list(group)
        yield _InBar(number, own, [place_of(slots[n]) for n in own])


def _wishes(
    bars: Sequence[_InBar], notes: Sequence[Midis], seed: int, chart: int
) -> Iterator[Costs]:
    """What a seed has against notes: against two of three for the second note of each bar.

    So another seed has another note there, and with it another bar.
    """
    for bar in bars:
        for turn, n in enumerate(bar.slots):
            count = len(notes[n])
            if turn != WISHED or count < THIRDS:
                yield np.zeros(count)
                continue
            wanted = manner(seed, bar.number, chart, THIRDS)
            yield np.where(np.arange(count) % THIRDS == wanted, 0.0, OTHERWISE)


def _words(
    slots: Sequence[Slot], notes: Sequence[Midis], bars: Sequence[_InBar], prior: PriorNotes
) -> Iterator[Word]:
    """The bars of another line that this one could have too, each at its price."""
    for _, own, places in bars:
        midis = prior.midis_at(places)
        if midis is None or all(slots[n].stands for n in own):
            continue
        states = [np.flatnonzero(notes[n] == midi) for n, midi in zip(own, midis, strict=True)]
        if all(len(matches) for matches in states):
            yield Word(own[0], tuple(int(matches[0]) for matches in states), SAME_BAR)


def _blocking(rules: Sequence[LocalRule], slots: Sequence[Slot], brief: Brief) -> LocalRule | None:
    """The rule without which the last of the slots can be reached; None when it takes two."""
    for left_out in rules:
        others = [rule for rule in rules if rule is not left_out]
        try:
            best_path(CostTables(others, (), brief).chain(slots)[0])
        except NoPath as blocked:
            if blocked.place < len(slots) - 1:
                return None
        else:
            return left_out
    return None
