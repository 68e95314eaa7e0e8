"""An etude written, and checked before it is handed on.

The rules that the search was given are asked again of the finished notes, together with
those that only a whole line can break; an etude that breaks one is never returned.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.etude.frame import Slot, palettes
from halfstep.etude.lines import line_step
from halfstep.etude.parts import Brief, Etude, EtudeNote, Notice
from halfstep.etude.rules import breaches
from halfstep.etude.runs import run_step
from halfstep.harmony.analysis import Analysis

_RUNS = {1, 2, 4}
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
    rng = np.random.default_rng([brief.seed, step])
    found = palettes(analysis, brief)
    make = run_step if step in _RUNS else line_step
    slots, midis = make(step, analysis, brief, found, rng)
    notes = _notes(slots, midis)
    etude = Etude(step, analysis, brief, notes, _notices(step, analysis, notes))
    if broken := breaches(etude, slots):
        first = broken[0]
        raise RuleBroken(
            f"step {step} breaks its rule “{first.rule}” at beat {first.note.onset} "
            f"({len(broken)} in all)"
        )
    return etude


def _notes(slots: Sequence[Slot], midis: Sequence[int | None]) -> tuple[EtudeNote, ...]:
    """Notes in spelled pitch; the first hearing of each changing note is marked."""
    notes = []
    heard: set[tuple[int, int]] = set()
    chord = 0
    for slot, midi in zip(slots, midis, strict=True):
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
                here.pitch(midi),
                chord,
                here.degrees[midi % 12],
                changing=fresh,
                breath=slot.breath,
            )
        )
    return tuple(notes)


def _notices(step: int, analysis: Analysis, notes: Sequence[EtudeNote]) -> tuple[Notice, ...]:
    """What the teacher should know: chords whose run does not start on the root."""
    if step not in _RUNS:
        return ()
    found: dict[tuple[str, str], Notice] = {}
    for index, here in enumerate(analysis.chords):
        own = [note for note in notes if note.chord == index and note.degree]
        degrees = [note.degree for note in own if note.degree]
        ends = {degree.number for degree in (*degrees[:1], *degrees[-1:])}
        if degrees and 1 not in ends and len(degrees) > 2:
            lowest = min(own, key=lambda note: note.pitch.midi if note.pitch else 0)
            word = _NUMBER_WORDS.get(lowest.degree.number) if lowest.degree else None
            text = (
                f"{{chord}} is built on its {word or 'middle'}: "
                "from the root it leaves the range or leaps too far"
            )
            found.setdefault((str(here.span.symbol), text), Notice(index, text))
    return tuple(found.values())
