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

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from halfstep.etude.frame import Flags, Midis, Palette, Slot, on_grid, phrase_ends
from halfstep.etude.parts import Approach, Etude, EtudeNote
from halfstep.pitch import Pitch

FIFTH = 7
THIRD = 4
SIXTH = 9
FAST_BEATS = 2
"""A chord shorter than this is passed through: a chord tone on its start is all asked."""
CHORUS = 13
LONGEST_RUN = 7
"""Notes in one direction before a turning line must have turned."""


def _always(_slots: Sequence[Slot]) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class LocalRule:
    """A rule for ``width`` notes in a row."""

    text: str
    width: int
    holds: Callable[[Sequence[Slot], Sequence[Midis]], Flags]
    applies: Callable[[Sequence[Slot]], bool] = _always


@dataclass(frozen=True, slots=True)
class LineRule:
    """A rule for a whole etude; ``breaches`` yields the note where each breach shows."""

    text: str
    breaches: Callable[[Etude], Iterator[EtudeNote]]


def palette(slot: Slot) -> Palette:
    """The palette of a slot that sounds."""
    assert slot.palette is not None
    return slot.palette


# Rules for one note


def in_scale(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """In the player's range and in the scale of the moment."""
    return palette(slots[0]).scale[midis[0]]


def core_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the arpeggio."""
    return palette(slots[0]).core[midis[0]]


def chord_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the chord."""
    return palette(slots[0]).tones[midis[0]]


def not_avoided(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Not the fourth over a major third."""
    return ~palette(slots[0]).avoid[midis[0]]


# Rules for two notes


def nearest_across(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The chord tone nearest to the note before, or that very note where it stays."""
    old, new = midis
    tones = np.flatnonzero(palette(slots[1]).core)
    distances = np.abs(tones - np.asarray(old)[..., None])
    distances = np.where(distances == 0, 99, distances)
    return np.asarray(np.abs(new - old) <= distances.min(axis=-1))


def step_or_skip_to_tone(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A step or a third in the scale, or a skip of up to a sixth to a chord tone."""
    old, new = midis
    here = palette(slots[1])
    ranks = np.abs(here.scale_rank[new] - here.scale_rank[old])
    small = (ranks <= 2) if slots[0].palette is slots[1].palette else np.abs(new - old) <= THIRD
    return np.asarray((new != old) & (small | (here.tones[new] & (np.abs(new - old) <= SIXTH))))


def close_across(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Across a change: a step or a third, never the same note; up to a fifth when fast."""
    distance = np.abs(midis[1] - midis[0])
    reach = THIRD if palette(slots[1]).beats >= FAST_BEATS else FIFTH
    return np.asarray((distance > 0) & (distance <= reach))


def change_heard(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The first or second note of the chord is a changing note."""
    changing = palette(slots[1]).changing
    return np.asarray(changing[midis[0]] | changing[midis[1]])


# Rules for three notes


def change_heard_third(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The third note of the chord is a changing note."""
    return palette(slots[2]).changing[midis[2]]


def leap_turns_back(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """After a leap larger than a fifth the line turns back."""
    first, second, third = midis
    return np.asarray((np.abs(second - first) <= FIFTH) | ((third - second) * (second - first) < 0))


def not_three_equal(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """No note stands three times in a row."""
    first, second, third = midis
    return np.asarray((first != second) | (second != third))


def out_of_order(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """Three tones in a row never run through the arpeggio in order."""
    rank = palette(slots[2]).core_rank
    first, second, third = (rank[midi] for midi in midis)
    up, on = second - first, third - second
    return np.asarray((np.abs(up) != 1) | (up != on))


def turned(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The line turned at the middle note."""
    first, second, third = midis
    return np.asarray((third - second) * (second - first) < 0)


def goes_on(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The direction into the change is kept across it."""
    first, second, third = midis
    return np.asarray((third - second) * (second - first) > 0)


def _on_strong(slots: Sequence[Slot]) -> bool:
    return slots[0].strong


def _is_last(slots: Sequence[Slot]) -> bool:
    return slots[0].last


def _at_change(slots: Sequence[Slot]) -> bool:
    return slots[-1].entry == 0


def _at_lasting_change(slots: Sequence[Slot]) -> bool:
    return _at_change(slots) and all(palette(s).beats >= FAST_BEATS for s in slots[1:])


def _begins_lasting_change(slots: Sequence[Slot]) -> bool:
    """The slots are the first of a chord that lasts and has changing notes."""
    here = palette(slots[0])
    begins = all(s.entry == n and s.palette is here for n, s in enumerate(slots))
    return begins and here.beats >= FAST_BEATS and bool(here.changing.any())


def _changing_only_on_weak(slots: Sequence[Slot]) -> bool:
    """Two notes that must be chord tones begin the chord, and no changing note is one.

    So it is when a chord starts on the long note that ends a phrase.
    """
    here = palette(slots[0])
    bound = slots[0].strong and (slots[1].strong or slots[1].last)
    return bound and not (here.changing & here.tones).any()


def _heard_by_second(slots: Sequence[Slot]) -> bool:
    return _begins_lasting_change(slots) and not _changing_only_on_weak(slots)


def _heard_by_third(slots: Sequence[Slot]) -> bool:
    return _begins_lasting_change(slots) and _changing_only_on_weak(slots)


def _within_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].palette is slots[2].palette


def _to_turn(slots: Sequence[Slot]) -> bool:
    return slots[-1].turn


# Rules for a whole etude


def sounding(etude: Etude) -> list[tuple[EtudeNote, Pitch]]:
    """The notes without the rests, each with its pitch."""
    return [(note, note.pitch) for note in etude.notes if note.pitch is not None]


def adds_up(etude: Etude) -> Iterator[EtudeNote]:
    """Notes follow one another without gap or overlap and end with the form."""
    for note, following in zip(etude.notes, etude.notes[1:], strict=False):
        if note.end != following.onset:
            yield following
    if etude.notes[0].onset != 0 or etude.notes[-1].end != etude.analysis.chart.beats:
        yield etude.notes[-1]


def in_range(etude: Etude) -> Iterator[EtudeNote]:
    """Every written note is in the instrument's range for the level."""
    instrument = etude.brief.instrument
    compass = instrument.compass(etude.brief.level)
    for note, pitch in sounding(etude):
        if instrument.written(pitch) not in compass:
            yield note


def spelled_in_scale(etude: Etude) -> Iterator[EtudeNote]:
    """Every note but one that leads to another is spelled as its chord's scale spells it."""
    for note, pitch in sounding(etude):
        if (
            note.approach is Approach.NONE
            and pitch.name not in etude.analysis.chords[note.chord].scale.names
        ):
            yield note


def not_held_across(etude: Etude) -> Iterator[EtudeNote]:
    """No note is held into a chord whose scale does not hold it."""
    chords = etude.analysis.chords
    for note, pitch in sounding(etude):
        for here in chords[note.chord + 1 :]:
            starts = on_grid(here.span.start)
            if starts >= note.end:
                break
            held = not here.silent and pitch.midi % 12 in here.scale.pitch_classes
            if not held:
                yield note


def breathes(etude: Etude) -> Iterator[EtudeNote]:
    """A wind player breathes, or rests, at the end of every phrase.

    A chorus has phrases of its own, which end where it rests.
    """
    if not etude.brief.instrument.breath:
        return
    if etude.step == CHORUS:
        rested = (old for old, new in pairwise(etude.notes) if old.pitch and not new.pitch)
        yield from (note for note in rested if not note.breath)
        return
    ends = phrase_ends(etude.analysis, etude.brief)
    chart = etude.analysis.chart
    stops = {start + bar.beats for bar, start in chart.placed() if bar.number in ends}
    for note, _ in sounding(etude):
        if note.end in stops and not note.breath:
            yield note


def keeps_turning(etude: Etude) -> Iterator[EtudeNote]:
    """No more than seven notes run in one direction."""
    for stretch in _stretches(etude):
        direction, run = 0, 1
        for (_, old), (note, new) in pairwise(stretch):
            now = int(np.sign(new.midi - old.midi))
            run = run + 1 if now == direction else 2
            direction = now
            if run > LONGEST_RUN:
                yield note


def _stretches(etude: Etude) -> list[list[tuple[EtudeNote, Pitch]]]:
    """The sounding notes, cut where the line rests."""
    found: list[list[tuple[EtudeNote, Pitch]]] = [[]]
    for note in etude.notes:
        if note.pitch is None:
            found.append([])
        else:
            found[-1].append((note, note.pitch))
    return found


def rhythm_varies(etude: Etude) -> Iterator[EtudeNote]:
    """Neighbouring stretches of a chord in a bar never have the same rhythm."""
    for old, new in pairwise(_by_bar_and_chord(etude)):
        if len(old) > 2 and [n.beats for n in old] == [n.beats for n in new]:
            yield new[0]


def _by_bar_and_chord(etude: Etude) -> list[list[EtudeNote]]:
    starts = _bar_starts(etude)
    groups: dict[tuple[int, int], list[EtudeNote]] = {}
    for note, _ in sounding(etude):
        groups.setdefault((bisect_right(starts, note.onset), note.chord), []).append(note)
    return list(groups.values())


def _bar_starts(etude: Etude) -> list[Fraction]:
    return [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]


def notes_repeat(etude: Etude) -> Iterator[EtudeNote]:
    """Somewhere a tone is repeated, when there is room for more than one on a chord."""
    if etude.brief.pinned:  # the teacher's notes may leave no room for it
        return
    notes = sounding(etude)
    roomy = sum(len(group) for group in _by_bar_and_chord(etude) if len(group) > 1)
    if roomy > 8 and not any(old == new for (_, old), (_, new) in pairwise(notes)):
        yield notes[0][0]


def tones_in_order(etude: Etude) -> Iterator[EtudeNote]:
    """Within a bar of a chord the line goes to the arpeggio's next tone or repeats one."""
    starts = set(_bar_starts(etude))
    for old, new in _pairs_within_chord(etude):
        here = etude.analysis.chords[new[0].chord]
        if new[0].onset not in starts:
            yield from _off_ladder({t.name.pitch_class for t in here.core}, old, new)


def scale_in_order(etude: Etude) -> Iterator[EtudeNote]:
    """Within a chord the line goes from each note of the scale to the next."""
    for old, new in _pairs_within_chord(etude):
        here = etude.analysis.chords[new[0].chord]
        yield from _off_ladder(set(here.scale.pitch_classes), old, new)


def _pairs_within_chord(
    etude: Etude,
) -> Iterator[tuple[tuple[EtudeNote, Pitch], tuple[EtudeNote, Pitch]]]:
    for stretch in _stretches(etude):
        for old, new in pairwise(stretch):
            if old[0].chord == new[0].chord:
                yield old, new


def _off_ladder(
    classes: set[int], old: tuple[EtudeNote, Pitch], new: tuple[EtudeNote, Pitch]
) -> Iterator[EtudeNote]:
    """The new note when a rung of the ladder lies between the two, or it is none itself."""
    low, high = sorted((old[1].midi, new[1].midi))
    between = any(midi % 12 in classes for midi in range(low + 1, high))
    if between or new[1].midi % 12 not in classes:
        yield new[0]


EVERY_STEP: tuple[LocalRule | LineRule, ...] = (
    LocalRule("an avoid note never sits on a strong beat", 1, not_avoided, _on_strong),
    LocalRule("a leap larger than a fifth turns back", 3, leap_turns_back),
    LocalRule("the last note is a tone of the arpeggio", 1, core_tone, _is_last),
    LineRule("the bars add up", adds_up),
    LineRule("every written note is in the player's range", in_range),
    LineRule("every note is spelled within its scale", spelled_in_scale),
    LineRule("no note is held across a change that it clashes with", not_held_across),
    LineRule("a phrase ends where the player can breathe", breathes),
)
"""Rules for every step; a rule on equal notes is left to each step."""

IN_SCALE = LocalRule("every note is in range and in the scale of the moment", 1, in_scale)
NOT_THREE_EQUAL = LocalRule("no more than two equal notes in a row", 3, not_three_equal)
CORE_TONES = LocalRule("only tones of the arpeggio", 1, core_tone)
MOVES_IN_SCALE = LocalRule(
    "steps and thirds in the scale, skips only to chord tones", 2, step_or_skip_to_tone
)

BASIC_RULES: dict[int, tuple[LocalRule | LineRule, ...]] = {
    1: (
        IN_SCALE,
        NOT_THREE_EQUAL,
        CORE_TONES,
        LineRule("the arpeggio's tones in order", tones_in_order),
    ),
    2: (
        IN_SCALE,
        CORE_TONES,
        LineRule("the arpeggio's tones in order", tones_in_order),
        LineRule("the rhythm varies from chord to chord", rhythm_varies),
        LineRule("tones are repeated", notes_repeat),
    ),
    3: (
        IN_SCALE,
        NOT_THREE_EQUAL,
        CORE_TONES,
        LocalRule("tones out of order", 3, out_of_order, _within_chord),
        LocalRule("the nearest chord tone across the change", 2, nearest_across, _at_change),
    ),
    4: (
        IN_SCALE,
        NOT_THREE_EQUAL,
        LineRule("the scale's notes in order", scale_in_order),
    ),
    5: (
        IN_SCALE,
        NOT_THREE_EQUAL,
        MOVES_IN_SCALE,
        LocalRule("the line turns", 3, turned, _to_turn),
        LineRule("no more than seven notes in one direction", keeps_turning),
    ),
    6: (
        IN_SCALE,
        NOT_THREE_EQUAL,
        MOVES_IN_SCALE,
        LocalRule("a chord tone on every strong beat", 1, chord_tone, _on_strong),
        LocalRule("the line goes on across the change by step or third", 2, close_across,
                  _at_change),
        LocalRule("the direction goes on across the change", 3, goes_on, _at_lasting_change),
        LocalRule("the changing note is heard at the change or right after", 2, change_heard,
                  _heard_by_second),
        LocalRule("a changing note that no strong beat may hold is heard on the first weak one",
                  3, change_heard_third, _heard_by_third),
    ),
}  # fmt: skip
"""The rules of the first six steps, beside those for every step."""
