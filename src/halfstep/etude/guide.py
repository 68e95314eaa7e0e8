"""Step 7: guide tones by nearest voice leading, in long notes and then decorated.

The line of guide tones is found first, by an exact search: into each chord by the nearest
third or seventh, and while a chord lasts from one to the other or held, never struck
again. The third tells more of a chord than the seventh, so which of them the line begins
on and where it moves decide how clearly it spells the changes. A beginner plays it as it
is. Others hold each guide tone for half of its chord's stay in the bar, and fill the rest
with eighths that lead by step into the next.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache, partial
from itertools import groupby, pairwise, product
from typing import NamedTuple

import numpy as np

from halfstep.etude.costs import TEMPERATURE, Cost, pauses, returning, skipping, tells
from halfstep.etude.frame import Flags, Midis, Palette, Piece, Slot, phrase_ends, pieces
from halfstep.etude.heard import Heard, Note, never_thrice
from halfstep.etude.layouts import with_phrases
from halfstep.etude.parts import Brief, Etude, EtudeNote
from halfstep.etude.rules import (
    FIFTH,
    IN_SCALE,
    SIXTH,
    LineRule,
    LocalRule,
    palette,
    sounding,
)
from halfstep.etude.search import Chain, Costs, Lazy, sample_path
from halfstep.etude.shapes import manner, slots_of, times_before
from halfstep.harmony.analysis import Analysis, ChordHere
from halfstep.harmony.outline import outline, plain_arpeggio
from halfstep.level import Level
from halfstep.meter import EIGHTH

LONG = 0
"""The motif of a slot that holds a guide tone."""
PUSHES = (0.5, 1.0, 2.0, 4.0, *range(8, 40, 2), 64.0, 256.0)
"""For each nat that a guide tone leaves untold, until the line tells enough."""
DRAWN = 2
"""How many lines are drawn before more telling is asked for."""
WARM = 0.18
"""Nats below the most telling line that a drawn one may lie."""
OTHERWISE = 6.0
"""For another rhythm in a bar than the seed and the repeats of the form would have."""
LIKELY = 5
"""Of so many notes in range, those that tell most, a decoration is mostly made."""
HELD = 0.7
"""For a guide tone held into the next bar."""
LEAP = 1000.0
"""For a leap wider than a fifth, or over one chord of a fifth: as good as never."""
MOST_JOINS = 256
"""Costs between pieces known at a time, of 100 kB at most."""
STRANDED = 10_000.0
"""For a way after which no note can lead into the next guide tone."""
THRICE = 12.0
"""For guide tones that fill a bar for the third time, or that a neighbouring seed has there."""
FAR = 0.15
"""For each semitone from the middle of the range, beyond a fifth."""


def layouts(
    analysis: Analysis,
    brief: Brief,
    found: Sequence[Palette | None],
    rng: np.random.Generator,
    heard: Sequence[Heard],
) -> Iterator[list[Slot]]:
    """A guide tone for each chord in each bar, pinned, and eighths that lead on.

    Unlike what is heard, and to be tried one after another until a line tells its chords.
    """
    cut = pieces(analysis)
    ends = phrase_ends(analysis, brief)
    line = _GuideLine(analysis, brief, cut, found, ends, heard)
    most = PLAIN_SHORT if brief.level is Level.BEGINNER else max(SHORT)
    vain = 0
    for short in dict.fromkeys(min(each, most) for each in SHORT):
        enough = 0
        for _ in range(TRIED):
            drawn = line.drawn(rng, short)
            enough += line.tells(drawn) >= -short
            yield with_phrases(_slots(cut, drawn, found, ends, brief), analysis, brief)
        vain = 0 if enough else vain + 1
        if vain == MOST_IN_VAIN:
            return


SHORT = (4.0, 3.0, 2.0, 1.0, 0.5, 0.0, -0.3, -0.6, -2.0)
"""Nats that a line may seem to tell too little, the freest first: small steps leave choice."""
PLAIN_SHORT = 0.25
"""The most where nothing is added to the guide tones."""
TRIED, MOST_IN_VAIN = 6, 3
"""Lines for each of them; and after how many of them that no line keeps it is given up."""


def _slots(
    cut: Sequence[Piece],
    line: _Line,
    found: Sequence[Palette | None],
    ends: set[int],
    brief: Brief,
) -> list[Slot]:
    slots: list[Slot] = []
    entry, chord = 0, -1
    for before, piece, way in zip([cut[0], *cut], cut, line, strict=False):
        here = found[piece.chord]
        if here is None or way is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        entry, chord = (entry if piece.chord == chord else 0), piece.chord
        if brief.level is Level.BEGINNER and _goes_on(way, slots, piece, before, ends):
            slots[-1] = replace(slots[-1], beats=slots[-1].beats + piece.beats)
            continue
        made = list(slots_of(piece, piece.start, way.lengths, here, entry))
        for place, tone in enumerate(way.tones):
            made[place] = replace(made[place], pin=tone, motif=LONG)
        slots += made
        entry += len(made)
    return slots


def _closes(piece: Piece, ends: set[int]) -> bool:
    return piece.end == piece.bar_start + piece.bar.beats and piece.bar.number in ends


def _rhythms(piece: Piece, level: Level, *, closes: bool) -> list[tuple[Fraction, ...]]:
    """Rhythms for a chord in a bar, the plainest first: long notes, or one and what leads on."""
    if level is Level.BEGINNER:
        return [(piece.beats,), *_splits(piece), *_returns(piece)]
    if closes:
        return [(piece.beats,), *_splits(piece)]
    if piece.beats < 2:
        return [(piece.beats,), *_split_off(piece)]
    half = (piece.beats / 2) // EIGHTH * EIGHTH
    long = piece.beats - half if level is Level.ADVANCED else max(piece.beats - half, 2 * EIGHTH)
    count = int((piece.beats - long) / EIGHTH)
    fewer = max(1, count - 2) if count != 3 else 2
    found = [[EIGHTH] * count, [EIGHTH] * fewer]
    if count > 2:
        found.insert(1, [2 * EIGHTH, *[EIGHTH] * (count - 2)])
    if piece.beats < 3:
        found.append([])
    return [(piece.beats - sum(each), *each) for each in found if sum(each) < piece.beats]


def _split_off(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """A short stay with an eighth that leads on."""
    if piece.beats >= 3 * EIGHTH:
        yield piece.beats - EIGHTH, EIGHTH


def guides_of(here: Palette) -> Midis:
    """The guide tones in range; the tones of the arpeggio where there are none."""
    found = np.flatnonzero(here.guide)
    return found if len(found) else np.flatnonzero(here.core)


def followers_of(here: Palette) -> Midis:
    """What may follow a guide tone over one chord: the other one, or another tone of a triad."""
    found = guides_of(here)
    return found if _classes(found) > 1 else np.flatnonzero(here.core)


def _classes(midis: Midis) -> int:
    """How many different notes there are, octaves aside."""
    return len({*(midis % 12).tolist()})


# The line of guide tones


class _Way(NamedTuple):
    """What may stand for a chord in a bar: one guide tone, or one and then the other."""

    tones: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    cost: float
    """Without what it tells."""
    told: float
    """Nats that its notes tell or mostly will, more than as many of the plain arpeggio."""

    def notes(self, start: Fraction) -> Iterator[Note]:
        """Its guide tones, from a beat on."""
        for length, tone in zip(self.lengths, self.tones, strict=False):
            yield start, length, tone
            start += length


_Line = list[_Way | None]


class _GuideLine:
    """What may stand for each piece of a chart, and lines of it."""

    def __init__(
        self,
        analysis: Analysis,
        brief: Brief,
        cut: Sequence[Piece],
        found: Sequence[Palette | None],
        ends: set[int],
        heard: Sequence[Heard],
    ) -> None:
        told = outline(plain_arpeggio(analysis.chart), analysis.chart).whole.outline or 0.0
        ways = _all_ways(brief, cut, found, ends, told)
        self._ways = [_unlike(*each, heard) for each in zip(ways, cut, strict=True)]
        self._cut, self._ends = cut, ends
        plain = brief.level is Level.BEGINNER
        joins = partial(_joined, found=found, ends=ends, plain=plain)
        both = list(zip(cut, self._ways, strict=True))
        self._into = lru_cache(MOST_JOINS)(lambda place: joins(both[place - 1], both[place]))
        self._bars = [start for _, start in analysis.chart.placed()]

    def drawn(self, rng: np.random.Generator, short: float) -> _Line:
        """A way for each piece; None where there is no chord.

        Telling is asked for more and more, until the line tells as much as the plain
        arpeggio; up to ``short`` nats too little where more will be told by the decoration.
        """

        def draw(heard: Sequence[Heard]) -> _Line:
            dearer = [_unlike(*each, heard) for each in zip(self._ways, self._cut, strict=True)]
            line: _Line = []
            for push in np.repeat(PUSHES, DRAWN).tolist():
                line = self._pushed(dearer, push, rng)
                if self.tells(line) >= -short:
                    break
            return line

        return never_thrice(draw, self._sounds, self._bars)

    def tells(self, line: _Line) -> float:
        """Nats that it tells, or its decoration mostly will, more than the plain arpeggio."""
        return sum(way.told for _, way in _struck(self._cut, line, self._ends))

    def _pushed(self, ways: Sequence[list[_Way]], push: float, rng: np.random.Generator) -> _Line:
        """A line drawn with what it tells counted ``push`` times."""
        line: _Line = []
        for silent, group in groupby(range(len(ways)), key=lambda n: not ways[n]):
            places = list(group)
            if silent:
                line += [None] * len(places)
            else:
                line += self._drawn(places, ways, push, rng)
        return line

    def _drawn(
        self, places: list[int], ways: Sequence[list[_Way]], push: float, rng: np.random.Generator
    ) -> list[_Way]:
        """A way for each piece of a stretch, drawn from those that join."""
        ones = [np.array([way.cost - push * way.told for way in ways[n]]) for n in places]
        twos = Lazy[Costs | None](len(places), lambda n: self._into(places[n]))
        warmth = max(TEMPERATURE, WARM * push)
        costs = Chain(ones, twos, [None] * len(places))
        path = sample_path(costs, temperature=warmth, rng=rng)
        return [ways[n][state] for n, state in zip(places, path, strict=True)]

    def _sounds(self, line: _Line) -> list[Note]:
        """The long notes that are struck."""
        struck = _struck(self._cut, line, self._ends)
        return [note for piece, way in struck for note in way.notes(piece.start)]


def _unlike(ways: Sequence[_Way], piece: Piece, heard: Sequence[Heard]) -> list[_Way]:
    """The ways, dearer where their long notes are heard already."""
    return [
        way._replace(cost=way.cost + THRICE * sum(h.has(way.notes(piece.start)) for h in heard))
        for way in ways
    ]


def _struck(cut: Sequence[Piece], line: _Line, ends: set[int]) -> Iterator[tuple[Piece, _Way]]:
    """The ways whose first tone is not held over from the bar before."""
    for place, way in enumerate(line):
        before, old = cut[place - 1], line[place - 1] if place else None
        held = old and way and old.tones[-1:] == way.tones and before.chord == cut[place].chord
        if way and not (held and not _closes(before, ends)):
            yield cut[place], way


def _all_ways(
    brief: Brief,
    cut: Sequence[Piece],
    found: Sequence[Palette | None],
    ends: set[int],
    told: float,
) -> Iterator[list[_Way]]:
    """The ways of each piece; none where there is no chord."""
    times = times_before(cut, found)
    middle = (brief.concert_low + brief.concert_high) / 2
    for number, (piece, before) in enumerate(zip(cut, times, strict=True)):
        here = found[piece.chord]
        if here is None:
            yield []
            continue
        closes = piece is cut[-1] or _closes(piece, ends)
        cuts = _rhythms(piece, brief.level, closes=closes)
        long = closes or brief.level is Level.BEGINNER
        wanted = manner(brief.seed, number, before, len(cuts))
        ways = []
        for place, lengths in enumerate(cuts):
            taste = OTHERWISE * (place != wanted)
            slots = slots_of(piece, piece.start, lengths, here, 0)
            for tones in _tones(here, count=len(lengths) if long else 1):
                gains = [here.gain[s.weight, t] for s, t in zip(slots, tones, strict=False)]
                free = slots[len(tones) :]
                gains += [_likely(here, slot.weight, led=slot is free[-1]) for slot in free]
                away = max(0.0, abs(sum(tones) / len(tones) - middle) - FIFTH)
                gain = float(sum(gains)) - told * len(gains)
                ways.append(_Way(tones, lengths, taste + FAR * away, gain))
        yield ways


def _likely(here: Palette, weight: int, *, led: bool) -> float:
    """What a note of a decoration mostly tells; less if it leads on, for then it is bound."""
    gains = np.sort(here.gain[weight][here.scale])
    return float(gains.mean() if led else gains[-LIKELY:].mean())


def _splits(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Two notes for a chord in a bar, on pulses, the first one no shorter."""
    pulse = piece.bar.meter.tempo_beats
    first = pulse
    while first < piece.beats:
        if first * 2 >= piece.beats:
            yield first, piece.beats - first
        first += pulse


def _returns(piece: Piece) -> Iterator[tuple[Fraction, ...]]:
    """Three notes, there and back, where a pulse has three eighths."""
    if piece.bar.meter.tempo_beats == 3 * EIGHTH and piece.beats == 6 * EIGHTH:
        yield 3 * EIGHTH, 2 * EIGHTH, EIGHTH


def _tones(here: Palette, *, count: int) -> Iterator[tuple[int, ...]]:
    """The guide tones one by one, or each in turn with another tone nearer than a fifth."""
    found = guides_of(here).tolist()
    if count == 1:
        yield from ((midi,) for midi in found)
        return
    for old, new in product(found, followers_of(here).tolist()):
        if old % 12 != new % 12 and abs(new - old) < FIFTH:
            yield (old, new, old)[:count]


def _joined(
    last: tuple[Piece, list[_Way]],
    following: tuple[Piece, list[_Way]],
    *,
    found: Sequence[Palette | None],
    ends: set[int],
    plain: bool,
) -> Costs:
    """What it costs to go from each way of a piece to each of the next."""
    piece = following[0]
    left = np.array([way.tones[-1] for way in last[1]])[:, None]
    right = np.array([way.tones[0] for way in following[1]])[None]
    here, before = found[piece.chord], found[last[0].chord]
    assert here is not None
    assert before is not None
    blocked = STRANDED * ~_led(last[1], before, right[0])
    if piece.chord != last[0].chord:
        return blocked + _nearest(left, right, guides_of(here))
    holds = np.array([len(way.tones) == 1 for way in following[1]])
    holds = holds & plain & (not _closes(last[0], ends))
    return blocked + _moved(left, right, guides_of(here), holds)


def _led(ways: Sequence[_Way], here: Palette, goals: Midis) -> Flags:
    """For each way and each goal: true where a note can lead there, if one has to."""
    notes = np.flatnonzero(here.scale)
    leads = _is_step(notes[:, None] - goals)
    free = [len(way.lengths) - len(way.tones) for way in ways]
    return np.array(
        [
            leads[(notes != way.tones[-1]) | (count > 1)].any(axis=0) | (count == 0)
            for way, count in zip(ways, free, strict=True)
        ]
    )


def _nearest(left: Midis, right: Midis, guides: Midis) -> Costs:
    """Into a new chord: only the nearest, and no leap where there is another way."""
    size = np.abs(right - left)
    nearest = np.abs(guides - left).min(axis=1)[:, None]
    return np.where(size == nearest, LEAP * (size > FIFTH), np.inf)


def _moved(left: Midis, right: Midis, guides: Midis, holds: Flags) -> Costs:
    """In one chord: to the other tone, or the same one if it is held or there is no other."""
    size = np.abs(right - left)
    again = np.where(holds, HELD, np.inf if _classes(guides) > 1 else 0.0)
    return np.where(size == 0, again, np.where(size >= FIFTH, LEAP, 0.0))


def _goes_on(way: _Way, slots: Sequence[Slot], piece: Piece, before: Piece, ends: set[int]) -> bool:
    """True where the tone of the bar before is held."""
    same = piece.start > before.start and piece.chord == before.chord
    return same and not _closes(before, ends) and way.tones == (slots[-1].pin,)


def leads_in(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step or a whole step into the next guide tone."""
    return _is_step(midis[1] - midis[0])


def _is_step(moved: Midis) -> Flags:
    size = np.abs(moved)
    return np.asarray((size >= 1) & (size <= 2))


def decorates(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a sixth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size >= 1) & (size <= SIXTH))


def is_guide(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A third or seventh, or what stands for them; later also what may follow them."""
    here = palette(slots[0])
    return np.isin(midis[0], followers_of(here) if slots[0].entry else guides_of(here))


def _guides_heard(etude: Etude) -> Iterator[tuple[EtudeNote, int]]:
    """The long notes: all of a beginner's, else where a chord, a bar begins or a phrase ends."""
    cut, ends = pieces(etude.analysis), phrase_ends(etude.analysis, etude.brief)
    starts = {piece.start for piece in cut}
    stops = {piece.end for piece in cut if piece is cut[-1] or _closes(piece, ends)}
    plain = etude.brief.level is Level.BEGINNER
    for note, pitch in sounding(etude):
        if plain or note.onset in starts or note.end in stops:
            yield note, pitch.midi


def _guide_choices(here: ChordHere, brief: Brief) -> Midis:
    """The guide tones that the player has, or what stands for them."""
    midis = np.arange(brief.concert_low, brief.concert_high + 1)
    if brief.known is not None:
        midis = midis[np.isin(midis, list(brief.known))]
    for tones in (here.guides, here.core):
        found = midis[np.isin(midis % 12, [tone.name.pitch_class for tone in tones])]
        if len(found):
            return np.asarray(found)
    return midis[:0]


def _guide_pairs(
    etude: Etude,
) -> Iterator[tuple[tuple[EtudeNote, int], tuple[EtudeNote, int], Midis]]:
    """Guide tones one after another without a rest between, and the choices for the second."""
    chords = etude.analysis.chords
    for old, new in pairwise(_guides_heard(etude)):
        if not any(chords[n].silent for n in range(old[0].chord, new[0].chord)):
            yield old, new, _guide_choices(chords[new[0].chord], etude.brief)


def by_nearest(etude: Etude) -> Iterator[EtudeNote]:
    """Every chord is entered by the guide tone nearest to the one before."""
    for (last, old), (note, new), choices in _guide_pairs(etude):
        if last.chord != note.chord and (np.abs(choices - old) < abs(new - old)).any():
            yield note


def not_struck_again(etude: Etude) -> Iterator[EtudeNote]:
    """Over one chord a guide tone is held, or the other one follows, if there is one."""
    for (last, old), (note, new), choices in _guide_pairs(etude):
        if last.chord == note.chord and new == old and _classes(choices) > 1:
            yield note


def by_half(etude: Etude) -> Iterator[EtudeNote]:
    """The first note of each chord in each bar takes half of the chord's stay, or more."""
    at = {note.onset: note for note, _ in sounding(etude)}
    for piece in pieces(etude.analysis):
        note = at.get(piece.start)
        if note and note.beats * 2 < piece.beats:
            yield note


def _is_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif == LONG


def _into_long(slots: Sequence[Slot]) -> bool:
    return slots[0].motif is None and slots[1].motif == LONG


def _from_long_or_between(slots: Sequence[Slot]) -> bool:
    return slots[1].motif is None


RULES = (
    IN_SCALE,
    LocalRule("a chord begins with its third or seventh", 1, is_guide, _is_long),
    LocalRule("the notes between lead by step into the next guide tone", 2, leads_in, _into_long),
    LocalRule("no leap wider than a sixth between guide tones", 2, decorates,
              _from_long_or_between),
    LineRule("guide tones go to the nearest of the next chord", by_nearest),
    LineRule("over one chord a guide tone is held, or the other one follows", not_struck_again),
    LineRule("a guide tone is held for half of its chord's stay in the bar", by_half),
)  # fmt: skip
COSTS = (
    Cost(2, skipping, 0.8),
    Cost(1, tells, 24.0),
    Cost(1, pauses, 1.0),
    Cost(3, returning, 0.6),
)
