"""Where may notes stand? The places of a line: when, how long, over which palette, on what beat.

Chords that start between sixteenths are moved to the nearest one, so that every length
can be written.
"""

from collections.abc import Sequence, Set
from enum import IntEnum
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from halfstep.etude.etude_brief import Brief, phrase_bars
from halfstep.etude.palette import Palette
from halfstep.etude.same_analysis import SameAnalysis
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.note_likelihoods import Weight, weight_at
from halfstep.meter import EIGHTH, Meter
from halfstep.progression.chart import Bar

SIXTEENTH = Fraction(1, 4)


class Leads(IntEnum):
    """How a note leads to the next: not, as a neighbour, or as one of two around it.

    As a neighbour in the scale, and around it in the scale, it stays inside.

    Where it is free it may leave the scale, and then leads on by step.
    """

    NOT = 0
    NEIGHBOUR = 1
    SCALE_NEIGHBOUR = 2
    AROUND_FIRST = 3
    AROUND_SECOND = 4
    FREE = 5
    SCALE_AROUND_FIRST = 6
    SCALE_AROUND_SECOND = 7


FIRST_AROUND = frozenset({Leads.AROUND_FIRST, Leads.SCALE_AROUND_FIRST})
LAST_AROUND = frozenset({Leads.AROUND_SECOND, Leads.SCALE_AROUND_SECOND})


class Slot(NamedTuple):
    """A place for one note.

    Attributes
    ----------
    onset, beats : Fraction
    palette : Palette or None
        None where there is no chord: a rest.
    strong : bool
        On a strong beat of the metre or at the start of a chord.
    entry : int
        0 for the first note of its chord, 1 for the second, …
    turn : bool
        The line must have turned at the note before.
    closes : bool
        A phrase ends on it.
    breath : bool
        The player breathes after it.
    last : bool
        The last note of the form.
    target : float
        MIDI number the contour leads to here.
    way : int
        The direction that is planned into it: -1 down, 1 up, 0 where none is.
    weight : Weight
        Of its place in the bar.
    motif : int or None
        Steps of the scale from the note before that the motif asks for.
    strict : bool
        What its step asks there is asked in full: a motif to the step of the scale, a leading note
        from outside the scale.
    leads : Leads
        How the note must lead to the next.
    pin : int or None
        The only MIDI number that may stand here.
    stands : bool
        The teacher's own note, which no rule is asked of.
    echo : frozenset of int or None
        The pitch classes that fit where the note is played back; None where it is not.
    high_point : int or None
        The MIDI number that is reached at one place of the line, and nowhere else.
    peaks : bool
        That place.
    barrier : int or None
        The MIDI number below a register break that the next note may not lie across.
    below : tuple of int
        MIDI numbers that are struck with its note, the highest first.
    """

    onset: Fraction
    beats: Fraction
    palette: Palette | None
    strong: bool
    entry: int
    turn: bool = False
    closes: bool = False
    breath: bool = False
    last: bool = False
    target: float = 0.0
    way: int = 0
    weight: Weight = Weight.OFF
    motif: int | None = None
    leads: Leads = Leads.NOT
    pin: int | None = None
    stands: bool = False
    echo: frozenset[int] | None = None
    high_point: int | None = None
    peaks: bool = False
    barrier: int | None = None
    strict: bool = False
    below: tuple[int, ...] = ()

    @property
    def kind(self) -> tuple[object, ...]:
        """All that rules and costs look at apart from the contour."""
        return (self.palette.look if self.palette else (), *self.marks)

    @property
    def marks(self) -> tuple[object, ...]:
        """Its kind without its palette; last what there is of a high point."""
        beats = self.beats
        return (
            min(self.entry, 2),
            self.strong,
            self.turn,
            self.closes,
            self.last,
            beats >= 1,
            beats > EIGHTH,
            self.weight,
            self.way,
            self.motif,
            self.strict,
            self.leads,
            self.pin,
            self.stands,
            self.echo,
            self.barrier,
            self.high_point,
            self.peaks,
        )


class Piece(NamedTuple):
    """The part of a chord that lies in one bar.

    Attributes
    ----------
    chord : int
    start, end : Fraction
    bar : Bar
    bar_start : Fraction
    """

    chord: int
    start: Fraction
    end: Fraction
    bar: Bar
    bar_start: Fraction

    @property
    def beats(self) -> Fraction:
        """How long it lasts."""
        return self.end - self.start


def on_grid(beat: Fraction) -> Fraction:
    """The nearest sixteenth."""
    if SIXTEENTH.denominator % beat.denominator == 0:  # as nearly all do
        return beat
    return round(beat / SIXTEENTH) * SIXTEENTH


def pieces(analysis: Analysis) -> list[Piece]:
    """The chords cut at the bar lines, their starts on the grid of sixteenths."""
    return list(_pieces(SameAnalysis(analysis)))


@lru_cache(4)
def _pieces(same: SameAnalysis) -> tuple[Piece, ...]:
    chart, chords = same.analysis.chart, same.analysis.chords
    starts = [on_grid(chord.span.start) for chord in chords]
    ends = [*starts[1:], chart.beats]
    bars = [(bar, start, start + bar.beats) for bar, start in chart.placed() if bar.number >= 1]
    cut = []
    place = 0
    for chord, (start, end) in enumerate(zip(starts, ends, strict=True)):
        while start < end:
            while bars[place][2] <= start:
                place += 1
            bar, bar_start, bar_end = bars[place]
            stop = min(end, bar_end)
            cut.append(Piece(chord, start, stop, bar, bar_start))
            start = stop
    return tuple(cut)


def is_strong(piece: Piece, onset: Fraction, *, first: bool) -> bool:
    """True on the metre's strong beats and where a chord starts."""
    return first or onset - piece.bar_start in piece.bar.meter.strong_beats


def phrase_ends(analysis: Analysis, brief: Brief) -> set[int]:
    """Numbers of the bars that end a phrase: every two to four, and the last."""
    length = phrase_bars(analysis, brief.tempo_bpm)
    last = len(analysis.chart.form)
    return {*range(length, last + 1, length), last}


def closes_phrase(piece: Piece, ends: Set[int]) -> bool:
    """True when a phrase ends with the piece."""
    return piece.end == piece.bar_start + piece.bar.beats and piece.bar.number in ends


def breath_beats(meter: Meter) -> Fraction:
    """Length of the note that a line breathes after."""
    return meter.tempo_beats


def final_onset(piece: Piece) -> Fraction:
    """Where the last note of the form starts: the last strong beat, within the chord.

    Sooner where less than a beat would be left for it.
    """
    meter = piece.bar.meter
    strong = meter.strong_beats[-1] or (breath_beats(meter) if meter.count > 1 else Fraction(0))
    onset = min(piece.bar_start + strong, piece.end - breath_beats(meter))
    return onset if piece.start < onset < piece.end else piece.start


def line_slots(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], *, unit: Fraction = EIGHTH
) -> list[Slot]:
    """Slots for an unbroken line: equal notes, a longer one to breathe after, a last one.

    Parameters
    ----------
    unit : Fraction
        Length of the notes of the line in beats.
    """
    cut = pieces(analysis)
    ends = phrase_ends(analysis, brief)
    slots: list[Slot] = []
    entry = 0
    for number, piece in enumerate(cut):
        if not number or cut[number - 1].chord != piece.chord:
            entry = 0
        palette = palettes[piece.chord]
        if palette is None:
            slots.append(Slot(piece.start, piece.beats, None, True, 0))
            continue
        for onset, stop in _note_bounds(piece, unit, ends, last=number == len(cut) - 1):
            strong = is_strong(piece, onset, first=entry == 0)
            weight = weight_at(piece.bar.meter, float(onset - piece.bar_start))
            slots.append(Slot(onset, stop - onset, palette, strong, entry, weight=weight))
            entry += 1
        bar_done = piece.end == piece.bar_start + piece.bar.beats
        if bar_done and piece.bar.number in ends:
            slots[-1] = slots[-1]._replace(closes=True, breath=brief.instrument.breath)
    slots[-1] = slots[-1]._replace(last=slots[-1].palette is not None)
    return slots


def _note_bounds(
    piece: Piece, unit: Fraction, ends: set[int], *, last: bool
) -> list[tuple[Fraction, Fraction]]:
    """Start and stop of the notes in a piece."""
    bounds = [piece.start]
    at = piece.bar_start + ((piece.start - piece.bar_start) // unit + 1) * unit
    while at < piece.end:
        bounds.append(at)
        at += unit
    hold = piece.end
    bar_end = piece.bar_start + piece.bar.beats
    if last:
        hold = final_onset(piece)
    elif piece.end == bar_end and piece.bar.number in ends:
        hold = max(piece.start, bar_end - breath_beats(piece.bar.meter))
    bounds = [at for at in bounds if at <= hold]
    if bounds[-1] < hold < piece.end:
        bounds.append(hold)
    return list(zip(bounds, [*bounds[1:], piece.end], strict=True))


def with_barrier(slots: Sequence[Slot], barrier: int | None) -> list[Slot]:
    """The slots, those of short notes with the break that the next note may not lie across."""
    if barrier is None:
        return list(slots)
    return [slot._replace(barrier=barrier) if slot.beats <= EIGHTH else slot for slot in slots]


def slots_of(
    piece: Piece,
    start: Fraction,
    lengths: Sequence[Fraction],
    palette: Palette | None,
    entry: int,
) -> tuple[Slot, ...]:
    """Slots of those lengths from a place in a piece."""
    slots = []
    onset = start
    for length in lengths:
        strong = is_strong(piece, onset, first=entry == 0)
        weight = weight_at(piece.bar.meter, float(onset - piece.bar_start))
        slots.append(Slot(onset, length, palette, strong, entry, weight=weight))
        onset += length
        entry += 1
    return tuple(slots)
