"""One note for as long as it fits the chords, in rhythms that vary.

The note changes as seldom as can be, which is found exactly.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, islice

import numpy as np

from halfstep.etude.costs import Amounts
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import degree_word
from halfstep.etude.layouts import every_bar, in_rhythm, tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import FIFTH, IN_SCALE, LocalRule
from halfstep.etude.sentences import EXAMPLES, PartLine, breaths
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

NEW_NOTE = 6.0
"""What another note costs a one-note solo, beside a chord tone's nothing."""
LEAP = 1000.0
"""For a leap larger than a fifth, which would have to turn back at once: the note stays. Where the
chords climb by thirds, the way back down is one of several steps."""
NO_CHORD_TONE = 0.5
"""What a bar of a note that is in the scale but not in the chord costs."""


def rhythm_layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """One note, pinned, for as long as it fits."""
    slots = in_rhythm(analysis, brief, palettes, rng, every_bar(analysis), rests=True)
    notes = one_note(palettes, rng)
    return [
        slot._replace(pin=notes[slot.palette.chord]) if slot.palette else slot for slot in slots
    ]


def one_note(palettes: Sequence[Palette | None], rng: RandomStream) -> dict[int, int]:
    """A note for each chord that sounds, with the fewest changes: the cheapest path.

    A note may stand over a chord whose scale holds it and that it does not rub against;
    over the last chord it is one of the arpeggio.
    """
    sounding = [palette for palette in palettes if palette is not None]
    if not sounding:
        return {}
    middle = float(np.flatnonzero(sounding[0].open).mean()) + rng.integers(-4, 5)
    grid = np.arange(128)
    costs = [_alone(palette, grid, middle, last=palette is sounding[-1]) for palette in sounding]
    distance = np.abs(grid[:, None] - grid[None, :])
    move = np.where(distance == 0, 0.0, NEW_NOTE + 0.3 * distance)
    move += np.where(distance > FIFTH, LEAP, 0.0)
    best, came_from = costs[0], []
    for cost in costs[1:]:
        reach = best[:, None] + move
        came_from.append(reach.argmin(axis=0))
        best = reach.min(axis=0) + cost
    path = [int(best.argmin())]
    for sources in reversed(came_from):
        path.append(int(sources[path[-1]]))
    return {palette.chord: midi for palette, midi in zip(sounding, reversed(path), strict=True)}


def _alone(palette: Palette, grid: Midis, middle: float, *, last: bool) -> Amounts:
    """What each note costs over one chord; infinite where it may not stand."""
    fits = palette.core if last else palette.scale & ~palette.avoid
    bars = float(palette.beats) / 4
    price = NO_CHORD_TONE * bars * ~palette.tones + 0.01 * np.abs(grid - middle)
    return np.asarray(np.where(fits, price, np.inf))


def same_in_chord(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The note stays as long as the chord does."""
    return np.asarray(midis[0] == midis[1])


def _one_chord(slots: Sequence[Slot]) -> bool:
    return slots[0].palette is slots[1].palette


def the_note(line: PartLine) -> str:
    """The note of a one-note solo, and where it gives way to another."""
    runs = [next(run) for _, run in groupby(line.notes, key=_sounding)]
    first, later = runs[0], runs[1 : 1 + EXAMPLES]
    if not later:
        return f"{line.high_name(first)} fits every chord: stay on it to the end."
    texts = [f"{line.high_name(note)} from {line.place(note)}" for note in later]
    return f"Your note is {line.high_name(first)}, then {joined_by_and(texts)}."


def _sounding(note: EtudeNote) -> int | None:
    """What sounds, whatever it is called."""
    return note.pitch.midi if note.pitch else None


def its_colours(line: PartLine) -> str:
    """What the first note is to the chords it sounds over."""
    roles: dict[str, str] = {}
    for note in line.notes:
        if note.degree and note.pitch == line.notes[0].pitch:
            roles.setdefault(degree_word(note.degree), f"the {line.role(note)}")
    colours = list(islice(roles.values(), EXAMPLES))
    return f"Hear it change colour: it is {joined_by_and(colours)}." if len(colours) > 1 else ""


STEP = Step(
    name="rhythm",
    title="One note",
    task="One note and your own sense of time. Clap the rhythm, sing it, then play it.",
    writing=NoteByNote(layouts=tried_again(rhythm_layout), costs=()),
    rules=(
        IN_SCALE,
        LocalRule("the note stays as long as the chord does", 2, same_in_chord, _one_chord),
    ),
    sentences=(the_note, its_colours, breaths),
    stream=96,
)
