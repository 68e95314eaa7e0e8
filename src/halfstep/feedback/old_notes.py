"""Which notes of the old scale stayed over a new chord, and what should they have become?

What counts as one is decided in `halfstep.harmony.chord_arrivals`: what leads on, a blue
note and a colour of the new chord are none. A note that is kept twice over one chord is told
once.

Conventions
-----------
- Names are written. What an old note should have become is the note that takes its place in
  the new scale, else the nearest note of the new chord, on the same letter if there is one.
- How likely a note is a mistake falls with how far outside the player goes by choice.
- A note that the written line has at the same place is no fault of the player.
"""

from __future__ import annotations

from collections.abc import Iterator, Set
from itertools import groupby

from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.note_roles import laid_roles
from halfstep.feedback.outside_play import outside_play
from halfstep.harmony.changes import change_between
from halfstep.harmony.chord_arrivals import SIDE_BEATS, ChordArrival
from halfstep.part.transposed_part import Part
from halfstep.pitch import Name, pitch_near, practical

_ON_BEAT, _BETWEEN = 0.97, 0.88
"""How likely a note that stays is no slip of style, on a beat and between beats."""
_AFTER_THE_NEW, _LONG_AFTER = 0.85, 0.75
"""The same where the new chord was told before it, and where that was more than four beats into
the chord besides."""


def old_note_findings(taken: LaidTake) -> Iterator[Finding]:
    """Each note of an old scale that stayed, once for each chord."""
    written = _written_places(taken.take)
    mistaken = outside_play(taken).mistaken
    for arrival in taken.arrivals:
        kept = [note for note in arrival.kept if not _is_written(taken, note, written)]
        kept.sort(key=lambda note: taken.notes[note].midi % 12)
        for _, notes in groupby(kept, key=lambda note: taken.notes[note].midi % 12):
            yield _finding(taken, arrival, list(notes), mistaken)


def _written_places(take: JudgedTake) -> frozenset[tuple[float, int]]:
    """Where in the form the written line has which pitch class."""
    notes = ((note.onset, note.pitch) for note in take.line if note.pitch)
    return frozenset((float(at) % take.form.beats, pitch.midi % 12) for at, pitch in notes)


def _is_written(taken: LaidTake, note: int, written: Set[tuple[float, int]]) -> bool:
    at = float(taken.notes[note].place) % taken.take.form.beats
    return (at, taken.notes[note].midi % 12) in written


def _finding(taken: LaidTake, arrival: ChordArrival, notes: list[int], mistaken: float) -> Finding:
    """What is told of the same note kept over one chord."""
    take, first = taken.take, taken.notes[notes[0]]
    part, written = take.part, first.midi + take.part.interval.semitones
    pitch = laid_roles(taken)[notes[0]].pitch
    instead = _instead(part, arrival, written, pitch.name)
    missing = 1.0
    for note in notes:
        missing *= 1 - _likelihood(taken, arrival, note)
    return Finding(
        kind=FindingKind.OLD_NOTE_KEPT,
        fault=True,
        place=take.place_at(float(first.place)),
        time_s=take.time_s(first.sounded),
        certainty=round(mistaken * (1 - missing), 3),
        note=pitch,
        instead=pitch_near(instead, written) if instead else None,
        chord=part.symbol(arrival.new_chord).ascii,
    )


def _likelihood(taken: LaidTake, arrival: ChordArrival, note: int) -> float:
    """How likely a note stayed by mistake."""
    weight = _ON_BEAT if taken.laid.is_on_beat(note) else _BETWEEN
    if arrival.telling is not None and arrival.telling < note:
        is_late = taken.laid.places.onsets[note] - arrival.onset > SIDE_BEATS
        weight *= _AFTER_THE_NEW * (_LONG_AFTER if is_late else 1.0)
    return taken.notes[note].certainty * weight


def _instead(part: Part, arrival: ChordArrival, written: int, old: Name) -> Name | None:
    """What an old note should have become: its partner in the new scale, else what is near."""
    change = change_between(part.scale(arrival.old_chord), part.scale(arrival.new_chord))
    motions = (*change.half_steps, *change.steps)
    partner = (m.new for m in motions if m.old.pitch_class == written % 12)
    names = (*part.names(arrival.new_chord), *part.scale(arrival.new_chord).names)
    near = sorted(names, key=lambda name: (_distance(name, written), _letters(name, old)))
    return next((practical(name) for name in (*partner, *near)), None)


def _letters(name: Name, old: Name) -> bool:
    """True for a name on another letter than an old note."""
    return name.letter != old.letter


def _distance(name: Name, written: int) -> int:
    return abs((name.pitch_class - written + 6) % 12 - 6)
