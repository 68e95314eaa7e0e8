"""Which rhythm has a line of eighths? Rests, late entries, held notes, triplets, anticipations.

A line is laid out in eighths (`halfstep.etude.slots`). Here two eighths in a row become something
else now and then, by a table: what it asks of them, what it makes of them, and from which level
on. What the second step trains is so played on in the steps after it.

Conventions
-----------
- Beginners stay plain. Intermediate players have rests on weak beats, phrases that begin after
  the beat, and notes held on a beat or over a weak one; the advanced have triplets as well, or
  sixteenths in straight eighths, and chords that are come to early.
- A strong beat keeps its note, but where a chord is come to early: that note is then struck an
  eighth before and held over it, and belongs to the new chord.
- The last note of a phrase stays as it is, and so does the first note of a line.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from halfstep.etude.beat_kinds import SHORTEST_S
from halfstep.etude.etude_brief import Brief
from halfstep.etude.slots import SIXTEENTH, Slot
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel, clock_for
from halfstep.random_stream import RandomStream

THIRD_OF_BEAT = Fraction(1, 3)
SHARES = {Level.BEGINNER: 0.0, Level.INTERMEDIATE: 0.1, Level.ADVANCED: 0.13}
"""Of the pairs of eighths that could become something of weight 1, how many do."""
PLAIN_BEATS = {Level.BEGINNER: 0, Level.INTERMEDIATE: 1, Level.ADVANCED: 1}
"""Beats of eighths between two such places, at least."""
DIVIDED = 0.5
"""Of the weak beats of a line of quarters, how many are two eighths."""
Pair = tuple[Slot, Slot]


class PairRhythm(NamedTuple):
    """What two eighths of a line may become.

    Attributes
    ----------
    name : str
    level : Level
        From which on.
    weight : float
        How often, beside the others.
    fits : callable
        Whether it can stand for a pair; whether a phrase begins with the pair is told as well.
    becomes : callable
    """

    name: str
    level: Level
    weight: float
    fits: Callable[[Pair, bool], bool]
    becomes: Callable[[Pair], tuple[Slot, ...]]


def _is_beat(pair: Pair, begins: bool) -> bool:
    """Two eighths of one chord, the first of them on a beat."""
    first, second = pair
    one_beat = first.weight is not Weight.OFF and second.weight is Weight.OFF
    return one_beat and first.palette is second.palette and not begins


def _is_over_beat(pair: Pair, begins: bool) -> bool:
    """Two eighths of one chord, the second of them on a weak beat."""
    first, second = pair
    over = first.weight is Weight.OFF and second.weight is Weight.BEAT and not second.strong
    return over and first.palette is second.palette and not begins


def _is_weak_beat(pair: Pair, begins: bool) -> bool:
    return _is_beat(pair, begins) and not pair[0].strong


def _begins_phrase(pair: Pair, begins: bool) -> bool:
    return begins and _is_beat(pair, begins=False)


def _is_change(pair: Pair, begins: bool) -> bool:
    """The second one begins a chord on a beat, and the first is not all that its chord has."""
    first, second = pair
    changes = first.palette is not second.palette and second.entry == 0 < first.entry
    return changes and first.weight is Weight.OFF and second.weight is not Weight.OFF and not begins


def _joined(pair: Pair) -> tuple[Slot, ...]:
    return (pair[0]._replace(beats=2 * EIGHTH),)


def _rested(pair: Pair) -> tuple[Slot, ...]:
    return Slot(pair[0].onset, EIGHTH, None, True, 0), pair[1]


def _cut(first: Slot, *lengths: Fraction) -> tuple[Slot, ...]:
    """Notes of those lengths in place of a pair; but for the first they stand off the beat."""
    made = [first._replace(beats=lengths[0])]
    for beats in lengths[1:]:
        onset = made[-1].onset + made[-1].beats
        made.append(first._replace(onset=onset, beats=beats, strong=False, weight=Weight.OFF))
    return tuple(made)


def _in_three(pair: Pair) -> tuple[Slot, ...]:
    return _cut(pair[0], *[THIRD_OF_BEAT] * 3)


def _in_sixteenths(pair: Pair) -> tuple[Slot, ...]:
    return _cut(pair[0], EIGHTH, SIXTEENTH, SIXTEENTH)


def _early(pair: Pair) -> tuple[Slot, ...]:
    first, second = pair
    return (
        second._replace(onset=first.onset, beats=first.beats + second.beats, weight=Weight.OFF),
    )


HELD_ON_BEAT = PairRhythm("held on a beat", Level.INTERMEDIATE, 1.0, _is_beat, _joined)
HELD_OVER_BEAT = PairRhythm("held over a beat", Level.INTERMEDIATE, 3.0, _is_over_beat, _joined)
REST_ON_BEAT = PairRhythm("rest on a beat", Level.INTERMEDIATE, 1.0, _is_weak_beat, _rested)
LATE_ENTRY = PairRhythm("late entry", Level.INTERMEDIATE, 4.0, _begins_phrase, _rested)
TRIPLET = PairRhythm("triplet", Level.ADVANCED, 1.2, _is_beat, _in_three)
SIXTEENTHS = PairRhythm("sixteenths", Level.ADVANCED, 1.2, _is_beat, _in_sixteenths)
ANTICIPATION = PairRhythm("anticipation", Level.ADVANCED, 5.0, _is_change, _early)
UNBROKEN = (HELD_ON_BEAT, HELD_OVER_BEAT, TRIPLET, SIXTEENTHS, ANTICIPATION)
"""For a line that does not rest."""
EVERY = (HELD_ON_BEAT, HELD_OVER_BEAT, REST_ON_BEAT, LATE_ENTRY, TRIPLET, SIXTEENTHS, ANTICIPATION)


def with_rhythm(
    slots: Sequence[Slot],
    analysis: Analysis,
    brief: Brief,
    rng: RandomStream,
    choices: Sequence[PairRhythm] = EVERY,
    *,
    often: float = 1.0,
) -> list[Slot]:
    """A line of eighths in which some pairs have another rhythm.

    Parameters
    ----------
    slots : sequence of Slot
        In eighths, with longer ones where phrases end.
    analysis : Analysis
    brief : Brief
    rng : RandomStream
    choices : sequence of PairRhythm
        Those that the step has; of them what level, feel and tempo allow.
    often : float
        How often, beside `SHARES`: later steps have more.
    """
    allowed = [choice for choice in choices if choice in _playable(analysis, brief)]
    share = often * SHARES[brief.level]
    return _counted(list(_laid(slots, brief, rng, allowed, share)))


def with_eighths(slots: Sequence[Slot], rng: RandomStream) -> list[Slot]:
    """A line of quarters in which some weak beats are two eighths."""
    laid: list[Slot] = []
    for slot in slots:
        quarter = slot.palette is not None and slot.beats == 2 * EIGHTH
        weak = slot.weight is Weight.BEAT and not (slot.strong or slot.closes or slot.last)
        divided = quarter and weak and rng.random() < DIVIDED
        laid += _cut(slot, EIGHTH, EIGHTH) if divided else [slot]
    return _counted(laid)


def _playable(analysis: Analysis, brief: Brief) -> list[PairRhythm]:
    """What level, feel and tempo allow: nothing quicker than is asked of a player."""
    levels = list(Level)
    form = analysis.chart.form
    swings = all(bar.meter.swings for bar in form)
    shortest = clock_for(analysis.chart.meter, brief.tempo_bpm).beat_s
    quick = {TRIPLET: shortest / 3, SIXTEENTHS: shortest / 4}
    wanted = {TRIPLET: brief.feel is Feel.SWING, SIXTEENTHS: brief.feel is Feel.STRAIGHT}
    return [
        choice
        for choice in EVERY
        if levels.index(choice.level) <= levels.index(brief.level)
        if wanted.get(choice, True) and quick.get(choice, 1.0) >= SHORTEST_S
        if choice not in quick or swings
    ]


def _laid(
    slots: Sequence[Slot],
    brief: Brief,
    rng: RandomStream,
    allowed: Sequence[PairRhythm],
    share: float,
) -> Iterator[Slot]:
    """The slots, pair by pair from the first one on."""
    place, free_from = 1, Fraction(0)
    yield from slots[:1]
    while place < len(slots):
        made: tuple[Slot, ...] = (slots[place],)
        used = 1
        pair = slots[place], slots[min(place + 1, len(slots) - 1)]
        if slots[place].onset >= free_from and _are_eighths(pair):
            begins = slots[place - 1].palette is None or slots[place - 1].closes
            fitting = [choice for choice in allowed if choice.fits(pair, begins)]
            weights = [choice.weight for choice in fitting]
            if fitting and rng.random() < share * sum(weights):
                made = rng.choice(fitting, weights).becomes(pair)
                used = 2
                free_from = pair[1].onset + EIGHTH + PLAIN_BEATS[brief.level]
        yield from made
        place += used


def _are_eighths(pair: Pair) -> bool:
    """True for two eighths inside a phrase."""
    return all(
        slot.palette and slot.beats == EIGHTH and not (slot.closes or slot.last) for slot in pair
    )


def _counted(slots: Sequence[Slot]) -> list[Slot]:
    """The notes of each chord counted again, without those that are left out before them."""
    counted: list[Slot] = []
    for slot in slots:
        before = counted[-1] if counted else None
        if before and slot.palette and before.palette is slot.palette:
            slot = slot._replace(entry=before.entry + 1)
        counted.append(slot)
    return counted
