"""What is there to be filled? The notes' places, and what each place may hold.

A `Palette` is a chord as the search sees it: for every MIDI number in the player's
range, is it in the scale, in the chord, an avoid note, a changing note. A `Slot` is a
place for one note: when, how long, over which palette, on what kind of beat.

Chords that start between sixteenths are moved to the nearest one, so that every length
can be written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from halfstep.errors import BriefError
from halfstep.etude.parts import Brief, phrase_bars
from halfstep.harmony.analysis import Analysis, ChordHere
from halfstep.harmony.emissions import Weight, chord_family, log_shares, weight_at
from halfstep.harmony.outline import mixture_of
from halfstep.meter import EIGHTH, Meter
from halfstep.pitch import NATURAL_SEMITONES, Degree, Name, Pitch, name_at, pitch_near
from halfstep.progression.chart import Bar

Flags = NDArray[np.bool_]
Midis = NDArray[np.int64]
Gains = NDArray[np.float64]

SIXTEENTH = Fraction(1, 4)
_MIDI = np.arange(128)
_CLASSES = _MIDI % 12


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """A chord as a search sees it. Arrays have 128 places, one for each MIDI number.

    Attributes
    ----------
    chord : int
        Index into ``Analysis.chords``.
    label : str
        The chord as printed, in concert pitch.
    names : dict
        Pitch class to spelled name, for the notes of the scale.
    degrees : dict
        Pitch class to degree over the root.
    scale, tones, core, guide, avoid, changing, cell : array of bool
        In range and in the scale; a chord tone; a tone of the arpeggio; its third or
        seventh; the fourth over a major third; new with this chord; 1 2 3 5 of the scale.
    open : array of bool
        In range, whatever it is; for notes that approach others.
    gain : array of float, shape (3, 128)
        Nats that a note tells of this chord against the chart's mixture, for each weight
        of its place in the bar (`halfstep.harmony.emissions`).
    scale_rank, core_rank : array of int
        How many such notes lie at or below: neighbours differ by one.
    root_class : int
    beats : Fraction
        How long the chord lasts.
    look : tuple
        Equal for palettes that rules and costs cannot tell apart.
    """

    chord: int
    label: str
    names: dict[int, Name]
    degrees: dict[int, Degree]
    scale: Flags
    tones: Flags
    core: Flags
    guide: Flags
    avoid: Flags
    changing: Flags
    cell: Flags
    open: Flags
    gain: Gains
    scale_rank: Midis
    core_rank: Midis
    root_class: int
    beats: Fraction
    look: tuple[object, ...] = ()

    def pitch(self, midi: int, goal: Pitch | None = None) -> Pitch:
        """The sounding note, spelled as the scale spells it.

        A note from outside is spelled a letter away from its goal, the note it leads to.
        """
        name = self.names.get(midi % 12)
        if name is None:
            name = _leading_name(midi, goal)
        return pitch_near(name, midi)


def _leading_name(midi: int, goal: Pitch | None) -> Name:
    """A name for a chromatic note: the letter below or above the note it leads to."""
    if goal is None or goal.midi == midi:
        return NAMES_OF_SOUND[midi % 12]
    letter = (goal.name.letter + (-1 if midi < goal.midi else 1)) % 7
    alteration = (midi - NATURAL_SEMITONES[letter] + 6) % 12 - 6
    name = Name(letter, alteration)
    plain = abs(alteration) <= 1 and name.ascii not in {"Cb", "Fb", "E#", "B#"}
    return name if plain else NAMES_OF_SOUND[midi % 12]


NAMES_OF_SOUND = tuple(name_at(fifths) for fifths in (0, 7, 2, -3, 4, -1, 6, 1, 8, 3, -2, 5))
"""A usual name for each of the twelve notes, from C up."""


class Leads(IntEnum):
    """How a note leads to the next: not, as a neighbour, or as one of two around it.

    Where it is free it may leave the scale, and then leads on by step.
    """

    NOT = 0
    NEIGHBOUR = 1
    SCALE_NEIGHBOUR = 2
    AROUND_FIRST = 3
    AROUND_SECOND = 4
    FREE = 5


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
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
    weight : Weight
        Of its place in the bar.
    motif : int or None
        Steps of the scale from the note before that the motif asks for.
    leads : Leads
        How the note must lead to the next.
    pin : int or None
        The only MIDI number that may stand here.
    stands : bool
        The teacher's own note, which no rule is asked of.
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
    weight: Weight = Weight.OFF
    motif: int | None = None
    leads: Leads = Leads.NOT
    pin: int | None = None
    stands: bool = False

    @property
    def kind(self) -> tuple[object, ...]:
        """All that rules and costs look at apart from the contour."""
        look = self.palette.look if self.palette else ()
        entry = min(self.entry, 2)
        marks = (self.strong, self.turn, self.closes, self.last, self.beats >= 1)
        return (look, entry, *marks, self.weight, self.motif, self.leads, self.pin, self.stands)


@dataclass(frozen=True, slots=True)
class Piece:
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


def _among(classes: set[int], brief: Brief) -> Flags:
    """Which MIDI numbers in range belong to those pitch classes."""
    meant = np.zeros(12, bool)
    meant[list(classes)] = True
    return np.asarray(_playable(brief) & meant[_CLASSES])


def _playable(brief: Brief) -> Flags:
    """Which MIDI numbers the player has."""
    return _between(brief.concert_low, brief.concert_high, brief.known)


@lru_cache(64)
def _between(low: int, high: int, known: frozenset[int] | None) -> Flags:
    in_range = (low <= _MIDI) & (high >= _MIDI)
    if known is not None:
        in_range &= np.isin(_MIDI, list(known))
    in_range.flags.writeable = False
    return np.asarray(in_range)


def _gain(here: ChordHere, mixture: Sequence[float]) -> Gains:
    """What each note tells of the chord at each weight, in nats."""
    family = chord_family(here.span.symbol)
    if family is None:
        return np.zeros((3, 128))
    own = np.array(log_shares(family, here.span.symbol.root.pitch_class)).reshape(3, 12)
    return np.asarray((own - np.array(mixture).reshape(3, 12))[:, _MIDI % 12])


def cell_classes(here: ChordHere) -> set[int]:
    """The root, second, third and fifth of the scale; the chord's own where it has two."""
    own = {tone.degree.number: tone.name.pitch_class for tone in here.tones}
    scale = {note.degree.number: note.name.pitch_class for note in here.scale.notes}
    found = (own.get(number, scale.get(number)) for number in (1, 2, 3, 5))
    return {each for each in found if each is not None} & set(here.scale.pitch_classes)


def palette_of(analysis: Analysis, index: int, brief: Brief, mixture: Sequence[float]) -> Palette:
    """The palette of a chord, given the log-likelihoods of the chart's mixture.

    Raises
    ------
    BriefError
        When no note of the chord lies in the player's range.
    """
    here = analysis.chords[index]
    root = here.span.symbol.root
    scale = {note.name.pitch_class: note for note in here.scale.notes}
    tones = {tone.name.pitch_class for tone in here.tones} & set(scale)
    core = {tone.name.pitch_class for tone in here.core}
    guide = {t.name.pitch_class for t in here.guides}
    change = analysis.changing_into(index)
    # nothing was heard before the first chord
    new = {n.pitch_class for n in change.changing_notes} if change and index else set()
    core_flags = _among(core, brief)
    if not core_flags.any():
        raise BriefError(
            f"no note of {here.span.symbol} lies in the range of {brief.instrument.key} at "
            f"level {brief.level}; widen the range or choose another instrument"
        )
    scale_flags = _among(set(scale), brief)
    avoid = _avoid(here, root.pitch_class)
    sets = (set(scale), tones, core, guide, avoid, new & set(scale))
    return Palette(
        index,
        str(here.span.symbol),
        {pc: note.name for pc, note in scale.items()},
        {pc: note.degree for pc, note in scale.items()},
        scale_flags,
        _among(tones, brief),
        core_flags,
        _among(guide, brief),
        _among(avoid, brief),
        _among(new & set(scale), brief),
        _among(cell_classes(here), brief),
        _playable(brief),
        _gain(here, mixture),
        scale_flags.cumsum(),
        core_flags.cumsum(),
        root.pitch_class,
        here.span.beats,
        (root.pitch_class, chord_family(here.span.symbol), here.span.beats, *map(frozenset, sets)),
    )


def _avoid(here: ChordHere, root_class: int) -> set[int]:
    """The fourth over a major third, unless the chord itself holds it."""
    held = {(tone.name.pitch_class - root_class) % 12 for tone in here.tones}
    return {(root_class + 5) % 12} if 4 in held and 5 not in held else set()


def palettes(analysis: Analysis, brief: Brief) -> tuple[Palette | None, ...]:
    """One palette for each chord; None for ``N.C.``"""
    mixture = mixture_of([here.span for here in analysis.chords])
    return tuple(
        None if here.silent else palette_of(analysis, index, brief, mixture)
        for index, here in enumerate(analysis.chords)
    )


def on_grid(beat: Fraction) -> Fraction:
    """The nearest sixteenth."""
    return round(beat / SIXTEENTH) * SIXTEENTH


def pieces(analysis: Analysis) -> list[Piece]:
    """The chords cut at the bar lines, their starts on the grid of sixteenths."""
    starts = [on_grid(here.span.start) for here in analysis.chords]
    ends = [*starts[1:], analysis.chart.beats]
    bars = [(bar, start) for bar, start in analysis.chart.placed() if bar.number >= 1]
    found = []
    place = 0
    for chord, (start, end) in enumerate(zip(starts, ends, strict=True)):
        while start < end:
            while bars[place][1] + bars[place][0].beats <= start:
                place += 1
            bar, bar_start = bars[place]
            stop = min(end, bar_start + bar.beats)
            found.append(Piece(chord, start, stop, bar, bar_start))
            start = stop
    return found


def is_strong(piece: Piece, onset: Fraction, *, first: bool) -> bool:
    """True on the metre's strong beats and where a chord starts."""
    return first or onset - piece.bar_start in piece.bar.meter.strong_beats


def phrase_ends(analysis: Analysis, brief: Brief) -> set[int]:
    """Numbers of the bars that end a phrase: every two to four, and the last."""
    length = phrase_bars(analysis, brief.tempo_bpm)
    last = len(analysis.chart.form)
    return {*range(length, last + 1, length), last}


def breath_beats(meter: Meter) -> Fraction:
    """Length of the note that a line breathes after."""
    return meter.tempo_beats


def final_onset(piece: Piece) -> Fraction:
    """Where the last note of the form starts: the last strong beat, within the chord."""
    meter = piece.bar.meter
    strong = meter.strong_beats[-1] or (breath_beats(meter) if meter.count > 1 else Fraction(0))
    onset = piece.bar_start + strong
    return onset if piece.start < onset < piece.end else piece.start


def line_slots(
    analysis: Analysis, brief: Brief, found: Sequence[Palette | None], *, unit: Fraction = EIGHTH
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
        palette = found[piece.chord]
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
            slots[-1] = replace(slots[-1], closes=True, breath=brief.instrument.breath)
    slots[-1] = replace(slots[-1], last=slots[-1].palette is not None)
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
