"""An etude written, and checked before it is handed on.

The rules that the search was given are asked again of the finished notes, together with
those that only a whole line can break; an etude that breaks one is never returned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfstep.etude.check import Breach, breaches, line_breaches
from halfstep.etude.frame import Leads, Slot, palettes
from halfstep.etude.lines import line_step
from halfstep.etude.parts import Approach, Brief, Etude, EtudeNote, Notice
from halfstep.etude.placing import run_step
from halfstep.etude.tables import RUN_LAYOUTS
from halfstep.harmony.analysis import Analysis
from halfstep.pitch import OCTAVE, Interval, Pitch

_NUMBER_WORDS = {1: "root", 2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}


class RuleBroken(AssertionError):
    """The writer broke a rule of its own step: a fault of the program, not of the user."""


def write_etude(step: int, analysis: Analysis, brief: Brief) -> Etude:
    """One step over a chart, for one player.

    The same seed writes the same etude.

    Raises
    ------
    BriefError
        When the step cannot be written in the player's range.
    RuleBroken
        When the finished etude breaks a rule; never handed on.
    """
    rng = np.random.default_rng([brief.seed, step % 100])  # a pre-step is below 1
    found = palettes(analysis, brief)
    make = run_step if step in RUN_LAYOUTS else line_step
    slots, midis = make(step, analysis, brief, found, rng)
    notes = _notes(slots, midis)
    etude = Etude(step, analysis, brief, notes, _notices(step, analysis, notes))
    _demand_rules(etude, breaches(etude, slots))
    return etude


def octaves_apart(etude: Etude, brief: Brief, octaves: int) -> Etude:
    """The same etude for another player, some octaves higher (or lower, below 0).

    Raises
    ------
    RuleBroken
        When a rule for the whole line, such as the range, does not hold there.
    """
    rise = Interval(OCTAVE.letters * octaves, OCTAVE.semitones * octaves)
    notes = tuple(
        replace(
            note,
            pitch=note.pitch + rise if note.pitch else None,
            breath=note.breath and brief.instrument.breath,
        )
        for note in etude.notes
    )
    moved = replace(etude, brief=brief, notes=notes)
    _demand_rules(moved, line_breaches(moved))
    return moved


def _demand_rules(etude: Etude, broken: Sequence[Breach]) -> None:
    if broken:
        first = broken[0]
        raise RuleBroken(
            f"step {etude.step} breaks its rule “{first.rule}” at beat {first.note.onset} "
            f"({len(broken)} in all)"
        )


def _notes(slots: Sequence[Slot], midis: Sequence[int | None]) -> tuple[EtudeNote, ...]:
    """Notes in spelled pitch; the first hearing of each changing note is marked."""
    notes: list[EtudeNote] = []
    heard: set[tuple[int, int]] = set()
    chord = 0
    goals = _goals(slots, midis)
    for slot, midi, goal in zip(slots, midis, goals, strict=True):
        if slot.palette is None or midi is None:
            notes.append(EtudeNote(slot.onset, slot.beats, None, chord))
            continue
        here = slot.palette
        chord = here.chord
        fresh = bool(here.changing[midi]) and (chord, midi % 12) not in heard
        heard.add((chord, midi % 12))
        notes.append(
            EtudeNote(
                slot.onset,
                slot.beats,
                here.pitch(midi, goal),
                chord,
                here.degrees.get(midi % 12),
                changing=fresh,
                breath=slot.breath,
                approach=_approach(slot, midi),
            )
        )
    return tuple(notes)


def _goals(slots: Sequence[Slot], midis: Sequence[int | None]) -> list[Pitch | None]:
    """For each note the next one of its scale that it leads to, spelled."""
    goals: list[Pitch | None] = []
    goal: Pitch | None = None
    for slot, midi in zip(reversed(slots), reversed(midis), strict=True):
        goals.append(goal)
        inside = slot.palette is not None and midi is not None and midi % 12 in slot.palette.names
        goal = slot.palette.pitch(midi) if slot.palette and midi and inside else goal
    return goals[::-1]


def _approach(slot: Slot, midi: int) -> Approach:
    """How a note leads to the next one."""
    if slot.leads in {Leads.AROUND_FIRST, Leads.AROUND_SECOND}:
        return Approach.ENCLOSURE
    if slot.palette is not None and midi % 12 not in slot.palette.names:
        return Approach.CHROMATIC
    leading = slot.leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}
    return Approach.SCALE if leading else Approach.NONE


def _notices(step: int, analysis: Analysis, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """What the teacher should know: chords whose run is not built on the root."""
    if step not in RUN_LAYOUTS:
        return ()
    found: dict[tuple[str, str], list[int]] = {}
    for index, here in enumerate(analysis.chords):
        if word := _built_on(step, index, notes):
            found.setdefault((str(here.span.symbol), word), []).append(index)
    return tuple(_notice(word, indices, analysis) for (_, word), indices in found.items())


def _notice(word: str, indices: Sequence[int], analysis: Analysis) -> Notice:
    bars = ", ".join(dict.fromkeys(str(analysis.chords[index].span.bar) for index in indices))
    text = (
        f"{{chord}} in bar {bars} is built on its {word}: "
        "from the root it leaves the range or leaps too far"
    )
    return Notice(indices[0], text)


def _built_on(step: int, index: int, notes: Sequence[EtudeNote]) -> str:
    """The tone a chord's run is built on, in words; empty for the root."""
    own = [note for note in notes if note.chord == index and note.degree]
    degrees = [note.degree for note in own if note.degree]
    ends = {degree.number for degree in (*degrees[:1], *degrees[-1:])}
    if len(degrees) < 3 or 1 in ends:
        return ""
    lowest = min(own, key=lambda note: note.pitch.midi if note.pitch else 0)
    base = own[0] if step == 4 else lowest  # a scale may dip below the tone it runs from
    return _NUMBER_WORDS.get(base.degree.number, "") if base.degree else ""
