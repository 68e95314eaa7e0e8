"""When do the phrases of a chorus begin, and in which rhythm do they go? Drawn from counts.

A phrase is a row of beats, each of one kind (`halfstep.etude.beat_kinds`), drawn after the two
before it; how long it is, how it ends and how far the next one lies are drawn as well
(`halfstep.etude.solo_counts`). A *figure* is how a phrase begins: the kinds of its first beats.
It is stated, varied, left and brought back.

Conventions
-----------
- Times are in beats from bar 1.
- A chord begins with a note, or with one that was struck up to half a beat before it and
  belongs to it; only where a rest or another chord stands between is that not asked.
- Of some plans the one is taken that sounds for about two thirds of the form.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from halfstep.etude.beat_kinds import BEAT_KINDS, TRIPLET, begun_in, kinds_allowed
from halfstep.etude.etude_brief import BREATH_S, Brief
from halfstep.etude.rhythm_grammar import beats_of
from halfstep.etude.slots import Piece, breath_beats, final_onset
from halfstep.etude.solo_counts import solo_shares
from halfstep.level import Level
from halfstep.meter import Feel, Meter, clock_for
from halfstep.random_stream import RandomStream

LENGTHS = {Level.BEGINNER: (4, 8), Level.INTERMEDIATE: (4, 12), Level.ADVANCED: (3, 32)}
"""Quarters that a phrase lasts, the shortest and the longest; common practice, no source."""
LEAST_LEFT = 5
"""Beats at the end of the form that are no phrase of their own."""
ROOM = (Fraction(60, 100), Fraction(75, 100))
"""Of the form, how much sounds; counted on transcribed solos is 64 in 100."""
MOST_PLANS = 12
FIGURE_BEATS = 2
"""Beats of a figure; the note after them is its goal."""
RETURN = 0.5
"""Of the form, where the figure is brought back."""
FARTHEST = 10
"""Beats that are looked at for the next phrase to begin in."""


TICKS = 24
"""Of a quarter: times are whole numbers while they are drawn."""
EARLY = TICKS // 2
"""How long before its chord a note may be struck that belongs to it."""


class Beat(NamedTuple):
    """A beat of the form: where it begins and ends in ticks, and which one of its bar it is.

    ``begun`` has for each kind where its notes begin.
    """

    start: int
    end: int
    number: int
    begun: tuple[tuple[int, ...], ...]


class PhraseTimes(NamedTuple):
    """Where the notes of a phrase begin, and where the last one ends.

    ``figure`` counts the notes at its beginning that are the figure; 0 where it is left.
    """

    onsets: tuple[Fraction, ...]
    end: Fraction
    figure: int = 0


def beats_of_form(cut: Sequence[Piece]) -> list[Beat]:
    """The beats of all bars."""
    bars = dict.fromkeys((piece.bar_start, piece.bar) for piece in cut)
    return [
        Beat(at + low, at + high, number, tuple(tuple(at + n for n in kind) for kind in begun))
        for at, bar in ((ticks(start), bar) for start, bar in bars)
        for number, (low, high, begun) in enumerate(_beats_in(bar.meter))
    ]


@lru_cache(maxsize=64)
def _beats_in(meter: Meter) -> list[tuple[int, int, tuple[tuple[int, ...], ...]]]:
    """Start and end of each beat of a bar in ticks, and where the notes of each kind begin."""
    kinds = range(len(BEAT_KINDS))
    return [
        (
            ticks(low),
            ticks(high),
            tuple(tuple(ticks(low + at) for at in begun_in(kind, high - low)) for kind in kinds),
        )
        for low, high in beats_of(meter)
    ]


def ticks(beats: Fraction) -> int:
    """A time in ticks."""
    return int(beats * TICKS)


def phrase_times(cut: Sequence[Piece], brief: Brief, rng: RandomStream) -> list[PhraseTimes]:
    """The phrases of a chorus."""
    writer = _Phrasing(cut, brief)
    plans: list[tuple[float, list[_Drawn]]] = []
    for _ in range(MOST_PLANS):
        phrases = list(writer.phrases(rng))
        share = sum(end - onsets[0] for onsets, end, _ in phrases) / writer.total
        plans.append((max(ROOM[0] - share, share - ROOM[1], 0.0), phrases))
        if plans[-1][0] == 0:
            break
    return [
        PhraseTimes(tuple(Fraction(at, TICKS) for at in onsets), Fraction(end, TICKS), figure)
        for onsets, end, figure in min(plans, key=lambda plan: plan[0])[1]
    ]


_Drawn = tuple[list[int], int, int]
"""Where the notes of a phrase begin and where the last one ends, in ticks; its figure's notes."""


class _Phrasing:
    """Phrases over one form for one player."""

    def __init__(self, cut: Sequence[Piece], brief: Brief) -> None:
        meter = cut[0].bar.meter
        clock = clock_for(meter, brief.tempo_bpm)
        feel = brief.feel if meter.swings else Feel.STRAIGHT
        self._kinds = kinds_allowed(brief.level, feel, clock.beat_s)
        self._beats = beats_of_form(cut)
        self._grouped = meter.compound or meter.unit >= 8
        self._level = brief.level
        self._early = 0 if brief.level is Level.BEGINNER else EARLY
        low, high = LENGTHS[brief.level]
        longest = max(2, int(BREATH_S / clock.beat_s))
        per_beat = (self._beats[0].end - self._beats[0].start) / TICKS
        self._longest = max(2, int(min(high, longest) / per_beat))
        self._shortest = max(2, min(self._longest, int(low / per_beat)))
        changes = [p.start for n, p in enumerate(cut) if n == 0 or cut[n - 1].chord != p.chord]
        starts = [ticks(at) for at in changes]
        self._starts = [
            tuple(starts[bisect_left(starts, b.start) : bisect_left(starts, b.end)])
            for b in self._beats
        ]
        self._split = [
            any(at > beat.start for at in starts)
            for beat, starts in zip(self._beats, self._starts, strict=True)
        ]
        self._last, self.total = ticks(final_onset(cut[-1])), ticks(cut[-1].end)
        self._close = min(ticks(breath_beats(meter)), self.total - self._last)
        shares = solo_shares()
        self._begins, self._rests = shares.begins.tolist(), shares.rest_eighths.tolist()
        self._lengths = shares.phrase_beats.tolist()[self._shortest - 1 : self._longest]
        self._second, self._ends = shares.second.tolist(), shares.ends.tolist()
        self._follows = shares.follows.tolist()
        self._held = shares.last_eighths.tolist()

    def phrases(self, rng: RandomStream) -> Iterator[_Drawn]:
        """One after another until the form ends."""
        at, ended, count = 0, -1, len(self._beats)
        figure: list[int] = []
        stated = varied = returned = False
        while True:
            again = bool(figure) and (not varied or (at > RETURN * count and not returned))
            begun = self._begun(at, ended, figure[:1] if again else self._kinds, rng)
            if begun is None:
                return
            first, kind = begun
            length = self._shortest + rng.choice(range(len(self._lengths)), self._lengths)
            left = count - first
            closes = left - length < LEAST_LEFT
            if closes:
                length = left if left <= self._longest else left // 2
                closes = length == left
            kinds, onsets = self._rhythm(
                first, length, [kind, *figure[1:]] if again else [kind], rng
            )
            notes = 0
            if not stated and length > FIGURE_BEATS:
                figure, stated = kinds[:FIGURE_BEATS], True
            elif again:
                returned, varied = varied, True
            if figure and kinds[: len(figure)] == figure:
                notes = sum(len(self._beats[first + n].begun[k]) for n, k in enumerate(figure)) + 1
            if closes:
                heard = [at for at in onsets if at <= self.total - self._close] or [self._last]
                yield heard, self.total, notes
                return
            ended = self._end(onsets[-1], rng)
            yield onsets, ended, notes
            at = first + length

    def _begun(
        self, at: int, ended: int, kinds: Sequence[int], rng: RandomStream
    ) -> tuple[int, int] | None:
        """In which beat the next phrase begins, and with which kind; None after the last."""
        ways, weights = [], []
        for place, beat in enumerate(self._beats[at : at + FARTHEST], at):
            begins = self._begins[beat.number % 4]
            for kind in kinds:
                begun = beat.begun[kind]
                if not begun or (kind == TRIPLET and self._split[place]):
                    continue
                if ended < 0:
                    rest = float(place < 4)
                else:
                    gap = (begun[0] - ended) // (TICKS // 2)
                    rest = self._rests[min(gap, len(self._rests) - 1)] if gap > 0 else 0.0
                if rest:
                    ways.append((place, kind))
                    weights.append(rest * begins[kind])
        return rng.choice(ways, weights) if ways else None

    def _rhythm(
        self, first: int, length: int, begun: Sequence[int], rng: RandomStream
    ) -> tuple[list[int], list[int]]:
        """The kinds of the beats of a phrase, the first of them given, and where notes begin."""
        kinds: list[int] = [begun[0]]
        onsets = list(self._beats[first].begun[begun[0]])
        for place in range(first + 1, first + length):
            if place == first + length - 1:
                row = self._ends[kinds[-1]]
            elif len(kinds) == 1:
                row = self._second[kinds[-1]]
            else:
                row = self._follows[kinds[-2]][kinds[-1]]
            allowed = [k for k in self._kinds if row[k] and self._fits(place, onsets, k)]
            allowed = allowed or list(self._kinds)
            given = begun[len(kinds)] if len(kinds) < len(begun) else None
            if given in allowed:
                kinds.append(given)
            else:
                kinds.append(rng.choice(allowed, [row[k] or 1e-9 for k in allowed]))
            onsets += self._beats[place].begun[kinds[-1]]
        return kinds, onsets

    def _fits(self, place: int, before: Sequence[int], kind: int) -> bool:
        """True where each chord that begins in a beat has a note of its own.

        Groups of eighths begin with a note, and no chord begins inside a triplet.
        """
        beat = self._beats[place]
        begun = beat.begun[kind]
        if self._grouped and begun[:1] != (beat.start,):
            return False
        if kind == TRIPLET and self._split[place]:
            return False
        starts = self._starts[place]
        if not starts:
            return True
        onsets = (*before[-2:], *begun)
        early = self._early
        return all(any(at - early <= n <= at for n in onsets) for at in starts)

    def _end(self, onset: int, rng: RandomStream) -> int:
        """Where the last note of a phrase ends: after so many eighths, or with its triplet."""
        eighths = 1 + rng.choice(range(len(self._held)), self._held)
        if self._level is not Level.ADVANCED:
            eighths = max(2, eighths)
        end = onset + eighths * TICKS // 2
        if onset % (TICKS // 4):
            end = -(-onset // TICKS) * TICKS + (eighths - 1) * TICKS // 2
        return min(end, self.total)
