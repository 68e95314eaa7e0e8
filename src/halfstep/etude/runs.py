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
from halfstep.etude.rhythm import filled_in, held_last
from halfstep.etude.shapes import Run, Shape, ladder_of, rest_of, slots_of
from halfstep.instruments import Level
from halfstep.meter import EIGHTH

TURNED_BACK = 9.0
"""For each tone that a run leaves out at the top."""
GUIDES_OFTEN = 4.0
"""How much rather the second or fourth tone is repeated, which are mostly third and seventh."""
LONGEST_WITHOUT_REPEAT = 6
"""Notes of an arpeggio in rhythm before one must be repeated."""

UP = (0, 1, 2, 3)
DOWN = (3, 2, 1, 0)
UP_AND_DOWN = (0, 1, 2, 3, 2, 1, 0)

_TRIES = 20
"""Draws until a rhythm whose last note is held differs from the one before."""
TASTE = 1.2
"""The most that a drawn taste for one way through a scale weighs."""
EARLY, NARROWER = 2.5, 0.4
"""For a scale that turns below its octave, and for each note it leaves out: less than it
costs to build it on another tone than the root."""
LEAST_PEAK = 3
"""Steps from the root where it may turn at that price; below them `TURNED_BACK` is asked."""


def _by_chord(cut: Sequence[Piece]) -> list[tuple[int, list[Piece]]]:
    """The pieces of each chord, with the number of pieces up to its end."""
    groups = [list(group) for _, group in groupby(cut, key=lambda piece: piece.chord)]
    ends = np.cumsum([len(group) for group in groups])
    return list(zip(map(int, ends), groups, strict=True))


# Arpeggios


def arpeggios(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    _brief: Brief,
    _rng: np.random.Generator,
) -> list[Run]:
    """Step 1: up and down, or one way and then the other.

    Phrases end on the way down, on a note that is held.
    """
    runs: list[Run] = []
    up = True
    for _, group in _by_chord(cut):
        up = up or len(group) > 1
        entry = 0
        for piece in group:
            here = found[piece.chord]
            if here is None:
                runs.append(rest_of(piece))
                continue
            if len(group) == 1 and piece.beats >= 3:
                lengths, offsets = _up_and_down(piece.beats)
            else:
                lengths, offsets = _one_way(piece, up=up)
            pulse = piece.bar.meter.tempo_beats
            if _closes(piece, ends) and (piece is group[-1] or lengths[-1] < pulse):
                lengths = held_last(lengths, pulse)
                offsets = UP_AND_DOWN[-len(lengths) :]
            slots = slots_of(piece, piece.start, lengths, here, entry)
            entry += len(slots)
            runs.append(Run(slots, _folded(offsets), ladder_of(here.core)))
            up = not up
    return runs


def arpeggios_in_rhythm(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    rng: np.random.Generator,
) -> list[Run]:
    """Step 2: the tones in order, some repeated, in a rhythm that varies.

    Phrases end on the way down, on a note that is held.
    """
    runs: list[Run] = []
    rhythm: list[Fraction] = []
    unrepeated, up = 0, True
    for _, group in _by_chord(cut):
        up = up or len(group) > 1
        entry = 0
        for piece in group:
            here = found[piece.chord]
            if here is None:
                runs.append(rest_of(piece))
                continue
            closes = _closes(piece, ends)
            rhythm = _rhythm(piece, brief.level, rng, rhythm, held=closes)
            again = unrepeated + len(rhythm) > LONGEST_WITHOUT_REPEAT
            offsets = repeated(len(rhythm), up=up, again=again, rng=rng, home=closes)
            unrepeated = 0 if has_repeat(offsets) else unrepeated + len(rhythm)
            slots = slots_of(piece, piece.start, rhythm, here, entry)
            entry += len(slots)
            runs.append(Run(slots, _folded(offsets), ladder_of(here.core)))
            up = not up
    return runs


def scales(
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    _brief: Brief,
    rng: np.random.Generator,
) -> list[Run]:
    """Step 4: each chord's scale root to root; a short one from the root or to it."""
    return [_scale_run(group, found, ends, rng, last=n == len(cut)) for n, group in _by_chord(cut)]


def _rhythm(
    piece: Piece,
    level: Level,
    rng: np.random.Generator,
    before: list[Fraction],
    *,
    held: bool,
) -> list[Fraction]:
    """A drawn rhythm for a piece that differs from the one before, if asked with a held end."""
    meter = piece.bar.meter
    for _ in range(_TRIES):
        at = piece.start - piece.bar_start
        lengths = filled_in(meter, at, piece.beats, level, rng, not_like=before)
        lengths = held_last(lengths, meter.tempo_beats) if held else lengths
        if lengths != before:
            break
    return lengths


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


def _one_way(piece: Piece, *, up: bool) -> tuple[list[Fraction], tuple[int, ...]]:
    """Four tones one way, or as many as there are eighths."""
    grouped = piece.bar.meter.compound and not piece.beats % piece.bar.meter.pulse_beats
    lengths = _in_pulses(piece) if grouped else _in_quarters(piece.beats)
    if len(lengths) < 4:
        return lengths, UP[: len(lengths)]
    return lengths, UP if up else DOWN


def _in_quarters(beats: Fraction) -> list[Fraction]:
    """Quarters where they fit, eighths at the end where they do not."""
    count = max(1, min(4, int(beats // EIGHTH)))
    quarters = min(count, max(0, int(2 * beats) - count))
    lengths = [Fraction(1)] * quarters + [EIGHTH] * (count - quarters)
    lengths[-1] += beats - sum(lengths, Fraction(0))
    return lengths


def _in_pulses(piece: Piece) -> list[Fraction]:
    """Four notes over dotted pulses, the first ones divided long and short; three over one."""
    pulse = piece.bar.meter.pulse_beats
    count = int(piece.beats / pulse)
    if count == 1:
        return [pulse / 3] * 3
    divided = max(0, 4 - count)
    lengths = [2 * pulse / 3, pulse / 3] * divided + [pulse] * (min(count, 4) - divided)
    lengths[-1] += piece.beats - sum(lengths, Fraction(0))
    return lengths


def repeated(
    count: int, *, up: bool, again: bool, rng: np.random.Generator, home: bool = False
) -> tuple[int, ...]:
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
    home : bool
        Come down to the lowest tone, whatever ``up`` says.
    """
    tones: tuple[int, ...] = UP_AND_DOWN if count > 8 else UP if up or count < 4 else DOWN
    different = min(len(tones), count - (1 if again and count > 1 else 0))
    if home and count <= 8:
        tones = DOWN[-different:]
    times = [1] * different
    while sum(times) < count:
        fewest = min(times)
        open_places = [place for place, each in enumerate(times) if each == fewest]
        likely = np.array([GUIDES_OFTEN if tones[place] % 2 else 1.0 for place in open_places])
        times[int(rng.choice(open_places, p=likely / likely.sum()))] += 1
    return tuple(tone for tone, each in zip(tones, times, strict=False) for _ in range(each))


def has_repeat(offsets: Sequence[int]) -> bool:
    """True when two neighbours are equal."""
    return any(old == new for old, new in pairwise(offsets))


# Scales


def _scale_run(
    group: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    rng: np.random.Generator,
    *,
    last: bool,
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
        offsets = zigzag(len(slots) + int(4 * piece.beats) + 2, octave + 1)[len(slots) :]
        more = piece is not group[-1]
        lengths = _scale_lengths(piece, offsets, avoided, hold=hold, more=more)
        if not more and (last or _closes(piece, ends)):
            short = len(slots) + len(lengths) < octave
            lengths = held_last(lengths, piece.bar.meter.tempo_beats) if short else lengths
            if last or not short:
                lengths = _rested(lengths, offsets, restful)
        slots += slots_of(piece, piece.start, lengths, found[piece.chord], len(slots))
    return Run(tuple(slots), tuple(_scale_shapes(len(slots), octave, rng)), ladder_of(here.scale))


def _scale_shapes(count: int, octave: int, rng: np.random.Generator) -> Iterator[Shape]:
    """Ways through a scale from its root or to it, each with a drawn taste."""
    rising = zigzag(count, octave + 1)
    ways = [rising, tuple(octave - step for step in rising)]
    if count < octave:
        ways += [tuple(range(octave - count + 1, octave + 1)), tuple(range(count))[::-1]]
    for way, taste in zip(ways, rng.uniform(0, TASTE, len(ways)), strict=True):
        yield Shape(way, _root_in(way, octave), taste)
    yield Shape(zigzag(count, octave), cost=TASTE + 1.0)
    yield Shape(zigzag(count, octave, twice=True), cost=TASTE + 1.0)
    yield from _turned_early(count, octave)


def _root_in(way: Sequence[int], octave: int) -> int:
    """The place of the root in a way that begins or ends on it."""
    return 0 if way[0] in {0, octave} else len(way) - 1


def _turned_early(count: int, octave: int) -> Iterator[Shape]:
    """For ranges too small for an octave: the run turns before it, up first or down first."""
    for peak in range(octave - 1, 1, -1):
        each = NARROWER if peak >= LEAST_PEAK else TURNED_BACK
        way, cost = zigzag(count, peak), EARLY + each * (octave - peak)
        if peak < count - 1:
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
