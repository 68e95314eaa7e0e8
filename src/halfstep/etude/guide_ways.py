"""Which guide tones may stand for a chord in a bar? Each way with its rhythm and what it tells.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence, Set
from fractions import Fraction
from functools import cache
from itertools import product
from typing import NamedTuple

import numpy as np

from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import Midis, Palette
from halfstep.etude.prior_notes import Place
from halfstep.etude.rules import FIFTH
from halfstep.etude.slots import Piece, closes_phrase, slots_of
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.line_figures import plain_arpeggio, whole_figures
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel

LIKELY = 5
"""Of so many notes in range, those that tell most, a decoration is mostly made."""
FAR = 0.15
"""For each semitone from the middle of the range, beyond a fifth."""
PlacedTone = tuple[float, float, int]
"""Onset and length in beats, MIDI number."""


class GuideWay(NamedTuple):
    """What may stand for a chord in a bar: one guide tone, or one and then the other."""

    tones: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    telling_nats: float
    """Nats that its notes tell or mostly will, more than as many of the plain arpeggio."""

    def notes(self, start: Fraction) -> Iterator[PlacedTone]:
        """Its guide tones, from a beat on; floats, since they are looked up often."""
        for length, tone in zip(self.lengths, self.tones, strict=False):
            yield float(start), float(length), tone
            start += length


class PieceWays(NamedTuple):
    """What may stand for a piece whatever the seed; no way where there is no chord.

    Attributes
    ----------
    kind : int
        The same for pieces with the same ways.
    ways : sequence of GuideWay
    rhythms : sequence of int
        The number of the rhythm of each way.
    rhythm_count : int
    costs : sequence of float
        Of each way, without its rhythm and without what it tells.
    """

    kind: int
    ways: Sequence[GuideWay] = ()
    rhythms: Sequence[int] = ()
    rhythm_count: int = 0
    costs: Sequence[float] = ()


class PlacedRhythm(NamedTuple):
    """Where the long notes of a rhythm stand, and the numbers of the ways with their tones."""

    places: list[Place]
    ways: dict[tuple[int, ...], int]


def placed_rhythms(choices: PieceWays, start: Fraction) -> list[PlacedRhythm]:
    """The rhythms of a piece that starts there; fewer long notes are another one."""
    known: dict[tuple[int, int], PlacedRhythm] = {}
    for number, (way, rhythm) in enumerate(zip(choices.ways, choices.rhythms, strict=True)):
        key = rhythm, len(way.tones)
        if key not in known:
            known[key] = PlacedRhythm([(at, beats) for at, beats, _ in way.notes(start)], {})
        known[key].ways[way.tones] = number
    return list(known.values())


def all_ways(
    analysis: Analysis,
    brief: Brief,
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: Set[int],
) -> Iterator[PieceWays]:
    """What may stand for each piece."""
    arpeggio_nats = whole_figures(plain_arpeggio(analysis.chart), analysis.chart).outline or 0.0
    middle = (brief.concert_low + brief.concert_high) / 2
    likely = cache(_likely)
    known: dict[tuple[object, ...], PieceWays] = {}
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None:
            yield PieceWays(-1)
            continue
        closes = piece is cut[-1] or closes_phrase(piece, ends)
        key = (palette.look, piece.start - piece.bar_start, piece.beats, piece.bar.meter, closes)
        if key not in known:
            feel = brief.feel if piece.bar.meter.swings else Feel.STRAIGHT
            rhythms = _rhythms(piece, brief.level, feel, closes=closes)
            long = closes or brief.level is Level.BEGINNER
            made = list(_piece_ways(piece, palette, rhythms, likely, arpeggio_nats, long=long))
            ways = [way for _, way in made]
            known[key] = PieceWays(
                len(known),
                ways,
                [rhythm for rhythm, _ in made],
                len(rhythms),
                [FAR * _away(way, middle) for way in ways],
            )
        yield known[key]


def _piece_ways(
    piece: Piece,
    palette: Palette,
    rhythms: Sequence[tuple[Fraction, ...]],
    likely: Callable[..., float],
    arpeggio_nats: float,
    *,
    long: bool,
) -> Iterator[tuple[int, GuideWay]]:
    """What may stand for a piece, each way with the number of its rhythm."""
    for place, lengths in enumerate(rhythms):
        slots = slots_of(piece, piece.start, lengths, palette, 0)
        for tones in _tones(palette, count=len(lengths) if long else 1):
            gains = [palette.gain[s.weight, t] for s, t in zip(slots, tones, strict=False)]
            free = slots[len(tones) :]
            gains += [likely(palette, slot.weight, led=slot is free[-1]) for slot in free]
            gain = float(sum(gains)) - arpeggio_nats * len(gains)
            yield place, GuideWay(tones, lengths, gain)


def _away(way: GuideWay, middle: float) -> float:
    """Semitones from the middle of the range, beyond a fifth."""
    return max(0.0, abs(sum(way.tones) / len(way.tones) - middle) - FIFTH)


def _likely(palette: Palette, weight: int, *, led: bool) -> float:
    """What a note of a decoration mostly tells; less if it leads on, for then it is bound."""
    gains = np.sort(palette.gain[weight][palette.scale])
    return float(gains.mean() if led else gains[-LIKELY:].mean())


def _splits(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Two notes for a chord in a bar, on pulses, the first one no shorter."""
    pulse = piece.bar.meter.tempo_beats
    first = pulse
    while first < piece.beats:
        if first * 2 >= piece.beats and piece.beats - first >= pulse:
            yield first, piece.beats - first
        first += pulse


def _returns(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """Three notes, there and back, where a pulse has three eighths."""
    if piece.bar.meter.tempo_beats == 3 * EIGHTH and piece.beats == 6 * EIGHTH:
        yield 3 * EIGHTH, 2 * EIGHTH, EIGHTH


def _tones(palette: Palette, *, count: int) -> Iterator[tuple[int, ...]]:
    """The guide tones one by one, or each in turn with another tone nearer than a fifth."""
    guides = guides_of(palette).tolist()
    if count == 1:
        yield from ((midi,) for midi in guides)
        return
    for old, new in product(guides, followers_of(palette).tolist()):
        if old % 12 != new % 12 and abs(new - old) < FIFTH:
            yield (old, new, old)[:count]


def _rhythms(piece: Piece, level: Level, feel: Feel, *, closes: bool) -> list[tuple[Fraction, ...]]:
    """Rhythms for a chord in a bar, the plainest first: long notes, or one and what leads on.

    What leads on is held over the beat in one of them; the advanced have a triplet in swing, or
    sixteenths, where the beats that are left are whole ones.
    """
    if level is Level.BEGINNER:
        returns = [] if closes else _returns(piece)
        return [(piece.beats,), *_splits(piece), *returns]
    if closes:
        return [(piece.beats,), *_splits(piece)]
    if piece.beats < 2:
        return [(piece.beats,), *_split_off(piece)]
    half = (piece.beats / 2) // EIGHTH * EIGHTH
    long = piece.beats - half if level is Level.ADVANCED else max(piece.beats - half, 2 * EIGHTH)
    count = int((piece.beats - long) / EIGHTH)
    fewer = max(1, count - 2) if count != 3 else 2
    endings = [[EIGHTH] * count, [EIGHTH] * fewer]
    if count > 2:
        endings.insert(1, [2 * EIGHTH, *[EIGHTH] * (count - 2)])
        endings.append([EIGHTH, 2 * EIGHTH, *[EIGHTH] * (count - 3)])
    if level is Level.ADVANCED and count > 1 and count % 2 == 0 and piece.bar.meter.swings:
        quick = [Fraction(1, 3)] * 3 if feel is Feel.SWING else [EIGHTH, *[EIGHTH / 2] * 2]
        endings.append([*[EIGHTH] * (count - 2), *quick])
    if piece.beats < 3:
        endings.append([])
    return [(piece.beats - sum(ending), *ending) for ending in endings if sum(ending) < piece.beats]


def _split_off(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """A short stay with an eighth that leads on."""
    if piece.beats >= 3 * EIGHTH:
        yield piece.beats - EIGHTH, EIGHTH


def guides_of(palette: Palette) -> Midis:
    """The guide tones in range; the tones of the arpeggio where there are none."""
    midis = np.flatnonzero(palette.guide)
    return midis if len(midis) else np.flatnonzero(palette.core)


def followers_of(palette: Palette) -> Midis:
    """What may follow a guide tone over one chord: the other one, or another tone of a triad."""
    midis = guides_of(palette)
    return midis if class_count(midis) > 1 else np.flatnonzero(palette.core)


def class_count(midis: Midis) -> int:
    """How many different notes there are, octaves aside."""
    return len({*(midis % 12).tolist()})
