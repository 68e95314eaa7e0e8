"""Steps 1, 2 and 4: runs through the arpeggio or the scale, one after another.

The rule of the step fixes the shape of each run; what is chosen is where each starts
and in which octave, so that the runs join well. A run that cannot start on its root in
the player's range starts on another chord tone, and says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

import numpy as np

from halfstep.etude.frame import (
    Flags,
    Palette,
    Piece,
    Slot,
    final_onset,
)
from halfstep.etude.parts import Brief
from halfstep.etude.rhythm import filled
from halfstep.etude.shapes import Run, Shape, ladder_of, rest_of, slots_of
from halfstep.meter import EIGHTH

TURNED_BACK = 9.0
"""For each tone of an arpeggio or scale that a run leaves out at the top."""
LONGEST_WITHOUT_REPEAT = 6
"""Notes of an arpeggio in rhythm before one must be repeated."""

UP = (0, 1, 2, 3)
DOWN = (3, 2, 1, 0)
UP_AND_DOWN = (0, 1, 2, 3, 2, 1, 0)


def _by_chord(cut: Sequence[Piece]) -> list[tuple[int, list[Piece]]]:
    """The pieces of each chord, with the number of pieces up to its end."""
    groups = [list(group) for _, group in groupby(cut, key=lambda piece: piece.chord)]
    ends = np.cumsum([len(group) for group in groups])
    return list(zip(map(int, ends), groups, strict=True))


# Arpeggios


def arpeggios(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    _ends: set[int],
    brief: Brief,
    rng: np.random.Generator,
) -> list[Run]:
    """Step 1: up and down, or one way and then the other."""
    return _arpeggio_runs(cut, found, brief, rng, varied=False)


def arpeggios_in_rhythm(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    _ends: set[int],
    brief: Brief,
    rng: np.random.Generator,
) -> list[Run]:
    """Step 2: the tones in order, some repeated, in a rhythm that varies."""
    return _arpeggio_runs(cut, found, brief, rng, varied=True)


def scales(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    _brief: Brief,
    _rng: np.random.Generator,
) -> list[Run]:
    """Step 4: each chord's scale root to root."""
    return [_scale_run(group, found, ends, last=n == len(cut)) for n, group in _by_chord(cut)]


def _arpeggio_runs(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    brief: Brief,
    rng: np.random.Generator,
    *,
    varied: bool,
) -> list[Run]:
    runs: list[Run] = []
    rhythm: list[Fraction] = []
    unrepeated = 0
    up = True
    for _, group in _by_chord(cut):
        if len(group) > 1:
            up = True
        entry = 0
        for piece in group:
            here = found[piece.chord]
            if here is None:
                runs.append(rest_of(piece))
                continue
            if varied:
                rhythm = filled(piece.beats, brief.level, rng, not_like=rhythm)
                again = unrepeated + len(rhythm) > LONGEST_WITHOUT_REPEAT
                lengths, offsets = rhythm, repeated(len(rhythm), up=up, again=again, rng=rng)
                unrepeated = 0 if has_repeat(offsets) else unrepeated + len(rhythm)
            elif len(group) == 1 and piece.beats >= 3:
                lengths, offsets = _up_and_down(piece.beats)
            else:
                lengths, offsets = _one_way(piece.beats, up=up)
            slots = slots_of(piece, piece.start, lengths, found[piece.chord], entry)
            entry += len(slots)
            runs.append(Run(slots, _folded(offsets), ladder_of(here.core)))
            up = not up
    return runs


def _folded(offsets: Sequence[int]) -> tuple[Shape, ...]:
    """The shape, and for chords with wide gaps the same turned back lower."""
    shapes = []
    for ceiling in (3, 2, 1):
        wave = zigzag(4, ceiling)
        turned = tuple(wave[offset] for offset in offsets)
        shapes.append(Shape(turned, offsets.index(min(offsets)), TURNED_BACK * (3 - ceiling)))
    return tuple(shapes)


def _up_and_down(beats: Fraction) -> tuple[list[Fraction], tuple[int, ...]]:
    """Up and down in eighths, the last note held: 1 3 5 7 5 3 1."""
    count = min(len(UP_AND_DOWN), int(beats // EIGHTH))
    held = beats - EIGHTH * (count - 1)
    return [EIGHTH] * (count - 1) + [held], UP_AND_DOWN[:count]


def _one_way(beats: Fraction, *, up: bool) -> tuple[list[Fraction], tuple[int, ...]]:
    """Four tones one way: quarters where they fit, eighths at the end where they do not."""
    count = max(1, min(4, int(beats // EIGHTH)))
    quarters = min(count, max(0, int(2 * beats) - count))
    lengths = [Fraction(1)] * quarters + [EIGHTH] * (count - quarters)
    lengths[-1] += beats - sum(lengths, Fraction(0))
    if count < 4:
        return lengths, UP[:count]
    return lengths, UP if up else DOWN


def repeated(count: int, *, up: bool, again: bool, rng: np.random.Generator) -> tuple[int, ...]:
    """``count`` notes on the four tones in order, some of them repeated.

    Parameters
    ----------
    count : int
        More than eight notes go up and come down again.
    up : bool
    again : bool
        Repeat a tone even where there are few notes, at the price of the last tone.
    rng : numpy.random.Generator
        Chooses which tones are repeated.
    """
    tones = UP_AND_DOWN if count > 8 else UP if up or count < 4 else DOWN
    different = min(len(tones), count - (1 if again and count > 1 else 0))
    times = [1] * different
    while sum(times) < count:
        fewest = min(times)
        open_places = [place for place, each in enumerate(times) if each == fewest]
        times[int(rng.choice(open_places))] += 1
    return tuple(tone for tone, each in zip(tones, times, strict=False) for _ in range(each))


def has_repeat(offsets: Sequence[int]) -> bool:
    """True when two neighbours are equal."""
    return any(old == new for old, new in pairwise(offsets))


# Scales


def _scale_run(
    group: Sequence[Piece], found: Sequence[Palette | None], ends: set[int], *, last: bool
) -> Run:
    """A whole chord's scale, root to root and over the ninth back down."""
    here = found[group[0].chord]
    if here is None:
        first, final = group[0], group[-1]
        return Run((Slot(first.start, final.end - first.start, None, True, 0),))
    octave = len(here.degrees)
    avoided = _offsets(here.avoid, here, octave)
    restful = _offsets(here.core, here, octave)
    slots: list[Slot] = []
    for piece in group:
        hold = last and piece is group[-1] and len(group) > 1
        offsets = zigzag(len(slots) + int(2 * piece.beats) + 2, octave + 1)[len(slots) :]
        more = piece is not group[-1]
        lengths = _scale_lengths(piece, offsets, avoided, hold=hold, more=more)
        if not more and (last or _closes(piece, ends)):
            lengths = _rested(lengths, offsets, restful)
        slots += slots_of(piece, piece.start, lengths, found[piece.chord], len(slots))
    count = len(slots)
    shapes = (
        Shape(zigzag(count, octave + 1)),
        Shape(tuple(octave - step for step in zigzag(count, octave + 1)), cost=0.3),
        Shape(zigzag(count, octave), cost=1.0),
        Shape(zigzag(count, octave, twice=True), cost=1.0),
        *_turned_early(count, octave),
    )
    return Run(tuple(slots), shapes, ladder_of(here.scale))


def _turned_early(count: int, octave: int) -> Iterator[Shape]:
    """For ranges too small for an octave: the run turns before it, up first or down first."""
    for peak in range(octave - 1, 1, -1):
        way, cost = zigzag(count, peak), TURNED_BACK * (octave - peak)
        yield Shape(way, cost=cost)
        yield Shape(tuple(-step for step in way), cost=cost)


def _offsets(flags: Flags, here: Palette, octave: int) -> set[int]:
    """Steps above the root where the flagged notes lie, over two octaves."""
    rungs = sorted((pc - here.root_class) % 12 for pc in here.degrees)
    meant = {int(midi - here.root_class) % 12 for midi in np.flatnonzero(flags)}
    return {n + turn * octave for n, above in enumerate(rungs) if above in meant for turn in (0, 1)}


def _closes(piece: Piece, ends: set[int]) -> bool:
    """True when a phrase ends with the piece."""
    return piece.end == piece.bar_start + piece.bar.beats and piece.bar.number in ends


def _rested(
    lengths: Sequence[Fraction], offsets: Sequence[int], restful: set[int]
) -> list[Fraction]:
    """The lengths with the last notes left out until one of the arpeggio is held."""
    count = len(lengths)
    while count > 1 and offsets[count - 1] not in restful:
        count -= 1
    return [*lengths[: count - 1], sum(lengths[count - 1 :], Fraction(0))]


def _scale_lengths(
    piece: Piece, offsets: Sequence[int], avoided: set[int], *, hold: bool, more: bool
) -> list[Fraction]:
    """Eighths along the bar; a quarter first where an avoid note would meet a strong beat.

    Parameters
    ----------
    piece : Piece
    offsets : sequence of int
        The steps of the run from here on.
    avoided : set of int
    hold : bool
        Hold the last note from the final strong beat to the end.
    more : bool
        The chord goes on after this piece.
    """
    end = final_onset(piece) if hold else piece.end
    strong = [piece.bar_start + beat for beat in piece.bar.meter.strong_beats]
    inner = [beat for beat in strong if piece.start < beat < end]
    bounds: list[Fraction] = []
    for start, stop in pairwise([piece.start, *inner, end]):
        group = _eighths(start, stop, piece.bar_start)
        lands_on = offsets[len(bounds) + len(group)]
        if lands_on in avoided and (more or stop != piece.end) and len(group) > 1:
            del group[1]
        bounds += group
    if hold and end > piece.start:
        bounds.append(end)
    return [b - a for a, b in pairwise([*bounds, piece.end])]


def _eighths(start: Fraction, stop: Fraction, bar_start: Fraction) -> list[Fraction]:
    """Onsets from ``start`` along the bar's grid of eighths."""
    onsets = [start]
    at = bar_start + ((start - bar_start) // EIGHTH + 1) * EIGHTH
    while at < stop:
        onsets.append(at)
        at += EIGHTH
    return onsets


def zigzag(count: int, peak: int, *, twice: bool = False) -> tuple[int, ...]:
    """Up to ``peak`` and down to 0 again and again; ``twice`` repeats the turning notes.

    >>> zigzag(6, 3), zigzag(6, 2, twice=True)
    ((0, 1, 2, 3, 2, 1), (0, 1, 2, 2, 1, 0))
    """
    up, down = range(peak + 1), range(peak, -1, -1)
    cycle = [*up, *down] if twice else [*up, *list(down)[1:-1]]
    return tuple(cycle[place % len(cycle)] for place in range(count))
