"""The scale of each chord from its root to its octave and back; a short one from the root or to it.

Which note is long and whether a scale goes up or down first is chosen by the seed, as for
the arpeggio.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from halfstep.etude.chord_runs import (
    ChordRun,
    RunShape,
    ladder_of,
    pieces_by_chord,
    zigzag,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.palette import Flags, Palette
from halfstep.etude.prior_notes import TWICE
from halfstep.etude.rhythm_grammar import held_last
from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL, LineRule, off_ladder, pairs_within_chord
from halfstep.etude.run_notices import NUMBER_WORDS, built_on, remarks_by_chord
from halfstep.etude.seed_choices import manner, times_over_chart
from halfstep.etude.sentences import PartLine, changes, direction, highest
from halfstep.etude.slots import Piece, Slot, closes_phrase, final_onset, slots_of
from halfstep.etude.step import InRuns, Step
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel
from halfstep.pitch import OCTAVE
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

OTHER_WAY = 4.0
"""For another way through a scale than the seed and the repeats of the form would have."""
TURNED_BACK = 9.0
"""For each note that a scale leaves out at the top, in a range too small for it."""
OTHER_TURN = 5.0
"""As `OTHER_WAY`, for a scale that turns below its octave."""
EARLY, NARROWER = 5.0, 0.4
"""For a scale that turns below its octave, and for each note it leaves out: less than it
costs to build it on another tone than the root."""
LEAST_PEAK = 3
"""Steps from the root where it may turn at that price; below them `TURNED_BACK` is asked."""
STRUCK_AGAIN = 60.0
"""For a scale that strikes its last note twice: only where all others would cross the break."""
Way = tuple[int, ...]
"""Steps above the root."""


def scales(
    cut: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
    _rng: RandomStream,
) -> list[ChordRun]:
    """Step 4: each chord's scale root to root; a short one from the root or to it."""
    times = times_over_chart(cut, palettes, brief.seed)
    return [
        _scale_run(
            group, palettes, ends, _ScaleManner(brief, number, times[stop - len(group)]),
            last=stop == len(cut),
        )
        for number, (stop, group) in enumerate(pieces_by_chord(cut))
    ]  # fmt: skip


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
            rhythms = [
                long + pair + three + pair,
                pair + long + three + pair,
                long + pair + pair + three,
            ]
        else:
            rhythms = [
                plain,
                long + three + pair * 2,
                pair * 2 + long + three,
                three + long + pair * 2,
            ]
        return rhythms[manner(brief.seed, self.number, self.times, len(rhythms))]


def _scale_run(
    group: Sequence[Piece],
    palettes: Sequence[Palette | None],
    ends: set[int],
    wish: _ScaleManner,
    *,
    last: bool,
) -> ChordRun:
    """A whole chord's scale, root to root and over the ninth back down."""
    palette = palettes[group[0].chord]
    if palette is None:
        first, final = group[0], group[-1]
        return ChordRun((Slot(first.start, final.end - first.start, None, True, 0),))
    octave = len(palette.degrees)
    avoided = _offsets(palette.avoid, palette, octave)
    restful = _offsets(palette.core, palette, octave)

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
            closes = closes_phrase(piece, ends)
            if closes:
                short = len(slots) + len(lengths) < octave
                lengths = held_last(lengths, piece.bar.meter.tempo_beats)
                if not more and (last or not short):
                    lengths = _rested(lengths, offsets, restful)
            if last and not slots and len(lengths) == 2 and wish.brief.barrier:
                lengths = [piece.beats]  # the break may lie between the seventh and the root
            lengths = wish.lengths(piece, lengths, avoids=bool(avoided))
            slots += slots_of(piece, piece.start, lengths, palette, len(slots))
        return slots, bars

    slots, bars = laid_out(falls=False)
    if wish.falls:
        other = laid_out(falls=True)
        slots, bars = other if len(other[0]) > octave or len(slots) <= octave else (slots, bars)
    ladder = ladder_of(palette.scale)
    scale_ways = _ScaleWays(
        [slot.strong for slot in slots],
        {n % octave for n in avoided},
        bars,
        [place for place, midi in enumerate(ladder) if midi % 12 == palette.root_class],
        len(ladder),
    )
    return ChordRun(tuple(slots), tuple(_scale_shapes(scale_ways, octave, wish)), ladder)


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

    def open(self, choices: Sequence[Way], octave: int) -> list[Way]:
        """Those that go, best without a bar that they have three times."""
        going = [way for way in choices if self._fits(way, octave) and self._lands(way, octave)]
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


def _scale_shapes(scale_ways: _ScaleWays, octave: int, wish: _ScaleManner) -> Iterator[RunShape]:
    """Ways through a scale from its root or to it, one of them wished for.

    Where the player has not even an octave the scale turns before it, up or down.
    """
    count = len(scale_ways.strong)
    full, early = _full_ways(count, octave), list(_turned_early(count, octave))
    roomy = [way for way, cost in early if cost < TURNED_BACK]
    choices = scale_ways.open(full, octave)
    if wish.brief.seed and count >= octave:
        choices = [way for way in choices if (way[1] < way[0]) == wish.falls] or choices
    choices = choices or scale_ways.open(roomy, octave)
    wished = choices[wish.way(len(choices))] if choices else ()
    for way in full:
        yield RunShape(way, _root_in(way, octave), OTHER_WAY * (way != wished))
    if count < octave:
        yield RunShape(tuple(range(count))[::-1], count - 1, OTHER_WAY)
    yield RunShape(zigzag(count, octave, twice=True), cost=OTHER_WAY + 0.5)
    for way, cost in early:
        yield RunShape(way, cost=cost + OTHER_TURN * (way != wished))
    if wish.brief.barrier is not None:
        yield from _struck_again(count, octave)


def _full_ways(count: int, octave: int) -> list[Way]:
    """Up and down as far as the ninth or the octave; a short one from the root or to it."""
    choices = []
    for peak in (octave + 1, octave):
        choices += [_wave(count, peak, octave, falls=falls) for falls in (False, True)]
    if count < octave:
        choices.append(tuple(range(octave - count + 1, octave + 1)))
        choices += [
            zigzag(count, peak) for peak in (LEAST_PEAK, LEAST_PEAK + 1) if peak < count - 1
        ]
    return list(dict.fromkeys(choices))


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
        price = NARROWER if peak >= LEAST_PEAK else TURNED_BACK
        way = zigzag(count, peak)
        if peak < count - 1:
            yield way, EARLY + price * (octave - peak)
            yield tuple(-step for step in way), EARLY + price * (octave - peak)


def _struck_again(count: int, octave: int) -> Iterator[RunShape]:
    """For players who stay on one side of the register break: the last note stands twice.

    An even number of notes has no way from tone to tone of the arpeggio that turns between.
    """
    for peak in range(2, min(octave, count)):
        *way, last = zigzag(count - 1, peak)
        yield RunShape((*way, last, last), cost=STRUCK_AGAIN)
        yield RunShape((*(-step for step in way), -last, -last), cost=STRUCK_AGAIN)


def _offsets(flags: Flags, palette: Palette, octave: int) -> set[int]:
    """Steps above the root where the flagged notes lie, over three octaves."""
    rungs = sorted((pc - palette.root_class) % 12 for pc in palette.degrees)
    meant = {int(midi - palette.root_class) % 12 for midi in np.flatnonzero(flags)}
    steps = [n for n, above in enumerate(rungs) if above in meant]
    return {n + turn * octave for n in steps for turn in (-1, 0, 1)}


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


def scale_in_order(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Within a chord the line goes from each note of the scale to the next."""
    for old, new in pairs_within_chord(etude):
        chord = etude.analysis.chords[new[0].chord]
        yield from off_ladder(set(chord.scale.pitch_classes), old, new)


_TURNED = "where the octave would be out of range or too big a leap, turn back before it"


def off_its_shape(notes: Sequence[EtudeNote]) -> tuple[str, str] | None:
    """A remark on a scale that is not built on its root, or turns before its octave."""
    if remark := built_on(notes, notes[0]):  # it may dip below the tone it runs from
        return remark
    word = _turned_at(notes)
    return (_TURNED, f"at its {word}") if word else None


def _turned_at(notes: Sequence[EtudeNote]) -> str:
    """The tone where a scale with room for an octave turns before it, in words."""
    sounding = [(n.pitch.midi, n.degree) for n in notes if n.pitch and n.degree]
    if len(sounding) <= OCTAVE.letters or _span([midi for midi, _ in sounding]) >= OCTAVE.semitones:
        return ""
    rises = sounding[1][0] > sounding[0][0]
    turn = (max if rises else min)(sounding, key=lambda pair: pair[0])[1]
    return NUMBER_WORDS.get(turn.number, "")


def _span(midis: Sequence[int]) -> int:
    return max(midis) - min(midis)


def directions(line: PartLine) -> str:
    """In which bars the line goes all the way up, and in which all the way down."""
    rising: set[int] = set()
    falling: set[int] = set()
    mixed: set[int] = set()
    for number, in_bar in groupby(line.notes, key=line.bar):
        runs = [list(run) for _, run in groupby(in_bar, key=lambda note: note.chord)]
        motions = {direction(line, old, new) for notes in runs for old, new in pairwise(notes)}
        kind = rising if motions == {1} else falling if motions == {-1} else mixed
        kind.add(number)
    if not mixed and not (rising and falling):
        return f"Every scale goes {'up' if rising else 'down'}."
    texts = [
        f"all the way {way} in {bars_in_words(bars)}"
        for way, bars in (("up", rising), ("down", falling))
        if bars
    ]
    turns = "; it turns in the others" if mixed else ""
    return f"The line goes {joined_by_and(texts)}{turns}." if texts else ""


STEP = Step(
    name="scale",
    title="Scale",
    task="The scale of each chord from its root. Listen for the notes that are new.",
    writing=InRuns(layout=scales, notices=remarks_by_chord(off_its_shape)),
    rules=(IN_SCALE, NOT_THREE_EQUAL, LineRule("the scale's notes in order", scale_in_order)),
    sentences=(changes, directions, highest),
)
