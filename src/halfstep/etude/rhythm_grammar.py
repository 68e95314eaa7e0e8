"""How long are the notes? One grammar of rhythm for each level and feel.

A *cell* is a few note lengths in beats that fill one, two, three or four beats. Longer
stretches are filled with cells one after another, along the groups of the metre. A phrase
of a chorus is drawn beat by beat instead, by `halfstep.etude.phrase_rhythm`.

Conventions
-----------
- Beginners have what stands on the beat, the others syncopations beside it. Triplets belong
  to swing, sixteenths to straight eighths; figures of advanced players have both from the
  table of cells, each as often as any other cell.
- In compound and odd metres no note of a rhythm crosses the start of a group, so that what
  is written shows the pulse. A beat is divided only where it begins on the beat.

Source: common practice, no source.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, pairwise

from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel, Meter
from halfstep.random_stream import RandomStream

_Q, _E, _DQ = Fraction(1), Fraction(1, 2), Fraction(3, 2)
_T, _S = Fraction(1, 3), Fraction(1, 4)
_PLAIN: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): (
        (_Q, _Q, _E, _E, _Q),
        (_E, _E, _Q, _E, _E, _Q),
        (_Q, _E, _E, _Q, _Q),
        (_DQ, _E, _Q, _Q),
        (_E, _E, _E, _E, _Q, _Q),
        (_E, _E, _Q, _Q, _Q),
    ),
    Fraction(3): (
        (_Q, _E, _E, _Q),
        (_E, _E, _Q, _Q),
        (_E, _E, _E, _E, _Q),
        (_DQ, _E, _Q),
        (_Q, _Q, _E, _E),
    ),
    Fraction(2): ((_E, _E, _Q), (_Q, _E, _E), (_E, _E, _E, _E), (_DQ, _E)),
    Fraction(1): ((_E, _E), (_Q,)),
    Fraction(3, 2): ((_E, _E, _E), (_Q, _E), (_E, _Q)),
    Fraction(1, 2): ((_E,),),
}
_SYNCOPATED: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): (
        (_E, _Q, _E, _Q, _Q),
        (_DQ, _E, _E, _E, _Q),
        (_E, _E, _E, _Q, _E, _Q),
        (_Q, _E, _Q, _E, _Q),
        (_E, _Q, _E, _E, _Q, _E),
        (_DQ, _E, _E, _Q, _E),
    ),
    Fraction(3): (
        (_E, _Q, _E, _Q),
        (_DQ, _E, _E, _E),
        (_DQ, _DQ),
        (_E, _E, _Q, _E, _E),
    ),
    Fraction(2): ((_E, _Q, _E),),
}
_TRIPLETS: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): ((_Q, _T, _T, _T, _Q, _Q), (_T, _T, _T, _Q, _E, _E, _Q)),
    Fraction(3): ((_T, _T, _T, _Q, _Q), (_Q, _T, _T, _T, _Q)),
    Fraction(2): ((_T, _T, _T, _Q), (_E, _E, _T, _T, _T)),
}
_SIXTEENTHS: dict[Fraction, tuple[tuple[Fraction, ...], ...]] = {
    Fraction(4): ((_E, _S, _S, _Q, _E, _E, _Q), (_Q, _E, _S, _S, _Q, _Q)),
    Fraction(3): ((_E, _S, _S, _E, _E, _Q), (_Q, _E, _S, _S, _Q)),
    Fraction(2): ((_E, _S, _S, _Q), (_S, _S, _E, _E, _E)),
    Fraction(3, 2): ((_E, _S, _S, _E), (_E, _E, _S, _S)),
}
REST_SHARE = 0.3
"""How often a rhythm with room for it leaves a note out."""


_TRIES = 50
"""Draws until a rhythm differs; two choices suffice for it to be as good as certain."""


def cells(
    beats: Fraction, level: Level, feel: Feel | None = None
) -> tuple[tuple[Fraction, ...], ...]:
    """The cells that fill ``beats``, the plain ones first; empty when none does.

    Parameters
    ----------
    beats : Fraction
    level : Level
    feel : Feel, optional
        Where it is given, an advanced player's beats may be divided as it has them.
    """
    rhythms = _PLAIN.get(beats, ())
    if level is not Level.BEGINNER:
        rhythms += _SYNCOPATED.get(beats, ())
    if level is Level.ADVANCED and feel is not None:
        rhythms += (_TRIPLETS if feel is Feel.SWING else _SIXTEENTHS).get(beats, ())
    return rhythms


def filled_in(
    meter: Meter,
    start: Fraction,
    beats: Fraction,
    level: Level,
    rng: RandomStream,
    *,
    not_like: list[Fraction],
    feel: Feel | None = None,
) -> list[Fraction]:
    """A drawn rhythm that fills a stretch of a bar and differs from the one before.

    No note crosses a group of a compound or odd bar.

    Parameters
    ----------
    meter : Meter
    start : Fraction
        Beats from the start of the bar.
    beats : Fraction
    level : Level
    rng : RandomStream
    not_like : list of Fraction
        The lengths of the rhythm before.
    feel : Feel, optional
        As for `cells`.
    """
    edges = [start]
    if meter.compound or meter.grouping or meter.bar_beats not in _PLAIN:
        for at in meter.strong_beats:  # shorter than a beat, a group leaves no choice of rhythm
            if at - edges[-1] >= 1 and start + beats - at >= 1:
                edges.append(at)
    edges.append(start + beats)
    return _unlike(list(pairwise(edges)), meter, level, feel, rng, not_like)


def held_last(lengths: Sequence[Fraction], least: Fraction = _Q) -> list[Fraction]:
    """The lengths with the last ones joined to ``least`` beats or more."""
    count = len(lengths)
    while count > 1 and sum(lengths[count - 1 :], Fraction(0)) < least:
        count -= 1
    return [*lengths[: count - 1], sum(lengths[count - 1 :], Fraction(0))]


def _unlike(
    stretches: Sequence[tuple[Fraction, Fraction]],
    meter: Meter,
    level: Level,
    feel: Feel | None,
    rng: RandomStream,
    not_like: list[Fraction],
) -> list[Fraction]:
    if feel is Feel.SWING and not meter.swings:
        feel = Feel.STRAIGHT
    for _ in range(_TRIES):
        lengths: list[Fraction] = []
        for low, high in stretches:
            on_beat = any(low == at for at, _ in beats_of(meter))
            lengths += _drawn(high - low, level, feel if on_beat else None, rng)
        if lengths != not_like:
            break
    return lengths


def _drawn(beats: Fraction, level: Level, feel: Feel | None, rng: RandomStream) -> list[Fraction]:
    lengths: list[Fraction] = []
    while (left := beats - sum(lengths, Fraction(0))) > 0:
        size = next((size for size in sorted(_PLAIN, reverse=True) if size <= left), None)
        choices = cells(size, level, feel) if size else ((left,),)
        lengths += choices[rng.integers(len(choices))]
    return lengths


def left_out(
    meter: Meter,
    start: Fraction,
    lengths: Sequence[Fraction],
    level: Level,
    rng: RandomStream,
) -> int | None:
    """The place of a note that is a rest instead, or None.

    For beginners it is a quarter on a beat inside the rhythm, for the others also the first
    note, so that the line comes in late.

    Parameters
    ----------
    meter : Meter
    start : Fraction
        Where the rhythm begins, in beats from the start of the bar.
    lengths : sequence of Fraction
    level : Level
    rng : RandomStream
    """
    plain = level is Level.BEGINNER
    beats = {at for at, _ in beats_of(meter)}
    onsets = list(accumulate(lengths[:-1], initial=start))
    places = [
        n
        for n in range(1 if plain else 0, len(lengths) - 1)
        if (lengths[n] == _Q and onsets[n] in beats if plain else EIGHTH <= lengths[n] <= 1)
    ]
    if len(lengths) < 4 or not places or rng.random() > REST_SHARE:
        return None
    return places[rng.integers(len(places))]


@lru_cache(maxsize=64)
def beats_of(meter: Meter) -> tuple[tuple[Fraction, Fraction], ...]:
    """Where the beats of a bar begin and end: pulses, groups of eighths, or quarters.

    >>> [str(end) for _, end in beats_of(Meter(7, 8))]
    ['3/2', '5/2', '7/2']
    """
    grouped = meter.compound or meter.unit >= 8
    quarters = accumulate([_Q] * int(meter.bar_beats), initial=Fraction(0))
    starts = meter.strong_beats if grouped else [at for at in quarters if at < meter.bar_beats]
    return tuple(pairwise((*starts, meter.bar_beats)))
