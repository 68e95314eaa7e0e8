"""Steps 1, 2 and 4: runs through the arpeggio or the scale, one after another.

The rule of the step fixes the shape of each run; what is chosen is where each starts
and in which octave, so that the runs join well. A run that cannot start on its root in
the player's range starts on another chord tone, and says so.

What the step leaves open, which note is long and whether a run goes up or down first, is
the manner of an etude: seed 0 has the plainest, every other seed another one, and what
comes again in the form comes otherwise (`halfstep.etude.shapes.manner`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from halfstep.etude.frame import (
    Flags,
    Palette,
    Piece,
    Slot,
    final_onset,
)
from halfstep.etude.heard import TWICE
from halfstep.etude.parts import Brief
from halfstep.etude.rhythm import filled_in, held_last
from halfstep.etude.shapes import (
    Run,
    Shape,
    ladder_of,
    manner,
    rest_of,
    slots_of,
    times_before,
)
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel

TURNED_BACK = 9.0
"""For each tone that a run leaves out at the top."""
GUIDES_OFTEN = 4.0
"""How much rather the second or fourth tone is repeated, which are mostly third and seventh."""
LONGEST_WITHOUT_REPEAT = 6
"""Notes of an arpeggio in rhythm before one must be repeated."""

UP = (0, 1, 2, 3)
DOWN = (3, 2, 1, 0)
UP_AND_DOWN = (0, 1, 2, 3, 2, 1, 0)
DOWN_AND_UP = (3, 2, 1, 0, 1, 2, 3)

_TRIES = 20
"""Draws until a rhythm whose last note is held differs from the one before."""
OTHER_WAY = 4.0
"""For another way through a scale than the seed and the repeats of the form would have."""
OTHER_TURN = 5.0
"""The same for a scale that turns below its octave."""
EARLY, NARROWER = 5.0, 0.4
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
    brief: Brief,
    _rng: np.random.Generator,
) -> list[Run]:
    """Step 1: up and down, or one way and then the other.

    Phrases end on the way down, on a note that is held.
    """
    runs: list[Run] = []
    up = True
    times = times_before(cut, found)
    for number, (stop, group) in enumerate(_by_chord(cut)):
        up = up or len(group) > 1
        entry = 0
        for place, piece in enumerate(group, stop - len(group)):
            before = times[place]
            here = found[piece.chord]
            if here is None:
                runs.append(rest_of(piece))
                continue
            closes = _closes(piece, ends)
            if len(group) == 1 and piece.beats >= 3:
                ways = _up_and_down(piece, brief, closes=closes)
            else:
                turned = manner(brief.seed, number + before, 0, 2) > 0
                rises = up != (len(group) == 1 and turned)
                ways = _one_way(piece, brief, up=rises, closes=closes, last=piece is group[-1])
            lengths, offsets = ways[manner(brief.seed, place, before, len(ways))]
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
            rhythm = _rhythm(piece, brief, rng, rhythm, held=closes)
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
    brief: Brief,
    _rng: np.random.Generator,
) -> list[Run]:
    """Step 4: each chord's scale root to root; a short one from the root or to it."""
    times = times_before(cut, found)
    return [
        _scale_run(
            group, found, ends, _ScaleManner(brief, number, times[stop - len(group)]),
            last=stop == len(cut),
        )
        for number, (stop, group) in enumerate(_by_chord(cut))
    ]  # fmt: skip


def _rhythm(
    piece: Piece,
    brief: Brief,
    rng: np.random.Generator,
    before: list[Fraction],
    *,
    held: bool,
) -> list[Fraction]:
    """A drawn rhythm for a piece that differs from the one before, if asked with a held end."""
    meter = piece.bar.meter
    for _ in range(_TRIES):
        at = piece.start - piece.bar_start
        lengths = filled_in(
            meter, at, piece.beats, brief.level, rng, not_like=before, feel=brief.feel
        )
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


_Way = tuple[list[Fraction], tuple[int, ...]]
"""Lengths, and the tones of the arpeggio that have them."""


def _up_and_down(piece: Piece, brief: Brief, *, closes: bool) -> list[_Way]:
    """Up and down in eighths with one note held, the plainest first: 1 3 5 7 5 3 1."""
    eighths = int(piece.beats // EIGHTH)
    count = min(len(UP_AND_DOWN), eighths)
    found = [(_with_long(piece.beats, count, count - 1), UP_AND_DOWN[:count])]
    fewer = min(count, eighths - 1)
    found += [(_with_long(piece.beats, fewer, n), UP_AND_DOWN[:fewer]) for n in (0, 4, 2)]
    if closes:
        held = _held(piece, found[0])
        found = [held, *_ending(piece, [*found, *_only_down(piece)])]
    else:
        found.append((found[0][0], DOWN_AND_UP[:count]))
    if piece.beats == 4 and brief.level is not Level.BEGINNER and brief.feel is Feel.SWING:
        found.append(([Fraction(1, 3)] * 3 + [EIGHTH, EIGHTH, 2 * EIGHTH, 2 * EIGHTH], UP_AND_DOWN))
    return _grouped(piece, found)


def _only_down(piece: Piece) -> Iterator[_Way]:
    """For bars that have no room to go up and down and to hold the last note."""
    if piece.beats < EIGHTH * len(UP_AND_DOWN):
        yield _in_quarters(piece.beats), DOWN
        pulse = piece.bar.meter.pulse_beats
        if piece.bar.meter.compound and piece.beats > pulse:
            yield [pulse * 2 / 3, pulse / 3, piece.beats - pulse], DOWN[1:]


def _with_long(beats: Fraction, count: int, place: int) -> list[Fraction]:
    """Eighths, one of them twice as long, and the rest of the time for the last."""
    lengths = [EIGHTH] * count
    left = beats - EIGHTH * count
    if place < count - 1:
        lengths[place] += min(left, EIGHTH)
        left -= min(left, EIGHTH)
    return [*lengths[:-1], lengths[-1] + left]


def _one_way(piece: Piece, brief: Brief, *, up: bool, closes: bool, last: bool) -> list[_Way]:
    """Four tones one way, or as many as there are eighths; the plainest first."""
    grouped = piece.bar.meter.compound and not piece.beats % piece.bar.meter.pulse_beats
    plain = _in_pulses(piece) if grouped else _in_quarters(piece.beats)
    count = len(plain)
    tones = DOWN[-count:] if not up and (brief.seed or count >= len(DOWN)) else UP[:count]
    found = [(lengths, tones) for lengths in _swayed(plain)]
    if piece.beats == 2 and brief.level is not Level.BEGINNER and brief.feel is Feel.SWING:
        found.append(([Fraction(1, 3)] * 3 + [Fraction(1)], tones))
    if closes and (last or plain[-1] < piece.bar.meter.tempo_beats):
        found = [_held(piece, found[0]), *((each, DOWN) for each, _ in _ending(piece, found))]
    return _grouped(piece, found)


def _swayed(plain: Sequence[Fraction]) -> Iterator[list[Fraction]]:
    """The lengths as they are, then with the long ones elsewhere, or two of equal ones dotted."""
    yield list(plain)
    for turn in range(1, len(plain)):
        yield [*plain[turn:], *plain[:turn]]
    for place in range(0, len(plain) - 1, 2):
        if plain[place] == plain[place + 1] == 1:
            dotted = plain[place] + EIGHTH, plain[place + 1] - EIGHTH
            yield [*plain[:place], *dotted, *plain[place + 2 :]]


def _held(piece: Piece, way: _Way) -> _Way:
    """The end of a way up and down, its last note held."""
    lengths = held_last(way[0], piece.bar.meter.tempo_beats)
    return lengths, UP_AND_DOWN[-len(lengths) :]


def _ending(piece: Piece, ways: Sequence[_Way]) -> Iterator[_Way]:
    """Those that come down to a note of a beat or more."""
    for lengths, offsets in ways:
        if lengths[-1] >= piece.bar.meter.tempo_beats and len(lengths) > 2:
            if offsets[-1] == 0 or sorted(offsets) == sorted(DOWN):
                yield lengths, offsets


def _grouped(piece: Piece, ways: Sequence[_Way]) -> list[_Way]:
    """The ways without doubles and, but for the first, what crosses groups of the metre."""
    found: list[_Way] = []
    for way in ways:
        kept = not found or (_keeps_groups(piece, way[0]) and len(way[0]) == len(way[1]))
        found += [way] if kept and way not in found else []
    return found


def _keeps_groups(piece: Piece, lengths: Sequence[Fraction]) -> bool:
    """In compound metres every note fits into a group or begins one; a triplet begins a beat."""
    pulse = piece.bar.meter.tempo_beats
    at = piece.start - piece.bar_start
    if not piece.bar.meter.compound:
        return not at % pulse or all(length.denominator != 3 for length in lengths)
    for length in lengths:
        if at % pulse and at // pulse != (at + length - EIGHTH / 4) // pulse:
            return False
        at += length
    return True


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


Way = tuple[int, ...]
"""Steps above the root."""


class _ScaleManner(NamedTuple):
    """How the seed would have the scale of a chord: its number, and how often it came before."""

    brief: Brief
    number: int
    times: int

    def way(self, count: int) -> int:
        """Which of the ways through it."""
        times = self.number + self.times
        return manner(self.brief.seed, self.number, times, count) if count else 0

    @property
    def falls(self) -> bool:
        """Whether the rhythm is made for a scale that falls; for seed 0 it never is."""
        return self.brief.seed > 0 and self.way(2) > 0

    def long_first(self, group: Sequence[Piece], octave: int) -> bool:
        """A long root first, where there is time for that and the octave."""
        eighths = sum(piece.beats for piece in group) / EIGHTH
        return (
            self.brief.seed > 0 and eighths > octave + 1 and (self.brief.seed + self.times) % 2 > 0
        )

    @property
    def late(self) -> bool:
        """Whether a long note ends its group; other seeds differ in it where both rise or fall."""
        seed, place = self.brief.seed, self.number
        return seed > 0 and manner(seed, place + 1, place + self.times, 2) > 0

    def lengths(self, piece: Piece, plain: list[Fraction], *, avoids: bool) -> list[Fraction]:
        """Eight eighths, or with a quarter and a triplet in them.

        They stand in one half of the bar for a scale that rises, in both for one that falls
        where that keeps the fourth off the strong beat.
        """
        brief = self.brief
        swings = brief.level is not Level.BEGINNER and brief.feel is Feel.SWING and brief.seed
        if not swings or plain != [EIGHTH] * 8 or piece.start != piece.bar_start:
            return plain
        pair, long, three = [EIGHTH] * 2, [Fraction(1)], [Fraction(1, 3)] * 3
        if avoids and self.way(2):
            ways = [
                long + pair + three + pair,
                pair + long + three + pair,
                long + pair + pair + three,
            ]
        else:
            ways = [
                plain,
                long + three + pair * 2,
                pair * 2 + long + three,
                three + long + pair * 2,
            ]
        return ways[manner(brief.seed, self.number, self.times, len(ways))]


def _scale_run(
    group: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    wish: _ScaleManner,
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

    def laid_out(*, falls: bool) -> tuple[list[Slot], list[int]]:
        slots: list[Slot] = []
        bars: list[int] = []
        for piece in group:
            bars += [len(slots)] if slots else []
            hold = last and piece is group[-1] and len(group) > 1
            count = len(slots) + int(4 * piece.beats) + 2
            offsets = _wave(count, octave + 1, octave, falls=falls)[len(slots) :]
            more = piece is not group[-1]
            long = wish.long_first(group, octave) and piece is group[0] and not last
            lengths = _scale_lengths(
                piece, offsets, avoided, hold=hold, more=more, long=long, late=wish.late
            )
            if not more and (last or _closes(piece, ends)):
                short = len(slots) + len(lengths) < octave
                lengths = held_last(lengths, piece.bar.meter.tempo_beats) if short else lengths
                if last or not short:
                    lengths = _rested(lengths, offsets, restful)
            lengths = wish.lengths(piece, lengths, avoids=bool(avoided))
            slots += slots_of(piece, piece.start, lengths, here, len(slots))
        return slots, bars

    slots, bars = laid_out(falls=False)
    if wish.falls:
        other = laid_out(falls=True)
        slots, bars = other if len(other[0]) > octave or len(slots) <= octave else (slots, bars)
    ladder = ladder_of(here.scale)
    ways = _ScaleWays(
        [slot.strong for slot in slots],
        {n % octave for n in avoided},
        bars,
        [place for place, midi in enumerate(ladder) if midi % 12 == here.root_class],
        len(ladder),
    )
    return Run(tuple(slots), tuple(_scale_shapes(ways, octave, wish)), ladder)


class _ScaleWays(NamedTuple):
    """What ways through a scale have to do with: beats, bars and the player's notes.

    ``strong`` has an item for each note, ``avoided`` steps above the root, ``bars`` the
    notes that begin bars but the first, ``roots`` places in a ladder of ``size`` notes.
    """

    strong: Sequence[bool]
    avoided: set[int]
    bars: Sequence[int]
    roots: Sequence[int]
    size: int

    def open(self, ways: Sequence[Way], octave: int) -> list[Way]:
        """Those that go, best without a bar that they have three times."""
        going = [way for way in ways if self._fits(way, octave) and self._lands(way, octave)]
        return [way for way in going if not self._is_habit(way)] or going

    def _fits(self, way: Way, octave: int) -> bool:
        roots = {root + turn for root in self.roots for turn in (-octave, 0, octave)}
        return any(root + min(way) >= 0 and root + max(way) < self.size for root in roots)

    def _lands(self, way: Way, octave: int) -> bool:
        pairs = zip(way, self.strong, strict=True)
        return not any(strong and step % octave in self.avoided for step, strong in pairs)

    def _is_habit(self, way: Way) -> bool:
        cuts = pairwise([0, *self.bars, len(way)])
        return max(Counter(way[start:stop] for start, stop in cuts).values()) > TWICE


def _scale_shapes(ways: _ScaleWays, octave: int, wish: _ScaleManner) -> Iterator[Shape]:
    """Ways through a scale from its root or to it, one of them wished for.

    Where the player has not even an octave the scale turns before it, up or down.
    """
    count = len(ways.strong)
    full, early = _full_ways(count, octave), list(_turned_early(count, octave))
    roomy = [way for way, cost in early if cost < TURNED_BACK]
    choices = ways.open(full, octave)
    if wish.brief.seed and count >= octave:
        choices = [way for way in choices if (way[1] < way[0]) == wish.falls] or choices
    choices = choices or ways.open(roomy, octave)
    wished = choices[wish.way(len(choices))] if choices else ()
    for way in full:
        yield Shape(way, _root_in(way, octave), OTHER_WAY * (way != wished))
    if count < octave:
        yield Shape(tuple(range(count))[::-1], count - 1, OTHER_WAY)
    yield Shape(zigzag(count, octave, twice=True), cost=OTHER_WAY + 0.5)
    for way, cost in early:
        yield Shape(way, cost=cost + OTHER_TURN * (way != wished))


def _full_ways(count: int, octave: int) -> list[Way]:
    """Up and down as far as the ninth or the octave; a short one from the root or to it."""
    found = []
    for peak in (octave + 1, octave):
        found += [_wave(count, peak, octave, falls=falls) for falls in (False, True)]
    if count < octave:
        found.append(tuple(range(octave - count + 1, octave + 1)))
        found += [zigzag(count, peak) for peak in (LEAST_PEAK, LEAST_PEAK + 1) if peak < count - 1]
    return list(dict.fromkeys(found))


def _wave(count: int, peak: int, octave: int, *, falls: bool) -> Way:
    """Up from the root to the peak and back, or the same upside down from its octave."""
    rising = zigzag(count, peak)
    return tuple(octave - step for step in rising) if falls else rising


def _root_in(way: Sequence[int], octave: int) -> int:
    """The place of the root in a way that begins or ends on it."""
    return 0 if way[0] in {0, octave} else len(way) - 1


def _turned_early(count: int, octave: int) -> Iterator[tuple[Way, float]]:
    """For ranges too small for an octave: ways that turn before it, and what they cost."""
    for peak in range(octave - 1, 1, -1):
        each = NARROWER if peak >= LEAST_PEAK else TURNED_BACK
        way = zigzag(count, peak)
        if peak < count - 1:
            yield way, EARLY + each * (octave - peak)
            yield tuple(-step for step in way), EARLY + each * (octave - peak)


def _offsets(flags: Flags, here: Palette, octave: int) -> set[int]:
    """Steps above the root where the flagged notes lie, over three octaves."""
    rungs = sorted((pc - here.root_class) % 12 for pc in here.degrees)
    meant = {int(midi - here.root_class) % 12 for midi in np.flatnonzero(flags)}
    steps = [n for n, above in enumerate(rungs) if above in meant]
    return {n + turn * octave for n in steps for turn in (-1, 0, 1)}


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
    piece: Piece,
    offsets: Sequence[int],
    avoided: set[int],
    *,
    hold: bool,
    more: bool,
    long: bool,
    late: bool,
) -> list[Fraction]:
    """Eighths along the bar; a quarter where an avoid note would meet a strong beat.

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
    long : bool
        Begin with a quarter.
    late : bool
        Let a quarter be the last of its group, where it falls on a beat.
    """
    end = final_onset(piece) if hold else piece.end
    strong = [piece.bar_start + beat for beat in piece.bar.meter.strong_beats]
    inner = [beat for beat in strong if piece.start < beat < end]
    bounds: list[Fraction] = []
    for start, stop in pairwise([piece.start, *inner, end]):
        group = _eighths(start, stop, piece.bar_start)
        lands_on = offsets[len(bounds) + len(group)]
        lands = lands_on in avoided and (more or stop != piece.end)
        first = long and not bounds
        if (lands or first) and len(group) > 1:
            del group[-1 if late and not first and len(group) % 2 == 0 else 1]
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
