"""What must a line do? Every rule of a step is one small function.

A `LocalRule` looks at one, two or three notes in a row. The search uses it as a mask
over all notes of the range at once, the check uses the same function on the notes that
were written: both pass MIDI numbers as arrays that broadcast. A `LineRule` looks at the
whole etude.

Conventions
-----------
- ``slots`` are the places of the notes, ``midis`` the notes, oldest first.
- A rule that does not apply to some slots says so in ``applies``, and is not asked.
- A leap is larger than a fifth when it spans more than seven semitones.

Source: common practice, no source.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.slots import Leads, Slot, on_grid, phrase_ends
from halfstep.pitch import Pitch

FIFTH = 7
THIRD = 4
SIXTH = 9


def _always(_slots: Sequence[Slot]) -> bool:
    return True


class LocalRule(NamedTuple):
    """A rule for ``width`` notes in a row; ``applies`` says in which slots.

    One that asks notes alone is given no slots.
    """

    text: str
    width: int
    holds: Callable[[Sequence[Slot], Sequence[Midis]], Flags]
    applies: Callable[[Sequence[Slot]], bool] = _always
    asks_notes_alone: bool = False


class LineRule(NamedTuple):
    """A rule for a whole etude; ``breaches`` yields the note where each breach shows."""

    text: str
    breaches: Callable[[EtudeLine], Iterator[EtudeNote]]


def palette_at(slot: Slot) -> Palette:
    """The palette of a slot that sounds."""
    assert slot.palette is not None
    return slot.palette


def in_scale(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In the player's range and in the scale of the moment."""
    return palette_at(slots[0]).scale[midis[0]]


def core_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the arpeggio."""
    return palette_at(slots[0]).core[midis[0]]


def chord_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the chord."""
    return palette_at(slots[0]).tones[midis[0]]


def not_avoided(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Not the fourth over a major third."""
    return ~palette_at(slots[0]).avoid[midis[0]]


def step_or_skip_to_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A step or a third in the scale, or a skip of up to a sixth to a chord tone."""
    old, new = midis
    palette = palette_at(slots[1])
    ranks = np.abs(palette.scale_rank[new] - palette.scale_rank[old])
    small = (ranks <= 2) if slots[0].palette is slots[1].palette else np.abs(new - old) <= THIRD
    return np.asarray((new != old) & (small | (palette.tones[new] & (np.abs(new - old) <= SIXTH))))


def inside_unless_leading(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In range, and in the scale unless the note leads to the next."""
    palette = palette_at(slots[0])
    free = slots[0].leads in {Leads.NEIGHBOUR, Leads.AROUND_FIRST, Leads.AROUND_SECOND}
    return palette.open[midis[0]] if free else palette.scale[midis[0]]


def neighbours(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A half step, or a whole step in the scale of either chord, into a chord tone."""
    old, new = midis
    size = np.abs(new - old)
    goal = palette_at(slots[1])
    in_scale = goal.scale[old] | palette_at(slots[0]).scale[old]
    near = np.where(slots[0].leads is Leads.SCALE_NEIGHBOUR, in_scale, in_scale | (size == 1))
    return np.asarray(goal.tones[new] & (size >= 1) & (size <= 2) & near)


def not_far(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No more than a sixth, and never the same note."""
    size = np.abs(midis[1] - midis[0])
    return np.asarray((size > 0) & (size <= SIXTH))


OCTAVE_SEMITONES = 12


def within_octave(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No leap wider than an octave."""
    return np.asarray(np.abs(midis[1] - midis[0]) <= OCTAVE_SEMITONES)


def leap_turns_back(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """After a leap larger than a fifth the line turns back."""
    first, second, third = midis
    return np.asarray((np.abs(second - first) <= FIFTH) | ((third - second) * (second - first) < 0))


def not_three_equal(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No note stands three times in a row."""
    first, second, third = midis
    return np.asarray((first != second) | (second != third))


def reaches_once(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The high point at its place, below it everywhere else."""
    top = slots[0].high_point or 0
    return np.asarray(midis[0] == top if slots[0].peaks else midis[0] < top)


def has_high_point(slots: Sequence[Slot]) -> bool:
    """True in a line with a planned high point."""
    return slots[0].high_point is not None


def on_one_side(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Both notes above the register break, or both below."""
    barrier = slots[0].barrier or 0
    return np.asarray((midis[0] <= barrier) == (midis[1] <= barrier))


def has_barrier(slots: Sequence[Slot]) -> bool:
    """True after a short note of a player who may not cross the break so soon."""
    return slots[0].barrier is not None


def on_strong(slots: Sequence[Slot]) -> bool:
    """True where the first note stands on a strong beat."""
    return slots[0].strong


def is_last(slots: Sequence[Slot]) -> bool:
    """True for the last note of the form."""
    return slots[0].last


def at_change(slots: Sequence[Slot]) -> bool:
    """True where the newest note is the first of its chord."""
    return slots[-1].entry == 0


def sounding(etude: EtudeLine) -> list[tuple[EtudeNote, Pitch]]:
    """The notes without the rests, each with its pitch."""
    return [(note, note.pitch) for note in etude.notes if note.pitch is not None]


def adds_up(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Notes follow one another without gap or overlap and end with the form."""
    for note, following in zip(etude.notes, etude.notes[1:], strict=False):
        if note.end != following.onset:
            yield following
    if etude.notes[0].onset != 0 or etude.notes[-1].end != etude.analysis.chart.beats:
        yield etude.notes[-1]


def in_range(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Every written note is in the instrument's range for the level."""
    instrument = etude.brief.instrument
    compass = instrument.compass(etude.brief.level)
    for note in etude.every_note:
        if note.pitch and instrument.written(note.pitch) not in compass:
            yield note


def spelled_in_scale(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Every note but one that leads to another is spelled as its chord's scale spells it."""
    for note, pitch in sounding(etude):
        if (
            note.approach is Approach.NONE
            and pitch.name not in etude.analysis.chords[note.chord].scale.names
        ):
            yield note


def not_held_across(etude: EtudeLine) -> Iterator[EtudeNote]:
    """No note is held into a chord whose scale does not hold it."""
    chords = etude.analysis.chords
    starts = [on_grid(chord.span.start) for chord in chords]
    for note, pitch in sounding(etude):
        place = note.chord + 1
        while place < len(chords) and starts[place] < note.end:
            chord = chords[place]
            if chord.silent or pitch.midi % 12 not in chord.scale.pitch_classes:
                yield note
            place += 1


def breathes(etude: EtudeLine) -> Iterator[EtudeNote]:
    """A wind player breathes, or rests, at the end of every phrase of the form."""
    if not etude.brief.instrument.breath:
        return
    ends = phrase_ends(etude.analysis, etude.brief)
    chart = etude.analysis.chart
    stops = {start + bar.beats for bar, start in chart.placed() if bar.number in ends}
    for note, _ in sounding(etude):
        if note.end in stops and not note.breath:
            yield note


def without_room(etude: EtudeLine, notes: Iterable[EtudeNote]) -> Iterator[EtudeNote]:
    """Those of the notes that a breath cannot be taken from.

    It can from a note of a beat or more, and from one that has all of its chord's time in a bar.
    """
    bars = list(etude.analysis.chart.placed())
    starts = [start for _, start in bars]
    for note in notes:
        span = etude.analysis.chords[note.chord].span
        bar, start = bars[bisect_right(starts, note.onset) - 1]
        low = max(start, on_grid(span.start))
        high = min(start + bar.beats, on_grid(span.end))
        held = note.beats >= bar.meter.tempo_beats
        if not held and not (note.onset <= low and note.end >= high):
            yield note


def breath_has_time(etude: EtudeLine) -> Iterator[EtudeNote]:
    """A breath is taken in a rest, or from a note of a beat or more."""
    following = [*etude.notes[1:], None]
    yield from without_room(
        etude,
        (
            note
            for note, after in zip(etude.notes, following, strict=True)
            if note.breath and not (after is not None and after.pitch is None)
        ),
    )


def comes_to_a_close(etude: EtudeLine) -> Iterator[EtudeNote]:
    """The last note lasts a beat or more, unless the form ends in silence."""
    last = etude.notes[-1]
    yield from without_room(etude, [last] if last.pitch else [])


CLOSING_DEGREES = (1, 3, 5)
"""Degrees of the home chord that a written ending may hold."""


def ends_at_home(etude: EtudeLine) -> Iterator[EtudeNote]:
    """A written ending begins where the form ends and holds root, third or fifth for its bar."""
    if etude.ending is None:
        return
    close = etude.ending.note
    closes = close.degree is not None and close.degree.number in CLOSING_DEGREES
    place = etude.analysis.chart.beats, etude.ending.bar.beats
    if not closes or (close.onset, close.beats) != place:
        yield close


def breathes_in_rests(etude: EtudeLine) -> Iterator[EtudeNote]:
    """A wind player breathes where the line rests."""
    if etude.brief.instrument.breath:
        rested = (old for old, new in pairwise(etude.notes) if old.pitch and not new.pitch)
        yield from (note for note in rested if not note.breath)


def sounding_stretches(etude: EtudeLine) -> list[list[tuple[EtudeNote, Pitch]]]:
    """The sounding notes, cut where the line rests."""
    stretches: list[list[tuple[EtudeNote, Pitch]]] = [[]]
    for note in etude.notes:
        if note.pitch is None:
            stretches.append([])
        else:
            stretches[-1].append((note, note.pitch))
    return stretches


def tones_in_order(etude: EtudeLine) -> Iterator[EtudeNote]:
    """Within a bar of a chord the line goes to the arpeggio's next tone or repeats one."""
    starts = set(bar_starts(etude))
    for old, new in pairs_within_chord(etude):
        chord = etude.analysis.chords[new[0].chord]
        if new[0].onset not in starts:
            yield from off_ladder({t.name.pitch_class for t in chord.core}, old, new)


def bar_starts(etude: EtudeLine) -> list[Fraction]:
    """Where the bars of the form begin, in beats."""
    return [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]


def pairs_within_chord(
    etude: EtudeLine,
) -> Iterator[tuple[tuple[EtudeNote, Pitch], tuple[EtudeNote, Pitch]]]:
    """Notes one after another over one chord, without a rest between."""
    for stretch in sounding_stretches(etude):
        for old, new in pairwise(stretch):
            if old[0].chord == new[0].chord:
                yield old, new


def off_ladder(
    classes: set[int], old: tuple[EtudeNote, Pitch], new: tuple[EtudeNote, Pitch]
) -> Iterator[EtudeNote]:
    """The new note when a rung of the ladder lies between the two, or it is none itself."""
    low, high = sorted((old[1].midi, new[1].midi))
    between = any(midi % 12 in classes for midi in range(low + 1, high))
    if between or new[1].midi % 12 not in classes:
        yield new[0]


ENDS_AT_HOME = LineRule("an ending holds root, third or fifth of the home chord", ends_at_home)
EVERY_STEP: tuple[LocalRule | LineRule, ...] = (
    LocalRule("an avoid note never sits on a strong beat", 1, not_avoided, on_strong),
    LocalRule("a leap larger than a fifth turns back", 3, leap_turns_back, asks_notes_alone=True),
    LocalRule("the last note is a tone of the arpeggio", 1, core_tone, is_last),
    LocalRule(
        "a beginner does not cross the register break after an eighth or less",
        2,
        on_one_side,
        has_barrier,
    ),
    LineRule("the bars add up", adds_up),
    LineRule("every written note is in the player's range", in_range),
    LineRule("every note is spelled within its scale", spelled_in_scale),
    LineRule("no note is held across a change that it clashes with", not_held_across),
    LineRule("the line ends on a note of a beat or more", comes_to_a_close),
    LineRule("a breath is taken in a rest, or from a note of a beat or more", breath_has_time),
    ENDS_AT_HOME,
)
"""Rules for every step; a rule on equal notes is left to each step."""

_BREATHING = "a phrase ends where the player can breathe"
BREATHES = LineRule(_BREATHING, breathes)
BREATHES_IN_RESTS = LineRule(_BREATHING, breathes_in_rests)
"""For steps with phrases of their own, which end where the line rests."""
IN_SCALE = LocalRule("every note is in range and in the scale of the moment", 1, in_scale)
NOT_THREE_EQUAL = LocalRule(
    "no more than two equal notes in a row", 3, not_three_equal, asks_notes_alone=True
)
CORE_TONES = LocalRule("only tones of the arpeggio", 1, core_tone)
MOVES_IN_SCALE = LocalRule(
    "steps and thirds in the scale, skips only to chord tones", 2, step_or_skip_to_tone
)
TONES_IN_ORDER = LineRule("the arpeggio's tones in order", tones_in_order)
HIGH_POINT = LocalRule(
    "the highest note stands past the middle of the form, once", 1, reaches_once, has_high_point
)
WITHIN_OCTAVE = LocalRule(
    "no leap is wider than an octave", 2, within_octave, asks_notes_alone=True
)
CHORD_TONE_ON_STRONG = LocalRule("a chord tone on every strong beat", 1, chord_tone, on_strong)
INSIDE = LocalRule("only a note that leads to another leaves the scale", 1, inside_unless_leading)
NOT_FAR = LocalRule(
    "no leap wider than a sixth, and no note twice", 2, not_far, asks_notes_alone=True
)
